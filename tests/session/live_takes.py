"""A made-up take played to the app: the reports of the sound process and of the keyboard in order of time, and Practice called as the conductor calls it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

from practice.takes import Made

from companion.practice.model import PassMarks
from companion.session.drill import DrillSettings, new_drill
from companion.session.practice import Practice
from companion.sound.messages import BeatReport, NoteIn
from companion.store.log.practice_log import PracticeLog

NOW = datetime(2026, 1, 5, 18, 0, tzinfo=UTC)


class Played:
    """passes: the marks of each pass; says: what was said after each; during: what stood on the screen while each was played, beat by beat."""

    def __init__(self, made: Made, tempo_bpm: float, latency_ms: float = 0.0, always_looks: bool = False) -> None:
        """always_looks: also at what stands there after each key, not at each beat alone: dear."""
        self.passes: list[PassMarks] = []
        self.says: list[tuple[str, ...]] = []
        self.during: list[list[PassMarks]] = []
        self._so_far: list[PassMarks] = []
        self._result: object = None
        stand = made.stand.with_tempo(tempo_bpm)
        with PracticeLog.in_memory() as log:
            drill = new_drill(stand, "play", DrillSettings())
            self._practice = Practice(stand, drill, log, now=lambda: NOW, latency_ms=latency_ms, keyboard=True)
            self._practice.begin()
            for time_s, _, report in sorted(reports(made, tempo_bpm, latency_ms / 1000.0)):
                closes_s = self._practice.closes_s
                if closes_s is not None and closes_s < time_s:
                    self._practice.tick(closes_s)
                    self._look()
                self._practice.hear(report)
                self._look(always_looks or isinstance(report, BeatReport))
            if (closes_s := self._practice.closes_s) is not None:
                self._practice.tick(closes_s)
                self._look()

    def _look(self, at_all: bool = True) -> None:
        live = self._practice.live if at_all else None
        self._practice.write()
        if self._practice.result is not self._result and self._practice.result is not None:
            self._result = result = self._practice.result
            assert result.marks is not None
            self.passes.append(result.marks)
            self.says.append(result.advice.says)
            self.during.append(self._so_far)
            self._so_far = []
        elif live is not None and not (self.passes and live is self.passes[-1]):
            self._so_far.append(live)


def reports(made: Made, tempo_bpm: float, latency_s: float) -> Iterator[tuple[float, int, object]]:
    """(second, number, report) of every beat, and of every key that went down or up."""
    bars = made.arrangement.bars
    beats = [(position, pulse) for position, bar in enumerate(bars) for pulse in range(bar.meter.pulses)]
    clicks = sorted(made.clicks)
    for number, due_s in enumerate(clicks):
        turn, place = divmod(number, len(beats))
        position, pulse = beats[place]
        bar = bars[position]
        yield due_s, number, BeatReport(due_s, turn, position, bar.index, pulse, bar.meter.pulses, tempo_bpm)
    number = len(clicks)
    for press in made.presses:
        time_s = press.time_s + latency_s
        yield time_s, (number := number + 1), NoteIn(time_s, press.note, press.velocity, "keys")
        if press.held_s is not None:
            up_s = time_s + press.held_s
            yield up_s, (number := number + 1), NoteIn(up_s, press.note, 0, "keys")
