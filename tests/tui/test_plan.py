"""How a window's rows are shared."""

from hypothesis import given
from hypothesis import strategies as st

from companion.tui.draw.plan import share_rows


@given(st.integers(0, 200), st.integers(1, 60))
def test_every_row_is_used_once(height, lines):
    rows = share_rows(height, lines)
    assert sum(rows.values()) == height
    assert all(count >= 0 for count in rows.values())


@given(st.integers(1, 200), st.integers(1, 60))
def test_the_chord_of_now_is_always_there(height, lines):
    assert share_rows(height, lines)["now"] >= 1


def test_eighty_by_twenty_four_has_everything():
    rows = share_rows(24, 8)
    assert rows["now"] >= 9, "a heading and letters seven rows high, next in a frame"
    assert rows["beat"] == 2 and rows["need"] >= 7 and rows["chart"] >= 3
    assert all(rows[part] == 1 for part in ("title", "state", "foot"))
    assert list(rows) == ["beat", "now", "need", "chart", "title", "state", "foot"], "from top to bottom"


@given(st.integers(0, 200), st.integers(1, 60))
def test_what_is_turned_off_leaves_its_rows_to_the_rest(height, lines):
    rows = share_rows(height, lines, beat=False, need=False)
    assert rows["beat"] == rows["need"] == 0 and sum(rows.values()) == height


def test_more_room_makes_chart_keyboard_and_letters_larger():
    small, large = share_rows(24, 8), share_rows(40, 8)
    assert all(large[part] > small[part] for part in ("chart", "need", "now"))


@given(st.integers(4, 200), st.integers(2, 60))
def test_the_next_line_has_room_from_a_dozen_rows_on(height, lines):
    assert height < 12 or share_rows(height, lines)["chart"] >= 2


def test_letters_grow_no_further_while_the_form_is_cut():
    """At 120x40 and at 200x50, for forms of 32 bars with endings and of 64."""
    for height, lines in ((40, 10), (50, 10), (50, 16)):
        rows = share_rows(height, lines)
        assert rows["now"] <= 9 or rows["chart"] >= lines
        assert rows["chart"] >= lines
