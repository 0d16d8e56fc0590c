"""What is known of how a pass went: facts, never a grade. It ran, these bars slipped, or it broke off; "" while nobody has said so.

A heard pass tells its own fact; of one that no keyboard was heard in the student tells it.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

RAN, SLIPPED, BROKE_OFF = "ran", "slipped", "broke off"
FACTS = (RAN, SLIPPED, BROKE_OFF)
UNTOLD = ""  # nobody has said how it went


@dataclass(frozen=True, slots=True)
class Facts:
    """fact: one of FACTS, or UNTOLD. slipped: indices of bars in the chorus; of a pass that broke off those that were named, perhaps none."""

    fact: str
    slipped: frozenset[int] = frozenset()

    def share_right(self, loop: Collection[int]) -> float:
        """Of the bars of the loop, 0 to 1. Nobody knows how far a pass went that broke off: it counts as nothing."""
        return 0.0 if self.fact in (BROKE_OFF, UNTOLD) else 1.0 - len(self.slipped & set(loop)) / len(loop)


def facts_of(slipped: Collection[int], *, broke_off: bool = False) -> Facts:
    """Of a pass of which somebody knows how it went: a keyboard that was heard, or the student."""
    return Facts(BROKE_OFF if broke_off else SLIPPED if slipped else RAN, frozenset(slipped))


def share_slipped(fact: str, slipped: Collection[int], bars: Collection[int]) -> float:
    """Of these bars, 0 to 1; all of them where the pass broke off."""
    return 1.0 if fact == BROKE_OFF else len(set(bars) & set(slipped)) / len(bars)


def fact_words(fact: str) -> str:
    """In a line of the log: "it ran", "nothing said"."""
    return {RAN: "it ran", SLIPPED: "slipped", BROKE_OFF: "it broke off"}.get(fact, "nothing said")
