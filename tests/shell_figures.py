"""What the shells of our songs are like in twelve keys: counted from the shells alone, for tests and for tests/bench/shells.py.

- held: falling fifths from a seventh chord onto a seventh or sixth chord whose upper note stays or moves by step
- leaps: changes of chord whose upper note moves a minor third or more
- moved: semitones that both notes travel
- resolved: sevenths and thirds that move on by step into the third or sixth of a sixth chord, of all cadences onto one
"""

from __future__ import annotations

from collections import Counter

from companion.chart.model import Song
from companion.chart.transpose import transpose
from companion.hands.hand import Hand
from companion.hands.left.model import Choice, Slot
from companion.hands.left.solver import solve
from companion.theory.key import Key

COLUMNS = ("held", "leaps", "moved", "resolved")
GOAL = {"held": 3776, "leaps": 1244, "moved": 41284, "resolved": 372}
MORE_IS_BETTER = {"held", "resolved"}
# held, leaps, moved, resolved in twelve keys
BEFORE: dict[str, tuple[int, int, int, int]] = {
    "a-borrowed-umbrella": (209, 92, 2194, 0),
    "bread-for-the-lighthouse": (0, 20, 292, 0),
    "down-the-coal-stairs": (0, 194, 2216, 0),
    "ferry-at-half-past-six": (263, 134, 3174, 0),
    "five-steps-to-the-bakery": (369, 92, 4232, 0),
    "goose-weather": (89, 22, 1212, 0),
    "half-a-word-before": (223, 90, 2398, 0),
    "left-sock-blues": (109, 34, 1296, 0),
    "mangoes-on-the-night-tram": (230, 95, 2734, 0),
    "next-landing-but-one": (256, 143, 2986, 0),
    "porridge-and-brass": (35, 4, 732, 0),
    "rowing-home-the-long-way": (184, 96, 2276, 0),
    "sixpence-and-a-quarter": (215, 111, 2608, 0),
    "slate-roof-in-the-rain": (53, 19, 810, 0),
    "stop-at-the-level-crossing": (189, 90, 2614, 0),
    "the-key-under-the-pot": (240, 119, 2712, 0),
    "two-spoons": (129, 63, 1452, 0),
    "walnut-street-laundry": (163, 92, 2078, 0),
    "what-the-window-kept": (449, 131, 4576, 0),
}


def keys_of(song: Song) -> list[Song]:
    """The song in twelve keys."""
    return [transpose(song, song.key if pc == song.key.tonic.pc else Key.usual(pc, song.key.mode)) for pc in range(12)]


def counted(slots: list[Slot]) -> Counter[str]:
    """What is counted of one chorus."""
    part = solve(slots, Hand())
    ring = [choice for choice in part.choices if choice.shell is not None]
    found = Counter(moved=part.movement, cost=part.cost)
    for before, here in zip([ring[-1], *ring[:-1]], ring, strict=True):
        _count_change(before, here, found)
    return found


def _count_change(before: Choice, here: Choice, found: Counter[str]) -> None:
    old, new = before.slot.chord, here.slot.chord
    assert old and new and before.shell and here.shell
    step = abs(here.shell.midi[1] - before.shell.midi[1])
    found["changes"] += old != new
    found["leaps"] += old != new and step > 2
    falls = (new.root.pc - old.root.pc) % 12 == 5 and not (old.bass or new.bass)
    if falls and old.family == "seventh" and new.family in ("seventh", "sixth"):
        found["falls"] += 1
        found["held"] += step <= 2
        if new.family == "sixth":
            found["cadences"] += 1
            tops = (before.shell.top, here.shell.top)
            found["resolved"] += tops in (("seventh", "third"), ("third", "sixth")) and step <= 2
