"""A performance by simulated hands: what the sound process would report of it, without one."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from companion.groove.model import PARTS
from companion.groove.timeline import timeline
from companion.session.performance import performance
from companion.session.performing import Performing
from companion.session.playback import Playback
from companion.sound.messages import BeatReport, Finished, NoteIn, Started

AT = datetime(2026, 1, 5, 18, 0, 30, tzinfo=UTC)
BEGAN_S = 500.0  # of the sound process's clock


class Told:
    """What was sent to the sound process."""

    def __init__(self) -> None:
        self.sent: list[object] = []

    def send(self, message: object) -> None:
        self.sent.append(message)


class Evening:
    """Performing on a stand, with a clock turned by the reports."""

    def __init__(self, stand, **options) -> None:
        self.link, self.now_s = Told(), BEGAN_S
        playback = Playback(self.link)
        playback.microphone = self.link.send
        self.performing = Performing(stand, playback, clock=lambda: self.now_s, now=lambda: AT, **options)
        whole = self.performing.stand
        self.timeline = timeline(replace(performance(whole), parts=PARTS), [whole.tempo_bpm] * whole.arranged.choruses)

    def hear(self, time_s: float, report: object) -> None:
        self.now_s = max(self.now_s, time_s)
        self.performing.hear(report)

    def due(self, *parts: str) -> list[tuple[float, float, int]]:
        """(second, second it ends, key) of what hands are to play, from the count-in on."""
        events = [event for event in self.timeline.events if event.part in parts]
        starts = self.timeline.seconds(event.tick for event in events)
        ends = self.timeline.seconds(event.tick + event.ticks for event in events)
        return [(start, end, event.note) for start, end, event in zip(starts, ends, events, strict=True)]

    def pulses(self) -> list[tuple[float, BeatReport]]:
        found = []
        for bar in self.timeline.bars:
            ticks = [bar.tick + number * bar.meter.pulse_ticks for number in range(bar.meter.pulses)]
            for number, time_s in enumerate(self.timeline.seconds(ticks)):
                due_s = BEGAN_S + time_s
                found.append((due_s, BeatReport(due_s, -1, 0, bar.index, number, bar.meter.pulses, 100.0)))
        return found

    def play(
        self,
        *parts: str,
        jitter_s: float = 0.0,
        seed: int = 1,
        until_s: float = 1e9,
        late_s: float = 0.0,
        folder: Path | None = None,
    ) -> None:
        """Start, and play what is due in these parts; velocities go up and down. folder: see `Performing.start`."""
        random_ = random.Random(seed)
        self.performing.start(folder)
        number = self.link.sent[-1].number
        reports: list[tuple[float, object]] = [(BEGAN_S, Started(BEGAN_S, number)), *self.pulses()]
        struck = [(start + random_.gauss(0.0, jitter_s) + late_s, end, note) for start, end, note in self.due(*parts)]
        again_s: dict[int, float] = {}  # a key is let go before it is struck again
        for count, (start, end, note) in reversed(list(enumerate(struck))):
            up_s = min(max(start + 0.05, end + late_s), again_s.get(note, 1e9) - 0.01)
            again_s[note] = start
            reports.append((BEGAN_S + start, NoteIn(BEGAN_S + start, note, 40 + count % 60, "keys")))
            reports.append((BEGAN_S + up_s, NoteIn(BEGAN_S + up_s, note, 0, "keys")))
        end_s = BEGAN_S + self.timeline.seconds([self.timeline.end_tick])[0]
        reports.append((end_s, Finished(end_s)))
        for time_s, report in sorted(reports, key=lambda each: each[0]):
            if time_s - BEGAN_S > until_s:
                break
            self.hear(time_s, report)
        else:
            self.now_s += 1.0
            self.performing.tick()
