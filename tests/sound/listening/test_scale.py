import numpy as np
import pytest
from strings_made import RATE, scale, stiffness, string

from companion.errors import PianoError
from companion.sound.listening.piano import NOTES, from_bytes, general_piano, to_bytes
from companion.sound.listening.scale import learn

# One key is struck twice, which is no fault.
TWICE = (*NOTES[:10], NOTES[9], *NOTES[10:])


@pytest.fixture(scope="module")
def flat():
    return learn(scale(-30.0, TWICE), name="Upright at home")


def test_a_scale_tells_how_each_note_is_tuned_and_how_stiff_its_string_is(flat):
    assert flat.cents == pytest.approx(-30.0, abs=2.0)
    for place, note in enumerate(NOTES):
        # A hundredth of a cent in the fundamental is little beside what B does to the tenth partial.
        assert flat.inharmonicity[place] == pytest.approx(stiffness(note), rel=0.35)


def test_what_is_learned_is_kept_and_read_again(flat):
    again = from_bytes(to_bytes(flat), "here")
    assert (again.name, again.learned) == ("Upright at home", True)
    assert np.array_equal(again.templates, flat.templates)
    assert np.array_equal(again.cents, flat.cents)


@pytest.mark.parametrize(
    "data",
    [b"", b"PK\x03\x04 no", to_bytes(general_piano())[:-300], b"\x93NUMPY"],
    ids=["empty", "no archive", "cut short", "another"],
)
def test_what_is_no_piano_is_told_in_a_sentence(data):
    with pytest.raises(PianoError, match=r"old\.npz: is not a piano that the companion has learned"):
        from_bytes(data, "old.npz")


def test_a_note_left_out_a_wrong_key_and_one_far_out_of_tune_are_named():
    sound = scale(-30.0, tuple(66 if note == 60 else note for note in NOTES if note != 43)).copy()
    start = int((0.6 + 0.8 * 9) * RATE)  # D3's place
    sound[start - 800 : start + int(0.75 * RATE)] = 0.0
    sound[start : start + int(0.7 * RATE)] += string(50, 15.0)[: int(0.7 * RATE)]
    with pytest.raises(PianoError, match=r"G2, D3, C4 were not heard \(heard too: (F#|Gb)4\)"):
        learn(sound)


@pytest.mark.parametrize(
    "sound", [np.zeros(RATE * 3, dtype=np.float32), np.random.default_rng(2).normal(0, 0.05, RATE * 3)]
)
def test_silence_and_noise_are_no_scale(sound):
    with pytest.raises(PianoError, match="not heard|no notes"):
        learn(sound.astype(np.float32))
