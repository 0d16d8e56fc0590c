"""Whether the gentle climb lets a weak student through earlier than the strict one. Run by hand: python tests/bench/let_through.py [students]

Students who learn nothing, on many days, by the model of learners.py: the share of each rule's climbs that were over within so many passes, and how
likely as large a difference is by chance (Fisher's exact test, two-sided). The climbs of all students go side by side in numpy, by the
rules' words written anew; first both are held against the product's own climbs on equal draws, which must end at the same pass.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
from scipy.stats import fisher_exact  # comes with mir_eval

TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

from learner_trials import START_SHARE, TARGET_BPM, WEAK, HandModel, climb_with

from companion.practice.drills import climbing

PASSES_A_DAY, MOST, WITHIN = 12, 200, (25, 50, 100, 200)
NEVER = 10**6
TARGET, START, FLOOR = math.log(TARGET_BPM), math.log(START_SHARE * TARGET_BPM), math.log(START_SHARE * TARGET_BPM / 4)


def ends(model: HandModel, gentle: bool, draws: np.ndarray) -> np.ndarray:
    """After how many passes each climb is over. draws: a row a pass, between 0 and 1 for each student."""
    count = draws.shape[1]
    tempo, step = np.full(count, START), np.full(count, math.log(1.06))
    run, held, since_probe = (np.zeros(count, int) for _ in range(3))
    up, over, end = np.ones(count, bool), np.zeros(count, bool), np.full(count, NEVER)
    mastered = TARGET + model.spread * math.log(model.chance / (1 - model.chance))
    for number, row in enumerate(draws):
        if gentle and number % PASSES_A_DAY == 0:
            step = np.maximum(math.log(1.01), step)
        there = tempo >= TARGET
        probe = ~there & (TARGET - tempo > math.log(1.05)) & (since_probe >= 12)
        odds = (1 - model.slips) / (1 + np.exp((np.where(probe, TARGET, tempo) - mastered) / model.spread))
        clean = row < np.where(probe, odds ** (2 / 16), odds)
        since_probe = np.where(probe, 0, since_probe + 1)
        held = np.where(there & clean, held + 1, held)
        done = there & clean & (held >= (7 if gentle else 3)) & ~over
        end[done], over = number + 1, over | done
        moves = ~probe & ~(there & clean)
        if gentle:  # one slip after two clean passes at the target only begins the count again
            only = moves & there & (held >= 2)
            held, run, moves = np.where(only, 0, held), np.where(only, 0, run), moves & ~only
        bad, good = moves & ~clean, moves & clean
        held = np.where(bad, 0, held)
        if gentle:
            run = np.where(bad, 0, np.where(good, run + 1, run))
            longer = np.where(good & (run % 4 == 0), np.minimum(math.log(1.06), 2 * step), step)
            step = np.where(bad, np.maximum(math.log(1.0025), step / 2), longer)
            tempo = tempo + np.where(good, step, 0) - np.where(bad, math.log(1.05), 0)
        else:
            turns = (bad & up) | (good & ~up)
            step = np.where(turns, np.maximum(math.log(1.01), step / 2), step)
            tempo = tempo + np.where(good, step, 0) - np.where(bad, step * 0.85 / 0.15, 0)
        up = np.where(moves, clean, up)
        tempo = np.clip(tempo, FLOOR, TARGET)
    return end


class Drawn:
    """Chance that was drawn before."""

    def __init__(self, draws: np.ndarray) -> None:
        self.random = iter(draws).__next__


def check(model: HandModel, students: int = 200) -> None:
    """Hold the climbs against the product's."""
    draws = np.random.default_rng(1).random((MOST, students))
    for rule in ("strict", "gentle"):
        found = ends(model, rule == "gentle", draws)
        for number in range(students):
            hands = model.hands(0)
            hands.chance = Drawn(draws[:, number])
            state = climbing.start(START_SHARE * TARGET_BPM, TARGET_BPM, rule)
            climbed = climb_with(hands, state, MOST, PASSES_A_DAY)
            assert found[number] == (climbed.passes if climbed.arrived else NEVER), (model, rule, number)


def main() -> None:
    students = int(sys.argv[1]) if len(sys.argv) > 1 else 40_000
    print(f"{students} students each, {PASSES_A_DAY} passes a day: strict | gentle, %, two-sided p")
    for seed, model in enumerate(WEAK[-9:]):
        check(model)
        chance = np.random.default_rng(30_000 + seed)
        strict, gentle = (ends(model, rule, chance.random((MOST, students))) for rule in (False, True))
        cells = []
        for passes in WITHIN:
            old, new = int((strict <= passes).sum()), int((gentle <= passes).sum())
            p = fisher_exact([[new, students - new], [old, students - old]]).pvalue
            more = " more" if new > old else ""
            cells.append(f"{passes}: {100 * old / students:.2f} | {100 * new / students:.2f} p {p:.2g}{more}")
        print(f"  slips {model.slips:3.0%} spread {model.spread:.2f}   " + "   ".join(cells), flush=True)


if __name__ == "__main__":
    main()
