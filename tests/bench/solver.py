"""How the solver's time grows with the length of the chorus. Run by hand: python tests/bench/solver.py

Prints bars a second for charts of 1,000 to 100,000 bars, one chord a bar, and how much longer ten times the bars
take: about ten where it is linear. Nothing here is asserted; a busy machine is slow without being wrong.
"""

from __future__ import annotations

import random
import time

from companion.hands.hand import Hand
from companion.hands.left.model import Slot
from companion.hands.left.solver import solve
from companion.theory.symbols import parse_chord

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
QUALITIES = ("maj7", "7", "m7", "m7b5", "dim7", "6", "m6", "", "m", "7sus4", "m7", "7")
LENGTHS = (1_000, 10_000, 100_000)


def chart(bars: int, section: int = 0) -> list[Slot]:
    """Invented chords that fall by fifths four times of five. section: its length where the same section comes all
    over again, 0 where nothing repeats."""
    chance = random.Random(7)
    root, slots = 0, []
    for bar in range(bars):
        root = (root + 5) % 12 if chance.random() < 0.8 else chance.randrange(12)
        slots.append(Slot(parse_chord(ROOTS[root] + chance.choice(QUALITIES)), bar=bar))
    if section:
        slots = [Slot(slots[bar % section].chord, place=bar % section, bar=bar) for bar in range(bars)]
    return slots


def seconds(slots: list[Slot], hand: Hand, rounds: int) -> float:
    """Of processor time, the fastest of some rounds."""
    taken = []
    for _ in range(rounds):
        start = time.process_time()
        solve(slots, hand)
        taken.append(time.process_time() - start)
    return min(taken)


def main() -> None:
    wide = Hand(highest_root=60, highest_top=69, reach=16)
    cases = (
        ("no repeats, default hand", 0, Hand()),
        ("no repeats, widest hand", 0, wide),
        ("a section of 32 bars over and over", 32, Hand()),
        ("the same, widest hand", 32, wide),
    )
    for name, section, hand in cases:
        print(name)
        before = None
        for bars in LENGTHS:
            taken = seconds(chart(bars, section), hand, 3 if bars < 100_000 else 1)
            ratio = f"{taken / before:6.1f} times the time of a tenth" if before else ""
            print(f"  {bars:7} bars {taken:8.3f} s {bars / taken:9.0f} bars a second {ratio}")
            before = taken
    slots = chart(64, 32)
    own, widest = (1000 * seconds(slots, hand, 20) for hand in (Hand(), wide))
    print(f"a song of 64 chords {own:.1f} ms, widest hand {widest:.1f} ms")


if __name__ == "__main__":
    main()
