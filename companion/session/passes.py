"""One pass while it is played: when its bars began, what was pressed, what that comes to; and its line in the log."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from companion.groove.model import HAND_PARTS, Arrangement, hand_parts
from companion.practice.marking.expected import BarStart, ShellOptions, expected_strikes, steady_starts
from companion.practice.marking.hands import in_octave, octave_played
from companion.practice.marking.marks import mark_pass, marks_of
from companion.practice.marking.matching import Matching
from companion.practice.marking.meant import meant_from_s, meant_until_s
from companion.practice.model import Expected, PassMarks, Press
from companion.practice.planning.totals import local_day
from companion.practice.reach import left_hand_ceiling
from companion.session.by_microphone import TOLD_S, HeardStrikes, unsure_words
from companion.session.stand import Stand

if TYPE_CHECKING:
    from companion.sound.listening.verdicts import Verdict

TRAVEL_S = 0.01  # from the keyboard's port to here
CUT_S = 0.02  # before its end a pass is closed in any case
SAME_S = 1e-6  # two bar lines this near are the same
TELLS_S = 0.15  # before its end, where a microphone hears it: the sound process has the next bar ahead by half of that
EDGE_S = 5e-5  # windows are kept to a tenth of a millisecond (see marking)
PRESSES_FOR_OCTAVE = 200  # so many say in which octave a melody is played, while it is
SURE_S = 1.0  # a press arrives no later than this after it was made


class PassEar:
    """Collects one pass of an arrangement. Times are the sound process's seconds; presses are freed of `latency_s` here.

    after_s: presses up to then (freed) belong to the pass before. When each strike is due is worked out once, at the first bar line, and
    again only where a bar begins at another time or tempo than was to be expected. The hands of the stand are marked; keys of the other
    one count for nothing. by_microphone: what was asked of one and told by it, None where a keyboard is heard.
    """

    def __init__(
        self,
        stand: Stand,
        arrangement: Arrangement,
        latency_s: float,
        own_offset_ms: float | None = None,
        *,
        after_s: float = -math.inf,
        began_at: datetime | None = None,
        microphone: bool = False,
    ) -> None:
        self.stand = stand
        self.arrangement = arrangement
        self.began_at = began_at
        self.presses: list[Press] = []
        self._down: dict[int, int] = {}  # keys that are down -> which press
        self._latency_s = latency_s
        self.own_offset_ms = own_offset_ms
        self._after_s = after_s
        self._starts: list[BarStart] = []
        self._coming: list[BarStart] = []  # of every bar, as far as can be told
        self._asked = hand_parts(stand.hands)
        self._due: tuple[Expected, ...] = ()  # of both hands
        self._ends: list[tuple[Expected, Expected]] = []  # the first and the last strike of each hand that is asked for
        self._octave = 0  # how much higher than written the melody is played, as far as can be told
        self._pedal = False
        self._options = shell_options(stand)
        self._ceiling = left_hand_ceiling(arrangement.bars)
        self._matching = Matching((), self._ceiling)
        self.by_microphone = HeardStrikes() if microphone else None

    def bar_began(self, start_s: float, tempo_bpm: float) -> None:
        """A bar of the pass began at that second, in pulses a minute."""
        place = len(self._starts)
        self._starts.append(BarStart(start_s, tempo_bpm))
        if place < len(self._coming):
            coming = self._coming[place]
            if coming.tempo_bpm == tempo_bpm and abs(coming.start_s - start_s) < SAME_S:
                return
        rest = replace(self.arrangement, bars=self.arrangement.bars[len(self._starts) :])
        self._coming = [*self._starts, *steady_starts(rest, self.end_s, tempo_bpm)]
        self._due = expected_strikes(self.arrangement, self._coming, self._options, HAND_PARTS)
        hands = [[strike for strike in self._due if strike.part == part] for part in self._asked]
        self._ends = [(hand[0], hand[-1]) for hand in hands if hand]
        self._match_again()

    def _match_again(self) -> None:
        self._matching = Matching(in_octave(self._due, self._octave), self._ceiling, self._asked)
        for press in self.presses:
            self._matching.take(press)

    def press(self, time_s: float, note: int, velocity: int) -> None:
        """Take a press if it belongs to this pass: neither to the one before nor, by its time, to the one after. velocity 0: the key went up."""
        if velocity == 0:
            self._release(time_s, note)
            return
        self._take(Press(time_s - self._latency_s, note, velocity))

    def _take(self, press: Press) -> None:
        note = press.note
        if max(self._after_s, self._opens_s) < press.time_s <= self.takes_until_s:
            self._down[note] = len(self.presses)
            self.presses.append(press)
            self._matching.take(press)

    def verdict(self, verdict: Verdict) -> None:
        """What a microphone heard of a strike."""
        if self.by_microphone is not None:
            for press in self.by_microphone.take(verdict):
                self._take(press)

    def ask(self) -> list[object]:
        """What a microphone is to be told of what is due, where that is news."""
        return (
            self.by_microphone.ask(self._due, self._expected_end_s - TELLS_S) if self.by_microphone is not None else []
        )

    @property
    def heard_by(self) -> str:
        """As PassRecord has it."""
        return "microphone" if self.by_microphone is not None else ""

    def unsure_words(self, *, asked: bool = True) -> str:
        """Where a microphone was not sure of so much that the student's word is asked for; else ""."""
        return unsure_words(self.marks(), asked=asked) if self.by_microphone is not None else ""

    def close(self) -> None:
        """Nothing more is heard of it: what was not told by now is not sure."""
        for press in self.by_microphone.close() if self.by_microphone is not None else ():
            self._take(press)

    def pedal(self, down: bool) -> None:
        """The sustain pedal: of a key that is let go while it is down nobody knows how long it was meant to be held."""
        self._pedal = down

    def _release(self, time_s: float, note: int) -> None:
        place = self._down.pop(note, None)
        if place is not None and not self._pedal:
            press = self.presses[place]
            self.presses[place] = replace(press, held_s=time_s - self._latency_s - press.time_s)

    @property
    def day(self) -> str:
        """The student's day on which it began, such as "2026-11-25"; "" where that is not known."""
        return local_day(self.began_at, None).isoformat() if self.began_at is not None else ""

    @property
    def is_heard(self) -> bool:
        """Whether the student played: one stray key is no pass, and the right hand alone is none of the left hand's."""
        return bool(self.presses) and self.marks().is_heard

    @property
    def bars_begun(self) -> int:
        """How many bars of the pass began."""
        return len(self._starts)

    @property
    def is_whole(self) -> bool:
        """Whether its last bar has begun."""
        return len(self._starts) == len(self.arrangement.bars)

    @property
    def start_s(self) -> float:
        """When the first one did."""
        return self._starts[0].start_s

    @property
    def end_s(self) -> float:
        """Where its last bar begun ends."""
        last = self._starts[-1]
        pulses = self.arrangement.bars[len(self._starts) - 1].meter.pulses
        return last.start_s + pulses * 60.0 / last.tempo_bpm

    @property
    def tempo_bpm(self) -> float:
        """Of the latest bar, in pulses a minute."""
        return self._starts[-1].tempo_bpm

    @property
    def beat_s(self) -> float:
        """Seconds of a pulse in the latest bar."""
        return 60.0 / self.tempo_bpm

    @property
    def _opens_s(self) -> float:
        """A press before the first bar line is listened to from here on: where the first chord may be pushed."""
        return min([self.start_s, *(meant_from_s(first) - EDGE_S for first, _ in self._ends)])

    @property
    def _counts_from_s(self) -> float:
        """What was not meant for the first chord counts from here on: where the first window opens."""
        return min([self.start_s, *(first.due_s - first.window_s - EDGE_S for first, _ in self._ends)])

    @property
    def takes_until_s(self) -> float:
        """The last moment (freed of latency) at which its last strike can be played."""
        again_s = self._expected_end_s - self.start_s
        # A repeat is waited for no longer than its window is open, so that the next tempo can begin at the bar line.
        ends = [
            meant_until_s(last, None if last.number else replace(first, due_s=first.due_s + again_s))
            for first, last in self._ends
        ]
        return max(ends) + EDGE_S if ends else self._expected_end_s

    @property
    def _expected_end_s(self) -> float:
        last = self._coming[-1]
        return last.start_s + self.arrangement.bars[-1].meter.pulses * 60.0 / last.tempo_bpm

    @property
    def closes_s(self) -> float | None:
        """When the pass may be marked as a whole; None before its last bar has begun.

        That is once its last strike can no longer come, but always before the bar line, so that what follows can still begin there: where the
        latency is too long for both, the latest presses of the last strike are given up.
        """
        if not self.is_whole:
            return None
        if self.by_microphone is not None:  # it tells late
            return self._coming[-1].start_s if self.by_microphone.has_told_all else self.end_s - TELLS_S
        return min(self.takes_until_s + self._latency_s + TRAVEL_S, self.end_s - CUT_S)

    def marks(self, until_s: float | None = None) -> PassMarks:
        """The marks so far (`until_s`), or of the whole pass."""
        if self.by_microphone is None:
            return self._marks(until_s)
        return self.by_microphone.sure(self._marks(None if until_s is None else until_s - TOLD_S))

    def _marks(self, until_s: float | None) -> PassMarks:
        if until_s is None:
            return mark_pass(
                self._due,
                self.presses,
                own_offset_ms=self.own_offset_ms,
                from_s=self._counts_from_s,
                ceiling=self._ceiling,
                asked=self._asked,
            )
        until_s -= self._latency_s
        if len(self.presses) <= PRESSES_FOR_OCTAVE:
            octave = octave_played(self._due, self.presses)
            if octave != self._octave:
                self._octave = octave
                self._match_again()
        self._matching.settle(until_s - SURE_S)
        return marks_of(self._matching, own_offset_ms=self.own_offset_ms, from_s=self._counts_from_s, until_s=until_s)


def shell_options(stand: Stand) -> ShellOptions:
    """The legal shells of every chord in the loop."""
    return {
        (index, number): tuple(option.midi for option in choice.options)
        for index in stand.loop
        for number, (_, choice) in enumerate(stand.choices_at(index))
    }
