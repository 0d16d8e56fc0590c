"""How a soloist lies behind the beat: downbeats late, off-beats with the ride cymbal.

Sources. Friberg & Sundstrom 2002, "Swing ratios and ensemble timing in jazz performance", Music Perception 19:333-349: soloists' downbeats
come behind the cymbal, less so the faster it goes, and their off-beats with it. Nelias, Sturm, Albrecht, Hagmayer & Geisel 2022, "Downbeat
delays are a key component of swing in jazz", Communications Physics 5:237: downbeats about 30 ms late at 150 beats a minute, off-beats not.

Only what sounds is placed so; what is asked of a student is always on the beat.
"""

from __future__ import annotations

from companion.theory.meter import TICKS_PER_QUARTER, Meter

MOST_LATE_MS = 30.0
# Of a beat: what 30 ms are at 150 a minute. Faster than that the delay shrinks with the beat (the share is common practice).
MOST_LATE_SHARE = 0.075


def downbeat_late_ms(tempo_bpm: float) -> float:
    """How far behind the beat a laid-back downbeat is heard; tempo in quarters a minute."""
    return min(MOST_LATE_MS, MOST_LATE_SHARE * 60_000.0 / tempo_bpm)


def late_ticks(tick: int, meter: Meter, tempo_bpm: float) -> int:
    """How much later than the straight tick an onset of a bar is heard, in ticks at that tempo (pulses a minute): on a quarter-note pulse
    the delay, elsewhere nothing."""
    if meter.pulse_ticks != TICKS_PER_QUARTER or tick % TICKS_PER_QUARTER:
        return 0
    return round(downbeat_late_ms(tempo_bpm) * tempo_bpm * TICKS_PER_QUARTER / 60_000.0)
