"""How well the ear that waits hears a shell whose time nobody knows: students made up, who think for seconds, strike, and strike again by what they are told. Run by hand:

    python tests/bench/awaited.py [--takes 1] [--first SEED] [--only WORDS] [-v]

Each piano of those that may be looked at (LOOKED_AT in pianos_sampled.py) is heard by weights made from the others (made beforehand by `listening_train.py apart`), in the rooms of
listening_rooms.py. A student (listening_student.py) waits 1 to 6 s before each shell, at times less than one, strikes another thing in a third of the cases (KINDS there), strikes again where that was not enough, strikes four to the bar before going on, rolls, plays a shell one note after the other, holds a
note over into the next shell, and plays a melody above.

Of 100 right shells at their first strike: taken; called wrong (a note named that is not in the shell); of wrong ones: taken for right, called wrong, the very notes named. strikes again: how often a right shell was
struck until it was taken, at most, and how many were never. idle: what else was struck (the shell before again, the melody), and how much of it was taken for the shell, or called another thing than it was. after: from
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
from listening_student import BLOCK, Stroke, Student
from pianos_sampled import LOOKED_AT, RATE, is_here

from companion.errors import SoundError
from companion.sound.listening import awaiting
from companion.sound.listening.awaiting import WaitingEar
from companion.sound.listening.judge import odds
from companion.sound.listening.scale import learn
from companion.sound.listening.verdicts import RIGHT, WRONG

PATIENCE_S = 1.0  # without an answer the student strikes again
MOST_STRIKES = 4
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
class Tally:
    first: Counter = field(default_factory=Counter)
    ways: Counter = field(default_factory=Counter)
    wrong: Counter = field(default_factory=Counter)
    by_kind: Counter = field(default_factory=Counter)
    idle: Counter = field(default_factory=Counter)
    again: Counter = field(default_factory=Counter)
    after_ms: list[float] = field(default_factory=list)
    against: int = 0
    named: int = 0
    unlearned: int = 0
    work_s: float = 0.0
    sound_s: float = 0.0
    faults: list[str] = field(default_factory=list)

    def __iadd__(self, other: Tally) -> Tally:
        for name in ("first", "ways", "wrong", "by_kind", "idle", "again"):
            getattr(self, name).update(getattr(other, name))
        for name in ("after_ms", "against", "named", "unlearned", "work_s", "sound_s", "faults"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        return self

    def row(self) -> str:
        right, wrong, idle = (sum(counts.values()) or 1 for counts in (self.first, self.wrong, self.idle))
        after = np.percentile(self.after_ms, [50, 95]) if self.after_ms else (0, 0)
        called = self.wrong["wrong"] + self.wrong["part"]
        return (
            f"{sum(self.first.values()):5} {self.first['taken'] / right:7.1%} {self.against / right:7.2%} |"
            f"{sum(self.wrong.values()):5} {self.wrong['taken'] / wrong:7.2%} {called / wrong:7.1%} {self.named / (called or 1):7.1%} |"
            f"{max(self.again, default=0):3} {self.again[0]:4} |"
            f"{sum(self.idle.values()):5} {self.idle['taken'] / idle:7.2%} {self.idle['against'] / idle:7.2%} |"
            f"{after[0]:5.0f} {after[1]:5.0f} {self.work_s / (self.sound_s or 1):6.1%}"
        )


HEAD = f"{'':24}{'right':>5} {'taken':>7} {'wrong':>7} |{'wrong':>5} {'taken':>7} {'wrong':>7} {'exact':>7} |{'strikes':>8} |{'idle':>5} {'taken':>7} {'wrong':>7} |{'after, ms':>11} {'core':>6}"


def trial(job: tuple[str, Condition, int]) -> Tally:
    """One student at one piano."""
    student = Student(*job)
    tally = Tally()
    try:
        piano = learn(student.room.scale)
    except SoundError as error:
        tally.unlearned, tally.faults = 1, [f"{job[0]} {job[1].name} {job[2]}: {error}"]
        return tally
    with patch.object(awaiting, "odds", partial(odds, path=apart_path(job[0]))):
        _play(student, WaitingEar(piano), tally)
    for each in student.strokes:
        _count(tally, each, f"{job[0]} {job[1].name} {job[2]}")
    return tally


def _play(student: Student, ear: WaitingEar, tally: Tally) -> None:
    """Until every shell was found, or given up."""
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
        known = {*stroke.notes, *stroke.before, *(note for note, _ in stroke.keys)}
        is_against = any(each.kind == WRONG and not {note.midi for note in each.notes} <= known for each in stroke.said)
        result = "taken" if stroke.result == "taken" else "against" if is_against else "let be"
        tally.idle[result] += 1
        if result != "let be":
            tally.faults.append(f"IDLE {said}")
    elif stroke.kind == "right":
        if stroke.first:
            tally.first[stroke.result] += 1
            tally.ways[stroke.way, stroke.result] += 1
            if stroke.after_ms is not None:
                tally.after_ms.append(stroke.after_ms)
        if stroke.is_held_against:
            tally.against += stroke.first
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
    parser.add_argument("--first", type=int, default=takes.SEEDS_KEPT // 2 + 400)
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
            not_learned = f"  {row.unlearned} not learned" if row.unlearned else ""
            print(f"{condition.name:24}{row.row()}{not_learned}", flush=True)
            if asked.v:
                print(*row.faults, sep="\n", flush=True)
    print(f"{'pooled':24}{pooled.row()}")
    for name in ("first", "ways", "by_kind", "idle", "again"):
        print(f"{name}: {dict(sorted(getattr(pooled, name).items(), key=str))}")


if __name__ == "__main__":
    main()
