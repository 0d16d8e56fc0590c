"""What is played, coming back into the microphone: noticed where it does, and only there. Takes are made up from a sampled piano in made-up rooms."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import listening_rooms
import listening_takes
import numpy as np
import pytest
from listening_conditions import Condition
from listening_ears import Ears
from pianos_sampled import RATE, is_here

from companion.sound.listening.clocks import CAPTURE_RATE
from companion.sound.listening.comes_back import SPAN_S, ComesBackMeter
from companion.sound.listening.messages import ComesBack, Expect, MicrophoneConfig, StrikeHeard, Use
from companion.sound.listening.piano import Piano, to_bytes
from companion.sound.listening.scale import learn
from companion.sound.listening.verdicts import MISSING, NOT_SURE, WRONG, Due, HeardNote, Verdict
from companion.sound.played import Played
from companion.sound.voices import render

PIANO = "timgm"
pytestmark = pytest.mark.skipif(not is_here(PIANO), reason="no sampled piano on this machine")
BLOCK = RATE // 50
ZERO_S = 40.0


@dataclass
class Room:
    """played: click and bass; clean: a student who plays with them; silent: nobody does; piano: as it was learned there; at: the same with a loudspeaker so many dB below the piano."""

    dues: list[Due]
    played: np.ndarray
    clean: np.ndarray
    silent: np.ndarray
    piano: Piano
    at: Callable[[np.ndarray, float], np.ndarray]


@pytest.fixture(scope="module")
def room():
    condition = Condition("with the click")
    rng = np.random.default_rng(5)
    bank = listening_takes.bank(PIANO)
    dues, beat_s = listening_takes.due_strikes(condition, rng, 30)
    strikes = listening_takes.played_strikes(dues, rng, condition, slips=True)
    dry = listening_takes.left_hand(bank, strikes, condition, rng)
    loud = listening_rooms.rms(dry)
    silent = listening_rooms.noise_of(condition, len(dry), loud, rng).astype(np.float32)

    def leaking(sound: np.ndarray, leak_db: float) -> np.ndarray:
        way = np.random.default_rng(8)  # the same each time
        return listening_rooms.with_leak(sound, replace(condition, leak_db=leak_db), dues, beat_s, loud, way)

    played = listening_rooms.click_and_bass(condition, dues, beat_s, len(dry))[0]
    piano = learn(listening_takes.scale_sound(bank, rng))
    return Room(dues, played, (dry + silent).astype(np.float32), silent, piano, leaking)


@pytest.fixture
def memory():
    played = Played()
    yield played
    played.remove()


def told(memory: Played, piano: Piano, heard: np.ndarray, played: np.ndarray) -> list[tuple[float, ComesBack]]:
    """What is said, and after how many seconds."""
    meter, said, factor = ComesBackMeter(memory, piano), [], CAPTURE_RATE // RATE
    sound = np.repeat(played, factor).astype(np.float32)
    for at in range(0, len(heard) - BLOCK, BLOCK):
        memory.write(sound[at * factor : (at + BLOCK) * factor], at * factor, ZERO_S)
        said += [(at / RATE, report) for report in meter.hear(heard[at : at + BLOCK], ZERO_S + at / RATE)]
    return said


@pytest.mark.parametrize("who", ["clean", "silent"])
def test_a_loud_leak_is_told_within_three_spans_and_when_it_ends(memory, room, who):
    alone = getattr(room, who)
    half = len(alone) // 2
    heard = np.concatenate([room.at(alone, 0.0)[:half], alone[half:]])
    (first_s, first), (last_s, last) = told(memory, room.piano, heard, room.played)
    assert first == ComesBack(True) and first_s < 3 * SPAN_S
    assert last == ComesBack(False) and half / RATE < last_s < half / RATE + 4 * SPAN_S


@pytest.mark.parametrize("who", ["clean", "silent"])
def test_what_headphones_let_through_is_no_matter_whether_anybody_plays_or_not(memory, room, who):
    assert told(memory, room.piano, room.at(getattr(room, who), -36.0), room.played) == []


def test_who_plays_with_the_click_under_headphones_is_left_alone(memory, room):
    assert told(memory, room.piano, room.clean, room.played) == []
    assert told(memory, room.piano, room.clean, np.zeros_like(room.played)) == []


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
    assert told(memory, room.piano, heard, played) == []


def verdicts(memory: Played, room: Room, heard: np.ndarray, until_s: float) -> tuple[list[object], list[Verdict]]:
    """What the process reports of a leak, and of strikes due after the first three spans."""
    ears = Ears(MicrophoneConfig(piano=to_bytes(room.piano), late_s=0.0, played=memory.name))
    due = [due for due in room.dues if 3 * SPAN_S < due.time_s < until_s]
    ears.tell(Expect(tuple(replace(due, time_s=ears.now_s + due.time_s) for due in due)))
    sound, zero_s, factor = np.repeat(room.played, CAPTURE_RATE // RATE), ears.now_s, CAPTURE_RATE // RATE
    said: list[object] = []
    for at in range(0, int((until_s + 1.0) * RATE), RATE // 10):
        end = at + RATE // 10
        memory.write(sound[at * factor : end * factor].astype(np.float32), at * factor, zero_s)
        ears.hear(np.repeat(heard[at:end], factor))
        said += ears.told()
    ears.tell(Use(MicrophoneConfig()))  # the memory is let go of
    judged = [report.verdict for report in said if isinstance(report, StrikeHeard)]
    return [report for report in said if isinstance(report, ComesBack)], judged


def test_as_long_as_it_comes_back_nothing_is_held_against_the_player(memory, room):
    """Nobody plays, and a loudspeaker does: seen in a log as passes of which nothing was right."""
    until_s = room.dues[-1].time_s
    told, judged = verdicts(memory, room, room.at(room.silent, 0.0), until_s)
    assert told == [ComesBack(True)] and len(judged) > 5
    assert {verdict.kind for verdict in judged} == {NOT_SURE}


def test_where_it_does_not_what_is_missing_is_missing(memory, room):
    told, judged = verdicts(memory, room, room.silent, room.dues[-1].time_s)
    assert not told and MISSING in {verdict.kind for verdict in judged}


def test_of_an_unsure_strike_nothing_is_told():
    verdict = Verdict(Due(3, 12.5, (48, 58)), WRONG, (HeardNote(50, 0.9),), 12.51, 0.95)
    assert verdict.unsure() == Verdict(Due(3, 12.5, (48, 58)), NOT_SURE, (), None, 0.0)
