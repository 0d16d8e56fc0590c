import pytest

from companion.errors import SettingsError
from companion.hands.hand import Hand, pitch_name


def test_the_defaults_are_e2_f3_c4_and_an_octave():
    assert str(Hand()) == "roots E2 to G3, top notes up to C4 and a reach of 12 semitones"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"lowest_root": 3}, "The lowest root is 3; expected a key of the piano, A0 to C8"),
        ({"highest_root": "F3"}, "The highest root is 'F3'; expected a key of the piano"),
        ({"highest_top": 109}, "The highest top note is 109; expected a key of the piano"),
        ({"reach": 2}, "The reach is 2; expected 3 to 24 semitones"),
        ({"reach": 12.5}, "The reach is 12.5; expected 3 to 24 semitones"),
        ({"lowest_root": 53, "highest_root": 52}, "The highest root E3 lies below the lowest root F3"),
        ({"highest_top": 40}, "The highest top note E2 leaves no room above the lowest root E2"),
    ],
)
def test_values_that_make_no_sense_are_refused_in_one_sentence(change, words):
    with pytest.raises(SettingsError, match=words) as caught:
        Hand(**change)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("lower", "upper", "legal"),
    [
        (40, 47, True),  # E2 B2, a fifth
        (39, 46, False),  # below the lowest root
        (53, 60, True),
        (54, 61, False),  # highest root and highest top
        (53, 61, False),  # above the highest top note
        (48, 51, True),
        (47, 50, False),  # a minor third down to C3
        (46, 50, True),
        (45, 49, False),  # a major third down to Bb2
        (45, 50, True),
        (44, 49, False),  # a fourth down to A2
        (41, 51, True),
        (40, 50, False),  # a minor seventh down to F2
        (41, 53, True),
        (41, 54, False),  # the reach
        (50, 50, False),
        (50, 48, False),  # the upper note must lie above
    ],
)
def test_legal_or_not_at_the_defaults(lower, upper, legal):
    assert Hand().allows(lower, upper) is legal


def test_pitch_names_are_scientific():
    assert [pitch_name(midi) for midi in (21, 40, 46, 60)] == ["A0", "E2", "Bb2", "C4"]
