"""The player: which event is due when, as a state machine whose clock and output are handed in.

Positions are exact: parts of a pulse (see bars.py), whole numbers from the first beat of the count-in. A tempo turns them
into seconds from one anchor, so no error adds up: part p is due at anchor_s + (p - anchor_part) * 60 / (tempo_bpm * DIVISIONS).
Seconds are the output's own (see outputs.Output); reports carry perf_counter seconds.
"""

from __future__ import annotations

import heapq
import itertools
import math
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from companion.groove.check import validate
from companion.groove.model import Arrangement, Stretch
from companion.groove.timeline import bar_events
from companion.sound.bars import (
    DIVISIONS,
    EventKind,
    Schedule,
    ScheduledBar,
    check_tempo,
    revoiced,
    schedule_bar,
    scheduled_count_in,
    stretch_after,
)
from companion.sound.messages import (
    BeatReport,
    Finished,
    Load,
    Notice,
    Play,
    Sample,
    SetTempo,
    SetVolume,
    Started,
    Stop,
    Voice,
)
from companion.sound.outputs import Output, Sound, programs
from companion.sound.sounding import Outgoing, Sounding
from companion.sound.trace import Trace

START_S = 0.03  # from Play to the first beat: time to work out the first bar, too short to feel
LATE_S = 0.15  # a note this late is left out: after a stall, a burst of old notes is worse than a gap
SLIP_S = 1.0  # after a longer stall (a laptop that slept) time goes on from here
SAMPLE_VELOCITY = 80


class Player:
    """Plays arrangements on an output. Call `advance` when `gap_s` is over, `prepare` when there is time to spare,
    and `take_reports` after either."""

    def __init__(
        self,
        output: Output,
        voices: dict[str, Voice],
        clock: Callable[[], float] = time.perf_counter,
        trace: Trace | None = None,
    ) -> None:
        self.output = output
        self.voices = voices
        self.clock = clock
        self.trace = trace
        self.playing = False
        self._volumes = {name: voice.volume for name, voice in voices.items()}
        self._arrangement: Arrangement | None = None
        self._play = Play(120.0)
        self._heap: list[tuple[int, int, int, Any]] = []  # what no bar's schedule holds: (part, kind, number, payload)
        self._schedule: Schedule = ()  # of the bar that sounds
        self._done = 0  # how much of the schedule is
        self._ready: Outgoing = []  # worked out and not sent yet, all due at the same time
        self._number = itertools.count()
        self._anchor_s = 0.0
        self._anchor_part = 0
        self._tempo_bpm = self._asked_bpm = 120.0  # the first is less where a bar slows down
        self._tempo_change: tuple[int, float] | None = None
        self._count_in: list[ScheduledBar] = []
        self._bar: ScheduledBar | None = None
        self._bar_part = 0
        self._next: ScheduledBar | None = None
        self._fresh = False  # whether _next follows from all that was asked for
        self._known = False  # whether _next was worked out at all
        self._sounding = Sounding()
        self._reports: list[tuple[float, object]] = []
        self._apply_volumes()

    # --- what is asked of it

    def handle(self, message: object) -> None:
        """Obey a Load, Play, Stop, SetTempo, SetVolume or Sample. Raises GrooveError for what cannot be played and SoundError for a
        tempo out of range; what plays goes on then."""
        match message:
            case Load(arrangement):
                validate(arrangement)
                self._arrangement = arrangement
                self._fresh = False
            case Play(tempo_bpm):
                check_tempo(tempo_bpm)
                self._start(message)
            case Stop():
                self.stop()
            case SetTempo(tempo_bpm, at):
                check_tempo(tempo_bpm)
                self._set_tempo(tempo_bpm, at)
            case SetVolume(voice, volume):
                self._volumes[voice] = min(1.0, max(0.0, volume))
                self.output.volume(voice, self._volumes[voice])
            case Sample(notes, seconds):
                self._sample(notes, seconds)

    def stop(self) -> None:
        """Silence at once; says Finished if something was playing."""
        self.silence()
        if self.playing:
            self._reports = [(due_s, report) for due_s, report in self._reports if not isinstance(report, BeatReport)]
            self._finish(self.clock())

    def silence(self) -> None:
        """Every note that sounds gets its note-off, now. Nothing that was planned will sound."""
        self._heap.clear()
        self._schedule, self._done = (), 0
        self._ready.clear()
        self._silence_output()

    def switch(self, output: Output, voices: dict[str, Voice]) -> None:
        """Go on, in time, on another output."""
        self._silence_output()
        self._anchor_s = output.clock_s(self.output.heard_s(self._anchor_s))
        if voices is not self.voices:
            self._volumes = {name: voice.volume for name, voice in voices.items()}
        self.output, self.voices = output, voices
        self._schedule = revoiced(self._schedule, voices)
        self._apply_volumes()
        if self.playing:  # else they are sent with the start
            self._send_programs()
        self._fresh = False

    # --- time

    def next_s(self) -> float:
        """When, on the output's clock, `advance` has something to do; infinite while nothing is planned."""
        due_s = self._ready[0][1] if self._ready else self._due_s(self._next_part())
        return min(due_s, self._sounding.sample_ends_s) - self.output.lead_s

    def gap_s(self) -> float:
        """Seconds until then."""
        return self.next_s() - self.output.now()

    def report_gap_s(self) -> float:
        """Seconds until the next report is due; infinite without one."""
        return self._reports[0][0] - self.clock() if self._reports else math.inf

    def make_ready(self, within_s: float) -> None:
        """Do all that is to be done for what is due next, but for sending it, where that is within so many seconds; then `advance` has
        only to send. Nothing may be `handle`d before."""
        part = self._next_part()
        if not self._ready and self._due_s(part) - self.output.lead_s - self.output.now() <= within_s:
            self._work_off(part)

    def advance(self) -> None:
        """Send everything that is due."""
        horizon_s = self.output.now() + self.output.lead_s
        if self._ready and self._ready[0][1] <= horizon_s:
            self._send(self._ready)
        self._catch_up(horizon_s)
        self._end_samples(horizon_s)
        while self._due_s(part := self._next_part()) <= horizon_s:
            self._work_off(part)
            self._send(self._ready)

    def _work_off(self, latest_part: float) -> None:
        """All that is planned up to a part, in its order."""
        while self._next_part() <= latest_part < math.inf:
            part, kind, payload = self._take()
            due_s = self._due_s(part)
            if kind == EventKind.ON:
                sound, parts = payload
                self._strike(sound, parts, part, due_s)
            elif kind == EventKind.OFF:
                channel, note, number = payload
                self._sounding.release(channel, note, number, due_s, self._ready)
            elif kind == EventKind.BEAT:
                self._beat(payload, due_s)
            elif kind == EventKind.TEMPO:
                self._change_tempo(part, due_s)
            else:
                self._bar_line(part, due_s)

    def _send(self, due: Outgoing) -> None:
        """First all of it, then the trace: what is due together shall sound together. Empties `due`."""
        sent = [(sound, due_s, self.output.send(sound, due_s)) for sound, due_s in due]
        due.clear()
        for sound, due_s, sent_s in sent:
            self._log(sound, self.output.heard_s(due_s), self.output.heard_s(sent_s))

    def prepare(self) -> None:
        """Work out the next bar if that is still to be done: a few ms at most, so only with time to spare."""
        if self.playing and not self._fresh:
            self._next = self._follow()
            self._fresh = self._known = True
            if self._next is not None:
                self.output.prepare([payload[0] for _, kind, payload in self._next.schedule if kind == EventKind.ON])

    def take_reports(self) -> Iterator[object]:
        """The reports whose time has come, oldest first."""
        now_s = self.clock()
        while self._reports and self._reports[0][0] <= now_s:
            yield self._reports.pop(0)[1]

    # --- starting, bars and tempo

    def _start(self, play: Play) -> None:
        self.silence()
        self._reports.clear()
        if self._arrangement is None:
            self.playing = False
            self._report(self.clock(), Notice("error", "Nothing to play: no bars were loaded."))
            return
        self.playing = True
        self._play = play
        self._tempo_bpm = self._asked_bpm = play.tempo_bpm
        self._tempo_change = None
        self._bar, self._bar_part = None, 0
        self._send_programs()
        first = self._first_position(self._arrangement)
        self._count_in = scheduled_count_in(self._arrangement, first, play.tempo_bpm, self.voices)
        self._fresh = self._known = False
        self.prepare()
        self._anchor_s, self._anchor_part = self.output.now() + START_S, 0
        self._push(0, EventKind.LINE, None)
        start_s = self.output.heard_s(self._anchor_s)
        self._report(self.clock(), Started(start_s, play.number))

    def _first_position(self, arrangement: Arrangement) -> int:
        return min(max(self._play.first_bar, 0), len(arrangement.bars) - 1)

    def _follow(self) -> ScheduledBar | None:
        """The bar after the one that sounds, None when the asked number of turns is over."""
        bar, arrangement = self._bar, self._arrangement
        if arrangement is None:
            return None
        counted = -1 if bar is None else bar.position
        if (bar is None or bar.stretch is Stretch.COUNT_IN) and counted + 1 < len(self._count_in):
            return self._count_in[counted + 1]
        turns = self._play.turns
        following = stretch_after(bar, arrangement, self._first_position(arrangement), turns)
        if following is None:
            return None
        stretch, turn, position = following
        source = arrangement.bars_of(stretch)[position]
        is_last = turn + 1 == turns
        events = bar_events(arrangement, turn, position, self._tempo_at_line(), stretch, is_last=is_last)
        schedule = schedule_bar(source.meter, events, self.voices)
        return ScheduledBar(arrangement, stretch, turn, position, source.index, source.meter, schedule, source.shares)

    def _bar_line(self, part: int, due_s: float) -> None:
        # A change that came too late to be worked out waits for the next bar line rather than make this one late.
        if not self._known:
            self.prepare()
        bar = self._next
        if bar is None:
            self._finish(self.output.heard_s(due_s))
            return
        self._bar, self._bar_part = bar, part
        self._schedule, self._done = bar.schedule, 0
        self._known = self._fresh = False

    def _finish(self, time_s: float) -> None:
        self.playing = False
        self._bar = self._next = None
        self._report(time_s, Finished(time_s))

    def _set_tempo(self, tempo_bpm: float, at: str) -> None:
        if not self.playing:
            return
        if at == "bar" and self._bar is not None:
            part = self._bar_part + self._bar.meter.pulses * DIVISIONS
        else:
            here_s = self.output.now() + self.output.lead_s - self._anchor_s
            here = self._anchor_part + here_s * self._tempo_bpm * DIVISIONS / 60
            part = max(0, (math.floor(here / DIVISIONS) + 1) * DIVISIONS)
        self._tempo_change = (part, tempo_bpm)
        self._push(part, EventKind.TEMPO, None)
        self._fresh = False  # swing may follow the tempo

    def _tempo_at_line(self) -> float:
        """The tempo asked for where the next bar starts."""
        if self._tempo_change is None or self._bar is None:
            return self._asked_bpm
        part, tempo_bpm = self._tempo_change
        return tempo_bpm if part <= self._bar_part + self._bar.meter.pulses * DIVISIONS else self._asked_bpm

    def _change_tempo(self, part: int, due_s: float) -> None:
        if self._tempo_change is None or self._tempo_change[0] != part:
            return  # a later wish took its place
        self._anchor_s, self._anchor_part = due_s, part
        self._tempo_bpm = self._asked_bpm = self._tempo_change[1]
        self._tempo_change = None

    def _due_s(self, part: float) -> float:
        return self._anchor_s + (part - self._anchor_part) * 60.0 / (self._tempo_bpm * DIVISIONS)

    def _next_part(self) -> float:
        """The part at which something is due next; infinite while nothing is planned."""
        part = self._heap[0][0] if self._heap else math.inf
        if self._done < len(self._schedule):
            part = min(part, self._bar_part + self._schedule[self._done][0])
        return part

    def _take(self) -> tuple[int, int, Any]:
        """(part, kind, payload) of what is due next, now no longer planned."""
        if self._done < len(self._schedule):
            offset, next_kind, payload = self._schedule[self._done]
            part = self._bar_part + offset
            if not self._heap or (part, next_kind) <= self._heap[0][:2]:
                self._done += 1
                return part, next_kind, payload
        part, kind, _, payload = heapq.heappop(self._heap)
        return part, kind, payload

    def _catch_up(self, horizon_s: float) -> None:
        late_s = horizon_s - self._due_s(self._next_part())
        if late_s > SLIP_S:
            self._anchor_s += late_s

    def _push(self, part: int, kind: int, payload: object) -> None:
        heapq.heappush(self._heap, (part, kind, next(self._number), payload))

    # --- notes

    def _strike(self, sound: Sound, parts: int, part: int, due_s: float) -> None:
        late_s = self.output.now() + self.output.lead_s - due_s
        if late_s <= LATE_S and (heard := self._at_volume(sound)) is not None:
            number = self._sounding.strike(heard, due_s, self._ready)
            self._push(part + parts, EventKind.OFF, (heard.channel, heard.note, number))

    def _at_volume(self, sound: Sound) -> Sound | None:
        """As loud as its voice is to be, None where that is silent."""
        volume = self._volumes[sound.voice]
        if volume <= 0.0 or (sound.words and not self.output.mixes):
            return None
        return (
            sound if volume >= 1.0 or self.output.mixes else replace(sound, value=max(1, round(sound.value * volume)))
        )

    def _silence_output(self) -> None:
        sounding = self._sounding.clear()
        self.output.silence(self.voices, sounding)
        now_s = self.clock()
        for channel, note in sounding:
            self._log(Sound("note_off", channel, note), now_s, now_s)

    def _log(self, sound: Sound, due_s: float, sent_s: float) -> None:
        if self.trace is not None:
            self.trace.add(sound.what, sound.channel, sound.note, due_s, sent_s)

    def _sample(self, notes: tuple[int, ...], seconds: float) -> None:
        now_s = self.output.now()
        due: Outgoing = []
        for note in notes:
            sound = Sound("note_on", self.voices["left"].channel, note, SAMPLE_VELOCITY, "left")
            if (heard := self._at_volume(sound)) is not None:
                self._sounding.sample(heard, now_s, seconds, due)
        self._send(due)

    def _end_samples(self, horizon_s: float) -> None:
        due: Outgoing = []
        self._sounding.end_samples(horizon_s, due)
        self._send(due)

    def _send_programs(self) -> None:
        for sound in programs(self.voices):
            self.output.send(sound, self.output.now())

    def _apply_volumes(self) -> None:
        for voice, volume in self._volumes.items():
            self.output.volume(voice, volume)

    # --- reports

    def _beat(self, pulse: int, due_s: float) -> None:
        heard_s = self.output.heard_s(due_s)
        if (bar := self._bar) is None:
            return
        if bar.shares:
            self._anchor_s, self._anchor_part = due_s, self._bar_part + pulse * DIVISIONS
            self._tempo_bpm = self._asked_bpm * bar.shares[pulse]
        place = bar.turn, bar.position, bar.index, pulse, bar.meter.pulses
        report = BeatReport(heard_s, *place, self._tempo_bpm, bar.frame)
        self._report(heard_s, report)

    def _report(self, due_s: float, report: object) -> None:
        self._reports.append((due_s, report))
