"""Bars drawn on staves are read back by a reader of its own: from the rows and columns of the heads alone."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import music21
import pytest
from desk import put

from companion.export.score import HIDDEN, Sung, score_of
from companion.tui.draw.staff import StaffBar, draw_staff, staff_range, staff_rows
from companion.tui.draw.strip import ROWS, draw_strip

TUNE = """
title = "Lines and spaces"
key = "Bb"
meter = "{meter}"
tempo = 120
form = "A"
[section.A]
bars = "{bars}"
melody = "{melody}"
"""
# No note here is cut and tied, so each has one head.
MELODIES = {
    "4/4": ("Bb6 | Cm7 F7 | Dm7 | G7", "B2 d2 f2 a2 | g4 ^f2 =f2 | e'8 | B3 c d2 dc"),
    "3/4": ("Bb6 | Cm7 | Dm7 | G7", "C6 | c'2 d'4 | z2 F2 A2 | b4 _g2"),
    "12/8": ("Bb6 | Cm7 | Dm7 | G7", "B3 d3 f6 | c12 | d2 e f3 z3 b3 | g3 g3 g6"),
}


def stand_of(settings, meter="4/4", **changes):
    bars, melody = MELODIES[meter]
    return put(TUNE.format(meter=meter, bars=bars, melody=melody), settings, **changes)


def bars_of(stand, first):
    """Two bars of the score."""
    score = score_of(replace(stand, loop=(first, first + 1)), written_pattern=True)
    return [bar for bar in score.bars if bar.length is None]


def sung(bars):
    """The pitches that are struck, by music21."""
    spans = [span for bar in bars for span in bar.melody if isinstance(span.what, Sung)]
    return [music21.pitch.Pitch(span.what.pitch.name.replace("b", "-")) for span in spans]


def drawn(stand, first, hands="right", now=None):
    """The rows as text with their roles, and the step of the first line."""
    lines = staff_range([note.pitch for note in stand.melody if note.pitch] if hands != "left" else (), hands)
    rows = draw_staff([StaffBar(bar, now) for bar in bars_of(stand, first)], 79, lines, hands)
    assert len(rows) == staff_rows(lines)
    return rows, lines[1]


def text_of(rows):
    return ["".join(text for text, _ in row) for row in rows]


def heads(rows, top):
    """(column, step, hollow) of every head: on a line in its row, in a space over two. Of two a third apart the lower one begins an eighth
    of a row lower, and a row that both have is filled but for the line between them."""
    rows = text_of(rows)
    found = []
    for number in range(2, len(rows)):
        below = rows[number + 1] if number + 1 < len(rows) else " " * 79
        step = top - 2 * (number - 2)
        for column in range(78):
            pair, under = rows[number][column : column + 2], below[column : column + 2]
            if pair in ("██", "▇▇", "()"):
                found.append((column, step, pair == "()"))
            elif pair in ("▄▄", "━━") and under in ("▀▀", "━━"):
                found.append((column, step - 1, False))
            elif pair in ("╭╮", "├┤") and under in ("╰╯", "├┤"):
                found.append((column, step - 1, True))
    return sorted(found)


@pytest.mark.parametrize("meter", MELODIES)
@pytest.mark.parametrize("key", ["Bb", "E", "Db"])
@pytest.mark.parametrize("first", [0, 2])
def test_every_head_stands_on_its_line_or_space_in_order(settings, meter, key, first) -> None:
    """Letters counted by music21, whose C4 is 29 where ours is 28."""
    stand = stand_of(settings, meter).with_key(key)
    wanted = [pitch.diatonicNoteNum - 1 for pitch in sung(bars_of(stand, first))]
    assert [step for _, step, _ in heads(*drawn(stand, first))] == wanted


def test_hollow_heads_are_those_of_two_beats_and_more(settings) -> None:
    """Half and whole notes are hollow (common practice)."""
    stand = stand_of(settings)
    hollow = [hollow for first in (0, 2) for _, _, hollow in heads(*drawn(stand, first))]
    assert hollow == [False] * 4 + [True, False, False] + [True] + [False] * 5


def test_an_accidental_stands_where_the_key_does_not_say_it(settings) -> None:
    """F sharp and back: two signs; B flat and E flat are the key's. A sign stands left of its head, in its row."""
    rows, top = drawn(stand_of(settings), 0)
    texts = text_of(rows)
    signs = []
    for column, step, _ in heads(rows, top):
        signs.append(texts[2 + (top - step) // 2][column - 1])
    assert [sign if sign in "♯♭♮" else "" for sign in signs] == ["", "", "", "", "", "♯", "♮"]


@pytest.mark.parametrize("key", ["Bb", "Db", "D", "E", "F", "Gb", "G", "Ab"])
def test_shells_stand_in_the_lower_staff_as_they_are_struck(settings, key) -> None:
    """Thirds in spaces and on lines too, of which no head may melt into the other."""
    stand = stand_of(settings, pattern="four").with_key(key)
    rows, top = drawn(stand, 0, "both")
    lower = [step for _, step, _ in heads(rows, top) if step < 28]
    placed = [choice for index in (0, 1) for _, choice in stand.choices_at(index)]
    shells = [[music21.pitch.Pitch(name.replace("b", "-")) for name in choice.shell.names] for choice in placed]
    strikes = [shells[0]] * 4 + [shells[1]] * 2 + [shells[2]] * 2
    assert lower == [pitch.diatonicNoteNum - 1 for shell in strikes for pitch in shell]


def test_each_hand_alone_has_one_staff_and_both_have_two(settings) -> None:
    for hands, staves in (("left", 1), ("right", 1), ("both", 2)):
        rows, _ = drawn(stand_of(settings), 0, hands)
        assert sum(text.count("─") > 30 for text in text_of(rows)) == 5 * staves


SHOWN_ON_THE_GROUND = "cursor"  # letters in the colour of now


def due(rows):
    """The blocks of ink that are due now."""
    return [text for row in rows for text, role in row if role == SHOWN_ON_THE_GROUND]


def test_what_is_due_now_is_told_apart(settings) -> None:
    rows, _ = drawn(stand_of(settings), 0, now=(Fraction(1), Fraction(2)))
    assert due(rows) == ["╭╮", "╰╯", "██"]  # in the second bar the G that is held; in the first D, on the fourth line


@pytest.mark.parametrize("now", [Fraction(0), Fraction(1), Fraction(3)])
def test_a_sign_above_tells_what_is_due_without_colour(settings, now) -> None:
    """Right above its heads, in the row of the fingers; what is held is due still."""
    stand = stand_of(settings, pattern="whole")
    score = bars_of(stand, 1)[0]
    lines = staff_range([note.pitch for note in stand.melody if note.pitch], "both")
    rows = draw_staff([StaffBar(score, (now, now + 1), fingers="123")], 79, lines, "both")
    texts = text_of(rows)
    [column] = [place for place, sign in enumerate(texts[1]) if sign == "▶"]
    assert [role for text, role in rows[1] if "▶" in text] == ["now"]
    column_of = {column: step for column, step, _ in heads(rows, lines[1])}
    assert column + 1 in column_of
    assert len("".join(due(rows))) >= 2 * 2, "both hands have something that is due"


def test_no_ink_is_drawn_where_its_ground_has_its_colour(settings) -> None:
    """In the role "now" the ground is lit and letters are dark: a block of ink would be a hole."""
    for first in (0, 2):
        for beat in range(4):
            stand = stand_of(settings, pattern="four").with_key("Ab")
            rows, _ = drawn(stand, first, "both", now=(Fraction(beat), Fraction(beat + 1)))
            lit = "".join(text for row in rows for text, role in row if role == "now")
            assert lit and not set(lit) & set("█▄▀▇"), lit


def test_the_strip_names_what_is_struck_with_its_octave_and_finger(settings) -> None:
    stand = stand_of(settings)
    bars = bars_of(stand, 0)
    rows = draw_strip([StaffBar(bar, fingers=list("12345")) for bar in bars], 79)
    symbols, beats, names, fingers = text_of(rows)
    assert len(rows) == ROWS and all(len(row) <= 79 for row in (symbols, beats, names, fingers))
    wanted = [pitch.unicodeNameWithOctave.replace("♮", "") for pitch in sung(bars)]
    assert [word.strip("─") for word in names.replace("│", "").split()] == ["note", *wanted]
    assert beats.split() == ["beat", *["│", "1", "2", "3", "4"] * 2] and symbols.split() == [
        "│",
        "B♭6",
        "│",
        "Cm7",
        "F7",
    ]
    struck = [names.index(word) for word in names.replace("│", "").split()[1:5]]
    assert [fingers[column] for column in struck] == list("1234") and fingers.startswith("finger")


def test_what_is_hidden_is_no_rest_and_has_no_sign(settings) -> None:
    """A strip says "·" for a rest; nothing may be read from a bar whose notes are not shown, nor where its beat would be."""
    bar = bars_of(stand_of(settings), 0)[0]
    hidden = (replace(bar.left[0], start=Fraction(0), length=bar.quarters, what=HIDDEN),)
    bars = [StaffBar(replace(bar, left=hidden, melody=hidden), (Fraction(1), Fraction(2)))]
    assert text_of(draw_strip(bars, 79))[2].replace("│", "").split() == ["note"]
    staff = draw_staff(bars, 79, staff_range((), "both"), "both")
    assert "▶" not in "".join(text_of(staff)) and not [role for row in staff for _, role in row if role == "now"]
