"""Texts broken into lines."""

from textwrap import wrap

from hypothesis import given
from hypothesis import strategies as st

from companion.tui.draw.words import hanging
from companion.tui.screens.ways import KIND_LINES, way_item


def test_what_goes_on_stands_below_the_first_word_of_its_line():
    text = "  2. section A, left hand, at 76\n     Feel the half step in the finger.\nPlain words go on at the edge."
    assert hanging(text, 24) == "\n".join(
        [
            "  2. section A, left",
            "     hand, at 76",
            "     Feel the half step",
            "     in the finger.",
            "Plain words go on at the",
            "edge.",
        ]
    )


def test_a_sign_and_its_words_stay_together_and_a_key_has_its_words_beside_it():
    signs = "Signs: ▶ sounds now   › the marked bar   ↻ where the loop goes on   (0 of 3)"
    assert hanging(signs, 60) == "Signs: ▶ sounds now   › the marked bar\n↻ where the loop goes on   (0 of 3)"
    assert hanging("  esc or F2  Back to the songs, once it is stopped", 40) == (
        "  esc or F2  Back to the songs, once it\n             is stopped"
    )


@given(st.text(alphabet="ab .1•·\n", max_size=80), st.integers(8, 40))
def test_no_word_is_lost_and_no_line_too_long(text, width):
    assert hanging(text, width).split() == [part for line in text.split() for part in wrap(line, width)]
    assert all(len(line) <= width for line in hanging(text, width).split("\n"))


def test_each_way_to_practise_is_a_line_of_its_own_with_a_gap_before_what_it_does():
    """A list at 80 columns has 74 for a line."""
    for kind in KIND_LINES:
        line = way_item(kind).words
        assert len(line) <= 74 and line[30:32] == "  ", line
