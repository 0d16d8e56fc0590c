"""How well the ear that waits hears a shell whose time nobody knows: students made up, who think for seconds, strike, and strike again by what they are told. Run by hand:

    python tests/bench/awaited.py [--takes 1] [--first SEED] [--only WORDS] [-v]

Each piano is heard by weights made from the others (made beforehand by `listening_train.py apart`). Pianos, rooms and noise are those of listening_takes.py, the pianos those that may be looked at (LOOKED_AT in pianos_sampled.py). A student waits 1 to 6 s before each shell, at times less than one,
strikes another thing in a third of the cases (KINDS), strikes again where that was not enough, strikes four to the bar before going on, rolls, plays a shell one note after the other, holds a
note over into the next shell, and plays a melody above.

Of 100 right shells at their first strike: taken; called wrong (a note named that is not in the shell); of wrong ones: taken for right, called wrong, the very notes named. strikes again: how often a right shell was
struck until it was taken, at most, and how many were never. idle: what else was struck (the shell before again, the melody), and how much of it was taken for the shell, or called wrong. after: from
the last key to "right", median and 95 of 100, in heard time. core: processor time against the length of the take.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from unittest.mock import patch

import numpy as np

TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

import listening_takes as takes
from bench.listening_train import apart_path
from listening_conditions import MEASURED, Condition
from listening_rooms import Place, noise_of, rms
from pianos_sampled import LOOKED_AT, RATE, Bank, bank, is_here

from companion.practice.drills.free_time import targets_of
from companion.practice.reach import RIGHT_HAND_ABOVE
from companion.sound.listening import awaiting
from companion.sound.listening.awaiting import WaitingEar
from companion.sound.listening.judge import odds
from companion.sound.listening.scale import learn
from companion.sound.listening.verdicts import NOT_SURE, RIGHT, WRONG, Awaited, StrokeVerdict

BLOCK = 320  # samples, 20 ms, as live
TARGETS = 16  # shells of a take
WRONG_SHARE = 0.33
KINDS = ("third", "other shell", "semitone", "octave", "chord before", "one note")
PATIENCE_S = 1.0  # without an answer the student strikes again
MOST_STRIKES = 4
LOUD_VELOCITY = 74
CONDITIONS = tuple(
    condition
    for condition in MEASURED
    if condition.name
    in (
        "plain room",
        "dry room",
        "live room",
        "noise 30 dB below",
        "laptop microphone",
        "soft and loud",
        "rolled to 60 ms",
        "melody above, due",
        "melody above, not told",
    )
)


@dataclass
class Stroke:
    """kind: "right", one of KINDS, "again" (the shell before, once more) or "melody". keys: with their onsets. first: of its target. said: what was told of it."""

    kind: str
    keys: list[tuple[int, float]]
    notes: tuple[int, ...] = ()  # that are awaited
    before: tuple[int, ...] = ()
    first: bool = False
    number: int = 0
    said: list[StrokeVerdict] = field(default_factory=list)
    after_ms: float | None = None
    way: str = ""  # how a right one was struck: "", "one by one", "held over"

    @property
    def onset_s(self) -> float:
        return min(at_s for _, at_s in self.keys)

    @property
    def result(self) -> str:
        """What it came to: one note after the other of the shell is nothing against the player."""
        kinds = {each.kind for each in self.said}
        if RIGHT in kinds:
            return "taken"
        if any(each.kind == WRONG and self.names_another(each) for each in self.said):
            return "wrong"
        if WRONG in kinds:
            return "part"
        return "unsure" if NOT_SURE in kinds else "nothing"

    def names_another(self, said: StrokeVerdict) -> bool:
        return bool({note.midi for note in said.notes} - set(self.notes))

    @property
    def is_held_against(self) -> bool:
        return any(each.kind == WRONG and self.names_another(each) for each in self.said)

    @property
    def is_named(self) -> bool:
        keys = {note for note, _ in self.keys}
        return any(each.kind == WRONG and {note.midi for note in each.notes} == keys for each in self.said)


class Room:
    """Sound that is made while it is heard. One piano, one place."""

    def __init__(self, piano: str, condition: Condition, rng: np.random.Generator) -> None:
        self._bank: Bank = bank(piano)
        self._place = Place.some(condition, rng)
        self._condition, self._rng = condition, rng
        dry = np.zeros(2 * RATE, dtype=np.float32)
        for note in (45, 55):
            takes.add(dry, self._bank, note, LOUD_VELOCITY, 0.1, 0.7)
        self.loud = rms(dry)
        self._gain = 10.0 ** rng.uniform(-1.0, 0.3)
        scale = self._place.heard(takes.scale_sound(self._bank, rng), rng)
        self.scale = (self._gain * (scale + noise_of(condition, len(scale), self.loud, rng))).astype(np.float32)
        self._sound = np.zeros(0, dtype=np.float32)

    def strike(self, note: int, velocity: float, at_s: float, held_s: float) -> None:
        dry = np.zeros(int(3.2 * RATE), dtype=np.float32)
        takes.add(dry, self._bank, note, int(np.clip(velocity, 20, 120)), 0.0, held_s)
        start, wet = round(at_s * RATE), self._gain * self._place.heard(dry, self._rng)
        self._reach(start + len(wet))
        self._sound[start : start + len(wet)] += wet

    def _reach(self, size: int) -> None:
        while len(self._sound) < size:
            more = noise_of(self._condition, 30 * RATE, self.loud, self._rng)
            self._sound = np.concatenate([self._sound, (self._gain * more).astype(np.float32)])

    def block(self, at: int) -> np.ndarray:
        self._reach(at + BLOCK)
        return self._sound[at : at + BLOCK]


class Student:
    """Plays shell after shell. strokes: all that was struck, in order."""

    def __init__(self, piano: str, condition: Condition, seed: int) -> None:
        self.rng = np.random.default_rng((seed, sum(map(ord, piano + condition.name))))
        self.condition = condition
        self.room = Room(piano, condition, self.rng)
        self.targets = self._targets()
        self.strokes: list[Stroke] = []
        self.held_until_s: dict[int, float] = {}
        self.melody: list[tuple[int, ...]] = [
            tuple(int(note) for note in self.rng.integers(65, 85, 3)) if condition.melody_db is not None else ()
            for _ in self.targets
        ]

    def stroke_of(self, said: StrokeVerdict, present: Stroke) -> Stroke:
        """What was told of: the stroke with a key just then, of the left hand before all others, else the last before it."""
        near = [one for one in self.strokes if any(abs(at_s - said.onset_s) <= 0.06 for _, at_s in one.keys)]
        before = [one for one in self.strokes if one.onset_s <= said.onset_s + 0.06]
        return max(near or before, key=lambda one: (bool(near) and one.kind != "melody", one.onset_s), default=present)

    def _targets(self) -> list[tuple[int, ...]]:
        while True:
            stand = takes._stand(int(self.rng.integers(len(takes.SONGS))))
            notes = [target.notes for target in targets_of(stand.arrangement().bars)]
            if len(notes) >= TARGETS:
                first = int(self.rng.integers(len(notes) - TARGETS + 1))
                return notes[first : first + TARGETS]

    def awaited(self, number: int, from_s: float) -> Awaited:
        also = self.melody[number] if self.condition.melody_told else ()
        return Awaited(
            number, self.targets[number], also, from_s, max(top[-1] for top in self.targets) + RIGHT_HAND_ABOVE
        )

    def think_s(self) -> float:
        return float(self.rng.uniform(0.45, 1.0) if self.rng.random() < 0.15 else self.rng.uniform(1.0, 6.0))

    def strike(self, number: int, from_s: float, *, first: bool) -> Stroke:
        """The next stroke for a target, at the earliest so late."""
        rng, notes = self.rng, self.targets[number]
        before = self.targets[number - 1] if number else ()
        at_s = from_s + (self.think_s() if first else float(rng.uniform(0.6, 2.5)))
        kind = "right" if not first or rng.random() >= WRONG_SHARE else str(rng.choice(KINDS))
        if first and before and before != notes and rng.random() < 0.2:
            at_s = self._again(before, notes, from_s, number) + float(rng.uniform(0.5, 2.0))
        kept = set(notes) & set(before) if first and kind == "right" else set()
        way = ""
        if (
            kept
            and kept != set(notes)
            and before != notes
            and self.strokes
            and self.strokes[-1].kind == "right"
            and rng.random() < 0.5
        ):
            way = "held over"
            at_s = self.strokes[-1].onset_s + float(rng.uniform(0.6, 2.2))
            at_s = max(at_s, from_s + 0.15)
            keys = tuple(note for note in notes if note not in kept)
        else:
            keys = self._keys(kind, notes, before)
        if keys == notes and kind != "right":
            kind = "right"
        roll_s = (
            float(rng.uniform(0.0, 0.060)) if rng.random() < self.condition.rolls else float(abs(rng.normal(0, 0.004)))
        )
        if kind == "right" and not way and rng.random() < 0.08:
            way, roll_s = "one by one", float(rng.uniform(0.15, 0.6))
        if kind == "one note" and self._holds(set(notes) - set(keys), at_s):
            kind, way = "right", "held over"
        stroke = Stroke(
            kind,
            [(note, at_s + roll_s * place) for place, note in enumerate(keys)],
            notes,
            before,
            first,
            number,
            way=way,
        )
        self._play(stroke, number)
        return stroke

    def _keys(self, kind: str, notes: tuple[int, ...], before: tuple[int, ...]) -> tuple[int, ...]:
        rng, root, upper = self.rng, notes[0], notes[-1]
        change = int(rng.choice((3, 4, -3, -4)) if kind == "third" else rng.choice((-1, 1)))
        match kind:
            case "third" | "semitone":
                keys = (root, upper + change) if rng.random() < 0.5 else (root + change, upper)
            case "other shell":
                keys = (root, root + int(rng.choice([step for step in (3, 4, 9, 10, 11) if root + step != upper])))
            case "octave":
                keys = (root, upper + 12) if rng.random() < 0.5 else (root + 12, upper + 12)
            case "chord before":
                keys = before or (root, upper + 1)
            case "one note":
                keys = (root,) if rng.random() < 0.5 else (upper,)
            case _:
                keys = notes
        return tuple(sorted({min(max(note, 36), 76) for note in keys}))

    def _holds(self, notes: set[int], at_s: float) -> bool:
        return all(self.held_until_s.get(note, 0.0) > at_s for note in notes)

    def _again(self, before: tuple[int, ...], notes: tuple[int, ...], from_s: float, number: int) -> float:
        """The shell that was found struck on, as in four to the bar; when its last stroke came."""
        step_s, at_s = float(self.rng.uniform(0.4, 0.7)), from_s
        for _ in range(int(self.rng.integers(1, 4))):
            at_s += step_s
            self._play(Stroke("again", [(note, at_s) for note in before], notes, before, number=number), number)
        return at_s

    def _play(self, stroke: Stroke, number: int) -> None:
        rng = self.rng
        self.strokes.append(stroke)
        velocity = float(rng.uniform(*self.condition.velocities))
        later = self.targets[number + 1] if number + 1 < len(self.targets) else ()
        for note, at_s in stroke.keys:
            own = velocity + rng.normal(0, 6)
            held_s = 2.55 if note in later and stroke.kind == "right" else float(rng.choice((0.15, 0.5, 1.0, 2.5)))
            if stroke.way == "one by one":
                held_s = max(held_s, 1.0)
            self.room.strike(note, own, at_s, held_s)
            self.held_until_s[note] = at_s + held_s
        if self.melody[number]:
            self._sing(stroke, number)

    def _sing(self, stroke: Stroke, number: int) -> None:
        """A note of the melody with it, and one by itself later."""
        rng, own = self.rng, [int(note) for note in self.rng.permutation(self.melody[number])]
        if rng.random() < 0.6:
            self.room.strike(own[0], rng.uniform(50, 100), stroke.onset_s + rng.normal(0, 0.015), rng.uniform(0.2, 0.6))
        if rng.random() < 0.3:
            at_s = stroke.onset_s + float(rng.uniform(0.35, 0.8))
            self.strokes.append(Stroke("melody", [(own[1], at_s)], stroke.notes, stroke.before, number=number))
            self.room.strike(own[1], rng.uniform(50, 100), at_s, rng.uniform(0.2, 0.6))


@dataclass
class Tally:
    first: Counter = field(default_factory=Counter)
    ways: Counter = field(default_factory=Counter)
    wrong: Counter = field(default_factory=Counter)
    by_kind: Counter = field(default_factory=Counter)
    idle: Counter = field(default_factory=Counter)
    again: Counter = field(default_factory=Counter)
    after_ms: list[float] = field(default_factory=list)
    named: int = 0
    work_s: float = 0.0
    sound_s: float = 0.0
    faults: list[str] = field(default_factory=list)

    def __iadd__(self, other: Tally) -> Tally:
        for name in ("first", "ways", "wrong", "by_kind", "idle", "again"):
            getattr(self, name).update(getattr(other, name))
        for name in ("after_ms", "named", "work_s", "sound_s", "faults"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        return self

    def row(self) -> str:
        right, wrong, idle = (sum(counts.values()) or 1 for counts in (self.first, self.wrong, self.idle))
        after = np.percentile(self.after_ms, [50, 95]) if self.after_ms else (0, 0)
        called = self.wrong["wrong"] + self.wrong["part"]
        return (
            f"{sum(self.first.values()):5} {self.first['taken'] / right:7.1%} {self.first['against'] / right:7.2%} |"
            f"{sum(self.wrong.values()):5} {self.wrong['taken'] / wrong:7.2%} {called / wrong:7.1%} {self.named / (called or 1):7.1%} |"
            f"{max(self.again, default=0):3} {self.again[0]:4} |"
            f"{sum(self.idle.values()):5} {self.idle['taken'] / idle:7.2%} {self.idle['wrong'] / idle:7.2%} |"
            f"{after[0]:5.0f} {after[1]:5.0f} {self.work_s / (self.sound_s or 1):6.1%}"
        )


HEAD = f"{'':24}{'right':>5} {'taken':>7} {'wrong':>7} |{'wrong':>5} {'taken':>7} {'wrong':>7} {'exact':>7} |{'strikes':>8} |{'idle':>5} {'taken':>7} {'wrong':>7} |{'after, ms':>11} {'core':>6}"


def trial(job: tuple[str, Condition, int]) -> Tally:
    """One student at one piano."""
    student = Student(*job)
    tally = Tally()
    with patch.object(awaiting, "odds", partial(odds, path=apart_path(job[0]))):
        _play(student, tally)
    for each in student.strokes:
        _count(tally, each, f"{job[0]} {job[1].name} {job[2]}")
    return tally


def _play(student: Student, tally: Tally) -> None:
    """Until every shell was found, or given up."""
    ear = WaitingEar(learn(student.room.scale))
    now_s, number, tries = 0.0, 0, 1
    ear.wait_for(student.awaited(0, 0.0))
    stroke = student.strike(0, 0.6, first=True)
    at = 0
    while True:
        began = time.process_time()
        said = ear.hear(student.room.block(at), at / RATE)
        tally.work_s += time.process_time() - began
        at += BLOCK
        now_s = at / RATE
        found = False
        for each in said:
            of = student.stroke_of(each, stroke)
            of.said.append(each)
            if each.kind == RIGHT:
                found = True
                of.after_ms = 1000.0 * (now_s - max(at_s for _, at_s in of.keys))
        is_tired = now_s > stroke.keys[-1][1] + PATIENCE_S
        if found or (is_tired and tries >= MOST_STRIKES):
            if found or tries >= MOST_STRIKES:
                tally.again[tries if found else 0] += 1
            number += 1
            if number == len(student.targets):
                break
            ear.wait_for(student.awaited(number, now_s if not found else 0.0))
            stroke, tries = student.strike(number, now_s, first=True), 1
        elif is_tired:
            stroke = student.strike(number, now_s, first=False)
            tries += 1
    tally.sound_s = at / RATE


def _count(tally: Tally, stroke: Stroke, where: str) -> None:
    said = (
        f"{where}: {stroke.kind} {stroke.way} at {stroke.onset_s:.2f}, {stroke.notes} after {stroke.before}, played {[(note, round(at_s - stroke.onset_s, 3)) for note, at_s in stroke.keys]}: "
        + "; ".join(
            f"{each.kind} {[(note.midi, round(note.confidence, 2)) for note in each.notes]} {each.onset_s - stroke.onset_s:+.3f} {each.confidence:.3f}"
            for each in stroke.said
        )
    )
    if stroke.kind in ("again", "melody"):
        result = (
            "wrong"
            if any(
                each.kind == WRONG
                and not {note.midi for note in each.notes}
                <= {*stroke.notes, *stroke.before, *(note for note, _ in stroke.keys)}
                for each in stroke.said
            )
            else stroke.result
        )
        tally.idle[result if result != "wrong" or stroke.result == "wrong" else "other"] += 1
        if stroke.result == "taken":
            tally.faults.append(f"IDLE {said}")
    elif stroke.kind == "right":
        if stroke.first:
            tally.first[stroke.result] += 1
            tally.ways[stroke.way, stroke.result] += 1
            if stroke.after_ms is not None:
                tally.after_ms.append(stroke.after_ms)
        if stroke.is_held_against:
            tally.first["against"] += stroke.first
            tally.faults.append(f"FALSE {said}")
        elif stroke.result != "taken":
            tally.faults.append(f"NOT TAKEN {said}")
    else:
        tally.wrong[stroke.result] += 1
        tally.by_kind[stroke.kind, stroke.result] += 1
        tally.named += stroke.is_named
        if stroke.result == "taken":
            tally.faults.append(f"PASSED {said}")
        elif not stroke.is_named:
            tally.faults.append(f"NOT NAMED {said}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--takes", type=int, default=1)
    parser.add_argument("--first", type=int, default=takes.SEEDS_KEPT // 2 + 200)
    parser.add_argument("--only", default="")
    parser.add_argument("-v", action="store_true")
    asked = parser.parse_args()
    first, count, only = asked.first, asked.takes, asked.only
    pianos = [name for name in LOOKED_AT if is_here(name) or print(f"{name} is not on this machine")]
    conditions = [condition for condition in CONDITIONS if only in condition.name]
    print(f"pianos: {', '.join(pianos)}; {count} takes of each condition and piano, seeds from {first}\n{HEAD}")
    jobs = [(piano, each, seed) for each in conditions for piano in pianos for seed in range(first, first + count)]
    pooled = Tally()
    with ProcessPoolExecutor(2) as pool:
        tallies = pool.map(trial, jobs)
        for condition in conditions:
            row = Tally()
            for _ in (job for job in jobs if job[1] is condition):
                row += next(tallies)
            pooled += row
            print(f"{condition.name:24}{row.row()}", flush=True)
            if asked.v:
                print(*row.faults, sep="\n", flush=True)
    print(f"{'pooled':24}{pooled.row()}")
    for name in ("first", "ways", "by_kind", "idle", "again"):
        print(f"{name}: {dict(sorted(getattr(pooled, name).items(), key=str))}")


if __name__ == "__main__":
    main()
