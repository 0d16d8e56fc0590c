"""Meter in exact musical time.

Units: a tick is 1/960 of a quarter note, always an integer. A *beat* is the meter's written unit (the eighth in 6/8):
lengths in chart files count beats. A *pulse* is the beat one taps (the dotted quarter in 6/8 and 12/8): the click and
the tempo count pulses. Compound meter, a multiple of three above three over eighths or shorter, has a dotted pulse
(common practice).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

TICKS_PER_QUARTER = 960
# How uneven meters are felt; the bar and the group starts are accented (common practice).
_GROUPS = {4: (2, 2), 5: (3, 2), 6: (3, 3), 7: (4, 3)}


@dataclass(frozen=True, slots=True)
class Meter:
    """beats: the upper figure; unit: the lower one, a power of two."""

    beats: int
    unit: int

    @classmethod
    def parse(cls, text: str) -> Meter:
        """Read "4/4", "6/8". Raises ValueError where it is not a meter of 1 to 32 beats over 1, 2, 4, 8, 16 or 32."""
        match = re.fullmatch(r"\s*(\d{1,2})\s*/\s*(\d{1,2})\s*", text)
        if match is None or not 1 <= int(match[1]) <= 32 or int(match[2]) not in (1, 2, 4, 8, 16, 32):
            raise ValueError(f"{text!r} is not a meter; expected such as 4/4, 3/4, 5/4, 6/8 or 12/8")
        return cls(int(match[1]), int(match[2]))

    @property
    def name(self) -> str:
        """As a chart writes it: "6/8"."""
        return f"{self.beats}/{self.unit}"

    def __str__(self) -> str:
        return self.name

    @property
    def is_compound(self) -> bool:
        """Whether three beats go to a pulse, as in 6/8, 9/8 and 12/8."""
        return self.unit >= 8 and self.beats > 3 and self.beats % 3 == 0

    @property
    def beat_ticks(self) -> int:
        """Ticks of the written unit."""
        return 4 * TICKS_PER_QUARTER // self.unit

    @property
    def bar_ticks(self) -> int:
        """Ticks of a whole bar."""
        return self.beats * self.beat_ticks

    @property
    def pulse_ticks(self) -> int:
        """Ticks of what one taps: a beat, or three in a compound meter."""
        return self.beat_ticks * (3 if self.is_compound else 1)

    @property
    def pulses(self) -> int:
        """How many one taps in a bar: 4 in 4/4, 2 in 6/8."""
        return self.bar_ticks // self.pulse_ticks

    @property
    def groups(self) -> tuple[int, ...]:
        """Pulses per felt group: (2, 2) in 4/4, (3,) in 3/4, (3, 2) in 5/4."""
        return _GROUPS.get(self.pulses, (self.pulses,))

    @property
    def strong_pulses(self) -> tuple[int, ...]:
        """Pulses, counted from 0, on which a group starts: (0, 2) in 4/4, (0,) in 3/4, (0, 3) in 5/4."""
        starts, at = [], 0
        for size in self.groups:
            starts.append(at)
            at += size
        return tuple(starts)

    def ticks(self, beats: Fraction | int) -> int:
        """Ticks of a length in beats, rounded to the nearest tick where it does not divide."""
        return round(Fraction(beats) * self.beat_ticks)

    def seconds_per_tick(self, tempo_bpm: float) -> float:
        """tempo_bpm counts pulses a minute."""
        return 60.0 / (tempo_bpm * self.pulse_ticks)
