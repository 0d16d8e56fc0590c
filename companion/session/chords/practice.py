"""Chords in root position, between the student, the practice and the sound process: the companion waits on each, or they go by with the click.

Without a keyboard the student's word counts; the shells of the drill of names a microphone hears too, played by the left hand. Times are seconds of the sound process's clock."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from itertools import count

from companion.practice.drills.root_position import NAMES
from companion.session.chords.memory import KIND, SHELL_KIND, ChordMemory, Log
from companion.session.chords.rounds import Setup, items_of, timed_round, to_hear
from companion.session.chords.shown import Shown
from companion.session.chords.timed import ClickedRound
from companion.session.chords.waiting import WaitingRound
from companion.session.ear import STRIKE_AGAIN, Ear
from companion.session.minutes import Minutes
from companion.session.playback import Playback
from companion.session.stand import TEMPO_LIMITS, Stand
from companion.sound.listening.messages import StrokeHeard
from companion.sound.listening.verdicts import NOT_SURE, RIGHT, StrokeVerdict
from companion.sound.messages import BeatReport, Finished, KeyboardGone, NoteIn, Notice, SetTempo, Started

NO_CHORD = "No chord is played in this loop, so there is none to learn."
_LISTEN_BPM = 80.0


class RootPosition:
    """stand: whose chords are practised. setup: how. latency_s: of the keyboard. chance: from 0 to below 1. microphone: whether one listens, and no keyboard is heard."""

    def __init__(
        self,
        stand: Stand,
        setup: Setup,
        log: Log,
        playback: Playback,
        *,
        latency_s: float = 0.0,
        minutes: Minutes | None = None,
        clock: Callable[[], float] = time.perf_counter,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        chance: Callable[[], float] = random.random,
        microphone: Callable[[], bool] = lambda: False,
    ) -> None:
        self.stand, self.setup = stand, setup
        self._log, self._playback, self._latency_s = log, playback, latency_s
        self._minutes, self._clock, self._now, self._chance = minutes or Minutes(), clock, now, chance
        self._ear, self._turns = Ear(playback.send, microphone), count(1)
        self._answer = ""  # to a stroke that was not surely heard
        self._memory = self._memory_for(setup)
        self._round: WaitingRound | ClickedRound | None = None
        self._down: frozenset[int] = frozenset()  # keys that are held while nothing is practised
        self._lines: tuple[str, ...] = ()
        self._fault = ""
        self._number = 0  # of what the sound process plays for us
        self._is_taken_up = False

    @property
    def playing(self) -> bool:
        """Between start and end."""
        return self._round is not None

    @property
    def shown(self) -> Shown:
        """What is to be drawn now."""
        if self._round is not None:
            return replace(self._round.shown, answer=self._answer) if self._answer else self._round.shown
        items = items_of(self.stand, self.setup)
        return Shown(items[0] if items else None, down=self._down, lines=self._lines)

    @property
    def wake_s(self) -> float | None:
        """When `tick` is next wanted; None for not at all."""
        return self._round.wake_s if self._round is not None else None

    def say(self) -> str:
        """A sentence of what went wrong since this was last asked, "" for none."""
        said, self._fault, self._memory.say = self._fault or self._memory.say, "", ""
        return said

    def _memory_for(self, setup: Setup) -> ChordMemory:
        return ChordMemory(self._log, setup.hand, self._now, SHELL_KIND if setup.way == NAMES else KIND)

    # --- a round

    def change(self, setup: Setup) -> None:
        """Practise otherwise; what was begun is broken off."""
        self.stop()
        if (setup.hand, setup.way) != (self.setup.hand, self.setup.way):
            self._memory = self._memory_for(setup)
        self.setup, self._lines = setup, ()

    def start(self) -> None:
        """Begin a round."""
        self.stop()
        self._lines = ()
        if not self.setup.in_time:
            self._start_waiting()
        elif (timed := timed_round(self.stand, self.setup, self._memory.known, self._chance)) is not None:
            self._round = ClickedRound(timed, self._memory, self._down)
            self._is_taken_up = False
            self._number = self._playback.play_apart(timed.arrangement(), self.setup.tempo_bpm)
        else:
            self._fault = NO_CHORD

    def _start_waiting(self) -> None:
        self._playback.silence()
        try:
            self._round = WaitingRound(
                self.stand, self.setup, self._memory, self._chance, self._clock(), self._turn, self._down
            )
        except ValueError:
            self._fault = NO_CHORD
            return
        self._turn()
        self._ask()

    def _turn(self) -> None:
        self._answer, self._turn_number = "", next(self._turns)
        if self.setup.hear_first:
            self.listen()

    @property
    def hears_shells(self) -> bool:
        """Whether a microphone hears what is asked for: shells by name, that the left hand plays at leisure."""
        setup = self.setup
        return self._ear.listens and setup.way == NAMES and setup.hand == "left" and not setup.in_time

    def _ask(self) -> None:
        """Have the microphone wait for the shell whose turn it is."""
        if isinstance(self._round, WaitingRound) and self.hears_shells:
            self._ear.wait_for(self._turn_number, self._round.due, from_s=self._round.since_s)
        else:
            self._ear.wait_for(None)

    def stop(self) -> None:
        """Break off. What was played so far is kept, and told."""
        if self._round is not None:
            self._playback.silence()
            self._end()

    def _end(self) -> None:
        ended, self._round = self._round, None
        self._ask()
        if ended is not None:
            self._lines, self._down = ended.lines, ended.down
            self._minutes.count(ended.played_s, self._now())

    # --- what is heard

    def hear(self, report: object) -> None:
        """Take a report of the sound process."""
        if (verdict := self._ear.take(report)) is not None and isinstance(report, StrokeHeard):
            self._hear_stroke(verdict, report.said_s)
        elif isinstance(report, NoteIn):
            self._key(report)
        elif isinstance(report, KeyboardGone) or (isinstance(report, Notice) and report.kind == "lost"):
            self._down = frozenset()
            if self._round is not None:
                self._round.lost()
        elif isinstance(self._round, ClickedRound):
            self._follow(self._round, report)
        self._ask()

    def _hear_stroke(self, verdict: StrokeVerdict, said_s: float) -> None:
        """What the microphone heard, as keys; those of a shell that was found are let go at once."""
        assert isinstance(self._round, WaitingRound)
        self._round.lost()
        self._answer = STRIKE_AGAIN if verdict.kind == NOT_SURE else ""
        for note in verdict.notes:
            if not self._round.is_over:
                self._round.press(verdict.onset_s, note.midi, said_s)
        if verdict.kind == RIGHT:
            self._round.lost()
        self._end_if_over()

    def _follow(self, clicked: ClickedRound, report: object) -> None:
        """What the sound process tells of our click; what it tells before it took that up is of something else."""
        if isinstance(report, Started):
            self._is_taken_up = report.number in (None, self._number)
        elif isinstance(report, BeatReport) and self._is_taken_up:
            clicked.beat(report)
            clicked.tick(report.due_s)
        elif isinstance(report, Finished) and self._is_taken_up:
            clicked.tick(float("inf"))
            self._end()

    def _key(self, report: NoteIn) -> None:
        if self._round is None:
            self._down = self._down - {report.note} if report.velocity == 0 else self._down | {report.note}
        elif report.velocity == 0:
            self._round.release(report.note)
        else:
            late_s = self._latency_s if isinstance(self._round, ClickedRound) else 0.0
            self._round.press(report.time_s - late_s, report.note)
            self._end_if_over()

    def _end_if_over(self) -> None:
        if isinstance(self._round, WaitingRound) and self._round.is_over:
            self._end()

    def tick(self, now_s: float) -> None:
        """Show the keys of a chord that takes long; with the click close chords whose time is over."""
        if self._round is not None:
            self._round.tick(now_s - (self._latency_s if isinstance(self._round, ClickedRound) else 0.0))

    # --- the student's word, and listening

    def word(self) -> None:
        """The student has the chord, as no keyboard is there to tell."""
        if isinstance(self._round, WaitingRound):
            self._round.word(self._clock())
            self._end_if_over()
            self._ask()

    def was_wrong(self) -> None:
        """The chord before was wrong, says the student; with the click, the one of now."""
        if self._round is not None:
            self._round.was_wrong()

    def look(self) -> None:
        """Show the keys of the chord that is looked for."""
        if self._round is not None:
            self._round.look()

    def listen(self) -> None:
        """Let the chord be heard as it is to be played; while a click goes along, its notes at once."""
        item = self.shown.now
        if item is None:
            return
        if len(item.steps) == 1 or isinstance(self._round, ClickedRound):
            self._playback.sample(item.steps[0] if len(item.steps) == 1 else item.close.midi)
        else:
            self._playback.play_apart(to_hear(item), _LISTEN_BPM)

    def change_tempo(self, tempo_bpm: float) -> None:
        """Pulses a minute, held within TEMPO_LIMITS; while it clicks from the next beat on."""
        low, high = TEMPO_LIMITS
        self.setup = replace(self.setup, tempo_bpm=min(high, max(low, tempo_bpm)))
        if isinstance(self._round, ClickedRound):
            self._playback.send(SetTempo(self.setup.tempo_bpm))
