"""What the keys do to the stand, below the screen."""

import pytest

from companion.chart.loops import WHOLE_FORM
from companion.chart.reader import read_chart
from companion.groove.names import BASS_STYLES, PATTERN_NAMES
from companion.session import stand_changes as moves
from companion.session.stand import Stand
from companion.store.settings import load_settings


@pytest.fixture
def stand(kit, tmp_path):
    paths = kit.make_paths(tmp_path / "student")
    return Stand.put(read_chart(paths.songs / "lanterns-on-the-slipway.toml"), load_settings(paths))


def again(move, stand, times):
    for _ in range(times):
        stand = move(stand)
    return stand


@pytest.mark.parametrize(
    ("move", "field", "count"),
    [
        (moves.next_pattern, "pattern", len(PATTERN_NAMES)),
        (moves.next_click, "click", len(moves.CLICKS)),
        (moves.next_bass, "bass", len(BASS_STYLES)),
        (moves.next_count_in, "count_in_bars", 4),
    ],
)
def test_a_key_goes_round_every_value_and_comes_back(stand, move, field, count):
    seen = [getattr(again(move, stand, times), field) for times in range(count)]
    assert len({repr(value) for value in seen}) == count
    assert getattr(again(move, stand, count), field) == seen[0]


def test_every_click_and_bass_can_be_played(stand):
    from companion.groove.check import validate
    from companion.groove.names import BASS_STYLES, CLICK_MODES

    seen = set()
    for times in range(len(moves.CLICKS)):
        arrangement = again(moves.next_bass, again(moves.next_click, stand, times), times).arrangement()
        validate(arrangement)  # raises where it cannot
        seen.add((arrangement.click.mode, arrangement.bass))
    assert {bass for _, bass in seen} == set(BASS_STYLES) and {click for click, _ in seen} == set(CLICK_MODES)


def test_loops_go_from_the_whole_form_through_the_sections(stand):
    names = [again(moves.next_loop, stand, times).loop_name for times in range(4)]
    assert names == [WHOLE_FORM, "A", "B", WHOLE_FORM]
    assert again(moves.next_loop, stand, 2).loop == tuple(range(16, 24))


def test_marking_a_loop_by_its_first_and_last_bar(stand):
    marked = moves.loop_to(moves.loop_from(stand, 2), 5)
    assert marked.loop == (2, 3, 4, 5) and marked.loop_name == "bars 3 to 6"
    assert moves.loop_to(moves.loop_from(stand, 5), 2).loop == (2, 3, 4, 5), "in either order"
    assert moves.loop_from(marked, 10).loop == tuple(range(10, 32)), "a start after the end"
    one = moves.loop_between(stand, 4, 4)
    assert one.loop == (4,) and one.loop_name == "bar 5"
    assert moves.loop_between(stand, 0, 31).loop_name == WHOLE_FORM
    assert moves.whole_form(marked).loop == stand.loop


def test_twelve_keys_to_choose_and_each_can_be_put(stand):
    keys = moves.keys_to_choose(stand)
    assert [key.tonic.pc for key in keys] == list(range(12))
    assert stand.original.key in keys
    for key in keys:
        assert stand.with_key(key).key.tonic.pc == key.tonic.pc


def test_the_next_song_keeps_the_groove(stand, settings):
    playing = moves.keep_playing(moves.next_bass(moves.next_pattern(stand)), settings.playing)
    assert (playing.pattern, playing.bass) == (moves.next_pattern(stand).pattern, moves.next_bass(stand).bass)
    assert playing.seed == settings.playing.seed


def test_above_220_with_two_chords_a_bar_a_key_plays_two_to_the_bar(stand):
    two_a_bar = [bar.index for bar in stand.bars if len(bar.chords) > 1]
    assert two_a_bar and len(two_a_bar) < len(stand.bars)
    one = next(bar.index for bar in stand.bars if len(bar.chords) == 1)
    fast = stand.with_tempo(221)
    assert moves.two_is_enough(fast, 221) and moves.next_pattern(fast).pattern == "two"
    assert not moves.two_is_enough(fast, 220) and not moves.two_is_enough(fast.with_loop((one,), "a bar"), 300)
    assert not any(moves.two_is_enough(fast.change(pattern=name), 300) for name in PATTERN_NAMES if name != "four")
