"""A student at a keyboard with chords in root position, on the real player and a clock turned by hand."""

from __future__ import annotations

import heapq
import itertools
import random
from datetime import UTC, datetime, timedelta

from recording_output import RecordingOutput

from companion.session.chords.practice import RootPosition
from companion.session.chords.rounds import Setup
from companion.session.playback import Playback
from companion.sound.messages import NoteIn, Started, default_voices
from companion.sound.player import Player

BEGAN = datetime(2026, 1, 5, 18, 0, tzinfo=UTC)
# Three bars with chords and one without.
WALTZ = """title = "Three"
key = "F"
meter = "3/4"
tempo = 90
[section.A]
bars = "F6 | Gm7 C7:1 | F6 | N.C."
"""


class Table:
    """A student at a keyboard. At second 100 it begins."""

    def __init__(self, stand, setup: Setup, log, seed: int = 1, **options) -> None:
        self.now_s, self.sent = 100.0, []
        self.sound = Player(RecordingOutput(lambda: self.now_s, 0.0), default_voices(), clock=lambda: self.now_s)
        self.roots = RootPosition(
            stand,
            setup,
            log,
            Playback(self),
            clock=lambda: self.now_s,
            now=lambda: BEGAN + timedelta(seconds=self.now_s),
            chance=random.Random(seed).random,
            **options,
        )
        self._presses, self._numbers = [], itertools.count()

    def send(self, message: object) -> None:
        self.sent.append(message)
        self.sound.handle(message)

    # --- waiting: the clock goes by hand

    def wait(self, seconds: float) -> None:
        self.now_s += seconds
        if self.roots.wake_s is not None and self.roots.wake_s <= self.now_s:
            self.roots.tick(self.now_s)

    def down(self, *notes: int, apart_s: float = 0.0) -> None:
        for note in notes:
            self.roots.hear(NoteIn(self.now_s, note, 70, "keys"))
            self.now_s += apart_s

    def up(self, *notes: int) -> None:
        for note in notes:
            self.roots.hear(NoteIn(self.now_s, note, 0, "keys"))

    def find(self, after_s: float = 1.0, *wrong: int) -> str:
        """Strike what is waited for and let go, wrong keys before it; the symbol that was found."""
        self.wait(after_s)
        self.down(*wrong)
        self.up(*wrong)
        item = self.roots.shown.now
        for step in item.steps:
            self.down(*step)
            self.up(*step)
            self.now_s += 0.2
        return item.symbol

    # --- with the click: the player's own time

    def press(self, at_s: float, *notes: int) -> None:
        for note in notes:
            heapq.heappush(self._presses, (at_s, next(self._numbers), NoteIn(at_s, note, 70, "keys")))
            heapq.heappush(self._presses, (at_s + 0.3, next(self._numbers), NoteIn(at_s + 0.3, note, 0, "keys")))

    def run(self) -> None:
        while self.roots.playing:
            next_s = min(
                self.now_s + max(0.0, self.sound.gap_s()),
                self.now_s + max(0.0, self.sound.report_gap_s()),
                self._presses[0][0] if self._presses else float("inf"),
                max(self.roots.wake_s or float("inf"), self.now_s),
            )
            assert next_s < 1e6
            self.now_s = next_s
            self.sound.advance()
            self.sound.prepare()
            while self._presses and self._presses[0][0] <= self.now_s:
                self.roots.hear(heapq.heappop(self._presses)[2])
            for report in list(self.sound.take_reports()):
                self.roots.hear(report)
            if (self.roots.wake_s or float("inf")) <= self.now_s:
                self.roots.tick(self.now_s)

    def asked(self, kind: type) -> list:
        return [message for message in self.sent if isinstance(message, kind)]

    def first_due(self) -> float:
        """When the music begins, after a bar of count-in at 60; called once, right after the start."""
        self.sound.advance()
        self.sound.prepare()
        reports = list(self.sound.take_reports())
        for report in reports:
            self.roots.hear(report)
        return next(report.time_s for report in reports if isinstance(report, Started)) + 4.0
