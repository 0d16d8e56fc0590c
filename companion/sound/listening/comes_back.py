"""Whether what the companion plays comes back into the microphone where it should not: loudspeakers sound where headphones were chosen, or what was measured of them holds no
longer.

What was played is looked for in what is heard by generalised cross-correlation with phase transform (Knapp and Carter, IEEE Trans. ASSP 24, 1976, 320-327), in the band in
which a click stands out of the piano. Who plays with the click strikes when it sounds, and even the same notes, but never the same wave: a peak as sharp as that of an echo, twice in a row at
the same delay, does not come of itself.
"""

from __future__ import annotations

import numpy as np

from companion.sound.listening.clocks import CAPTURE_RATE, Decimator
from companion.sound.listening.echo import BAND_HZ
from companion.sound.listening.messages import ComesBack
from companion.sound.listening.own_sound import AHEAD_S
from companion.sound.listening.spectra import RATE, Array
from companion.sound.played import Played

SPAN_S = 4.0  # looked at in one; a little less than what is played is kept for
_LATEST_S = 0.35  # an echo comes back so much later at the most
_GAP_S = 0.02  # a gap in what is heard: the span begins anew
_QUIET = 1e-4  # played softer than this nothing is looked for
# Takes of three pianos in made-up rooms, some 50 spans a condition: without a leak 95 of 100 peaks lie below 9 and the greatest is 15; with one of -12 dB 95 of 100 lie above 16.
_SHARP = 10.0  # of the peak against the root mean square of all delays
_LOUD = 0.08  # correlation from which it matters: a leak of -18 dB has 0.1
_SAME = RATE // 2000  # samples; two peaks so near are at one delay


class ComesBackMeter:
    """played: what is played, by its time. follows: it is taken out of what is heard, by a delay that is followed, which takes some spans where the clocks are apart."""

    def __init__(self, played: Played, *, follows: bool = False) -> None:
        self._played = played
        self._most = 5 if follows else 2  # spans in a row
        self._blocks: list[Array] = []
        self._start_s = self._end_s = 0.0
        self._count = 0
        self._last: int | None = None  # delay of the peak in the last span, None where there was none
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
        delay, is_there = delay_of(heard, played)
        is_same = is_there and self._last is not None and abs(delay - self._last) <= _SAME
        self._last = delay if is_there else None
        self._with = self._with + 1 if is_same else int(is_there)
        self._without = 0 if is_there else self._without + 1
        before = self.comes_back
        self.comes_back = self._with >= self._most or (before and self._without < 2)
        return [ComesBack(self.comes_back)] if self.comes_back != before else []

    def _played_with(self, count: int) -> Array:
        factor = CAPTURE_RATE // RATE
        first = round((self._start_s + AHEAD_S - self._played.zero_s) * CAPTURE_RATE)
        return Decimator().take(self._played.read(first, count * factor))[0]


def delay_of(heard: Array, played: Array) -> tuple[int, bool]:
    """After how many samples what is played is in what is heard, as far as can be told, and whether it surely and loudly is. Both mono at RATE, of one length."""
    size = 1 << int(np.ceil(np.log2(2 * len(heard))))
    hz = np.arange(size // 2 + 1) * RATE / size
    band = (hz >= BAND_HZ[0]) & (hz <= BAND_HZ[1])
    got, sent = np.fft.rfft(heard, size) * band, np.fft.rfft(played, size) * band
    cross, latest = got * np.conj(sent), int(_LATEST_S * RATE)
    scale = float(np.sqrt((np.abs(got) ** 2).sum() * (np.abs(sent) ** 2).sum())) * 2.0 / size
    if scale <= 1e-12:
        return 0, False
    together = np.abs(np.fft.irfft(cross, size)[:latest]) / scale
    phases = np.abs(np.fft.irfft(cross / (np.abs(cross) + 1e-9 * np.abs(cross).max()), size)[:latest])
    delay = int(np.argmax(phases))
    is_sharp = phases[delay] >= _SHARP * float(np.sqrt(np.mean(np.square(phases))))
    return delay, bool(is_sharp and together.max() >= _LOUD)
