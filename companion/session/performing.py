"""A performance: the whole tune once through, from the introduction to the last low note, listened to from the count-in on.

Seconds of the sound process's clock; keys are freed of the keyboard's latency.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

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
from companion.session.sound_recording import PATIENCE_S, SoundRecording
from companion.session.stand import Stand
from companion.sound.messages import BeatReport, Finished, KeyboardGone, NoteIn, PedalIn, Say, Started
from companion.store.performances import performance_path, recording_beside

NOTHING_PLAYED = "No key was heard, so there is no performance to keep."
# So long after its end a last key may come, and so long be held (our own choice: a bar at a slow tempo).
LATE_S, RINGS_S = 1.0, 4.0


@dataclass(frozen=True, slots=True)
class PerformedSound:
    """What the microphone recorded. began_s: from its first sample to the count-in; seconds: how long it is by the sound process's clock, which runs a little otherwise than the
    microphone's; late_s: how late a strike is heard in it, None where that is to be found. All of it 0 while it is still being written."""

    path: Path
    began_s: float = 0.0
    seconds: float = 0.0
    late_s: float | None = None


@dataclass(frozen=True, slots=True)
class Performed:
    """What was played. performed_at: when the count-in began, in the student's zone. sound: of one that the microphone records; keys: (seconds from the count-in, key, velocity, 0 where it went up) in order; pedals: (seconds,
    whether it went down); pulses: seconds of every pulse, count-in and all, and whether it opened a bar. whole: to the end. clocked: whether click or bass gave the time."""

    performed_at: datetime
    keys: tuple[tuple[float, int, int], ...]
    pedals: tuple[tuple[float, bool], ...]
    pulses: tuple[tuple[float, bool], ...]
    whole: bool
    clocked: bool
    sound: PerformedSound | None = None

    @property
    def was_played(self) -> bool:
        """Whether any key was struck; of sound that is to be found yet."""
        return self.sound is not None or any(velocity for _, _, velocity in self.keys)

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
        self._fault = ""
        self.beat: BeatReport | None = None
        self.playing = self.hearing = False
        self.looping: tuple[ArrangedBar, ...] = ()
        self._playback, self._latency_s, self._minutes = playback, latency_s, minutes or Minutes()
        self._clock, self._now = clock, now
        self._number: int | None = None
        self._sound: SoundRecording | None = None
        self._clear()

    def _clear(self) -> None:
        self._keys: list[tuple[float, int, int]] = []
        self._pedals: list[tuple[float, bool]] = []
        self._pulses: list[tuple[float, bool]] = []
        self._down: set[int] = set()
        self._began_s: float | None = None
        self._ended_s: float | None = None  # when the last bar was over
        self._stopped_s: float | None = None  # when nothing was listened to any more
        self._heard_s: float | None = None  # when an earlier one that was sound will be over

    @property
    def records(self) -> bool:
        """Whether the microphone records what is performed."""
        return self.playing and self._sound is not None

    def take_fault(self) -> str:
        """Why what the microphone recorded is not kept, "" where nothing is to be said; once."""
        fault, self._fault = self._fault, ""
        return fault

    def start(self, folder: Path | None = None) -> None:
        """Count in and play what the student does not. folder: of the song's performances, where the microphone is to record this one; None for a keyboard."""
        self.stop()
        self._clear()
        self.performed, self.beat, self.playing = None, None, True
        self._began_at = self._now()
        path = recording_beside(performance_path(folder, self._began_at)) if folder is not None else None
        self._sound = SoundRecording(path, self._playback.send) if path is not None else None
        arrangement, choruses = while_marked(performance(self.stand)), self.stand.arranged.choruses
        self._number = self._playback.play_apart(arrangement, self.stand.tempo_bpm, turns=choruses)

    def hear_again(self, presses: Sequence[Press]) -> None:
        """Hear what was recorded. Raises ValueError where there is nothing in it."""
        arrangement = recorded_arrangement(presses)
        self.stop()
        self._clear()
        self.hearing = True
        self._number = self._playback.play_apart(arrangement, TEMPO_BPM)

    def hear_sound(self, sound: Say, seconds: float) -> None:
        """Hear what the microphone recorded. seconds: how long that is."""
        self.stop()
        self._clear()
        self._playback.silence()
        self._playback.send(sound)
        self.hearing, self._heard_s = True, self._clock() + seconds

    def loop(self, name: str) -> bool:
        """Play introduction or ending round and round, nothing of it recorded; False where there is none."""
        self.stop()
        self._clear()
        self.looping, self.beat = frame_bars(self.stand, name), None
        if self.looping:
            arrangement = frame_loop(self.stand, self.looping)
            self._number = self._playback.play_apart(arrangement, self.stand.tempo_bpm, turns=0)
        return bool(self.looping)

    def hear(self, report: object) -> None:
        """Take a report of the sound process, or of the listening one."""
        if self.playing or self.hearing or self.looping:
            if self._sound is not None:
                self._sound.hear(report)
            self._hear(report)
            self._look()

    def _hear(self, report: object) -> None:
        if isinstance(report, Started) and report.number in (None, self._number):
            self._began_s = report.time_s
        elif self._began_s is None or self._stopped_s is not None:
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
        elif isinstance(report, NoteIn | PedalIn | KeyboardGone):
            if self._sound is None:
                self._hear_keyboard(report, self._began_s)
        elif isinstance(report, Finished):  # told too where the sound process fails on the way
            self._ended_s = self._clock()

    def _hear_keyboard(self, report: NoteIn | PedalIn | KeyboardGone, began_s: float) -> None:
        if isinstance(report, KeyboardGone):
            self._keys += [(self._clock() - began_s, key, 0) for key in sorted(self._down)]
            self._down.clear()
            return
        time_s = max(0.0, report.time_s - self._latency_s - began_s)
        if isinstance(report, PedalIn):
            self._pedals.append((time_s, report.down))
            return
        if report.velocity:
            self._down.add(report.note)
        elif report.note not in self._down:
            return  # it went down before the count-in
        else:
            self._down.discard(report.note)
        self._keys.append((time_s, report.note, report.velocity))

    @property
    def wake_s(self) -> float | None:
        """When `tick` is next wanted, None for not at all."""
        if self.hearing:
            return self._heard_s
        if not self.playing:
            return None
        if self._stopped_s is not None:  # the sound is being written to its end
            return self._stopped_s + PATIENCE_S
        if self._ended_s is None:
            return None
        return self._ended_s + (LATE_S if self._clock() < self._ended_s + LATE_S else RINGS_S)

    def tick(self) -> None:
        """The time has come that `wake_s` named."""
        self._look()

    def _look(self) -> None:
        now_s = self._clock()
        if self._heard_s is not None and now_s >= self._heard_s:
            self.hearing, self._heard_s = False, None
        if not self.playing:
            return
        if self._sound is not None and (self._sound.is_over or self._stopped_s is not None):
            if self._stopped_s is not None and now_s - self._stopped_s >= PATIENCE_S:
                self._sound.give_up()
            if self._sound.is_over:
                self.stop()
        elif self._ended_s is not None and now_s - self._ended_s >= (RINGS_S if self._down else LATE_S):
            self._end()

    def stop(self) -> None:
        """Break off; what was played is kept. A sound file is there a moment later: `playing` until then."""
        if (self.playing and self._stopped_s is None) or self.hearing or self.looping:
            self._playback.silence()
        if self.playing:
            self._end()
        if self.looping:
            self.beat = None
        self.hearing, self.looping, self._heard_s = False, (), None

    def leave(self) -> Performed | None:
        """Break off as the app is being left; what was played up to now, its sound still to be written. None where there is nothing of it."""
        was_playing = self.playing
        self.stop()
        if self.performed is None and was_playing and self._sound is not None and not self._sound.fault:
            self._tell_performed(PerformedSound(self._sound.path))
        return self.performed if was_playing else None

    def _end(self) -> None:
        """Once more where a sound file was waited for."""
        sound, is_first = self._sound, self._stopped_s is None
        if self._stopped_s is None:
            self._stopped_s = self._clock()
        if sound is not None and self._began_s is not None and not sound.is_over:
            if is_first:
                sound.end(keep=True)
            return
        self.playing, self.beat = False, None
        if sound is None or self._began_s is None:
            if sound is not None:
                sound.end(keep=False)
            self._tell_performed(None)
        elif sound.recorded is not None:
            heard = sound.recorded
            began_s, seconds = self._began_s - heard.start_s, heard.end_s - heard.start_s
            self._tell_performed(PerformedSound(sound.path, began_s, seconds, heard.late_s))
        self._fault = sound.fault if sound is not None else ""

    def _tell_performed(self, sound: PerformedSound | None) -> None:
        if self._began_s is None or self._stopped_s is None:
            return
        until_s = self._stopped_s - self._began_s
        self._keys += [(until_s, key, 0) for key in sorted(self._down)]
        arrangement = performance(self.stand)
        choruses = self.stand.arranged.choruses
        bars = (*arrangement.lead_in, *arrangement.bars * choruses, *arrangement.ending)
        pulses = [pulse for pulse in self._pulses if pulse[0] <= until_s]  # told a little ahead
        counted = bars_counted(arrangement, 0, self.stand.tempo_bpm) * bars[0].meter.pulses
        whole = len(pulses) >= counted + sum(bar.meter.pulses for bar in bars)
        clocked = arrangement.click.mode != "off" or arrangement.bass != "off"
        self.performed = Performed(
            self._began_at, tuple(sorted(self._keys)), tuple(self._pedals), tuple(pulses), whole, clocked, sound
        )
        self._minutes.count(until_s, self._now())


def whole_tune(stand: Stand) -> Stand:
    """The stand with the whole form, which an introduction and an ending frame; no change is called."""
    whole = stand if stand.loop_name == WHOLE_FORM else stand.with_loop(range(len(stand.bars)), WHOLE_FORM)
    return whole.change(calls="off") if whole.calls != "off" else whole
