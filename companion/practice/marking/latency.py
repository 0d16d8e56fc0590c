"""The constant time between the click as it is heard and the press as it arrives: measured by tapping along, then
taken off.

It holds the sound's and the keyboard's delay and the player's own lead over a click together (people tap a little
ahead of one, Repp 2005): what is left is what changes while playing. Median and interquartile range, so that a few
stray taps do no harm.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median, quantiles

# The first taps find the beat and are left out (common practice in tapping studies).
WARM_UP_CLICKS = 4
FEWEST_TAPS = 8
# Untrained tappers spread by about 4 % of the beat (Repp & Su 2013, from memory); twice that is no measurement.
MOST_SPREAD_SHARE = 0.08
# The interquartile range of a normal distribution is this many standard deviations.
_IQR_OF_SD = 1.349


@dataclass(frozen=True, slots=True)
class Latency:
    """offset_ms: the median of tap less click, above zero = the taps arrive late; None where there are no taps.
    spread_ms: the interquartile range as a standard deviation. taps: how many were used. refused: why it must not be
    used, "" where it is good."""

    offset_ms: float | None
    spread_ms: float | None
    taps: int
    refused: str = ""

    @property
    def words(self) -> str:
        """The sentence for the student."""
        if self.refused:
            return self.refused
        return f"Latency {self.offset_ms:.0f} ms, spread {self.spread_ms:.0f} ms, from {self.taps} taps."


def measure_latency(taps_s: Sequence[float], clicks_s: Sequence[float]) -> Latency:
    """Compare each click with the tap nearest to it. Both in seconds on one clock; at least two clicks.

    A tap is taken for the nearest click, so a latency of more than half a beat cannot be seen: click slowly.
    """
    clicks, taps = sorted(clicks_s), sorted(taps_s)
    if len(clicks) < 2:
        return Latency(None, None, 0, "There was no click to tap with; expected at least twelve.")
    beat_s = median(after - before for before, after in pairwise(clicks))
    offsets = _offsets_ms(taps, clicks[WARM_UP_CLICKS:], beat_s)
    if len(offsets) < FEWEST_TAPS:
        refused = (
            f"Only {len(offsets)} taps could be used; expected at least {FEWEST_TAPS} after the first "
            f"{WARM_UP_CLICKS} clicks: tap once with every click."
        )
        return Latency(median(offsets) if offsets else None, None, len(offsets), refused)
    low, middle, high = quantiles(offsets, n=4, method="inclusive")
    spread_ms = (high - low) / _IQR_OF_SD
    most_ms = 1000.0 * MOST_SPREAD_SHARE * beat_s
    refused = ""
    if spread_ms > most_ms:
        refused = (
            f"The taps are too scattered ({spread_ms:.0f} ms; expected at most {most_ms:.0f} ms at this tempo): "
            "tap again, one key, lightly and evenly."
        )
    return Latency(middle, spread_ms, len(offsets), refused)


def _offsets_ms(taps: list[float], clicks: list[float], beat_s: float) -> list[float]:
    """For every click the nearest tap within half a beat, in ms. No tap serves two clicks, for they are a beat
    apart."""
    offsets = []
    for click_s in clicks:
        place = bisect_left(taps, click_s)
        near = taps[max(0, place - 1) : place + 1]
        if near:
            off_s = min((tap - click_s for tap in near), key=abs)
            if abs(off_s) < beat_s / 2:
                offsets.append(1000.0 * off_s)
    return offsets
