"""The keyboard in characters."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.tui.draw.keyboard import DOWN, FILL, KeyNote, Keys, draw_keyboard, fit_range, is_white, white_keys

ROOT = KeyNote(46, "B♭", "5", "root")
SEVENTH = KeyNote(57, "A", "1", "7th")
WINDOW = (40, 60)


def picture(width=80, height=7, **what):
    keys = Keys(**{"window": WINDOW, **what})
    return ["".join(text for text, _ in row) for row in draw_keyboard(keys, width, height)]


def note(midi):
    return KeyNote(midi, "x")


def test_black_keys_are_those_that_need_a_sharp_or_a_flat():
    """Against music21: a pitch that it names without an accidental is a white key."""
    pitch = pytest.importorskip("music21.pitch")
    for midi in range(21, 109):
        assert is_white(midi) == (pitch.Pitch(midi=midi).accidental is None)


def test_the_piano_has_fifty_two_white_keys():
    """The piano's compass A0 to C8 (MIDI 21 to 108) has 88 keys, 52 of them white (common practice)."""
    assert len(white_keys(21, 108)) == 52


def test_groups_of_two_and_three_black_keys_and_the_octave():
    rows = picture(36, 7, window=(48, 59))
    assert rows[0] == "│   ███  ███   │   ███  ███  ███   │"
    assert rows[3] == "│    │    │    │    │    │    │    │"
    assert rows[4] == "│ C3 │    │    │    │    │    │    │"


def test_a_note_of_now_has_its_name_on_the_key_and_degree_and_finger_in_words_below():
    rows = picture(now=(ROOT, SEVENTH))
    assert "B♭" in rows[1] and " A " in rows[4]
    assert rows[5].split() == ["root", "7th"]
    assert rows[6].split() == ["finger", "5", "finger", "1", "C4"] or rows[6].split() == ["finger", "5", "finger", "1"]
    column = rows[1].index("B♭")
    assert FILL in rows[0][column - 1 : column + 2] and "█" not in rows[0][column - 1 : column + 2]


def test_next_is_a_hollow_shape_without_letters():
    rows = picture(next=(note(51), note(55)))
    assert [row.count("┏━") for row in rows[:5]] == [1, 0, 0, 1, 0], "E flat, a black key, and G, a white one"
    assert "x" not in "".join(rows[:5])


def test_a_grace_has_an_arrow_to_the_key_it_slides_into():
    """From F sharp up into G: an arrow to the right on the black key; from C down into B: one to the left, below the black keys."""
    plain = picture(next=(note(55),))
    rows = picture(next=(note(55),), graces={54: 55})
    assert "".join(plain).count("→") == 0 and "".join(rows).count("→") == 1
    (row,) = [row for row in rows if "→" in row]
    black = rows[0].index("┏") if "┏" in rows[0] else None
    assert black is None and row.index("→") < next(each.index("┏") for each in rows if "┏" in each)
    down = picture(next=(note(59),), graces={60: 59})
    (row,) = [row for row in down if "←" in row]
    assert row.index("←") > next(each.index("┏") for each in down if "┏" in each)
    both = picture(now=(KeyNote(54, "F♯", "2", "", "right"),), next=(note(55),), graces={54: 55})
    assert any("F♯" in row for row in both) and "".join(both).count("→") == 1, (
        "a key of now may be the next one's grace"
    )


def test_a_key_of_now_and_next_shows_both_and_no_figure_beside_the_shape():
    rows = picture(now=(SEVENTH,), next=(SEVENTH,))
    front = [row for row in rows[:5] if "┏" in row or "┗" in row]
    assert len(front) == 2 and any(" A " in row or "▄A" in row or "█A" in row for row in rows[:3])
    assert not any(char.isdigit() for row in front for char in row.replace("C3", "").replace("C4", ""))


def test_the_hands_differ_by_form_and_are_named_below():
    """The left hand fills the whole key, the right one its front half; both in words where both play."""
    left, right = KeyNote(48, "C", "5", "root"), KeyNote(57, "A", "2", "6th", "right")
    rows = picture(now=(left, right))
    filled = [sum(char == FILL for char in row) for row in rows[:5]]
    at_left = [row[5 * 5 : 7 * 5].count(FILL) for row in rows[:5]]
    assert at_left[0] and at_left[3] and sum(filled) > sum(at_left)
    at_right = [whole - left for whole, left in zip(filled, at_left)]
    assert not at_right[0] and not at_right[1] and at_right[3]
    assert "left 5" in rows[6] and "right 2" in rows[6]
    black = [picture(now=(KeyNote(46, "B♭", "1", "3rd", hand),)) for hand in ("left", "right")]
    assert black[0][0] != black[1][0] and black[1][0] == picture()[0]


def test_a_held_key_has_an_arrow_whether_it_is_due_or_not():
    held = frozenset({46, 57, 55, 49, 53})
    rows = picture(now=(ROOT, SEVENTH), next=(note(55),), down=held)
    assert "".join(rows).count(DOWN) == 5 and "B♭" in rows[0] and "A" in "".join(rows[:5])
    column = picture(down=frozenset({49}))[2].index(DOWN)
    assert picture(down=frozenset({49}))[0][column] == " " and picture()[0][column] == "█", "then it is no solid block"
    roles = {
        role for row in draw_keyboard(Keys(WINDOW, (ROOT,), (), {46, 53}), 80, 7) for text, role in row if DOWN in text
    }
    assert roles == {"lit", "astray"}


def test_what_lies_beyond_the_window_is_an_arrow_at_its_edge_and_moves_nothing():
    rows = picture(down=frozenset({21, 96}))
    assert rows[6].startswith(f"←{DOWN}") and rows[6].endswith(f"{DOWN}→")
    far = picture(now=(ROOT, KeyNote(90, "F♯", "1")))
    assert far[6].endswith("F♯→") and far[:5] == picture(now=(ROOT,))[:5]


def test_a_name_that_a_narrow_key_has_no_room_for_stands_below():
    rows = picture(80, 7, window=(43, 79), now=(KeyNote(51, "E♭", "1", "3rd"),))
    assert "E♭" in rows[5] and not any("E" in row for row in rows[:5])


def test_without_colour_a_filled_key_looks_like_neither_of_its_neighbours():
    """By the dots of the picture: a white key's rows are blank, a black key's solid, a filled one's half and half, in lines; so no mean grey
    melts into either."""
    rows = picture(now=(ROOT, SEVENTH))
    cells = [row[rows[1].index("B♭") : rows[1].index("B♭") + 3] for row in (rows[0], rows[2])]
    assert cells == [FILL * 3] * 2
    assert FILL not in ("█", " ") and FILL == "▄", "the lower half of a cell"


@given(
    st.integers(21, 60),
    st.integers(3, 30),
    st.integers(0, 130),
    st.integers(0, 14),
    st.sets(st.integers(0, 6), max_size=2),
    st.sets(st.integers(0, 6), max_size=2),
    st.sets(st.integers(0, 127), max_size=6),
)
def test_it_never_leaves_the_room_it_has(low, span, width, height, due, coming, down):
    now = tuple(KeyNote(low + each, "A", "1", "root", "right" if each % 2 else "left") for each in due)
    comes = tuple(note(low + each) for each in coming if each <= span)
    window = (low, low + span)
    held = picture(width, height, window=window, now=now, next=comes, down=frozenset(down))
    rows = picture(width, height, window=window, now=now, next=comes)
    assert len(held) == len(rows) <= max(height, 0) and all(len(row) <= width for row in [*held, *rows])
    if len(rows) > 1 and width >= 60:
        rings = {at for row in rows for at, char in enumerate(row) if char == "○"}
        shapes = "".join(rows).count("┗") + len(rings)
        assert shapes == len({each.midi for each in comes}), "every key to come has its shape"


@given(st.integers(21, 80), st.integers(1, 40), st.integers(10, 200))
def test_the_range_asked_for_is_always_there(low, span, width):
    keys, size = fit_range(low, low + span, width)
    if keys:
        assert keys[0] <= low and keys[-1] >= low + span
        assert len(keys) * size + 1 <= width


def test_without_room_the_notes_are_said_in_words():
    assert picture(30, 2, now=(ROOT, SEVENTH)) == ["root B♭ finger 5  7th A finger"]
    assert picture(40, 2, now=(ROOT, SEVENTH)) == ["root B♭ finger 5  7th A finger 1"]
