"""Keys gathered into strokes."""

from companion.practice.marking.strokes import gather
from companion.practice.model import Press
from companion.practice.reach import ROLL_S


def gathered(*keys):
    return [[press.note for press in stroke] for stroke in gather([Press(*key) for key in keys], ROLL_S)]


def test_a_key_belongs_to_the_stroke_that_it_went_down_with():
    """A ii and its V a swung eighth apart share a key: the other key of the V came 10 ms before it."""
    assert gathered((0.0, 48), (0.0, 51), (0.14, 41), (0.15, 51)) == [[48, 51], [41, 51]]
    assert gathered((0.0, 48), (0.12, 51), (0.25, 48), (0.37, 51)) == [[48, 51], [48, 51]]  # rolled, and again
    assert gathered((0.0, 48), (0.0, 51), (0.01, 41), (0.15, 51)) == [[48, 51, 41], [51]]
