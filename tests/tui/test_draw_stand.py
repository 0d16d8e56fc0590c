"""The stand's lines and its large part, drawn from a View."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from companion.chart.reader import read_chart
from companion.groove.model import Click
from companion.groove.names import BASS_STYLES, PATTERN_NAMES
from companion.session.stand import Stand
from companion.session.stand_changes import CLICKS, loop_between
from companion.store.settings import load_settings
from companion.tui.draw.lines import beat_line, state_line, title_line
from companion.tui.draw.now import draw_now, key_marks
from companion.tui.draw.songs import head_row, matches, song_row
from companion.tui.draw.view import View
from companion.tui.draw.words import click_words
from companion.tui.widgets.stand_parts import KeyboardPart


def text_of(row):
    return "".join(text for text, _ in row)


@pytest.fixture(scope="module")
def views(kit, tmp_path_factory):
    paths = kit.make_paths(tmp_path_factory.mktemp("student") / "home")
    settings = load_settings(paths)
    return [View(Stand.put(read_chart(path), settings), sound="silent") for path in sorted(paths.songs.glob("*.toml"))]


@pytest.fixture
def ferry(views):
    return views[1]


@pytest.fixture
def waltz(views):
    return views[0]


def test_title_key_meter_feel_and_tempo(ferry):
    text = text_of(title_line(ferry, 80))
    assert len(text) == 80
    for word in ("Lanterns on the Slipway", "B♭", "4/4", "swing", "tempo 126"):
        assert word in text
    slow = replace(ferry, stand=ferry.stand.with_tempo(90))
    assert "tempo 90 (target 126)" in text_of(title_line(slow, 80))


def test_stopped_sounding_and_count_in(ferry, kit):
    assert "■ stopped" in text_of(beat_line(ferry, 80))
    sounding = replace(ferry, playing=True, beat=kit.beat(20, 2, turn=1))
    text = text_of(beat_line(sounding, 80))
    assert "▶ chorus 2" in text and "bar 21 of 32" in text and "B 5" in text
    assert "[3]" in text and "[1]" not in text
    counting = replace(ferry, playing=True, beat=kit.beat(-1, 0, turn=-1))
    assert "count-in" in text_of(beat_line(counting, 80)) and "[1]" in text_of(beat_line(counting, 80))
    looped = replace(sounding, stand=loop_between(ferry.stand, 16, 23))
    assert "▶ pass 2" in text_of(beat_line(looped, 80)) and "loop bars 17 to 24" in text_of(beat_line(looped, 80))


def test_the_state_says_what_sounds_and_that_it_is_silent(ferry):
    text = text_of(state_line(ferry, 80))
    for words in ("plays silently", "four to the bar", "click every beat", "bass roots", "shells silent"):
        assert words in text
    assert "silently" not in text_of(state_line(replace(ferry, sound="builtin"), 80))


@pytest.mark.parametrize("sound", ["", "silent", "midi", "builtin"])
@pytest.mark.parametrize("pattern", PATTERN_NAMES)
@pytest.mark.parametrize("bass", BASS_STYLES)
def test_at_80_columns_pattern_click_bass_and_shells_are_always_told(ferry, sound, pattern, bass):
    for click in CLICKS:
        for shells in (True, False):
            stand = ferry.stand.change(pattern=pattern, bass=bass, click=click, demonstrate=shells)
            line = "".join(text for text, _ in state_line(View(stand, sound=sound), 80))
            assert len(line) <= 80
            words = (
                PATTERN_NAMES[pattern].split(" (")[0].removesuffix(" to the bar"),
                "click ",
                f"bass {bass}",
                "shells heard" if shells else "shells silent",
            )
            assert all(word in line for word in words), line
            assert not click.drop_every or f"silent {click.drop_bars} of {click.drop_every}" in line


def test_a_notice_takes_the_state_line_only(ferry):
    assert state_line(replace(ferry, notice="The keyboard went away."), 80) == [(" The keyboard went away.", "strong")]
    assert state_line(replace(ferry, notice="! No room."), 80) == [(" ! No room.", "notice")]
    assert text_of(state_line(replace(ferry, notice="word " * 40), 30)).endswith("…")


def test_the_chord_of_a_beat_and_the_one_to_come(ferry, kit):
    """Bar 5 has Dm7 on 1 and G7 on 3; bar 6 begins with Cm7."""

    def symbols(pulse):
        view = replace(ferry, playing=True, beat=kit.beat(4, pulse))
        return view.now[0].chord.symbol, view.coming[0].chord.symbol, view.coming[2]

    assert symbols(0) == symbols(1) == ("Dm7", "G7", 3)
    assert symbols(2) == symbols(3) == ("G7", "Cm7", 1)


def test_at_the_end_of_the_loop_its_first_chord_comes_next(ferry, kit):
    view = replace(ferry, stand=loop_between(ferry.stand, 0, 3), playing=True, beat=kit.beat(3, 3))
    assert view.coming[0].chord.symbol == "Bb6"


def test_stopped_the_marked_bar_is_large(ferry):
    assert replace(ferry, cursor=1).now[0].chord.symbol == "G7"


def test_root_and_upper_note_are_marked_with_their_fingers(ferry):
    choice = ferry.now[1]
    marks = key_marks(choice)
    assert sorted(marks) == list(choice.shell.midi)
    low, high = (marks[midi] for midi in choice.shell.midi)
    assert f"{low.finger}-{high.finger}" == choice.fingers
    assert low.label == "root" and high.label in ("3rd", "5th", "6th", "7th")


def test_without_a_chord_the_hand_rests(waltz):
    view = replace(waltz, cursor=6)
    assert key_marks(view.now[1]) == {}
    assert any("rest" in text_of(row) for row in draw_now(view, 80, 9))


@hypothesis_settings(max_examples=60)
@given(width=st.integers(0, 140), height=st.integers(0, 30), cursor=st.integers(0, 14))
def test_everything_keeps_to_its_room(views, width, height, cursor):
    for view in views:
        view = replace(view, cursor=cursor)
        rows = draw_now(view, width, height)
        assert len(rows) == (height if width else 0)
        for row in [*rows, title_line(view, width), beat_line(view, width), state_line(view, width)]:
            assert len(text_of(row)) <= width


def test_the_click_in_words():
    assert click_words(Click("every", 1, 4)) == "every beat, silent 1 of 4 bars"
    assert click_words(Click("off")) == "off"


def test_songs_are_found_by_title_key_form_and_feel(kit, tmp_path):
    from companion.store.library import list_songs

    paths = kit.make_paths(tmp_path / "other", songs=(kit.FERRY, kit.WALTZ, kit.BROKEN))
    ferry, waltz, broken = list_songs(paths, load_settings(paths))
    assert all(matches(ferry, text) for text in ("lant", "Bb", "AABA", "swing 4/4", ""))
    assert not matches(ferry, "waltz")
    assert matches(broken, "finished")
    for width in (1, 20, 50, 74, 110):
        assert len(song_row(ferry, width)) <= max(width, 3) and len(song_row(broken, width)) <= width
    assert "waltz" in waltz.title.lower() or waltz.meter == "3/4", "the easiest comes first"
    for word in ("Lanterns on the Slipway", "changes a minute, ", "shells", "B♭", "126"):
        assert word in song_row(ferry, 73)
    for word in ("4/4", "32", "swing", "AABA"):
        assert word in song_row(ferry, 113)
    for width in (73, 113):
        row = song_row(ferry, width, first=True)
        assert "start here" in row and "…" not in row and len(row) <= width
        assert "changes a minute, " in row and ferry.title in row
    assert "not-finished.toml" in song_row(broken, 74) and song_row(broken, 74).startswith("!")
    assert head_row(74).index("key") == song_row(ferry, 74).index("B♭")


def test_the_hand_that_practises_is_named_and_nothing_drawn_is_another_hands(ferry):
    right, both = (replace(ferry, stand=ferry.stand.change(hands=hands)) for hands in ("right", "both"))
    assert "right hand" in text_of(beat_line(right, 80)) and "hand" not in text_of(beat_line(ferry, 80))
    assert "both hands" in text_of(beat_line(both, 80))
    assert "left hand now" in text_of(draw_now(right, 80, 12)[0])
    keys = ["\n".join(text_of(row) for row in KeyboardPart().draw_view(view, 80, 6)) for view in (ferry, right)]
    assert keys[0] != keys[1] and "○" in keys[0] and "○" not in keys[1]
