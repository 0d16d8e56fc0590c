import numpy as np
import pytest
from strings_made import RATE, played, scale, stiffness, string

from companion.errors import PianoError
from companion.sound.listening.piano import HIGHEST, LOWEST, NOTES, from_bytes, general_piano, to_bytes
from companion.sound.listening.scale import heard_notes, learn


@pytest.fixture(scope="module")
def flat():
    return learn(scale(-30.0), name="Upright at home")


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


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04 no", to_bytes(general_piano())[:-300], b"\x93NUMPY"])
def test_what_is_no_piano_is_told_in_a_sentence(data):
    with pytest.raises(PianoError, match=r"old\.npz: is not a piano that the companion has learned"):
        from_bytes(data, "old.npz")


def test_notes_left_out_are_named():
    notes = tuple(note for note in NOTES if note not in (43, 57))
    with pytest.raises(PianoError, match=r"G2, A3 were not heard"):
        learn(scale(0.0, notes))


def test_a_wrong_key_is_named_with_the_one_that_is_missing():
    notes = tuple(66 if note == 60 else note for note in NOTES)
    with pytest.raises(PianoError, match=r"C4 was not heard \(heard too: (F#|Gb)4\)"):
        learn(scale(0.0, notes))


def test_a_key_struck_twice_is_no_fault():
    notes = (*NOTES[:10], NOTES[9], *NOTES[10:])
    assert learn(scale(0.0, notes)).cents == pytest.approx(0.0, abs=2.0)


def test_one_note_far_out_of_tune_is_another_key():
    keys = [(0.6 + 0.8 * place, note, 0.75) for place, note in enumerate(NOTES) if note != 50]
    sound = played(keys, 1.6 + 0.8 * len(NOTES))
    one = string(50, 45.0)[: int(0.7 * RATE)]
    start = int((0.6 + 0.8 * 10) * RATE)
    sound[start : start + len(one)] += one
    with pytest.raises(PianoError, match="D3 was not heard"):
        learn(sound)


@pytest.mark.parametrize(
    "sound", [np.zeros(RATE * 3, dtype=np.float32), np.random.default_rng(2).normal(0, 0.05, RATE * 3)]
)
def test_silence_and_noise_are_no_scale(sound):
    with pytest.raises(PianoError, match="not heard|no notes"):
        learn(sound.astype(np.float32))


def test_notes_come_with_the_second_they_were_struck():
    notes = heard_notes(scale())
    assert [note.midi for note in notes] == list(range(LOWEST, HIGHEST + 1))
    assert [note.onset_s for note in notes] == pytest.approx([0.6 + 0.8 * place for place in range(25)], abs=0.01)
