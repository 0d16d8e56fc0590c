"""A student's desk without devices: the real player on a clock turned by hand, Practice fed by its reports, and a simulated pair of hands."""

from __future__ import annotations

import heapq
import itertools
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from recording_output import RecordingOutput

from companion.chart.reader import parse_chart
from companion.groove.model import Stretch, hand_parts
from companion.practice.marking.expected import expected_strikes
from companion.practice.model import Expected
from companion.session.conductor import Conductor
from companion.session.playback import Playback
from companion.session.practice import Practice
from companion.session.stand import Stand
from companion.sound.messages import BeatReport, NoteIn, SetTempo, Stop, default_voices
from companion.sound.player import Player
from companion.sound.process import WORK_S

BEGAN = datetime(2026, 1, 5, 18, 0, tzinfo=UTC)
Play = tuple[float, int]  # seconds off the beat, note


@dataclass(frozen=True, slots=True)
class Moment:
    """A strike the hands come to. turn: how many passes began before this one; expected: what is asked."""

    turn: int
    expected: Expected


Hands = Callable[[Moment], list[Play]]


def right(moment: Moment) -> list[Play]:
    return [(0.0, note) for note in moment.expected.notes]


def nothing(moment: Moment) -> list[Play]:
    return []


def off(offset_s: float) -> Hands:
    return lambda moment: [(offset_s, note) for note in moment.expected.notes]


def rolled(moment: Moment) -> list[Play]:
    low, high = moment.expected.notes
    return [(-0.012, low), (0.018, high)]


def slips(*places: tuple[int, int], how: Hands = nothing) -> Hands:
    """Right, but for the bars of the chorus named: (turn, index)."""
    return lambda moment: how(moment) if (moment.turn, moment.expected.group.index) in places else right(moment)


def wrong(moment: Moment) -> list[Play]:
    low, high = moment.expected.notes
    return [(0.0, low), (0.0, high + 1)]


def put(text: str, settings, **changes) -> Stand:
    changes = {"pattern": "whole", "bass": "off", "count_in_bars": 1} | changes
    return Stand.put(parse_chart(text, id="a-song"), settings).change(**changes)


def expected_in(arrangement, position, start_s, tempo_bpm, parts=("left",)) -> tuple[Expected, ...]:
    """What the hands are to strike in one bar of an arrangement that begins at that second."""
    one = replace(arrangement, bars=(arrangement.bars[position],))
    return expected_strikes(one, [(start_s, tempo_bpm)], parts=parts)


class Desk:
    """latency_s: every press arrives so much later. before_s: how long before a bar line the hands know what comes; none plays earlier.
     lead_s: of the output. ticks: whether the app looks at `closes_s`.

    sent: (second, message) of all that Practice asked for. lines: every bar line after the count-in. shown: what `live` was, one
    after the other, where somebody `looks`. turns: how many passes began.
    """

    def __init__(
        self,
        practice: Practice | Conducted,
        hands: Hands,
        *,
        latency_s: float = 0.0,
        lead_s: float = 0.0,
        ticks: bool = True,
        before_s: float = 0.16,
        looks: bool = False,
    ) -> None:
        self.practice = practice
        self.log: object = None  # that the passes are written to, where a test waits for it
        self.hands = hands
        self.now_s = 100.0
        self.sent: list[tuple[float, object]] = []
        self.lines: list[BeatReport] = []
        self.reports: list[object] = []
        self.turns = 0
        self.looks = looks
        self.shown: list = []
        self.plays: tuple[str, ...] = ()  # that the hands play, () for those that are practised
        self._latency_s = latency_s
        self._ticks = ticks
        self._before_s = before_s
        self._presses: list[tuple[float, int, NoteIn]] = []
        self._numbers = itertools.count()
        self._ahead_s = float("inf")  # when the hands look at the next bar
        self._struck_ahead: set[tuple[float, tuple[int, ...]]] = set()
        self.output = RecordingOutput(lambda: self.now_s, lead_s)
        self.sound = Player(self.output, default_voices(), clock=lambda: self.now_s)

    def clock(self) -> datetime:
        return BEGAN + timedelta(seconds=self.now_s)

    def send(self, messages: list[object]) -> None:
        for message in messages:
            self.sent.append((self.now_s, message))
            self.sound.handle(message)
            if isinstance(message, Stop):
                self._ahead_s = float("inf")
        self.practice.write()
        if messages and self.sound.gap_s() > WORK_S:  # as the sound process does with time to spare
            self.sound.prepare()
        live = self.practice.live if self.looks else None
        if live is not None and (not self.shown or self.shown[-1] is not live):
            self.shown.append(live)

    def press(self, note: int, after_s: float = 0.0) -> None:
        time_s = self.now_s + after_s
        heapq.heappush(self._presses, (time_s, next(self._numbers), NoteIn(time_s, note, 64, "keys")))

    def run(self, seconds: float = 1e9, until: Callable[[], bool] = lambda: False) -> None:
        """Go on for so long, until something holds, or until nothing is going on any more."""
        end_s = self.now_s + seconds
        while not until():
            closes_s = self.practice.closes_s if self._ticks else None
            next_s = min(
                self.now_s + max(0.0, self.sound.gap_s()),
                self.now_s + max(0.0, self.sound.report_gap_s()),
                self._presses[0][0] if self._presses else float("inf"),
                self._ahead_s,
                max(closes_s, self.now_s) if closes_s is not None else float("inf"),
            )
            if next_s == float("inf") or next_s > end_s:
                self.now_s = end_s if next_s != float("inf") else self.now_s
                return
            self.now_s = next_s
            self._step()

    def _step(self) -> None:
        self.sound.advance()
        self.sound.prepare()
        if self.now_s >= self._ahead_s:
            self._look_ahead()
        while self._presses and self._presses[0][0] <= self.now_s:
            self.hear(heapq.heappop(self._presses)[2])
        for report in list(self.sound.take_reports()):
            self.reports.append(report)
            if isinstance(report, BeatReport) and report.pulse == 0:
                self._bar(report)
            self.hear(report)
        if self._ticks and (closes_s := self.practice.closes_s) is not None and closes_s <= self.now_s:
            self.send(self.practice.tick(self.now_s))

    def hear(self, report: object) -> None:
        self.send(self.practice.hear(report))

    # --- the hands

    def _bar(self, line: BeatReport) -> None:
        self._ahead_s = line.due_s + line.pulses * 60.0 / line.tempo_bpm - self._before_s
        if line.turn < 0:
            return
        self.lines.append(line)
        self.turns += line.position == 0
        bar = self._as_asked(self.sound._bar.arrangement, line.turn)
        for strike in expected_in(bar, line.position, line.due_s, line.tempo_bpm, self._parts()):
            if (round(strike.due_s, 6), strike.notes) not in self._struck_ahead:
                self._strike(self.turns - 1, strike)
        self._struck_ahead = set()

    def _as_asked(self, arrangement, turn: int):
        is_last = turn + 1 == self.sound._play.turns
        return replace(arrangement, bars=arrangement.bars_of(Stretch.LOOP, is_last=is_last))

    def _look_ahead(self) -> None:
        """The strike on the next bar line, so that the hands may be early for it."""
        line_s, self._ahead_s = self._ahead_s + self._before_s, float("inf")
        coming = self.sound._follow() if self.sound.playing else None
        if coming is None or coming.turn < 0:
            return
        position = coming.position
        arrangement = self._as_asked(self.sound._arrangement, coming.turn)
        tempo_bpm = self.sound._tempo_at_line()
        for strike in expected_in(arrangement, position, line_s, tempo_bpm, self._parts()):
            if abs(strike.due_s - line_s) < 1e-6:
                self._struck_ahead.add((round(strike.due_s, 6), strike.notes))
                self._strike(self.turns - (position != 0), strike)

    def _parts(self) -> tuple[str, ...]:
        return self.plays or hand_parts(self.practice.planned.hands)

    def _strike(self, turn: int, strike: Expected) -> None:
        for offset_s, note in self.hands(Moment(turn, strike)):
            time_s = max(self.now_s, strike.due_s + offset_s + self._latency_s)
            heapq.heappush(self._presses, (time_s, next(self._numbers), NoteIn(time_s, note, 64, "keys")))

    # --- what came of it

    def asked(self, kind: type) -> list[tuple[float, object]]:
        return [(time_s, message) for time_s, message in self.sent if isinstance(message, kind)]

    @property
    def tempos(self) -> list[tuple[float, float]]:
        return [(time_s, message.tempo_bpm) for time_s, message in self.asked(SetTempo)]

    def starts(self) -> list[BeatReport]:
        """The bar line of each pass."""
        return [line for line in self.lines if line.position == 0]

    def is_gapless(self) -> bool:
        """Whether each bar follows the last one at once."""
        ends = [line.due_s + line.pulses * 60.0 / line.tempo_bpm for line in self.lines]
        return all(abs(after.due_s - end_s) < 1e-6 for end_s, after in zip(ends, self.lines[1:]))


class Conducted:
    """A conductor as a desk takes it: it is told the reports and called when it wants to be, and sends by itself.

    changes: all that its calls came to, in order.
    """

    def __init__(self, stand: Stand, log, settings, **options) -> None:
        self.desk: Desk | None = None
        self.changes: list = []
        clock = lambda: self.desk.now_s if self.desk is not None else 0.0
        self.conductor = Conductor(Playback(self), lambda: log, lambda: settings, clock=clock, **options)
        self.desk = Desk(self, right)
        self.conductor.put(stand)

    def send(self, message: object) -> None:
        if self.desk is not None:
            self.desk.send([message])

    def do(self, changes: list) -> list:
        """What a call to the conductor came to."""
        self.changes += changes
        return changes

    @property
    def closes_s(self) -> float | None:
        return self.conductor.wake_s

    @property
    def live(self):
        return self.conductor.practice.live if self.conductor.practice else None

    @property
    def planned(self) -> Stand:
        return self.conductor.practice.planned if self.conductor.practice else self.conductor.stand

    def hear(self, report: object) -> list:
        self.do(self.conductor.hear(report))
        return []

    def tick(self, now_s: float) -> list:
        self.do(self.conductor.tick(now_s))
        return []

    def write(self) -> None:
        """The conductor has done that."""


def play(desk: Desk, passes: int) -> Desk:
    """Begin, and play until so many passes are over and the next one has begun."""
    desk.send(desk.practice.begin())
    desk.run(until=lambda: desk.turns > passes or desk.practice.asking)
    return desk


def verdicts(record) -> Counter:
    return Counter(chord["verdict"] for chord in record.chords)
