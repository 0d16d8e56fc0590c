"""How loud it is at the microphone, and what to do about it.

Limits are our own choice, by sampled pianos at several levels: below -42 dB a soft shell comes near the noise of usual sound inputs; a room louder than
-45 dB, or less than 20 dB below what is played, hides partials.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from companion.sound.listening.messages import LevelHeard
from companion.sound.listening.spectra import RATE, Array

TELL_S = 0.1
KEPT_S = 4.0
QUIET_S = 15.0  # the room is looked for so far back: who plays without a pause makes no noise
_QUIET_PERCENT = 5.0  # of that time it is quieter than "quiet": sound that was lost is silence too
CLIPPED, CLIPS = 0.985, 3  # so many samples so near to the end of the scale
TOO_SOFT_DB, NOISY_DB, APART_DB = -42.0, -45.0, 20.0
SILENT_DB = -95.0  # below the noise of any microphone
PLAYED_DB = 12.0  # so far above the quiet something is played
_HUM_SHARE = 0.6
_HUMS_HZ = (50.0, 60.0)  # mains, and its multiples

SOFT = "Too soft: bring the microphone nearer, or turn its level up in the computer's sound settings."
CLIPPING = "Too loud, it clips: turn the microphone's level down, or move it away."
NOISE = "Noise hides the piano: close the window, switch off a fan, bring the microphone nearer."
SILENT = (
    "Nothing at all is heard: is the microphone switched off, or another one chosen in the computer's sound settings?"
)
HUM = "It hums: pull the charger, or plug the microphone in elsewhere."


class LevelMeter:
    """Blocks in, every TELL_S a LevelHeard out."""

    def __init__(self) -> None:
        self._block: list[Array] = []
        self._count = 0
        self._levels: deque[float] = deque(maxlen=int(KEPT_S / TELL_S))
        self._clips: deque[int] = deque(maxlen=int(KEPT_S / TELL_S))
        self._lately: deque[tuple[float, Array]] = deque(maxlen=int(QUIET_S / TELL_S))

    def hear(self, block: Array) -> LevelHeard | None:
        """The next block."""
        self._block.append(block)
        self._count += len(block)
        if self._count < TELL_S * RATE:
            return None
        sound = np.concatenate(self._block)
        self._block, self._count = [], 0
        now_db = _db(sound)
        self._levels.append(now_db)
        self._clips.append(int((np.abs(sound) >= CLIPPED).sum()))
        self._lately.append((now_db, sound))
        in_turn = sorted(self._lately, key=lambda part: part[0])
        quiet_db, room = in_turn[int(_QUIET_PERCENT / 100.0 * len(in_turn))]
        loud_db = max(self._levels)
        is_played = loud_db > quiet_db + PLAYED_DB
        return LevelHeard(now_db, loud_db, quiet_db, self._advice(loud_db, quiet_db, room, is_played), is_played)

    def _advice(self, loud_db: float, quiet_db: float, room: Array, is_played: bool) -> str:
        if loud_db < SILENT_DB and len(self._levels) == self._levels.maxlen:
            return SILENT
        if sum(self._clips) >= CLIPS:
            return CLIPPING
        noisy = quiet_db > NOISY_DB or (is_played and loud_db - quiet_db < APART_DB)
        if noisy and hums(room):
            return HUM
        if noisy:
            return NOISE
        return SOFT if is_played and loud_db < TOO_SOFT_DB else ""


def clips(sound: Array) -> bool:
    """Whether a recording was too loud: one sample of a thousand, so some peaks of each loud note, at the end of the scale."""
    return bool(np.mean(np.abs(sound) >= CLIPPED) >= 0.001)


def hums(sound: Array) -> bool:
    """Whether most of what is heard lies at the mains' frequency and its multiples. sound: a tenth of a second or more."""
    power = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
    hz = np.fft.rfftfreq(len(sound), 1.0 / RATE)
    power[hz < 25.0] = 0.0
    wide = 2.0 * RATE / len(sound) / 2.0 + 1.0
    for mains in _HUMS_HZ:
        near = np.abs(hz - mains * np.clip(np.rint(hz / mains), 1, 8)) <= wide
        lines = near & (hz < 8.5 * mains)
        expected = lines.sum() * power.sum() / len(power)
        if power[lines].sum() > _HUM_SHARE * power.sum() and power[lines].sum() > 4.0 * expected:
            return True
    return False


def _db(sound: Array) -> float:
    return float(10.0 * np.log10(np.mean(np.square(sound, dtype=np.float64)) + 1e-12))
