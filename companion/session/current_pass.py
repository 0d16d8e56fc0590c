"""The pass being played, as far as it is heard: its bars, the keys and the pedal that are meant for it, its marks up to now."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from companion.groove.model import Arrangement
from companion.practice.model import PassMarks
from companion.session.beats import one_comes_before
from companion.session.beats import stood_still as stood_still_between
from companion.session.passes import PassEar
from companion.session.stand import Stand
from companion.sound.messages import BeatReport, NoteIn, PedalIn

if TYPE_CHECKING:
    from companion.sound.listening.messages import StrikeHeard

EARLY_S = 4.0  # how long a key is remembered that may be for the next pass: the earliest push and the latency, and more


class CurrentPass:
    """ear: what collects the pass, None between two. beat: the latest one since the count-in, None before. port: the keyboard that a key was
    pressed on last. Times are the sound process's seconds."""

    def __init__(self, latency_ms: float, now: Callable[[], datetime]) -> None:
        self.ear: PassEar | None = None
        self.beat: BeatReport | None = None
        self.port = ""
        self._latency_s = latency_ms / 1000.0
        self._now = now
        self._marks: PassMarks | None = None
        self._marks_until_s: float | None = None  # up to when they are to be worked out anew
        self._early: list[NoteIn] = []  # keys that may be for the pass to come
        self._pedal = False  # whether it is down
        self._heard_until_s = -math.inf  # presses up to then, freed of latency, belong to passes that are closed

    def count_in(self) -> None:
        """Nothing that was played is for what is counted in now."""
        self.forget()
        self.beat = None
        self._early.clear()
        self._heard_until_s = -math.inf

    def forget(self) -> None:
        """Nothing of this pass is marked."""
        self.ear = None
        self.mark(None)

    # --- its bars

    def begin(self, stand: Stand, arrangement: Arrangement, beat: BeatReport, *, keys: bool, microphone: bool) -> None:
        """It begins with this beat. keys: those played a little before the bar line are for it; else it is not marked. microphone: one hears it."""
        ear = PassEar(
            stand,
            arrangement,
            self._latency_s,
            after_s=self._heard_until_s,
            began_at=self._now(),
            microphone=microphone,
        )
        ear.bar_began(beat.due_s, beat.tempo_bpm)
        ear.pedal(self._pedal)
        for key in self._early if keys else ():
            ear.press(key.time_s, key.note, key.velocity)
        self.ear = ear

    def goes_on(self, beat: BeatReport) -> list[object]:
        """A beat of it, or of what is no pass; gives what a microphone is to be told."""
        self.beat = beat
        if self.ear is not None and beat.pulse == 0 and beat.position > 0:
            if beat.position == self.ear.bars_begun:
                self.ear.bar_began(beat.due_s, beat.tempo_bpm)
            else:  # a change led elsewhere
                self.forget()
        if self.ear is None:
            return []
        if self.ear.presses:
            self._marks_until_s = max(beat.due_s, self._marks_until_s or beat.due_s)
        return self.ear.ask()

    def stood_still(self, beat: BeatReport) -> bool:
        """Whether that beat comes so late that time stood still in this pass."""
        return self.ear is not None and self.beat is not None and stood_still_between(self.beat, beat)

    @property
    def is_whole(self) -> bool:
        """Whether its last bar has begun."""
        return self.ear is not None and self.ear.is_whole

    @property
    def closes_s(self) -> float | None:
        """When it may be marked; None too while a beat before that has not been told: where the sound hangs no key is heard either."""
        if self.ear is None or self.beat is None:
            return None
        closes_s = self.ear.closes_s
        return None if closes_s is None or one_comes_before(self.beat, closes_s) else closes_s

    def close(self) -> PassEar | None:
        """It is over: what is meant for it belongs to no other."""
        ear, self.ear = self.ear, None
        if ear is not None:
            self._heard_until_s = ear.takes_until_s
            ear.close()
        return ear

    # --- what is heard

    def key(self, key: NoteIn, *, counts: bool) -> None:
        """A key went down or up. counts: the pass is marked."""
        self._early = [other for other in self._early if key.time_s - other.time_s < EARLY_S] + [key]
        if key.velocity > 0:
            self.port = key.port
        if counts and self.ear is not None:
            self.ear.press(key.time_s, key.note, key.velocity)

    def pedal(self, report: PedalIn) -> None:
        """The sustain pedal went down or up."""
        self._pedal = report.down
        if self.ear is not None:
            self.ear.pedal(report.down)

    def strike(self, heard: StrikeHeard) -> None:
        """What a microphone heard of a strike."""
        if self.ear is not None:
            self.ear.verdict(heard.verdict)
            self._marks_until_s = max(heard.said_s, self._marks_until_s or heard.said_s)

    # --- its marks

    @property
    def marks(self) -> PassMarks | None:
        """Up to its latest beat, worked out when they are looked at; once it is over those of the whole pass."""
        if self._marks_until_s is not None and self.ear is not None:
            self.mark(self.ear.marks(self._marks_until_s))
        return self._marks

    def mark(self, marks: PassMarks | None) -> None:
        """These are its marks."""
        self._marks = marks
        self._marks_until_s = None
