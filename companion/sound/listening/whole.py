"""A whole recording at once: what was struck in it when nothing is known of when it was due, a piano made from the recording itself,
and the verdicts once that is known.

Sound is mono float32 at RATE; times are seconds from its start.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from companion.sound.listening.attacks import Flux, peaks
from companion.sound.listening.decompose import Attack
from companion.sound.listening.engine import FOLLOWS_S, LOWEST_HEARD, Listener
from companion.sound.listening.hearing import Hearing
from companion.sound.listening.judge import odds, probability
from companion.sound.listening.piano import NOTES, Piano, general_piano
from companion.sound.listening.spectra import RATE, Array
from companion.sound.listening.verdicts import HIGHEST_MELODY, Due, HeardNote, Thresholds, Verdict

BLOCK = RATE // 2
_WEAKEST, _WEAK = 0.12, 0.4  # of the strong attacks of the recording, and of one that follows at once
_AGAIN_S = 0.09  # a note found at two attacks so near was struck at the first of them
_PITCH_FFT = 1 << 15
_LEVEL_S = 30  # of a recording say how loud it is


@dataclass(frozen=True, slots=True)
class Struck:
    """Keys that went down at an attack. loudness: sum of the spectrum."""

    onset_s: float
    notes: tuple[HeardNote, ...]
    loudness: float


def struck_in(sound: Array, piano: Piano) -> list[Struck]:
    """Every attack of a recording with the keys that were more likely struck than not."""
    found: list[Struck] = []
    for attack in _attacks(sound, piano):
        notes = odds("note").log_odds(attack.features)
        keys = [
            HeardNote(note, probability(value))
            for note, value in zip(attack.notes, notes)
            if value > 0 and note <= HIGHEST_MELODY
        ]
        before = {
            note.midi for other in found[-2:] if attack.onset_s - other.onset_s < _AGAIN_S for note in other.notes
        }
        fresh = tuple(key for key in keys if key.midi not in before)
        if fresh:
            found.append(Struck(attack.onset_s, fresh, float(attack.spectrum.sum())))
    return found


def verdicts_of(sound: Array, piano: Piano, dues: Iterable[Due], thresholds: Thresholds | None = None) -> list[Verdict]:
    """A verdict for every due strike, in order of time."""
    listener = Listener(piano, thresholds)
    listener.expect(dues)
    padded = np.concatenate([sound, np.zeros(2 * RATE, dtype=np.float32)])
    said = [
        verdict for at in range(0, len(padded), BLOCK) for verdict in listener.hear(padded[at : at + BLOCK], at / RATE)
    ]
    return sorted(said, key=lambda verdict: verdict.due.time_s)


def piano_from(sound: Array) -> Piano:
    """A piano learned from what was played on it, without a scale: tuned as the recording is and as
    loud. Less is sure with it than with one learned from a scale. Templates are not moved here towards what was heard: without what was due, octaves ran away."""
    piano = general_piano(tuning_of(sound))
    loud = [float(attack.weights.sum()) for attack in _attacks(sound[: _LEVEL_S * RATE], piano)]
    level = float(np.median(loud)) / 2.0 if loud else 1.0  # two notes a strike
    return replace(piano, levels=np.full(len(NOTES), level, dtype=np.float32))


def tuning_of(sound: Array) -> float:
    """How many cents a recording lies from equal temperament on 440 Hz, from -50 to 50: the middle of its strongest partials between 75 and 700 Hz, taken
    round the semitone."""
    turns = 0.0 + 0.0j
    size = RATE // 2
    window = np.hanning(size)
    for at in range(0, max(1, len(sound) - size), size):
        spectrum = np.abs(np.fft.rfft(sound[at : at + size] * window[: len(sound) - at], _PITCH_FFT))
        hz = np.arange(len(spectrum)) * RATE / _PITCH_FFT
        inside = (hz[1:-1] > 75.0) & (hz[1:-1] < 700.0)
        is_peak = inside & (spectrum[1:-1] > spectrum[:-2]) & (spectrum[1:-1] >= spectrum[2:])
        places = np.flatnonzero(is_peak) + 1
        for place in places[np.argsort(spectrum[places])[::-1][:4]]:
            semitones = 69.0 + 12.0 * np.log2(hz[place] / 440.0)
            turns += spectrum[place] * np.exp(2j * np.pi * semitones)
    return float(np.angle(turns) / (2.0 * np.pi) * 100.0) if abs(turns) > 0 else 0.0


def _attacks(sound: Array, piano: Piano) -> Iterable[Attack]:
    """Every attack that is not little beside the others, taken apart."""
    hearing = Hearing(piano, LOWEST_HEARD, HIGHEST_MELODY)
    strong = _strong_flux(sound)
    done_s = -1.0
    padded = np.concatenate([sound, np.zeros(RATE, dtype=np.float32)])
    for at in range(0, len(padded), BLOCK):
        hearing.hear(padded[at : at + BLOCK], at / RATE)
        until_s = hearing.ready_s
        around = hearing.attacks(max(0.0, done_s - 0.05), until_s + FOLLOWS_S, 60)
        for onset_s, flux in around:
            is_own = not any(0 < other_s - onset_s <= FOLLOWS_S and flux < _WEAK * other for other_s, other in around)
            if done_s < onset_s <= until_s and flux >= _WEAKEST * strong and is_own:
                yield hearing.take_apart(onset_s, flux)
        done_s = max(done_s, until_s)


def _strong_flux(sound: Array) -> float:
    """The flux of a strong attack of the recording: seven of ten seconds have none that is stronger."""
    flux = Flux(0.0)
    best: list[float] = []
    for at in range(0, len(sound), RATE):
        flux.hear(sound[at : at + RATE])
        found = peaks(*flux.rises(at / RATE - 0.1, at / RATE + 0.9), 3)
        best += [max((height for _, height in found), default=0.0)]
    return float(np.percentile(best, 70)) if best else 0.0
