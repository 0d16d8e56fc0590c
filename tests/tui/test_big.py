"""Big letters: whatever is asked for comes out in exactly the room there is, as large as it goes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.tui.draw.big import SIZES, big_notes, big_symbol
from companion.tui.draw.canvas import Canvas
from companion.tui.draw.glyphs import GLYPHS, HEIGHT, dots, dots_width, known
from companion.tui.draw.words import signs

SYMBOLS = (
    "C",
    "Bb",
    "F#",
    "Am",
    "Cdim",
    "Gaug",
    "Esus2",
    "Asus4",
    "D7sus4",
    "C6",
    "Am6",
    "F6/9",
    "Bbmaj7",
    "EbM7",
    "Dm7",
    "G7",
    "F#m7b5",
    "Bø7",
    "C°7",
    "Dbmaj9",
    "Em11",
    "A13",
    "G7b9",
    "C7#9",
    "B7alt",
    "Fadd9",
    "Cmmaj7",
    "Ab7/Gb",
    "C-7",
    "C+7",
    "DΔ7",
    "G7(b9,#11)",
    "N.C.",
    "Cno3",
    "Gbb7",
)


def test_a_glyph_is_seven_rows_of_one_width_with_dots():
    for char, rows in GLYPHS.items():
        assert len(rows) == HEIGHT, char
        assert len({len(row) for row in rows}) == 1, char
        assert set("".join(rows)) <= {"#", "."} and "#" in "".join(rows), char


def test_no_two_glyphs_look_alike():
    assert len(set(GLYPHS.values())) == len(GLYPHS)


def test_the_letters_of_real_chord_symbols_can_all_be_drawn():
    for symbol in SYMBOLS:
        assert known(signs(symbol)), (symbol, [char for char in signs(symbol) if not known(char)])


def test_every_symbol_is_large_on_the_smallest_full_stand():
    """At 80x24 the symbol of now has 32 columns and 8 rows: it is seven rows high, or four where it takes two lines, and all of it alike."""
    for symbol in SYMBOLS:
        if symbol == "N.C.":
            continue
        rows = [row for row in big_symbol(symbol, 32, 8) if row.strip()]
        assert len(rows) >= 7, symbol
        assert not any(char in " ".join(rows) for char in signs(symbol)), f"no plain letters in {symbol}"


@given(st.sampled_from(SYMBOLS) | st.text(max_size=12), st.integers(0, 90), st.integers(0, 20))
def test_a_symbol_fills_exactly_the_room_it_is_given(symbol, width, height):
    rows = big_symbol(symbol, width, height)
    assert len(rows) == (height if width and height else 0)
    assert all(len(row) == width for row in rows)


@given(
    st.sampled_from(["Ab", "F#", "C", "Ebb"]),
    st.sampled_from(["Bb", "B", "G#"]),
    st.integers(0, 60),
    st.integers(0, 20),
)
def test_notes_fill_exactly_the_room_they_are_given(upper, lower, width, height):
    rows = big_notes(upper, lower, width, height)
    assert len(rows) == height
    assert all(len(row) == width for row in rows)


def test_a_word_is_painted_dot_by_dot():
    canvas = Canvas(dots_width("E"), 4)
    canvas.paint("E", 0, 0)
    assert canvas.rows() == ["█▀▀▀▀", "█▄▄▄ ", "█    ", "▀▀▀▀▀"]


def test_doubling_the_scale_doubles_both_directions():
    single, double = Canvas(5, 4), Canvas(10, 7)
    assert single.paint("G", 0, 0) == 10
    assert double.paint("G", 0, 0, 4, 2) == 20
    wide = ["".join(dot * 2 for dot in row) for row in dots("G")]
    assert [row.replace("█", "#").replace(" ", ".") for row in double.rows()] == wide


# Pairs that a reader in a hurry takes for each other, each with why; S and b as in the seven by five letters of dot displays (common practice).
_S = (".###.", "#...#", "#....", ".###.", "....#", "#...#", ".###.")
_NARROW_S = (".###", "#...", "#...", ".##.", "...#", "...#", "###.")
APART = [
    ("6", GLYPHS["♭"]),
    ("6", GLYPHS["b"]),
    ("6", GLYPHS["G"]),
    ("5", _S),
    ("5", _NARROW_S),
    ("D", GLYPHS["0"]),
    ("B", GLYPHS["8"]),
    ("9", GLYPHS["g"]),
    ("1", GLYPHS["7"]),
    ("3", GLYPHS["8"]),
    ("5", GLYPHS["6"]),
    ("C", GLYPHS["G"]),
]


def dots_apart(one, other):
    """The fewest dots in which two glyphs differ, laid over each other with any shift of a dot or none."""

    def inked(rows, dx, dy):
        return {(x + dx, y + dy) for y, row in enumerate(rows) for x, dot in enumerate(row) if dot == "#"}

    return min(len(inked(one, 0, 0) ^ inked(other, dx, dy)) for dx in (-1, 0, 1) for dy in (-1, 0, 1))


@pytest.mark.parametrize(("char", "other"), APART)
def test_figures_and_letters_are_not_taken_for_each_other(char, other):
    assert dots_apart(GLYPHS[char], other) >= 4


@pytest.mark.parametrize("size", SIZES)
def test_letters_need_no_more_than_halves_of_a_cell(size):
    """Quarters of a cell are missing from the fonts of plain consoles; whole letters and thin ones do without from the size on that is used
    for chords."""
    for light in (False, True):
        canvas = Canvas(80, 14)
        canvas.paint("Gm7♭5", 0, 0, *size, light=light)
        assert set("".join(canvas.rows())) <= set(" ▀▄█▌▐"), (size, light)


def test_what_is_too_long_for_large_letters_falls_back_to_plain_text():
    assert "".join(big_symbol("Bbm7b5", 8, 1)).strip() == "B♭m7♭5"
    assert "".join(big_symbol("Bbm7b5/Ab", 4, 1)) == "B♭m…"


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("Bb7", "B♭7"),
        ("F#m7b5", "F♯m7♭5"),
        ("Ebb", "E♭♭"),
        ("C7#9b13", "C7♯9♭13"),
        ("Absus4", "A♭sus4"),
        ("Bbdim", "B♭dim"),
        ("Gb/Bb", "G♭/B♭"),
    ],
)
def test_sharps_and_flats_get_their_signs(written, shown):
    assert signs(written) == shown
