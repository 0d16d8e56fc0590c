"""A tempo that is typed or tapped. Tempos in beats a minute, as on the stand; times in seconds."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from itertools import pairwise

from companion.errors import SettingsError
from companion.session.stand import TEMPO_LIMITS

TOGETHER_S = 0.12  # keys of one chord are one tap
PAUSE_S = 60.0 / TEMPO_LIMITS[0]  # longer than the slowest beat: tapping begins anew
TAPS = 8  # the last of them count, so that who changes is followed
_TIMES = {"double": 2.0, "half": 0.5}


def typed_tempo(text: str, now_bpm: float) -> float:
    """What "96", "double" and "half" (or their first letters) mean; now_bpm: what is doubled. Raises SettingsError with what is expected."""
    low, high = TEMPO_LIMITS
    word = text.strip().casefold()
    times = next((times for name, times in _TIMES.items() if word and name.startswith(word)), None)
    try:
        tempo_bpm = float(word.replace(",", ".")) if times is None else now_bpm * times
    except ValueError:
        tempo_bpm = float("nan")
    if not low <= tempo_bpm <= high:  # so also for what is no number
        said = f"{text.strip()!r}" if times is None else f"{text.strip()} of {now_bpm:g}"
        raise SettingsError(
            f"{said} is no tempo: expected beats a minute from {low:g} to {high:g}, such as 96, or double, or half"
        )
    return round(tempo_bpm, 1)


class Taps:
    """Taps that come one by one."""

    def __init__(self) -> None:
        self._taps: list[float] = []

    def tap(self, time_s: float) -> float | None:
        """One more; gives the tempo, in whole beats a minute, held within TEMPO_LIMITS. None before the second."""
        if self._taps and 0 <= time_s - self._taps[-1] < TOGETHER_S:
            return tapped_tempo(self._taps)
        if self._taps and not 0 <= time_s - self._taps[-1] <= PAUSE_S:
            self._taps.clear()
        self._taps = [*self._taps, time_s][-TAPS:]
        return tapped_tempo(self._taps)


def tapped_tempo(taps: Sequence[float]) -> float | None:
    """The median of the gaps, so that one tap beside the beat does not count. None for fewer than two."""
    if len(taps) < 2:
        return None
    low, high = TEMPO_LIMITS
    gap_s = statistics.median(after - before for before, after in pairwise(taps))
    return float(round(min(high, max(low, 60.0 / gap_s))))
