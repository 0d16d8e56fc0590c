"""What is played, coming back into the microphone: noticed where it does, and only there. Takes are made up from a sampled piano in made-up rooms."""

from __future__ import annotations

from dataclasses import dataclass

import listening_rooms
import listening_takes
import numpy as np
import pytest
from listening_conditions import Condition
from pianos_sampled import RATE, is_here

from companion.sound.listening.clocks import CAPTURE_RATE
from companion.sound.listening.comes_back import SPAN_S, ComesBackMeter
from companion.sound.listening.messages import ComesBack
from companion.sound.listening.verdicts import NOT_SURE, WRONG, Due, HeardNote, Verdict
from companion.sound.played import Played
from companion.sound.voices import render

PIANO = "timgm"
pytestmark = pytest.mark.skipif(not is_here(PIANO), reason="no sampled piano on this machine")
BLOCK = RATE // 50
ZERO_S = 40.0


@dataclass
class Room:
    """heard: with a leak, and without; played: the click and bass that both are played to."""

    leaking: np.ndarray
    clean: np.ndarray
    played: np.ndarray


@pytest.fixture(scope="module")
def room():
    """A student who plays with the click, and a loudspeaker whose click is 6 dB below the piano."""
    condition = Condition("with the click", leak_db=-6.0)
    rng = np.random.default_rng(5)
    dues, beat_s = listening_takes.due_strikes(condition, rng, 30)
    strikes = listening_takes.played_strikes(dues, rng, condition, slips=True)
    clean = listening_takes.left_hand(listening_takes.bank(PIANO), strikes, condition, rng)
    loud = listening_rooms.rms(clean)
    clean = (clean + listening_rooms.noise_of(condition, len(clean), loud, rng)).astype(np.float32)
    played = listening_rooms.click_and_bass(condition, dues, beat_s, len(clean))[0]
    return Room(listening_rooms.with_leak(clean, condition, dues, beat_s, loud, rng), clean, played)


@pytest.fixture
def memory():
    played = Played()
    yield played
    played.remove()


def told(memory: Played, heard: np.ndarray, played: np.ndarray) -> list[tuple[float, ComesBack]]:
    """What is said, and after how many seconds."""
    meter, said, factor = ComesBackMeter(memory), [], CAPTURE_RATE // RATE
    sound = np.repeat(played, factor).astype(np.float32)
    for at in range(0, len(heard) - BLOCK, BLOCK):
        memory.write(sound[at * factor : (at + BLOCK) * factor], at * factor, ZERO_S)
        said += [(at / RATE, report) for report in meter.hear(heard[at : at + BLOCK], ZERO_S + at / RATE)]
    return said


def test_a_leak_is_told_within_three_spans_and_when_it_ends(memory, room):
    half = len(room.clean) // 2
    heard = np.concatenate([room.leaking[:half], room.clean[half:]])
    (first_s, first), (last_s, last) = told(memory, heard, room.played)
    assert first == ComesBack(True) and first_s < 3 * SPAN_S
    assert last == ComesBack(False) and half / RATE < last_s < half / RATE + 4 * SPAN_S


def test_who_plays_with_the_click_under_headphones_is_left_alone(memory, room):
    assert told(memory, room.clean, room.played) == []
    assert told(memory, room.clean, np.zeros_like(room.played)) == []


def test_even_the_same_notes_at_the_same_time_are_no_echo(memory, room):
    """The companion plays what the student plays, each on a piano of its own."""
    rng, condition = np.random.default_rng(6), Condition("the hand that rests")
    dues, _ = listening_takes.due_strikes(condition, rng, 30)
    mine, theirs = (listening_takes.played_strikes(dues, rng, condition, slips=False) for _ in range(2))
    heard = listening_takes.left_hand(listening_takes.bank(PIANO), mine, condition, rng).astype(np.float32)
    played = np.zeros_like(heard)
    for note, onset_s in (key for strike in theirs for key in strike.keys):
        sound, at = render("left", note, RATE), round(onset_s * RATE)
        played[at : at + len(sound)] += sound[: len(played) - at]
    assert told(memory, heard, played) == []


def test_of_an_unsure_strike_nothing_is_told():
    verdict = Verdict(Due(3, 12.5, (48, 58)), WRONG, (HeardNote(50, 0.9),), 12.51, 0.95)
    assert verdict.unsure() == Verdict(Due(3, 12.5, (48, 58)), NOT_SURE, (), None, 0.0)
