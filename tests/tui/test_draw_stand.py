"""The stand's lines and its large part, drawn from a View."""

from dataclasses import replace
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from companion.chart.reader import read_chart
from companion.groove.model import Click
from companion.groove.names import BASS_STYLES, PATTERN_NAMES
from companion.practice.drills.fading import Cue, after_pass
from companion.practice.marking.apart import Together
from companion.practice.marking.summary import together_lines
from companion.practice.planning.by_itself import HandFigures, Loss, loss_words
from companion.session.drill import DrillSettings, new_drill
from companion.session.stand import Stand
from companion.session.stand_changes import CLICKS, loop_between
from companion.store.settings import load_settings
from companion.tui.draw.beat import draw_beat
from companion.tui.draw.big import big_symbol
from companion.tui.draw.chart import bar_text
from companion.tui.draw.drill import brief, draw_summary
from companion.tui.draw.keyboard import FILL
from companion.tui.draw.left_keys import shell_notes
from companion.tui.draw.lines import count_in_words, state_line, title_line
from companion.tui.draw.need import draw_need, keys_of, need_after, need_of, needs_of
from companion.tui.draw.now import draw_now
from companion.tui.draw.songs import head_row, matches, song_row
from companion.tui.draw.view import View
from companion.tui.draw.words import click_words, whole_sentences


def text_of(row):
    return "".join(text for text, _ in row)


@pytest.fixture(scope="session")
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


def test_title_place_key_and_tempo(ferry):
    text = text_of(title_line(ferry, 120))
    assert len(text) == 120
    for word in ("Lanterns on the Slipway", "B♭", "4/4", "swing", "tempo 126", "A 1, bar 1 of 32", "loop whole form"):
        assert word in text
    slow = replace(ferry, stand=ferry.stand.with_tempo(90))
    assert "tempo 90 (target 126)" in text_of(title_line(slow, 80))


def test_stopped_sounding_and_count_in(ferry, kit):
    assert "■ stopped" in text_of(title_line(ferry, 80))
    sounding = replace(ferry, playing=True, beat=kit.beat(20, 2, turn=1))
    text = text_of(title_line(sounding, 120))
    assert "▶" in text and "chorus 2" in text and "bar 21 of 32" in text and "B 5" in text
    counting = replace(ferry, playing=True, beat=kit.beat(-1, 0, turn=-1))
    assert "▶ count-in" in text_of(title_line(counting, 80))
    looped = replace(sounding, stand=loop_between(ferry.stand, 16, 23))
    assert "pass 2" in text_of(title_line(looped, 120)) and "loop bars 17 to 24" in text_of(title_line(looped, 120))


@pytest.mark.parametrize("width", [20, 40, 80, 120, 200])
def test_the_beat_is_one_mark_in_its_place_and_the_first_of_another_shape(ferry, kit, width):
    """Read as from afar: only what is solid counts, in every row."""
    spans = []
    for pulse in range(4):
        rows = [text_of(row) for row in draw_beat(replace(ferry, playing=True, beat=kit.beat(3, pulse)), width, 2)]
        solid = [at for at, char in enumerate(rows[0]) if char == "█"]
        assert solid == list(range(solid[0], solid[-1] + 1)), "one mark"
        assert pulse * width // 4 <= solid[0] and solid[-1] < (pulse + 1) * width // 4, "in its place across the width"
        assert str(pulse + 1) in rows[1][solid[0] : solid[-1] + 1]
        spans.append(len(solid))
    assert len(set(spans[1:])) == 1 and spans[0] >= 1.5 * spans[1]
    assert not any("█" in text_of(row) for row in draw_beat(ferry, width, 2)), "stopped: none"


def test_the_count_in_is_as_large_as_a_chord_and_the_first_chord_comes_next(ferry, kit):
    counting = replace(ferry, playing=True, beat=kit.beat(-1, 2, turn=-1))
    rows = [text_of(row) for row in draw_now(counting, 80, 9)]
    assert [row[1:33] for row in rows[1:8]] == list(big_symbol("3", 32, 7))
    assert "next, on beat 1" in rows[0]
    assert "B♭" in rows[-1]


def test_what_comes_next_stands_at_the_right_in_a_frame_and_thin(ferry, kit):
    view = replace(ferry, playing=True, beat=kit.beat(1, 0))
    rows = draw_now(view, 80, 9)
    texts = [text_of(row) for row in rows]
    assert all(text[46] in "┌│└" for text in texts)
    assert all(len(text) == 80 for text in texts)
    now, after = [sum(text[part].count("█") for text in texts) for part in (slice(0, 33), slice(47, 80))]
    assert view.now[0].chord.symbol == "G7" and view.coming[0].chord.symbol == "Cm7" and after < now


@pytest.mark.parametrize("size", [(80, 9), (100, 9), (120, 13), (200, 17)])
def test_a_quality_is_as_tall_as_its_root_now_and_next(ferry, kit, size):
    """G7 of Gm7, and of G7 alone: the figure 7 has the height of the G; an m stands between."""
    height = size[1]
    for symbol in ("G7", "Gm7"):
        gap = 0  # behind the root, as the solid letters have it
        for light in (False, True):
            rows = big_symbol(symbol, 32, height - 2, light=light)
            columns = ["".join(row[x] for row in rows) for x in range(32)]
            gap = gap or next(x for x in range(10, 32) if not columns[x].strip())
            tall = [
                [y for y, row in enumerate(rows) if part(row, gap).strip()]
                for part in (lambda r, at: r[:at], lambda r, at: r[at:])
            ]
            assert tall[0] == tall[1] and len(tall[0]) >= 7, rows
    apart = [
        sum(
            a != b
            for one, two in zip(big_symbol("G7", 32, 7, light=light), big_symbol("Gm7", 32, 7, light=light))
            for a, b in zip(one, two)
        )
        for light in (False, True)
    ]
    assert min(apart) >= 30


def test_the_state_says_what_sounds_and_that_it_is_silent(ferry):
    text = text_of(state_line(ferry, 80))
    for words in ("plays silently", "four to the bar", "click every beat", "bass roots", "shells silent"):
        assert words in text
    assert "silently" not in text_of(state_line(replace(ferry, sound="builtin"), 80))


@pytest.mark.parametrize("sound", ["", "silent", "midi", "builtin"])
def test_at_80_columns_pattern_click_bass_and_shells_are_always_told(ferry, sound):
    for pattern, bass, click in product(PATTERN_NAMES, BASS_STYLES, CLICKS):
        for shells in (True, False):
            stand = ferry.stand.change(pattern=pattern, bass=bass, click=click, demonstrate=shells)
            line = "".join(text for text, _ in state_line(View(stand, sound=sound), 80))
            assert len(line) <= 80, line
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
    low, high = shell_notes(choice)
    assert (low.midi, high.midi) == choice.shell.midi
    assert f"{low.finger}-{high.finger}" == choice.fingers
    assert low.degree == "root" and high.degree in ("3rd", "5th", "6th", "7th")


def test_without_a_chord_the_hand_rests(waltz):
    view = replace(waltz, cursor=6)
    assert shell_notes(view.now[1]) == ()
    assert any("rest" in text_of(row) for row in draw_now(view, 80, 9))


@hypothesis_settings(max_examples=25)
@given(width=st.integers(0, 140), height=st.integers(0, 30), cursor=st.integers(0, 14))
def test_everything_keeps_to_its_room(views, width, height, cursor):
    for view in views:
        view = replace(view, cursor=cursor)
        rows = draw_now(view, width, height)
        assert len(rows) == (height if width else 0)
        for row in [*rows, title_line(view, width), *draw_beat(view, width, 2), state_line(view, width)]:
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
    assert "right hand" in text_of(title_line(right, 80)) and "hand" not in text_of(title_line(ferry, 80))
    assert "both hands" in text_of(title_line(both, 80))
    assert "left hand now" in text_of(draw_now(right, 80, 12)[0])
    keys = ["\n".join(text_of(row) for row in draw_need(view, 80, 7)) for view in (ferry, right)]
    assert "┏" in keys[0] and FILL in keys[0] and "┏" not in keys[1] and FILL not in keys[1]


def test_in_the_count_in_no_key_is_filled_and_the_first_shell_is_outlined(ferry, kit):
    counting = replace(ferry, playing=True, beat=kit.beat(-1, 2, turn=-1))
    keys = keys_of(counting)
    assert keys.now == () and tuple(note.midi for note in keys.next) == ferry.now[1].shell.midi
    assert "finger" in "".join(text_of(row) for row in draw_need(counting, 80, 7))


def test_what_the_hands_need_is_one_of_a_few_and_goes_round(ferry):
    names = [need.name for need in needs_of(ferry.stand)]
    assert names[0] == "keyboard" and len(set(names)) == len(names) > 1
    view, seen = ferry, []
    for _ in names:
        seen.append(need_of(view).name)
        view = replace(view, need=need_after(view).name)
    assert seen == names and view.need == names[0]
    assert need_of(replace(ferry, need="of another song")).name == "keyboard"


@pytest.mark.parametrize("hands, later", [("left", "keyboard"), ("right", "melody"), ("both", "melody")])
def test_where_keys_of_a_melody_are_hidden_its_notes_are_seen_over_the_keyboard(ferry, hands, later):
    stand = replace(ferry.stand, hands=hands)
    drill = new_drill(stand, "fade", DrillSettings())
    seen = []
    for _ in range(4):
        seen.append(need_of(replace(ferry, stand=stand, drill=drill)).name)
        drill = replace(drill, fade=after_pass(drill.fade, frozenset(), 1.0))
    assert (seen[0], seen[-1]) == ("keyboard", later)


def test_what_is_said_ends_in_whole_words(ferry):
    said = "Another loop: from memory is over. m takes it up again here, as soon as you like."
    for width in range(12, 90):
        text = text_of(state_line(replace(ferry, notice=said), width)).strip()
        assert text == said or (
            text.endswith(" …") and said.startswith(text[:-2]) and f"{said} "[len(text) - 2] in " ,;:."
        )


def test_a_teachers_note_is_seen_whole_or_in_whole_sentences():
    note = "¶ B 5: The tune climbs to its top here. Your hand stays where it was and does not get louder. Breathe."
    whole = whole_sentences(note, 78, 2)
    assert len(whole) == 2 and " ".join(line.strip() for line in whole) == note
    assert whole_sentences(note, 78, 1) == ["¶ B 5: The tune climbs to its top here. …"]
    assert whole_sentences(note, 30, 1) == ["¶ B 5: The tune climbs to …"], "no sentence has room"
    for width in range(12, 90):
        for rows in (1, 2, 3):
            lines = whole_sentences(note, width, rows)
            assert len(lines) <= rows and max(map(len, lines)) <= width


@pytest.mark.parametrize(
    ("level", "now", "in_chart"), [(Cue.ROOT, "G…", "G…"), (Cue.BAR, "bar 2", "·"), (Cue.PLACE, "bar 2", "bar 2")]
)
def test_the_cue_of_a_hidden_bar_cannot_be_read_as_something_else(ferry, kit, level, now, in_chart):
    """A root alone is no major chord, and a bar's number no degree and no beat."""
    drill = new_drill(ferry.stand, "fade", DrillSettings())
    drill = replace(drill, fade=replace(drill.fade, levels=(int(level),) * 32))
    view = replace(ferry, drill=drill, playing=True, beat=kit.beat(1, 0))
    assert [text_of(row)[1:33] for row in draw_now(view, 80, 9)[1:8]] == [row[:32] for row in big_symbol(now, 45, 8)][
        :7
    ]
    assert bar_text(view, 1, 12).strip().startswith(in_chart)
    assert bar_text(view, 1, 6).strip().rstrip("…") in {"G", "·  ·", "· ·", "2", "· · ·"} or level == Cue.BAR


def test_in_a_drill_one_sentence_and_no_other_line_says_where_one_stands(ferry, kit):
    for kind, said in (("fade", "Round 1: 0 of 8 bars from memory."), ("climb", "Up to tempo: 76 on the way to 126.")):
        stand = loop_between(ferry.stand, 0, 7)
        view = View(stand, drill=new_drill(stand, kind, DrillSettings()), playing=True, beat=kit.beat(2, 1))
        assert text_of(state_line(view, 80)).strip() == said
        title = text_of(title_line(view, 120)).replace("4/4", "").replace(f"tempo {view.beat.tempo_bpm:g}", "")
        assert not any(char.isdigit() for char in title), title


def test_what_a_pass_came_to_is_large_while_the_hand_rests(ferry):
    view = replace(ferry, summary=("39 of 41 chords right (95 %): 2 late.", "Slipped: A 3 >."))
    rows = [text_of(row) for row in draw_summary(view, 80, 16)]
    assert [row[1:79].rstrip() for row in rows[1:8]] == [row.rstrip() for row in big_symbol("39 of 41", 78, 7)]
    assert any("39 of 41 chords right" in row for row in rows[8:])


@pytest.mark.parametrize("width", [80, 100, 120, 200])
def test_a_symbol_its_shell_and_the_frame_of_what_is_next_stand_apart(ferry, width):
    """Two blank columns at least between a name and its notes, one before the frame, for every chord of the song."""
    for cursor in range(16):
        view = replace(ferry, cursor=cursor)
        rows = [text_of(row) for row in draw_now(view, width, 9)][1:]
        frame = rows[0].index("│")
        solid = [x for x in range(frame) if any(row[x].strip() for row in rows)]
        gaps = [after - before - 1 for before, after in pairwise(solid)]
        assert max(gaps) >= 2 and solid[-1] < frame - 1, "\n".join(rows)


def test_one_line_tells_of_both_hands_while_the_next_pass_runs():
    alone, under = HandFigures(1.0, 2.0, 9.0), HandFigures(0.95, 4.0, 10.0)
    lines = [
        "Left hand: 36 of 37 chords right (97 %): 1 late.",
        "Slipped: A 3 >.",
        "  Time: in time; 2 ms behind the beat on average, spread 10 ms.",
        "Right hand: 103 of 105 notes right (98 %): 2 missing.",
        "  Time: in time; on the beat on average, spread 7 ms.",
        *together_lines(Together(80.0, 30), {}),
        loss_words(Loss(alone, under, 0.5)),
    ]
    short = "Left 36 of 37, right 103 of 105; the left one comes late. The left hand runs by itself."
    assert brief(lines, 1, 100) == [short]
    assert brief(lines, 1, 78) == [short.partition(" The")[0]], "where there is no room the one sentence"
    assert brief(lines, 3, 100)[:2] == [short, "Slipped: A 3 >."]
    assert brief(lines[:3], 1, 80) == lines[:1], "of one hand its own line"


def test_above_220_with_two_chords_a_bar_a_sentence_offers_two_to_the_bar(ferry):
    """While it is stopped; the key is the student's own."""
    said = "Two chords a bar above 220: q plays two to the bar."
    fast = replace(ferry, stand=ferry.stand.with_tempo(230), pattern_key="q")
    assert said in text_of(state_line(fast, 80)) and said not in text_of(
        state_line(replace(ferry, pattern_key="q"), 80)
    )
    assert said not in text_of(state_line(replace(fast, playing=True), 80))
    assert said not in text_of(state_line(replace(fast, stand=fast.stand.change(pattern="two")), 80))


@pytest.mark.parametrize(("tempo_bpm", "bars"), [(100, "1 bar"), (126, "2 bars"), (260, "3 bars")])
def test_the_bars_that_are_counted_in_go_by_the_tempo_until_a_number_is_set(ferry, tempo_bpm, bars):
    view = replace(ferry, stand=ferry.stand.change(pattern="two").with_tempo(tempo_bpm))
    assert text_of(state_line(view, 120)).strip().endswith(f"count-in {bars}")
    assert count_in_words(view) == f"Count-in: {bars}, as two seconds need at this tempo, from the next start."
    none = replace(view, stand=view.stand.change(count_in_bars=0))
    assert text_of(state_line(none, 120)).strip().endswith("count-in 0 bars")
