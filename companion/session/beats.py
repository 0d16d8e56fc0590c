"""What one beat after another tells of the sound."""

from __future__ import annotations

from collections.abc import Sequence

from companion.sound.messages import BeatReport

STILL_S = 0.5  # a beat so much too late: time stood still, in a computer that slept or a program that was stopped


def stood_still(last: BeatReport, beat: BeatReport) -> bool:
    """Whether a beat of the bar that sounds, or the next bar line, came much later than the tempo said."""
    if last.turn < 0:
        return False
    is_same_bar = beat.position == last.position and beat.pulse > 0
    beats = beat.pulse - last.pulse if is_same_bar else last.pulses - last.pulse + beat.pulse
    return beat.due_s - last.due_s > beats * 60.0 / min(last.tempo_bpm, beat.tempo_bpm) + STILL_S


def end_of(beat: BeatReport) -> float:
    """The second at which the next one is due."""
    return beat.due_s + 60.0 / beat.tempo_bpm


def one_comes_before(beat: BeatReport, at_s: float) -> bool:
    """Whether another beat of its bar is due before that second."""
    return beat.pulse + 1 < beat.pulses and end_of(beat) < at_s


def ends_loop(beat: BeatReport | None, loop: Sequence[int]) -> bool:
    """Whether it is the last beat of the loop. loop: indices of bars in the chorus."""
    return beat is not None and beat.pulse == beat.pulses - 1 and beat.index == loop[-1]
