"""The chart's lines, what of them is in view, and their signs."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.chart.model import FormBar, PlacedChord
from companion.theory.chord import Chord
from companion.theory.meter import Meter
from companion.theory.pitch import Tone
from companion.tui.draw.chart import (
    ChartState,
    bars_a_line,
    draw_line,
    draw_shells,
    lay_out,
    line_of,
    line_to_come,
    lines_with_shells,
    section_name,
    spread,
    visible,
)

FOUR = Meter(4, 4)


def chord(symbol):
    return Chord(symbol, Tone.parse(symbol[0]), ("1", "3", "5"), "triad")


def bar(index, section="A", number=1, occurrence=1, symbols=("C7",)):
    length = Fraction(4, len(symbols))
    chords = [chord(symbol) if symbol else None for symbol in symbols]
    placed = tuple(PlacedChord(chord, n * length, length) for n, chord in enumerate(chords))
    return FormBar(index, section, occurrence, number, index * FOUR.bar_ticks, FOUR, placed)


def form(*sections):
    """("A", 8), ("B", 6) -> the bars of the chorus."""
    bars = []
    for name, length in sections:
        bars += [bar(len(bars) + n, name, n + 1) for n in range(length)]
    return tuple(bars)


def text_of(row):
    return "".join(text for text, _ in row)


def test_four_bars_a_line_and_a_new_line_for_each_section():
    lines = lay_out(form(("A", 8), ("B", 6), ("A", 4)))
    assert [line.bars for line in lines] == [(0, 1, 2, 3), (4, 5, 6, 7), (8, 9, 10, 11), (12, 13), (14, 15, 16, 17)]
    assert [line.section for line in lines] == ["A", "", "B", "", "A"]


@given(
    st.lists(st.tuples(st.sampled_from(["A", "B", "Intro"]), st.integers(1, 20)), min_size=1, max_size=8),
    st.integers(1, 130),
)
def test_every_bar_stands_once_and_in_order(sections, width):
    bars = form(*sections)
    lines = lay_out(bars, bars_a_line(width))
    assert [index for line in lines for index in line.bars] == list(range(len(bars)))
    assert [line.section for line in lines if line.section] == [name for name, _ in sections]


@given(st.integers(1, 40), st.data(), st.integers(1, 20))
def test_the_sounding_line_and_the_line_to_come_are_in_view(count, data, height):
    here = data.draw(st.integers(0, count - 1))
    to_come = data.draw(st.integers(0, count - 1))
    shown = visible(count, here, to_come, height)
    assert len(shown) == min(count, height) and len(set(shown)) == len(shown)
    assert here in shown
    assert height < 2 or to_come in shown


def test_no_height_shows_nothing():
    assert visible(5, 2, 3, 0) == []


def test_the_chart_scrolls_with_one_line_above_the_sounding_one():
    assert visible(8, 0, 1, 4) == [0, 1, 2, 3]
    assert visible(8, 3, 4, 4) == [2, 3, 4, 5]
    assert visible(8, 6, 7, 4) == [4, 5, 6, 7]


def test_where_the_loop_jumps_back_out_of_view_its_first_line_is_shown():
    assert visible(8, 7, 0, 4) == [5, 6, 7, 0]
    assert visible(8, 4, 1, 4) == [3, 4, 5, 1]


def test_the_line_to_come_follows_the_loop():
    lines = lay_out(form(("A", 16)))
    assert line_to_come(lines, 5, lambda index: (index + 1) % 16) == 2
    assert line_to_come(lines, 15, lambda index: (index + 1) % 16) == 0
    assert line_to_come(lines, 5, lambda index: 4 if index == 7 else index + 1) == 1, "a loop of this line only"
    assert line_of(lines, 13) == 3


def test_the_sounding_bar_has_a_sign_of_its_own():
    bars = form(("A", 4))
    (line,) = lay_out(bars)
    whole = frozenset(range(4))
    sounding = text_of(draw_line(line, bars, ChartState(2, True, whole), 80))
    marked = text_of(draw_line(line, bars, ChartState(2, False, whole), 80))
    assert sounding.index("▶") > sounding.index("│") and "›" not in sounding
    assert "›" in marked and "▶" not in marked
    assert sounding.count("║") == 2, "the loop's first and last bar line"


def test_the_loop_stands_between_double_bar_lines_with_dots():
    bars = form(("A", 4))
    (line,) = lay_out(bars)
    text = text_of(draw_line(line, bars, ChartState(0, False, frozenset({1, 2})), 80))
    assert text.index("║:") < text.index(":║")
    assert text[text.index("║:") : text.index(":║")].count("C7") == 2


@given(st.integers(8, 130))
def test_lines_keep_to_the_width(width):
    bars = form(("A", 7))
    for line in lay_out(bars, bars_a_line(width)):
        assert len(text_of(draw_line(line, bars, ChartState(1, True, frozenset({1})), width))) <= width


def test_chords_stand_at_their_beats():
    assert spread(bar(0, symbols=("C7", "F7")), 16) == "C7      F7"
    assert spread(bar(0, symbols=("C7", "F7", "Bb7", "Eb7")), 16) == "C7  F7  B♭7 E♭7"
    assert spread(bar(0, symbols=(None,)), 16) == "N.C."
    assert spread(bar(0, symbols=("Cmaj7#11", "F13b9")), 10).endswith("…")


@pytest.mark.parametrize(("width", "count"), [(120, 4), (80, 4), (41, 4), (40, 2), (23, 2), (22, 1), (1, 1)])
def test_narrow_windows_have_fewer_bars_a_line(width, count):
    assert bars_a_line(width) == count


def test_both_endings_of_a_song_are_told_apart():
    assert [section_name(name, 3) for name in ("A", "End1", "End2")] == ["A", "E…1", "E…2"]
    assert section_name("End1", 5) == "End1" and section_name("Interlude2", 5) == "Int…2"


def test_each_shell_stands_under_its_chord():
    """Two chords a bar in wide windows, where they stand far apart."""
    bars = (bar(0, symbols=("C7", "F7")), bar(1, number=2, symbols=("G7",)))
    line = lay_out(bars, 4)[0]
    for width in (120, 200):
        chords = text_of(draw_line(line, bars, ChartState(0, False, frozenset()), width))
        shells = text_of(draw_shells(line, bars, lambda index: [["C3-E3", "F2-E♭3"], ["G2-F3"]][index], width))
        for chord, shell in zip(("C7", "F7", "G7"), ("C3-E3", "F2-E♭3", "G2-F3"), strict=True):
            assert chords.index(chord) == shells.index(shell), width


def test_a_form_that_fits_is_not_cut_for_its_shells():
    for count in range(1, 40):
        for height in range(1, 80):
            below = lines_with_shells(count, height)
            assert count > height or count + below <= height
    assert lines_with_shells(8, 16) == 8 and lines_with_shells(10, 19) == 9 and lines_with_shells(10, 12) == 0
