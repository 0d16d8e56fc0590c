"""A performance: the whole tune once through, from the introduction to the last low note, listened to from the count-in on.

Seconds of the sound process's clock; keys are freed of the keyboard's latency.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from companion.arranging.model import ArrangedBar
from companion.chart.loops import WHOLE_FORM
from companion.groove.click import while_marked
from companion.groove.counting import bars_counted
from companion.practice.model import Press
from companion.session.frame_loops import frame_bars, frame_loop
from companion.session.minutes import Minutes
from companion.session.performance import performance
from companion.session.playback import Playback
from companion.session.recorded import TEMPO_BPM, recorded_arrangement
from companion.session.stand import Stand
from companion.sound.messages import BeatReport, Finished, KeyboardGone, NoteIn, PedalIn, Started

NOTHING_PLAYED = "No key was heard, so there is no performance to keep."
LATE_S, RINGS_S = (
    1.0,
    4.0,
)  # so long after its end a last key may come, and so long be held (our own choice: a bar at a slow tempo)


@dataclass(frozen=True, slots=True)
class Performed:
    """What was played. performed_at: when the count-in began, in the student's zone. keys: (seconds from the count-in, key, velocity, 0 where it went up) in order; pedals: (seconds,
    whether it went down); pulses: seconds of every pulse, count-in and all, and whether it opened a bar. whole: to the end. clocked: whether click or bass gave the time."""

    performed_at: datetime
    keys: tuple[tuple[float, int, int], ...]
    pedals: tuple[tuple[float, bool], ...]
    pulses: tuple[tuple[float, bool], ...]
    whole: bool
    clocked: bool

    @property
    def was_played(self) -> bool:
        """Whether any key was struck."""
        return any(velocity for _, _, velocity in self.keys)

    @property
    def seconds(self) -> float:
        """How long it lasted."""
        return max((times[-1][0] for times in (self.keys, self.pulses) if times), default=0.0)


class Performing:
    """stand: whose whole form is performed, in its hands, key and tempo, whatever loop is practised. performed: the last performance that ended, None before. beat: what sounds, None while nothing does.
    hearing: whether an earlier one is heard again; looping: the part of the tune that goes round and round, see frame_loops.py, () for none."""

    def __init__(
        self,
        stand: Stand,
        playback: Playback,
        *,
        latency_s: float = 0.0,
        minutes: Minutes | None = None,
        clock: Callable[[], float] = time.perf_counter,
        now: Callable[[], datetime] = lambda: datetime.now().astimezone(),
    ) -> None:
        self.stand = whole_tune(stand)
        self.performed: Performed | None = None
        self.beat: BeatReport | None = None
        self.playing = self.hearing = False
        self.looping: tuple[ArrangedBar, ...] = ()
        self._playback, self._latency_s, self._minutes = playback, latency_s, minutes or Minutes()
        self._clock, self._now = clock, now
        self._number: int | None = None
        self._began_s: float | None = None
        self._ended_s: float | None = None  # when the last bar was over
        self._clear()

    def _clear(self) -> None:
        self._keys: list[tuple[float, int, int]] = []
        self._pedals: list[tuple[float, bool]] = []
        self._pulses: list[tuple[float, bool]] = []
        self._down: set[int] = set()

    def start(self) -> None:
        """Count in and play what the student does not."""
        self.stop()
        self._clear()
        self.performed, self.beat, self.playing = None, None, True
        self._began_s = self._ended_s = None
        self._began_at = self._now()
        arrangement, choruses = while_marked(performance(self.stand)), self.stand.arranged.choruses
        self._number = self._playback.play_apart(arrangement, self.stand.tempo_bpm, turns=choruses)

    def hear_again(self, presses: Sequence[Press]) -> None:
        """Hear what was recorded. Raises ValueError where there is nothing in it."""
        arrangement = recorded_arrangement(presses)
        self.stop()
        self.hearing, self._began_s = True, None
        self._number = self._playback.play_apart(arrangement, TEMPO_BPM)

    def loop(self, name: str) -> bool:
        """Play introduction or ending round and round, nothing of it recorded; False where there is none."""
        self.stop()
        self.looping, self.beat, self._began_s = frame_bars(self.stand, name), None, None
        if self.looping:
            arrangement = frame_loop(self.stand, self.looping)
            self._number = self._playback.play_apart(arrangement, self.stand.tempo_bpm, turns=0)
        return bool(self.looping)

    def hear(self, report: object) -> None:
        """Take a report of the sound process."""
        if not (self.playing or self.hearing or self.looping):
            return
        if isinstance(report, Started) and report.number in (None, self._number):
            self._began_s = report.time_s
        elif self._began_s is None:
            return  # of what was asked for before
        elif self.hearing:
            self.hearing = not isinstance(report, Finished)
        elif self.looping:
            self.beat = report if isinstance(report, BeatReport) else self.beat
            if isinstance(report, Finished):  # the sound process failed on the way
                self.looping, self.beat = (), None
        elif isinstance(report, BeatReport):
            self.beat = report
            self._pulses.append((report.due_s - self._began_s, report.pulse == 0))
        elif isinstance(report, NoteIn):
            self._hear_key(report, self._began_s)
        elif isinstance(report, PedalIn):
            self._pedals.append((max(0.0, report.time_s - self._latency_s - self._began_s), report.down))
        elif isinstance(report, KeyboardGone):
            self._keys += [(self._clock() - self._began_s, key, 0) for key in sorted(self._down)]
            self._down.clear()
        elif isinstance(report, Finished):  # told too where the sound process fails on the way
            self._ended_s = self._clock()
        self._look()

    def _hear_key(self, report: NoteIn, began_s: float) -> None:
        time_s = report.time_s - self._latency_s - began_s
        if report.velocity:
            self._down.add(report.note)
        elif report.note not in self._down:
            return  # it went down before the count-in
        else:
            self._down.discard(report.note)
        self._keys.append((max(0.0, time_s), report.note, report.velocity))

    @property
    def wake_s(self) -> float | None:
        """When `tick` is next wanted, None for not at all."""
        if not self.playing or self._ended_s is None:
            return None
        return self._ended_s + (LATE_S if self._clock() < self._ended_s + LATE_S else RINGS_S)

    def tick(self) -> None:
        """The time has come that `wake_s` named."""
        self._look()

    def _look(self) -> None:
        if self._ended_s is not None and self._clock() - self._ended_s >= (RINGS_S if self._down else LATE_S):
            self._end()

    def stop(self) -> None:
        """Break off; what was played is kept."""
        if self.playing or self.hearing or self.looping:
            self._playback.silence()
        if self.playing:
            self._end()
        if self.looping:
            self.beat = None
        self.hearing, self.looping = False, ()

    def _end(self) -> None:
        self.playing, self.beat, self._ended_s = False, None, None
        if self._began_s is None:
            return
        until_s = self._clock() - self._began_s
        self._keys += [(until_s, key, 0) for key in sorted(self._down)]
        arrangement = performance(self.stand)
        choruses = self.stand.arranged.choruses
        bars = (*arrangement.lead_in, *arrangement.bars * choruses, *arrangement.ending)
        pulses = [pulse for pulse in self._pulses if pulse[0] <= until_s]  # told a little ahead
        counted = bars_counted(arrangement, 0, self.stand.tempo_bpm) * bars[0].meter.pulses
        whole = len(pulses) >= counted + sum(bar.meter.pulses for bar in bars)
        clocked = arrangement.click.mode != "off" or arrangement.bass != "off"
        self.performed = Performed(
            self._began_at, tuple(sorted(self._keys)), tuple(self._pedals), tuple(pulses), whole, clocked
        )
        self._minutes.count(until_s, self._now())


def whole_tune(stand: Stand) -> Stand:
    """The stand with the whole form, which an introduction and an ending frame; no change is called."""
    whole = stand if stand.loop_name == WHOLE_FORM else stand.with_loop(range(len(stand.bars)), WHOLE_FORM)
    return whole.change(calls="off") if whole.calls != "off" else whole
