"""A round of chords in root position in time with the click. Times are seconds of the sound process's clock."""

from __future__ import annotations

from dataclasses import replace

from companion.practice.marking.root_position import (
    all_up,
    key_down,
    key_up,
    opens_s,
    start_hearing,
    timed_verdict,
)
from companion.session.chords.memory import ChordMemory
from companion.session.chords.rounds import TimedRound
from companion.session.chords.shown import Done, Shown
from companion.session.chords.words import timed_lines, told_lines, verdict_words
from companion.sound.messages import BeatReport

_PLAYED = ("right", "early", "late")


class ClickedRound:
    """is_over: whether the time of all chords is over."""

    def __init__(self, timed: TimedRound, memory: ChordMemory, down: frozenset[int] = frozenset()) -> None:
        self._items, self._starts, self._memory = timed.items, timed.bar_pulses, memory
        self._hearing = start_hearing(self._items[0][0].steps, 0.0, down)
        self._done: list[Done] = []
        self._slips: dict[int, Done] = {}  # by the student's word
        self._is_heard = False  # whether any key was
        self._last: tuple[int, float, float] | None = None  # pulse of the round, when it was due, seconds a pulse lasts
        self._beat: tuple[int, int] | None = None
        self._counting = True
        self._looked = False  # at the keys of the chord of now
        self._answer = ""
        self.played_s = 0.0

    # --- where the music is

    def beat(self, report: BeatReport) -> None:
        """A pulse sounds."""
        beat_s = 60.0 / report.tempo_bpm
        self._counting = report.turn < 0
        pulse = report.pulse + (-report.pulses if self._counting else self._starts[report.position])
        self._beat, self._last = (report.pulse, report.pulses), (pulse, report.due_s, beat_s)
        self.played_s += beat_s

    def _due_s(self, number: int) -> float:
        assert self._last is not None
        pulse, due_s, beat_s = self._last
        return due_s + float(self._items[number][1] - pulse) * beat_s

    @property
    def _number(self) -> int:
        return len(self._done)

    @property
    def is_over(self) -> bool:
        """Whether the time of all chords is over."""
        return self._number >= len(self._items)

    @property
    def down(self) -> frozenset[int]:
        """The keys that are held."""
        return self._hearing.down

    @property
    def wake_s(self) -> float | None:
        """When the time of the present chord is over: when that of the next begins; of the last, a beat after its last step."""
        if self._last is None or self.is_over:
            return None
        beat_s = self._last[2]
        if self._number + 1 < len(self._items):
            return opens_s(self._due_s(self._number + 1), beat_s)
        return self._due_s(self._number) + len(self._items[self._number][0].steps) * beat_s

    # --- what is heard

    def press(self, time_s: float, note: int) -> None:
        """A key went down. time_s: freed of the constant latency."""
        self._is_heard = True
        self.tick(time_s)
        if self._last is not None and not self.is_over and time_s >= opens_s(self._due_s(self._number), self._last[2]):
            self._hearing = key_down(self._hearing, time_s, note)

    def release(self, note: int) -> None:
        """A key was let go."""
        self._hearing = key_up(self._hearing, note)

    def lost(self) -> None:
        """The keyboard is gone."""
        self._hearing = all_up(self._hearing)

    def tick(self, now_s: float) -> None:
        """Close the chords whose time is over."""
        while (closes_s := self.wake_s) is not None and closes_s <= now_s:
            self._close()

    def _close(self) -> None:
        assert self._last is not None
        number, beat_s = self._number, self._last[2]
        item, pulse = self._items[number]
        verdict, _ = timed_verdict(replace(self._hearing, since_s=self._due_s(number)), beat_s)
        before = self._items[number - 1][1] if number else pulse - 4
        done = Done(item, float(pulse - before) * beat_s, verdict in _PLAYED and not self._looked, verdict)
        self._done.append(done)
        self._looked = False
        if self._is_heard:
            self._memory.learn(item.memory_key, done.find_s, done.right)
            self._answer = verdict_words(done)
        if not self.is_over:
            self._hearing = start_hearing(self._items[self._number][0].steps, 0.0, self._hearing.down)

    def look(self) -> None:
        """Show the keys of the chord of now."""
        self._looked = not self.is_over and self._memory.is_known(self._items[self._number][0].memory_key)

    def was_wrong(self) -> None:
        """The chord of now slipped, says the student; just after a change the one before."""
        if self._last is None or self._counting:
            return
        number = min(self._number, len(self._items) - 1)
        item = self._items[number][0]
        if number not in self._slips and not self._is_heard:
            self._slips[number] = Done(item, 0.0, right=False, verdict="wrong", heard=False)
            self._memory.learn(item.memory_key, 0.0, right=False)
            self._answer = f"{item.symbol} slipped, you say."

    # --- how things stand

    @property
    def lines(self) -> tuple[str, ...]:
        """How it went so far."""
        if not self._is_heard:
            return told_lines([done.item.symbol for done in self._slips.values()], self._number)
        return timed_lines([(done.item.symbol, done.verdict) for done in self._done])

    @property
    def shown(self) -> Shown:
        """What is to be drawn."""
        number = min(self._number, len(self._items) - 1)
        now = self._items[number][0]
        return Shown(
            now,
            self._items[number + 1][0] if number + 1 < len(self._items) else None,
            number + 1,
            len(self._items),
            playing=True,
            counting=self._counting,
            keys=self._looked or not self._memory.is_known(now.memory_key),
            down=self._hearing.down,
            step=self._hearing.step,
            answer=self._answer,
            beat=self._beat,
        )
