"""Free time: no click; the companion waits on each chord of the loop until its shell is down, or on each note of the melody, or on both hands
(practice/drills/free_time.py), and answers each key that is not in it at once. Needs a keyboard, or a microphone, which hears the left hand's shells alone."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from statistics import median
from typing import Any

from companion.chart.loops import loop_key
from companion.errors import LogError
from companion.groove.model import GrooveBar
from companion.hands.left.model import Choice
from companion.practice.drills.free_answers import answer, found_with, melody_answer, missing_answer, spelled
from companion.practice.drills.free_time import (
    STAGES,
    Found,
    Target,
    Waiting,
    all_up,
    hands_targets,
    is_again,
    key_down,
    key_up,
    next_stage,
    start_waiting,
    strays,
    targets_of,
)
from companion.practice.marking.worst import Try
from companion.practice.model import PassRecord
from companion.practice.reach import left_hand_ceiling
from companion.session.after_pass import of_waits
from companion.session.changes import ChordIndex, Sign
from companion.session.ear import STRIKE_AGAIN, Ear
from companion.session.memory import Log
from companion.session.minutes import Minutes
from companion.session.outcome import Outcome, PassResult, PlayedPass, make_record, place_row
from companion.session.stand import Stand
from companion.session.wall_clock import within_calendar
from companion.sound.listening.messages import MicrophoneOff, MicrophoneReady
from companion.sound.listening.verdicts import NOT_SURE, RIGHT, StrokeVerdict
from companion.sound.messages import NoteIn, Notice
from companion.store.log.entry import Entry, SavedState
from companion.theory.chord import Chord
from companion.theory.pitch import Tone

SLOWEST_SHOWN = 3  # changes in the summary
FEWEST_APART = 4  # strokes of both hands that say how they lie against each other (our own choice)
LINED_UP = "lined up"  # the kind of state that says where both hands stand
STAGE_WORDS = {
    "chords": "Chord by chord: each shell together with the first note over it.",
    "bars": "Bar by bar now: every note of the melody, each shell with what is over it.",
}
LONGEST_WAIT_S = 60.0  # what is longer was spent away from the keyboard and is not counted as practice


SHELLS_ALONE = "Your left hand's shells are listened for; play any melody above."
NOTHING_TO_WAIT_FOR = "Your hands have nothing to play in this loop, so there is nothing to wait for."


class FreeTime:
    """Goes round the loop, chord by chord. target: what is waited for. result: the last time round, None before.

    answer: what there is to say of the keys struck last, "" for nothing. say: a sentence for the screen. stage: of lining both hands up, one
    of free_time.STAGES. ear: the microphone's.
    """

    def __init__(
        self,
        stand: Stand,
        log: Log,
        now_s: float,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        minutes: Minutes | None = None,
        ear: Ear | None = None,
    ) -> None:
        self.stand = stand
        self._ear = ear or Ear()
        self._rounds = 0
        self.result: PassResult | None = None
        self.answer = self.say = ""
        self._log = log
        self._now: Callable[[], datetime] = lambda: within_calendar(now())
        self._minutes = minutes or Minutes()
        self._octave: int | None = None  # how much higher than written the melody is played, None before its first note
        self.stage = self._kept_stage()
        self._start(now_s)
        if self._waiting.hands == "both":
            self.say = STAGE_WORDS[self.stage]
        elif not self._is_whole:
            self.say = SHELLS_ALONE
        self._ask()

    def _start(self, now_s: float) -> None:
        bars, hands = self.stand.arrangement().bars, self.stand.hands
        self._melody = {bar.index: _melody_of(bar) for bar in bars}
        self._is_whole = True  # whether all that the hands play is asked for
        if hands == "both" and not any(bar.written for bar in bars):
            hands = "left"  # the melody rests here
        elif hands == "both" and self._ear.listens:
            hands, self._is_whole = "left", False
        targets = targets_of(bars) if hands == "left" else hands_targets(bars, hands, self.stage)
        targets = tuple(target.higher(self._octave or 0) for target in targets)
        self._waiting: Waiting = start_waiting(targets, now_s, left_hand_ceiling(bars), hands)
        self._began_s = now_s
        self._rounds += 1
        self._heard_by = ""

    def _ask(self) -> None:
        """Have the microphone wait for what is waited for."""
        target, waiting = self.target, self._waiting
        if target is None or target.right:
            self._ear.wait_for(None)
            return
        turn, melody = (self._rounds, len(waiting.found)), self._melody[target.index]
        self._ear.wait_for(turn, target.notes, melody, waiting.since_s, waiting.ceiling)

    def _kept_stage(self) -> str:
        """Where lining the hands up was left on this loop."""
        kept: object = None
        if self.stand.hands == "both":
            with contextlib.suppress(LogError):
                kept = self._log.state(self.stand.song.id, loop_key(self.stand.loop), LINED_UP, "both")
        return str(kept) if kept in STAGES else STAGES[0]

    @property
    def target(self) -> Target | None:
        """None only where the loop holds no chord at all."""
        return self._waiting.target

    @property
    def shown(self) -> dict[str, Any]:
        """What of it is to be drawn, as fields of session.changes.State."""
        return {"waiting": self.target, "down": self._waiting.down, "answer": self.answer}

    @property
    def signs(self) -> dict[ChordIndex, Sign]:
        """How each shell was found: right at once, or wrong where other keys came first; this time round, else the last."""
        rows = self.result.record.chords if self.result else ()
        before = {(row["index"], row["chord"]): Sign(row["verdict"], fresh=False) for row in rows}
        return before | {(each.target.index, each.target.chord): Sign(_verdict(each)) for each in self._waiting.found}

    def hear(self, report: object) -> None:
        """Take a report of the sound process."""
        if isinstance(report, MicrophoneOff) or (isinstance(report, Notice) and report.kind == "lost"):
            self._waiting, self.answer = all_up(self._waiting), ""
        if isinstance(report, MicrophoneReady) and self._ear.listens and self._waiting.hands == "both":
            self._start(self._waiting.since_s)  # shells alone from now on
        if (verdict := self._ear.take(report)) is not None:
            self._hear_stroke(verdict)
        elif isinstance(report, NoteIn) and report.velocity == 0:
            self._let_go(report.note)
        elif isinstance(report, NoteIn):
            self._press(report.time_s, report.note)
            self._finish_if_over(report.time_s)
        self._ask()

    def _hear_stroke(self, verdict: StrokeVerdict) -> None:
        """What the microphone heard, as keys; those of a shell that was found are let go at once, others are seen until the next stroke."""
        self._waiting = all_up(self._waiting)
        if verdict.kind == NOT_SURE:
            self.answer = STRIKE_AGAIN
            return
        self._heard_by = "microphone"
        for note in verdict.notes:
            self._press(verdict.onset_s, note.midi)
        if verdict.kind == RIGHT:
            self._waiting = all_up(self._waiting)
        self._finish_if_over(verdict.onset_s)

    def _finish_if_over(self, now_s: float) -> None:
        if self._waiting.is_over and self._waiting.found:
            self._finish(now_s)

    def _press(self, time_s: float, note: int) -> None:
        self._find_octave(note)
        before, target = self._waiting, self._waiting.target
        self._waiting = key_down(before, time_s, note)
        if target is None:
            return
        key = self.stand.key
        if self._waiting.found != before.found:
            found = self._waiting.found[-1]
            chord = self._choice(found.target).slot.chord
            self.answer = (
                found_with(found.along, self._symbol(found.target), chord, key) if found.along and chord else ""
            )
        elif is_again(self._waiting):
            self.answer = f"That is the shell before: {self._symbol(target)} is next."
        elif astray := strays(self._waiting):
            self.answer = self._answer(target, astray)
        elif note in target.notes:
            self.answer = ""  # what the right hand plays meanwhile changes nothing

    def _let_go(self, note: int) -> None:
        """A chord of the right hand that is let go though not all of it was down has its missing notes named."""
        target, fresh = self._waiting.target, self._waiting.fresh
        if target is not None and len(target.right) > 1 and note in fresh.intersection(target.right):
            chord = self._choice(target).slot.chord
            missing = [due for due in target.right if due not in fresh]
            if missing and chord is not None and not strays(self._waiting):
                self.answer = missing_answer([self._due_tone(target, due, chord) for due in missing])
        self._waiting = key_up(self._waiting, note)

    def _due_tone(self, target: Target, due: int, chord: Chord) -> Tone:
        """A note of the right hand by its name: the melody's as it is written, one under it as the chord has it."""
        if due == max(target.right):
            return self.stand.melody_pitch(due - (self._octave or 0)).tone
        return spelled(due, chord, self.stand.key)

    def _answer(self, target: Target, astray: frozenset[int]) -> str:
        """A sentence on keys that are not in what is waited for; each is taken for the hand that it lies nearer to."""
        choice = self._choice(target)
        left = target.left or (choice.shell.midi if choice.shell and self._waiting.hands != "right" else ())
        melody = {
            note
            for note in astray
            if target.right
            and min(abs(note - due) for due in target.right) < min((abs(note - due) for due in left), default=128)
        }
        if melody and choice.slot.chord is not None:
            open_notes = set(target.right) - self._waiting.fresh or set(target.right)
            note, due = min(
                ((key, due) for key in melody for due in open_notes), key=lambda pair: abs(pair[0] - pair[1])
            )
            tone, is_melody = self._due_tone(target, due, choice.slot.chord), due == max(target.right)
            return melody_answer(note, due, tone, choice.slot.chord, self.stand.key, is_melody=is_melody)
        return answer(choice, astray - melody, self._waiting.down, self.stand.key) if target.left else ""

    def _find_octave(self, note: int) -> None:
        """The first note of the melody, with all that goes under it, says in which octave it is played."""
        target = self._waiting.target
        if self._octave is not None or target is None or not target.right or note in target.left:
            return
        struck = (self._waiting.fresh | {note}).difference(target.left)
        off = max(struck) - max(target.right)
        if off % 12 or abs(off) > 24 or struck != {due + off for due in target.right}:
            return
        self._octave = off
        if off:
            later = tuple(each.higher(off) for each in self._waiting.targets)
            kept = [pair for pair in zip(self._waiting.extra, self._waiting.extra_s) if pair[0] not in struck]
            extra, extra_s = tuple(key for key, _ in kept), tuple(at_s for _, at_s in kept)
            self._waiting = replace(self._waiting, targets=later, extra=extra, extra_s=extra_s)
            self.say = f"The melody {'higher' if off > 0 else 'lower'} than written: taken there."

    def stop(self, now_s: float) -> PassResult | None:
        """The summary where one stops: of what was found this time round, which is no whole pass and not logged; else of the last time
        round. None where nothing was found."""
        self._ear.wait_for(None)
        found, waits_for = self._waiting.found, self._waiting.target
        if not found or waits_for is None:
            return self.result
        record = self._record(found, now_s)
        self._minutes.count(record.duration_s, self._now())
        head = f"Stopped at {self._symbol(waits_for)}: {len(found)} of {len(self._waiting.targets)} {self._what}"
        return self._told(found, record, f"{head}, {_at_once(found)} of them found at once.")

    def _finish(self, now_s: float) -> None:
        found = self._waiting.found
        record = self._record(found, now_s)
        self.result = PassResult(
            record, self._summary(found, f"{_at_once(found)} of {len(found)} {self._what} found at once.")
        )
        self._minutes.count(record.duration_s, self._now())
        stage = next_stage(self.stage, _at_once(found) / len(found)) if self._waiting.hands == "both" else self.stage
        if stage != self.stage:
            self.stage, self.say = stage, STAGE_WORDS[stage]
        try:
            if self._waiting.hands == "both":
                kept = SavedState(record.song_id, loop_key(self.stand.loop), LINED_UP, stage, "both")
                self._log.write(Entry(record, (kept,)))
            else:
                self._log.add_pass(record)
        except LogError as error:
            self.say = str(error)
        last = self._waiting  # its shell is still held
        self._start(now_s)
        self._waiting = replace(self._waiting, down=last.down, before=last.before)

    def _record(self, found: tuple[Found, ...], now_s: float) -> PassRecord:
        duration_s = sum(min(each.hesitation_s, LONGEST_WAIT_S) for each in found)
        slipped = frozenset(each.target.index for each in found if each.extra)
        clean = _at_once(found)
        began_at = self._now() - timedelta(seconds=now_s - self._began_s)
        played = PlayedPass(began_at, duration_s, self.stand.loop, tempo_bpm=0.0, kind="free")
        outcome = Outcome("heard", share_right=clean / len(found), slipped=slipped, heard_by=self._heard_by)
        is_whole = self._is_whole and (self._waiting.hands != "both" or self.stage == STAGES[-1])
        rows = tuple(self._row(each) for each in found)
        return make_record(self.stand, played, outcome, clean=is_whole and clean == len(found), chords=rows)

    def _row(self, found: Found) -> dict[str, Any]:
        return {
            **place_row(self.stand, found.target.index, found.target.chord),
            **({} if found.target.left else {"part": "right"}),
            "verdict": _verdict(found),
            "offset_ms": None,
            "played": list(found.target.notes),
            "hesitation_ms": round(1000 * found.hesitation_s),
        }

    def _told(self, found: tuple[Found, ...], record: PassRecord, head: str) -> PassResult:
        tries = [
            Try((each.target.index, each.target.chord), _verdict(each), min(each.hesitation_s, LONGEST_WAIT_S))
            for each in found
        ]
        return PassResult(record, self._summary(found, head), advice=of_waits(tries))

    def _summary(self, found: tuple[Found, ...], head: str) -> tuple[str, ...]:
        symbols = [self._symbol(each.target) for each in found]
        changes = [
            (each.hesitation_s, f"{before} to {after}")
            for before, after, each in zip(symbols, symbols[1:], found[1:], strict=False)
            if before != after
        ]
        slowest = sorted(changes, reverse=True)[:SLOWEST_SHOWN]
        lines = [head]
        apart = [each.apart_ms for each in found if each.apart_ms is not None]
        if len(apart) >= FEWEST_APART:
            first = "the melody first" if median(apart) > 0 else "the left hand first"
            lines.append(f"Together within {abs(median(apart)):.0f} ms as a rule, {first}.")
        if slowest:
            lines.append("Longest waits:")
            lines += [f"  {words}: {hesitation_s:.1f} s" for hesitation_s, words in slowest]
        return tuple(lines)

    def _choice(self, target: Target) -> Choice:
        return self.stand.choices_at(target.index)[target.chord][1]

    @property
    def _what(self) -> str:
        return {"left": "shells", "right": "notes", "both": "strokes"}[self._waiting.hands]

    def _symbol(self, target: Target) -> str:
        return self.stand.bars[target.index].chords[target.chord].symbol


def _melody_of(bar: GrooveBar) -> tuple[int, ...]:
    """The right hand's notes of a bar, MIDI numbers."""
    return tuple(note for strike in bar.written if strike.part == "right" for note in strike.notes)


def _verdict(found: Found) -> str:
    return "wrong" if found.extra else "right"


def _at_once(found: tuple[Found, ...]) -> int:
    """How many were found without another key."""
    return sum(not each.extra for each in found)
