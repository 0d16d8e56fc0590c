"""A student's desk with the real sound process: Practice fed with its reports in real time, and a pair of hands that is always right."""

from __future__ import annotations

import time
from collections.abc import Callable

from desk import expected_in, put
from session_songs import FOUR

from companion.session.drill import DrillSettings, new_drill
from companion.session.practice import Practice
from companion.sound.messages import BeatReport, Load, NoteIn, Notice, Ready
from companion.store.log.patient_log import PatientLog

PATIENCE_S = 120.0


class LiveDesk:
    """link: with `poll` and `send`. notices: sentences of the sound process. beats: every beat after the count-in. came_s: how late each
    report of a beat came."""

    def __init__(
        self, link, log: PatientLog, settings, kind: str = "play", step: Callable[[], None] = lambda: time.sleep(0.002)
    ) -> None:
        self.link, self.log = link, log
        self.stand = put(FOUR, settings, demonstrate=True, pattern="four").with_tempo(240).with_loop((0,), "one bar")
        self.practice = Practice(self.stand, new_drill(self.stand, kind, DrillSettings()), log, keyboard=True)
        self.notices: list[Notice] = []
        self.readies: list[Ready] = []
        self.beats: list[BeatReport] = []
        self.came_s: list[float] = []
        self.said: list[str] = []
        self._step = step
        self._loaded = None

    def begin(self) -> None:
        self.go_on(lambda: bool(self.readies), "sound")
        self.send(self.practice.begin())

    def send(self, messages: list[object]) -> None:
        for message in messages:
            if isinstance(message, Load):
                self._loaded = message.arrangement
            self.link.send(message)
        self.practice.write()

    def go_on(self, until: Callable[[], bool], what: str) -> None:
        """Practise until something holds."""
        end_s = time.perf_counter() + PATIENCE_S
        while not until():
            assert time.perf_counter() < end_s, f"no {what}; said {[notice.sentence for notice in self.notices]}"
            self._step()
            for report in self.link.poll():
                self._hear(report)
            self.send(self.practice.tick(time.perf_counter()))
            if self.practice.say:
                self.said.append(self.practice.say)
                self.practice.say = ""

    def for_passes(self, count: int) -> None:
        """Until so many more passes are in the log."""
        wanted = self.log.count() + count
        self.go_on(lambda: self.log.count() >= wanted, f"{count} more passes in the log")

    def until_told(self, kind: str) -> Notice:
        seen = len(self.notices)
        self.go_on(lambda: any(notice.kind == kind for notice in self.notices[seen:]), f"notice that it is {kind}")
        return self.notices[-1]

    def into_a_pass(self) -> None:
        """To the second beat of a pass, which takes a second."""
        self.go_on(lambda: bool(self.beats) and self.beats[-1].pulse == 0, "first beat")
        self.go_on(lambda: self.beats[-1].pulse == 1, "second beat")

    def _hear(self, report: object) -> None:
        if isinstance(report, Notice):
            self.notices.append(report)
        elif isinstance(report, Ready):
            self.readies.append(report)
        if isinstance(report, BeatReport) and report.turn >= 0:
            self.beats.append(report)
            self.came_s.append(time.perf_counter() - report.due_s)
        self.send(self.practice.hear(report))
        if isinstance(report, BeatReport) and report.turn >= 0 and report.pulse == 0:
            for strike in expected_in(self._loaded, report.position, report.due_s, report.tempo_bpm):
                for note in strike.notes:
                    self.send(self.practice.hear(NoteIn(strike.due_s, note, 64, "hands")))

    def check(self) -> None:
        """Every pass that was played to its end is in the log, right in every chord, and time had no gap."""
        passes = self.log.passes()
        turns = {beat.turn for beat in self.beats}
        assert len(turns) - 1 <= len(passes) <= len(turns), "one for each turn, the last may not be over"
        assert all(record.share_right == 1.0 and not record.slipped for record in passes)
        for before, after in zip(self.beats, self.beats[1:]):
            assert abs(after.due_s - before.due_s - 0.25) < GAP_S, (before, after)


GAP_S = 0.15  # more than a server that is new may lose, less than a beat: none is lost or told twice
