"""The keyboard in characters."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.tui.draw.keyboard import DOWN, RING, Mark, draw_keyboard, fit_range, is_white, white_keys

ROOT = Mark("B♭", "5", "root", "root")
SEVENTH = Mark("A", "1", "7th", "upper")


def picture(*args, **options):
    return ["".join(text for text, _ in row) for row in draw_keyboard(*args, **options)]


def test_black_keys_are_those_that_need_a_sharp_or_a_flat():
    """Against music21: a pitch that it names without an accidental is a white key."""
    pitch = pytest.importorskip("music21.pitch")
    for midi in range(21, 109):
        assert is_white(midi) == (pitch.Pitch(midi=midi).accidental is None)


def test_the_piano_has_fifty_two_white_keys():
    """The piano's compass A0 to C8 (MIDI 21 to 108) has 88 keys, 52 of them white (common practice)."""
    assert len(white_keys(21, 108)) == 52


def test_groups_of_two_and_three_black_keys():
    rows = picture(48, 59, 36, 6, {})
    assert rows[0] == "│   ███  ███   │   ███  ███  ███   │"
    assert rows[3] == "│    │    │    │    │    │    │    │"
    assert rows[5].rstrip() == " C3"


def test_name_finger_and_degree_stand_on_and_below_the_keys_that_sound():
    rows = picture(40, 60, 80, 6, {46: ROOT, 57: SEVENTH})
    column = rows[1].index("B♭")
    assert rows[2][column : column + 3].strip() == "5"
    assert rows[0][column : column + 3] == "   ", "a marked black key is no solid block"
    column = rows[3].index("A")
    assert rows[4][column] == "1"
    assert "root" in rows[5] and "7th" in rows[5]
    assert rows[5].index("root") < rows[5].index("7th")


def test_the_shell_to_come_has_rings_and_no_letters():
    rows = picture(40, 60, 80, 6, {}, frozenset({51, 55}))
    assert "".join(rows).count(RING) == 2
    assert "█○█" in rows[2], "on E flat, a black key"
    assert " ○ " in rows[4], "on G, a white key"


def test_a_key_that_sounds_now_and_next_shows_both():
    rows = picture(40, 60, 80, 6, {57: SEVENTH}, frozenset({57}))
    assert "1○" in rows[4]


def test_a_key_that_is_held_has_an_arrow_whether_it_is_due_or_not():
    """Due keys keep name and finger beside it; one astray has the arrow alone, white or black, and loses no ring."""
    rows = picture(40, 60, 80, 6, {46: ROOT, 57: SEVENTH}, frozenset({55}), down=frozenset({46, 57, 55, 49, 53}))
    assert f"{DOWN}5" in rows[2] and f"{DOWN}1" in rows[4], "the two that are due"
    assert f"{DOWN}{RING}" in rows[4], "G, which comes next"
    assert "".join(rows).count(DOWN) == 5
    column = picture(40, 60, 80, 6, {46: ROOT, 57: SEVENTH}, frozenset({55}), down=frozenset({49}))[2].index(DOWN)
    assert rows[0][column] == " " and picture(40, 60, 80, 6, {})[0][column] == "█", "a black key is no solid block then"


def test_a_key_that_is_held_and_astray_has_a_colour_of_its_own():
    rows = draw_keyboard(40, 60, 80, 6, {46: ROOT}, down=frozenset({46, 53}))
    roles = {role for row in rows for text, role in row if DOWN in text}
    assert roles == {"root", "astray"}


def test_a_key_held_beyond_the_picture_is_an_arrow_at_its_edge():
    rows = picture(40, 60, 80, 6, {46: ROOT}, down=frozenset({21, 96}))
    assert rows[5].startswith(f"←{DOWN}") and rows[5].endswith(f"{DOWN}→")
    assert picture(40, 60, 80, 6, {46: ROOT}, down=frozenset({46}))[0] == picture(40, 60, 80, 6, {46: ROOT})[0]


def test_marks_are_told_apart_without_colour():
    """The same two keys with root and upper note exchanged give another picture even without the roles."""
    other = {46: Mark("B♭", "5", "7th", "root"), 57: Mark("A", "1", "root", "upper")}
    assert picture(40, 60, 80, 6, {46: ROOT, 57: SEVENTH}) != picture(40, 60, 80, 6, other)


@given(
    st.integers(21, 60),
    st.integers(3, 30),
    st.integers(0, 130),
    st.integers(0, 14),
    st.sets(st.integers(21, 90), max_size=2),
    st.sets(st.integers(21, 90), max_size=2),
    st.sets(st.integers(0, 127), max_size=6),
)
def test_it_never_leaves_the_room_it_has(low, span, width, height, marked, rings, down):
    marks = {midi: Mark("A", "1", "root", "root") for midi in marked}
    held = picture(low, low + span, width, height, marks, frozenset(rings), down=frozenset(down))
    rows = picture(low, low + span, width, height, marks, frozenset(rings))
    assert len(held) == len(rows) and all(len(row) <= width for row in held)
    assert len(rows) <= height
    assert all(len(row) <= width for row in rows)
    if len(rows) > 1:
        assert sum(row.count("1") for row in rows) >= len(marked), "every marked key has its finger"
        assert sum(row.count(RING) for row in rows[:-1]) >= len(rings - marked), "every key to come has its ring"


@given(st.integers(21, 80), st.integers(1, 40), st.integers(10, 200))
def test_the_range_asked_for_is_always_there(low, span, width):
    keys, size = fit_range(low, low + span, width)
    if keys:
        assert keys[0] <= low and keys[-1] >= low + span
        assert len(keys) * size + 1 <= width


def test_without_room_the_notes_are_said_in_words():
    assert picture(40, 60, 30, 2, {46: ROOT, 57: SEVENTH}) == ["root B♭ 5  7th A 1"]
