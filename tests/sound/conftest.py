"""A clock that a test turns by hand, and a player on it."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

import pytest
from recording_output import RecordingOutput

from companion.groove.model import Arrangement, GrooveBar, GrooveChord
from companion.sound.link import SoundLink
from companion.sound.messages import default_voices
from companion.sound.player import Player
from companion.sound.process import COMMAND_S
from companion.theory.chord import Chord
from companion.theory.meter import Meter
from companion.theory.pitch import Tone

PATIENCE = 120.0  # seconds, for what must come: a busy machine takes ten times as long as a quiet one
COMMON_TIME = Meter(4, 4)
F7 = Chord("F7", Tone("F"), ("1", "3", "5", "b7"), "seventh")


class Stage:
    """A player, its recording output and a clock that jumps from deadline to deadline."""

    def __init__(self, lead_s: float = 0.0, start_s: float = 1000.0) -> None:
        self.now_s = start_s
        self.output = RecordingOutput(lambda: self.now_s, lead_s)
        self.player = Player(self.output, default_voices(), clock=lambda: self.now_s)
        self.reports: list = []

    def do(self, *messages: object) -> None:
        for message in messages:
            self.player.handle(message)
        self.reports += self.player.take_reports()

    def run(self, seconds: float) -> None:
        """As the sound process does: what is near is made ready, then sent when it is due."""
        end_s = self.now_s + seconds
        while True:
            gap_s = min(self.player.gap_s(), self.player.report_gap_s())
            if self.now_s + gap_s > end_s:
                break
            near_s = min(max(gap_s, 0.0), COMMAND_S / 2)
            self.now_s += max(gap_s, 0.0) - near_s
            self.player.make_ready(COMMAND_S)
            self.now_s += max(near_s, 1e-12)  # a clock goes on, if by less than what rounding leaves of a gap
            self.player.advance()
            self.player.prepare()
            self.reports += self.player.take_reports()
        self.now_s = end_s

    def of(self, kind: type) -> list:
        return [report for report in self.reports if isinstance(report, kind)]

    def struck(self, voice: str) -> list[tuple[float, int]]:
        """(due, note) of every note-on of a voice."""
        return [
            (due_s, sound.note)
            for due_s, _, sound in self.output.sent
            if sound.what == "note_on" and sound.voice == voice
        ]

    def hanging(self) -> set[tuple[int, int]]:
        """Notes on without their off. Fails where a note is struck twice without an off between, or an off has no on."""
        down: set[tuple[int, int]] = set()
        for _, _, sound in self.output.sent:
            key = (sound.channel, sound.note)
            if sound.what == "note_on":
                assert key not in down
                assert 1 <= sound.value <= 127
                down.add(key)
            elif sound.what == "note_off":
                assert key in down
                down.remove(key)
        return down


def loop(*indexes: int, meter: Meter = COMMON_TIME, **changes: object) -> Arrangement:
    """Bars of F7 with those indexes in the chorus."""
    chords = (GrooveChord(0, meter.bar_ticks, F7, (41, 51)),)
    return replace(Arrangement(tuple(GrooveBar(index, meter, chords) for index in indexes)), **changes)


class Reports:
    """Reads a link's reports in order. seen: all that were read so far."""

    def __init__(self, link: SoundLink) -> None:
        self.link = link
        self.seen: list = []
        self._waiting: list = []

    def wait_for(self, kind: type, seconds: float = PATIENCE):
        """The next report of that kind; those before it are passed over."""
        end_s = time.perf_counter() + seconds
        while time.perf_counter() < end_s:
            self._waiting += self.link.poll()
            while self._waiting:
                report = self._waiting.pop(0)
                self.seen.append(report)
                if isinstance(report, kind):
                    return report
            time.sleep(0.002)
        raise AssertionError(f"no {kind.__name__} within {seconds} s; seen: {self.seen}")

    def wait_until(self, holds: Callable[[], object], seconds: float = PATIENCE) -> None:
        end_s = time.perf_counter() + seconds
        while not holds():
            assert time.perf_counter() < end_s, f"not within {seconds} s; seen: {self.seen}"
            time.sleep(0.01)


@pytest.fixture
def read():
    return Reports


@pytest.fixture
def stage() -> Stage:
    return Stage()


@pytest.fixture
def make_stage():
    return Stage


@pytest.fixture
def make_loop():
    return loop
