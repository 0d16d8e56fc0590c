"""Takes made up for the listener, with all that was done in them known: shells of our own songs played by a sampled piano in a made-up room.

A take and the scale that its piano is learned from share piano, room and microphone. Seeds from SEEDS_KEPT on are for the last evaluation alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np
from listening_conditions import Condition
from listening_rooms import Place, levelled, noise_of, rms, slower, voice, with_leak
from pianos_sampled import RATE, Bank, bank
from shipped import SONGS

from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.session.stand import Stand
from companion.sound.listening.verdicts import Due
from companion.store.paths import find_paths
from companion.store.settings import load_settings

SEEDS_KEPT = 10_000
STRIKES = 40
SLIP_SHARE = 0.15
SLIPS = ("third", "other shell", "semitone", "octave", "chord before", "one note", "none", "early", "late")
PATTERNS = ("four", "two", "charleston")


@dataclass
class Strike:
    """What was played for a due strike: keys with their onsets, which slip it was, "" for none, and the note of the melody that came with it or after it, with its onset."""

    due: Due
    slip: str = ""
    keys: list[tuple[int, float]] = field(default_factory=list)
    above: tuple[int, float] | None = None

    @property
    def onset_s(self) -> float | None:
        return min((onset_s for _, onset_s in self.keys), default=None)


@dataclass
class MadeTake:
    sound: np.ndarray
    scale: np.ndarray
    strikes: list[Strike]


def make(piano: str, condition: Condition, seed: int, slips: bool = True, strikes: int = STRIKES) -> MadeTake:
    """slips: whether SLIP_SHARE of the strikes are one of SLIPS."""
    rng = np.random.default_rng((seed, sum(map(ord, piano + condition.name))))
    from_bank = bank(piano)
    place = Place.some(condition, rng)
    strikes_due, beat_s = due_strikes(condition, rng, strikes)
    played = played_strikes(strikes_due, rng, condition, slips)
    dry = left_hand(from_bank, played, condition, rng)
    loud = rms(dry)
    melody, also = right_hand(from_bank, played, condition, rng, loud, len(dry))
    if condition.melody_told:
        for strike, keys in zip(played, also):
            strike.due = replace(strike.due, also=keys)
    sound = place.heard(dry + melody, rng)
    if condition.moved:
        half = len(sound) // 3
        sound[half:] = replace(place, response=Place.some(condition, rng).response).heard(dry + melody, rng)[half:]
    sound += noise_of(condition, len(sound), loud, rng)
    if condition.voice_db is not None:
        sound += voice(len(sound), rng) * loud * 10.0 ** (condition.voice_db / 20.0)
    if condition.leak_db is not None:
        sound = with_leak(sound, condition, [strike.due for strike in played], beat_s, loud, rng)
    if condition.agc:
        sound = levelled(sound)
    learned = bank("timgm" if piano != "timgm" else "fluid") if condition.other_piano else from_bank
    scale = place.heard(scale_sound(learned, rng), rng)
    scale += noise_of(condition, len(scale), loud, rng)
    scale = levelled(scale) if condition.agc else scale
    cents = 2.0 ** (condition.cents / 1200.0)
    if cents != 1.0:  # the whole recording read slower: what is due comes that much later
        sound, scale = slower(sound, cents), slower(scale, cents)
        for strike in played:
            strike.keys = [(key, at_s / cents) for key, at_s in strike.keys]
            strike.above = (strike.above[0], strike.above[1] / cents) if strike.above else None
            strike.due = replace(strike.due, time_s=strike.due.time_s / cents)
    gain = 10.0 ** rng.uniform(-1.0, 0.3)
    return MadeTake((sound * gain).astype(np.float32), (scale * gain).astype(np.float32), played)


@cache
def _stand(number: int) -> Stand:
    settings = load_settings(find_paths({"COMPANION_HOME": "/nowhere"}))
    return Stand.put(SONGS[number], settings)


def due_strikes(condition: Condition, rng: np.random.Generator, count: int) -> tuple[list[Due], float]:
    """Strikes of one of our songs, from somewhere in its form; and the seconds of a beat."""
    while True:
        stand = _stand(int(rng.integers(len(SONGS))))
        tempo = float(rng.uniform(*condition.tempi))
        arrangement = replace(stand.arrangement(), pattern=str(rng.choice(PATTERNS)))
        try:
            expected = expected_strikes(arrangement, steady_starts(arrangement, 0.0, tempo))
        except KeyError:
            continue
        expected = tuple(strike for strike in expected if strike.notes)
        if len(expected) < 12:
            continue
        first = int(rng.integers(max(1, len(expected) - count)))
        chosen = expected[first : first + count]
        start_s = chosen[0].due_s - 1.5
        dues = [
            Due(number, strike.due_s - start_s, strike.notes, window_s=strike.window_s)
            for number, strike in enumerate(chosen)
        ]
        return dues, 60.0 / tempo


def played_strikes(dues: list[Due], rng: np.random.Generator, condition: Condition, slips: bool) -> list[Strike]:
    strikes: list[Strike] = []
    for number, due in enumerate(dues):
        slip = str(rng.choice(SLIPS)) if slips and rng.random() < SLIP_SHARE else ""
        at_s = due.time_s + float(np.clip(rng.normal(0.0, 0.015), -0.04, 0.04))
        notes: tuple[int, ...] = due.notes
        root, upper = notes[0], notes[-1]
        if slip == "third":
            change = int(rng.choice((3, 4, -3, -4)))
            notes = (root, upper + change) if rng.random() < 0.5 else (root + change, upper)
        elif slip == "other shell":
            notes = (root, root + int(rng.choice([step for step in (3, 4, 9, 10, 11) if root + step != upper])))
        elif slip == "semitone":
            change = int(rng.choice((-1, 1)))
            notes = (root, upper + change) if rng.random() < 0.5 else (root + change, upper)
        elif slip == "octave":
            notes = (root, upper + 12) if rng.random() < 0.5 else (root + 12, upper + 12)
        elif slip == "chord before":
            before = [other.notes for other in dues[:number] if set(other.notes).isdisjoint(notes)]
            slip, notes = (slip, before[-1]) if before else ("", notes)
        elif slip == "one note":
            notes = (root,) if rng.random() < 0.5 else (upper,)
        elif slip == "none":
            notes = ()
        elif slip in ("early", "late"):
            at_s += (-1 if slip == "early" else 1) * 0.75 * due.window_s
        notes = tuple(sorted({min(max(note, 36), 76) for note in notes}))
        if notes == due.notes and slip not in ("early", "late"):
            slip = ""
        roll_s = float(rng.uniform(0.0, 0.060)) if rng.random() < condition.rolls else float(abs(rng.normal(0, 0.004)))
        strikes.append(Strike(due, slip, [(note, at_s + roll_s * place) for place, note in enumerate(notes)]))
    return strikes


def left_hand(from_bank: Bank, strikes: list[Strike], condition: Condition, rng: np.random.Generator) -> np.ndarray:
    sound = np.zeros(int((strikes[-1].due.time_s + 2.5) * RATE), dtype=np.float32)
    times = [strike.due.time_s for strike in strikes]
    for number, strike in enumerate(strikes):
        gap_s = (times[number + 1] if number + 1 < len(times) else times[number] + 1.0) - times[number]
        kind = condition.lengths if condition.lengths != "mixed" else str(rng.choice(("staccato", "held", "usual")))
        held_s = {"staccato": rng.uniform(0.08, 0.18), "held": gap_s + 0.02, "usual": gap_s * rng.uniform(0.5, 0.9)}[
            kind
        ]
        held_s = 9.0 if condition.pedal else float(held_s)
        velocity = float(rng.uniform(*condition.velocities))
        for note, at_s in strike.keys:
            own = int(np.clip(velocity + rng.normal(0, 6), 20, 120))
            add(sound, from_bank, note, own, at_s, held_s, until_s=_pedal_up(at_s, times) if condition.pedal else None)
    return sound


def _pedal_up(at_s: float, times: list[float]) -> float:
    """The pedal is changed with every fourth strike."""
    later = [time_s for time_s in times[::4] if time_s > at_s + 0.05]
    return (later[0] if later else at_s + 2.0) + 0.04


def add(
    sound: np.ndarray,
    from_bank: Bank,
    note: int,
    velocity: int,
    at_s: float,
    held_s: float,
    until_s: float | None = None,
) -> None:
    """A note into a sound; its damper takes some 80 ms."""
    samples = from_bank.note(note, velocity).copy()
    end = round((until_s - at_s if until_s else held_s) * RATE)
    if end < len(samples):
        fall = np.exp(-np.arange(len(samples) - end) / (0.03 * RATE))
        samples[end:] *= fall.astype(np.float32)
    start = round(at_s * RATE)
    length = min(len(samples), len(sound) - start)
    if length > 0 and start >= 0:
        sound[start : start + length] += samples[:length]


def right_hand(
    from_bank: Bank, strikes: list[Strike], condition: Condition, rng: np.random.Generator, loud: float, size: int
) -> tuple[np.ndarray, list[tuple[int, ...]]]:
    """A melody from F4 up to C6, with two strikes of three and between others; and which of its keys are due with which strike."""
    also: list[tuple[int, ...]] = [()] * len(strikes)
    sound = np.zeros(size, dtype=np.float32)
    if condition.melody_db is None:
        return sound, also
    note = 70
    for number, strike in enumerate(strikes):
        with_it = rng.random() < 0.6
        if with_it or rng.random() < 0.3:
            note = int(np.clip(note + rng.integers(-4, 5), 65, 84))
            at_s = (
                strike.due.time_s + float(rng.normal(0, 0.015)) + (0.0 if with_it else 0.5 * strike.due.window_s / 0.4)
            )
            came = note
            if condition.melody_slips and rng.random() < condition.melody_slips:
                came = int(np.clip(note + rng.choice((-4, -3, -2, -1, 1, 2, 3, 4)), 65, 84))
            add(sound, from_bank, came, int(rng.uniform(50, 100)), at_s, float(rng.uniform(0.2, 0.6)))
            also[number] = (note,)
            strike.above = came, at_s
    return sound * (loud / max(rms(sound), 1e-9) * 10.0 ** (condition.melody_db / 20.0)), also


def scale_sound(from_bank: Bank, rng: np.random.Generator, notes: tuple[int, ...] = tuple(range(40, 65))) -> np.ndarray:
    """E2 to E4, each about a second, after a second of silence."""
    sound = np.zeros(int((2.0 + 1.1 * len(notes)) * RATE), dtype=np.float32)
    at_s = 1.0
    for note in notes:
        add(sound, from_bank, note, int(rng.uniform(62, 82)), at_s, float(rng.uniform(0.6, 0.9)))
        at_s += float(rng.uniform(0.85, 1.05))
    return sound
