"""How well the listener hears known pairs of notes: takes made up from sampled pianos in made-up rooms, by condition. Run by hand:

    python tests/bench/listening.py [apart | kept] [--takes 1] [--first SEED] [--only WORDS]... [--starred] [-v]

Without a word: the pianos that weights and thresholds were made with (LOOKED_AT in tests/pianos_sampled.py). "apart": the same, each heard by weights made from the others (made
beforehand by `listening_train.py apart`). "kept": those never looked at (KEPT: FreePats' grand, a piano recorded key by key), with seeds from SEEDS_KEPT on, to be evaluated once
when nothing is changed any more: DEVELOPERS.md says what came of that. A piano that is not on this machine is named and left out (how to get them: tests/pianos_sampled.py).
--takes: of each condition and piano. --only: conditions with these words in their names. --starred: those that promise only that no more than 1 of 100 is false.

Of 100 clean strikes: right, false (wrong or missing), not sure. Of 100 slips: caught (wrong or missing; early and late ones by their onset within 25 ms), passed as
right; the rest is not sure. exact: of what is called wrong, how often the very notes are named. onset: how far off, median and 95 of 100, of clean strikes
called right. after: from strike to "right", 95 of 100, in heard time with blocks of 10 ms, without the time of working it out. core: processor time against the length of the take.
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
from pianos_sampled import KEPT, LOOKED_AT, RATE, is_here

from companion.errors import SoundError
from companion.sound.listening import engine
from companion.sound.listening.engine import Listener
from companion.sound.listening.judge import odds
from companion.sound.listening.scale import learn
from companion.sound.listening.verdicts import MISSING, NOT_SURE, RIGHT, WRONG, Thresholds, Verdict

BLOCK = 160  # samples, 10 ms
TIMED_S = 0.025
WORKERS = 6  # more than cores: where others work beside it each gets its share


@dataclass
class Tally:
    clean: Counter = field(default_factory=Counter)
    slips: Counter = field(default_factory=Counter)
    by_slip: dict[str, Counter] = field(default_factory=dict)
    named: int = 0
    wrong: int = 0
    off_ms: list[float] = field(default_factory=list)
    after_ms: list[float] = field(default_factory=list)
    work_s: float = 0.0
    sound_s: float = 0.0
    unlearned: int = 0
    faults: list[str] = field(default_factory=list)
    melody: Counter = field(default_factory=Counter)

    def __iadd__(self, other: Tally) -> Tally:
        for name in ("clean", "slips", "melody"):
            getattr(self, name).update(getattr(other, name))
        for slip, counts in other.by_slip.items():
            self.by_slip.setdefault(slip, Counter()).update(counts)
        for name in ("named", "wrong", "off_ms", "after_ms", "work_s", "sound_s", "unlearned", "faults"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        return self

    def row(self) -> str:
        clean, slips = sum(self.clean.values()) or 1, sum(self.slips.values()) or 1
        false = self.clean[WRONG] + self.clean[MISSING]
        off = np.percentile(np.abs(self.off_ms), [50, 95]) if self.off_ms else (0, 0)
        after = np.percentile(self.after_ms, 95) if self.after_ms else 0
        return (
            f"{sum(self.clean.values()):6} {self.clean[RIGHT] / clean:7.1%} {false / clean:7.2%} {self.clean[NOT_SURE] / clean:7.1%} |"
            f"{sum(self.slips.values()):5} {self.slips['caught'] / slips:7.1%} {self.slips['passed'] / slips:7.2%} {self.named / (self.wrong or 1):7.1%} |"
            f"{off[0]:5.1f} {off[1]:5.1f} {after:5.0f} {self.work_s / (self.sound_s or 1):6.1%}"
        )


HEAD = f"{'':30} {'clean':>6} {'right':>7} {'false':>7} {'unsure':>7} |{'slips':>5} {'caught':>7} {'passed':>7} {'exact':>7} |{'onset, ms':>11} {'after':>5} {'core':>6}"


def heard(take: takes.MadeTake, thresholds: Thresholds, tally: Tally) -> list[tuple[Verdict, float]]:
    """Every verdict with the time up to which sound was heard when it was given."""
    listener = Listener(learn(take.scale), thresholds)
    listener.expect(strike.due for strike in take.strikes)
    began = time.process_time()
    said = []
    for at in range(0, len(take.sound), BLOCK):
        now_s = (at + BLOCK) / RATE
        said += [(verdict, now_s) for verdict in listener.hear(take.sound[at : at + BLOCK], at / RATE)]
    tally.work_s += time.process_time() - began
    tally.sound_s += len(take.sound) / RATE
    return said


def trial(job: tuple[str, Condition, int, bool]) -> Tally:
    """job: piano, condition, seed, whether by weights made without that piano."""
    piano, condition, seed, apart = job
    tally = Tally()
    take = takes.make(piano, condition, seed, strikes=80 if condition.supported else 64)
    try:
        with patch.object(engine, "odds", partial(odds, path=apart_path(piano)) if apart else odds):
            said = heard(take, Thresholds(), tally)
    except SoundError as error:
        tally.unlearned = 1
        tally.faults.append(f"{piano} {condition.name} {seed}: {error}")
        return tally
    strikes = {strike.due.index: strike for strike in take.strikes}
    assert len(said) == len(strikes), "a verdict for every strike"
    for verdict, now_s in said:
        _count(tally, strikes[verdict.due.index], verdict, now_s, f"{piano} {condition.name} {seed}")
    return tally


def _count(tally: Tally, strike: takes.Strike, verdict: Verdict, now_s: float, where: str) -> None:
    onset_s = strike.onset_s
    if strike.due.also and strike.above is not None and verdict.kind == RIGHT:
        told = {note.midi for note in verdict.notes} - set(strike.due.notes)
        came = "due" if strike.above[0] in strike.due.also else "another"
        heard_as = "due" if told & set(strike.due.also) else "another" if told else "nothing"
        tally.melody[came, heard_as] += 1
    off_s = None if onset_s is None or verdict.onset_s is None else verdict.onset_s - onset_s
    said = f"{where}: strike {strike.due.index} at {strike.due.time_s:.2f} {strike.due.notes}, played {strike.keys} ({strike.slip}): {verdict.kind} {[(n.midi, round(n.confidence, 2)) for n in verdict.notes]} {verdict.confidence:.3f}"
    if not strike.slip:
        tally.clean[verdict.kind] += 1
        if verdict.kind == RIGHT and off_s is not None:
            tally.off_ms.append(1000 * off_s)
            tally.after_ms.append(1000 * (now_s - onset_s))
        if verdict.kind in (WRONG, MISSING):
            tally.faults.append(f"FALSE {said}")
        return
    timed = strike.slip in ("early", "late")
    if timed:
        result = (
            "caught"
            if verdict.kind == RIGHT and off_s is not None and abs(off_s) <= TIMED_S
            else "passed"
            if verdict.kind == RIGHT
            else "caught"
            if verdict.kind in (WRONG, MISSING)
            else "unsure"
        )
    else:
        result = "passed" if verdict.kind == RIGHT else "unsure" if verdict.kind == NOT_SURE else "caught"
    tally.slips[result] += 1
    tally.by_slip.setdefault(strike.slip, Counter())[result] += 1
    if verdict.kind == WRONG:
        tally.wrong += 1
        tally.named += {note.midi for note in verdict.notes} == {note for note, _ in strike.keys}
    if result == "passed":
        tally.faults.append(f"PASSED {said}")


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    parser.add_argument("which", nargs="?", choices=("looked-at", "apart", "kept"), default="looked-at")
    parser.add_argument("--takes", type=int, default=1)
    parser.add_argument("--first", type=int)
    parser.add_argument("--only", action="append", default=[])
    parser.add_argument("--starred", action="store_true")
    parser.add_argument("-v", action="store_true")
    asked = parser.parse_args()
    asked.kept = asked.which == "kept"
    if asked.first is None:
        asked.first = takes.SEEDS_KEPT if asked.kept else takes.SEEDS_KEPT // 2
    if (asked.first >= takes.SEEDS_KEPT) != asked.kept:
        parser.error(f"seeds from {takes.SEEDS_KEPT} on are for the pianos kept aside, and for them alone")
    return asked


def main() -> None:
    asked = arguments()
    pianos = [
        name for name in (KEPT if asked.kept else LOOKED_AT) if is_here(name) or print(f"{name} is not on this machine")
    ]
    seeds = range(asked.first, asked.first + asked.takes)
    conditions = [
        each
        for each in MEASURED
        if not (asked.starred and each.supported)
        and (not asked.only or any(words in each.name for words in asked.only))
    ]
    print(f"pianos: {', '.join(pianos)}; {asked.takes} takes of each condition and piano, seeds from {asked.first}")
    print(HEAD)
    supported, everything, by_piano = Tally(), Tally(), {piano: Tally() for piano in pianos}
    jobs = [
        (piano, condition, seed, asked.which == "apart")
        for condition in conditions
        for piano in pianos
        for seed in seeds
    ]
    with ProcessPoolExecutor(WORKERS) as pool:
        tallies = pool.map(trial, jobs)
        for condition in conditions:
            row = Tally()
            for piano in (job[0] for job in jobs if job[1] is condition):
                tally = next(tallies)
                row += tally
                if condition.supported:
                    by_piano[piano] += tally
            everything += row
            if condition.supported:
                supported += row
            print(
                f"{condition.name + ('' if condition.supported else ' *'):30} {row.row()}"
                + (f"  {row.unlearned} not learned" if row.unlearned else ""),
                flush=True,
            )
            if asked.v:
                print(*row.faults, sep="\n")
    print(f"{'supported, pooled':30} {supported.row()}\n{'all, pooled':30} {everything.row()}")
    for piano, tally in by_piano.items():
        print(f"{'supported: ' + piano:30} {tally.row()}")
    print("Notes of the melody struck with a strike that was right, told as the one due, as another, not told:")
    for came in ("due", "another"):
        counts = [everything.melody[came, told] for told in ("due", "another", "nothing")]
        print(f"  {came + ' came':14} {counts[0]:4} {counts[1]:4} {counts[2]:4}")
    print("* not promised. Slips caught, passed, unsure in the supported conditions:")
    for slip, counts in sorted(supported.by_slip.items()):
        print(f"  {slip:14} {counts['caught']:4} {counts['passed']:4} {counts['unsure']:4}")


if __name__ == "__main__":
    main()
