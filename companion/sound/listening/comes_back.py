"""Whether what the companion plays comes back into the microphone where it should not, and as loud as to be taken for the piano: loudspeakers sound where headphones were chosen, or what was
measured of them holds no longer.

What was played is looked for in what is heard by generalised cross-correlation with phase transform (Knapp and Carter, IEEE Trans. ASSP 24, 1976, 320-327), in the band in
which a click stands out of the piano. Who plays with the click strikes when it sounds, and even the same notes, but never the same wave: a peak as sharp as that of an echo, twice in a row at
the same delay, does not come of itself. How loud it comes back is told by its own wave alone, so that it is no matter whether anybody plays.
"""

from __future__ import annotations

import numpy as np

from companion.sound.listening.clocks import CAPTURE_RATE, Decimator
from companion.sound.listening.echo import BAND_HZ
from companion.sound.listening.messages import ComesBack
from companion.sound.listening.own_sound import AHEAD_S
from companion.sound.listening.piano import Piano
from companion.sound.listening.spectra import RATE, WINDOW, Array, spectrum
from companion.sound.played import Played

SPAN_S = 4.0  # looked at in one; a little less than what is played is kept for
_LATEST_S = 0.35  # an echo comes back so much later at the most
_GAP_S = 0.02  # a gap in what is heard: the span begins anew
_QUIET = 1e-4  # played softer than this nothing is looked for
_SHARP = 10.0  # a peak against the root mean square of all delays. Without a leak 95 of 100 lie below 9; with one of -12 dB 95 of 100 above 13
_SAME = RATE // 2000  # samples; two peaks so near are at one delay
# Against an attack of the piano, from which it matters. Set on three pianos in made-up rooms, 18 takes a level: so loud are nearly all spans of a leak 6 dB below the piano,
# where 1 of 80 strikes was wrongly reported, and 5 of 100 of one 18 dB below, where none was.
_LOUD = 10.0 ** (-6.0 / 20.0)
_STEP = RATE // 25  # samples from one look at its loudness to the next
_IN_A_ROW, _WHILE_FOLLOWED = 2, 5  # spans


class ComesBackMeter:
    """played: what is played, by its time. piano: as it was learned at this microphone. follows: what is played is taken out of what is heard, by a delay that is followed, which takes some spans where
    the clocks are apart."""

    def __init__(self, played: Played, piano: Piano, *, follows: bool = False) -> None:
        self._played = played
        self._loud = _LOUD * float(np.median(piano.levels))
        self._needed = _WHILE_FOLLOWED if follows else _IN_A_ROW
        self._blocks: list[Array] = []
        self._start_s = self._end_s = 0.0
        self._count = 0
        self._last: int | None = None  # delay at which it came back in the last span, None where it did not
        self._with = self._without = 0  # spans in a row
        self.comes_back = False

    def hear(self, block: Array, start_s: float) -> list[ComesBack]:
        """The next block of what is heard, after all that is taken out of it, and when its first sample was heard. What is news."""
        if not self._count or abs(start_s - self._end_s) > _GAP_S:
            self._blocks, self._count, self._start_s = [], 0, start_s
        self._blocks.append(block)
        self._count += len(block)
        self._end_s = start_s + len(block) / RATE
        if self._count < SPAN_S * RATE:
            return []
        heard, self._blocks, self._count = np.concatenate(self._blocks), [], 0
        return self._look(heard)

    def _look(self, heard: Array) -> list[ComesBack]:
        played = self._played_with(len(heard))
        if np.abs(played).max() < _QUIET:
            return []
        delay, gain = found_in(heard, played)
        is_there = gain > 0.0 and loudest(gain * played) >= self._loud
        is_same = is_there and self._last is not None and abs(delay - self._last) <= _SAME
        self._last = delay if is_there else None
        self._with = self._with + 1 if is_same else int(is_there)
        self._without = 0 if is_there else self._without + 1
        before = self.comes_back
        self.comes_back = self._with >= self._needed or (before and self._without < _IN_A_ROW)
        return [ComesBack(self.comes_back)] if self.comes_back != before else []

    def _played_with(self, count: int) -> Array:
        factor = CAPTURE_RATE // RATE
        first = round((self._start_s + AHEAD_S - self._played.zero_s) * CAPTURE_RATE)
        return Decimator().take(self._played.read(first, count * factor))[0]


def found_in(heard: Array, played: Array) -> tuple[int, float]:
    """After how many samples what is played is in what is heard, and by which factor its wave; 0 where that is not sure. Both mono at RATE, of one length."""
    size = 1 << int(np.ceil(np.log2(2 * len(heard))))
    hz = np.arange(size // 2 + 1) * RATE / size
    band = (hz >= BAND_HZ[0]) & (hz <= BAND_HZ[1])
    got, sent = np.fft.rfft(heard, size) * band, np.fft.rfft(played, size) * band
    cross, latest = got * np.conj(sent), int(_LATEST_S * RATE)
    greatest = float(np.abs(cross).max())
    if greatest <= 1e-12:
        return 0, 0.0
    phases = np.abs(np.fft.irfft(cross / (np.abs(cross) + 1e-9 * greatest), size)[:latest])
    delay = int(np.argmax(phases))
    if phases[delay] < _SHARP * float(np.sqrt(np.mean(np.square(phases)))):
        return delay, 0.0
    together = np.abs(np.fft.irfft(cross, size)[max(0, delay - _SAME) : delay + _SAME + 1])
    return delay, float(together.max() * size / 2.0 / (np.abs(sent) ** 2).sum())


def loudest(sound: Array) -> float:
    """How loud its louder moments are, as Piano.levels: the sum of the spectrum."""
    levels = [spectrum(sound[at:]).sum() for at in range(0, len(sound) - WINDOW, _STEP)]
    return float(np.percentile(levels, 95)) if levels else 0.0
