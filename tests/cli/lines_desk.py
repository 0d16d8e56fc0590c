"""Practising by text on a clock turned by hand: the real player, the real conductor, the lines that are typed and those that are told."""

from __future__ import annotations

import io
import json
from collections import deque
from typing import Any

from cli.told_shapes import check
from desk import Desk, Hands, nothing

from companion.chart.model import Song
from companion.cli.lines import commands
from companion.cli.lines.events import EndOfInput, Interrupt, TypedLine
from companion.cli.lines.sitting import Sitting
from companion.cli.lines.telling import Teller
from companion.session.stand import Stand
from companion.sound.messages import Keyboards, SoundConfig

LONGEST_WAIT_S = 0.5  # as a queue is waited for


class TextDesk:
    """A student who types, and plays where there are `hands`. It is a link, and the events of a sitting, at once."""

    def __init__(
        self,
        paths,
        settings,
        log,
        *,
        hands: Hands = nothing,
        keyboard: bool = False,
        names="symbols",
        make=None,
        most=None,
    ):
        """make: of a link and a clock, the sitting; without one a student's who types. most: passes, after which it is the student's Ctrl+C
        that ends it."""
        self.config = SoundConfig()
        self.out = io.StringIO()
        self._reports: deque[object] = deque()
        self._lines: deque[object] = deque()
        self.desk = Desk(self, hands, ticks=False)
        self._most = most
        if make is not None:
            self.sitting: Sitting = make(self, lambda: self.desk.now_s)
        else:
            teller = Teller(self.out, as_json=True, names=names)
            clock = lambda: self.desk.now_s
            self.sitting = Sitting(paths, settings, self, log, teller, clock=clock, obey=commands.obey)
        if keyboard:
            self.sitting.conductor.hear(Keyboards(("keys",), ("keys",)))

    def put(self, song: Song) -> TextDesk:
        self.sitting.put(song)
        return self

    def type(self, *lines: str) -> list[dict[str, Any]]:
        """Type lines, and leave; what was told meanwhile."""
        self._lines += [*map(TypedLine, lines), EndOfInput()]
        self.sitting.over = None
        self.sitting.run(self)
        return self.told()

    def told(self) -> list[dict[str, Any]]:
        """All that was told since it was last asked."""
        rows = check([json.loads(line) for line in self.out.getvalue().splitlines()])
        self.out.seek(0)
        self.out.truncate()
        return rows

    # --- the link

    def send(self, message: object) -> None:
        self.desk.send([message])

    # --- the events

    def next(self, within_s: float | None) -> object | None:
        if self._lines:
            return self._lines.popleft()
        if self._most is not None and self.desk.turns > self._most:
            return Interrupt()
        wait_s = LONGEST_WAIT_S if within_s is None else max(0.0, within_s)
        until_s = self.desk.now_s + wait_s
        if not self._reports:
            self.desk.run(wait_s, until=lambda: bool(self._reports))
        if self._reports:
            return self._reports.popleft()
        self.desk.now_s = max(self.desk.now_s, until_s)
        return None

    # --- what a desk asks of who practises

    closes_s = None
    live = None

    def hear(self, report: object) -> list[object]:
        self._reports.append(report)
        return []

    def write(self) -> None:
        """The conductor has done that."""

    @property
    def planned(self) -> Stand:
        conductor = self.sitting.conductor
        return conductor.practice.planned if conductor.practice is not None else conductor.stand
