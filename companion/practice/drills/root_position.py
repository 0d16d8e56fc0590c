"""Drills for whole chords: in which order they come, how each is played, and which come again because they were slow.

Units: seconds. Pure: what is known and chance are arguments.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

from companion.hands.root_position import CloseChord
from companion.theory.chord import Chord
from companion.theory.key import Key
from companion.theory.symbols import move_chord

# way -> its words
WAYS = {
    "together": "all notes together",
    "broken": "broken, from the lowest up",
    "left": "the chord, then its shell alone",
    "shell": "its shell alone, the name seen for a moment",
}
NAMES = "shell"  # the drill of names: the name goes, and the shell is to be struck
# order -> its words
ORDERS = {
    "song": "the song's own chords, as they come",
    "random": "the song's chords at random",
    "fourths": "one quality round the fourths",
    "tones": "one quality down by whole tones",
}
CYCLE_ORDERS = ("fourths", "tones")

PACE_S = 1.5  # a fluent student finds 40 chords a minute (our own choice)
SLIP_S = 6.0  # what a chord counts that was not right at once, however fast it came in the end (our own choice)
NEW_S = 4.0  # what one counts that was never played (our own choice: before what is fluent, behind what slips)
KEPT_TIMES = 8  # of each chord, the latest
MOST_WEIGHT = 6.0  # the slowest chord comes this many times as often as a fluent one, and no more
MOST_AGAIN = 4  # chords that come again at the end of a round
SHOWN_TIMES = 2  # so many times right at once, and the keys are no longer shown before they are found


@dataclass(frozen=True, slots=True)
class Known:
    """What is remembered of a chord in one hand and position. times: seconds to find it, the latest last; SLIP_S at least where it was not right at
    once. right: how often it was right at once. tries: how often it was played. day: when last, ISO 8601."""

    times: tuple[float, ...] = ()
    right: int = 0
    tries: int = 0
    day: str = ""

    @property
    def find_s(self) -> float:
        """How long it takes as a rule, NEW_S where it was never played."""
        return median(self.times[-5:]) if self.times else NEW_S

    @property
    def is_known(self) -> bool:
        """Whether it was right at once often enough to be asked for without its keys."""
        return self.right >= SHOWN_TIMES

    def after(self, find_s: float, right: bool, day: str) -> Known:
        """With one more try."""
        time_s = round(find_s if right else max(find_s, SLIP_S), 2)
        return Known((*self.times, time_s)[-KEPT_TIMES:], self.right + right, self.tries + 1, day)

    def to_json(self) -> dict[str, Any]:
        """As the log keeps it."""
        return {"times": list(self.times), "right": self.right, "tries": self.tries, "day": self.day}


def known_from_json(value: Any) -> Known | None:
    """What `to_json` wrote; None where it is damaged, as such a chord is simply new."""
    try:
        times = tuple(float(time_s) for time_s in value["times"])
        known = Known(times[-KEPT_TIMES:], int(value["right"]), int(value["tries"]), str(value["day"]))
    except (TypeError, ValueError, KeyError, OverflowError):
        return None
    sane = 0 <= known.right <= known.tries and all(0 <= time_s < 1e6 for time_s in times)
    return known if sane else None


def weight(known: Known | None) -> float:
    """How much oftener than a fluent chord it comes: 1 to MOST_WEIGHT, in proportion to how long it takes to find."""
    return min(MOST_WEIGHT, max(1.0, (known or Known()).find_s / PACE_S))


def next_at_random(
    ids: Sequence[str], known: Mapping[str, Known], before: str | None, chance: Callable[[], float]
) -> int:
    """Which of the chords comes next: slow and new ones more often, none twice in a row where there is another. ids: of the chords, each once;
    before: of the last one; chance: a number from 0 to below 1."""
    open_to = [number for number, each in enumerate(ids) if each != before] or list(range(len(ids)))
    weights = [weight(known.get(ids[number])) for number in open_to]
    left = chance() * sum(weights)
    for number, each in zip(open_to, weights, strict=True):
        left -= each
        if left < 0:
            return number
    return open_to[-1]


def again(found: Sequence[tuple[str, float, bool]]) -> tuple[str, ...]:
    """The chords of a round that come again at its end: those that were not right at once, and those slower than fluent that took half as long
    again as the rest, the slowest first. found: (id, seconds, right at once) in the order they were played."""
    if not found:
        return ()
    slowest: dict[str, float] = {}
    usual_s = median(find_s for _, find_s, _ in found)
    for each, find_s, right in found:
        counted_s = find_s if right else max(find_s, SLIP_S)
        if not right or find_s > max(PACE_S, 1.5 * usual_s):
            slowest[each] = max(counted_s, slowest.get(each, 0.0))
    return tuple(sorted(slowest, key=lambda each: -slowest[each]))[:MOST_AGAIN]


def cycle(chord: Chord, order: str) -> tuple[Chord, ...]:
    """The chord's quality on all twelve roots, from its own on: up a fourth each time, or down a whole tone, where after six roots the other
    six follow from a half step below. A slash bass is left out. Spelled as keys of those roots usually are (common practice)."""
    mode = "minor" if chord.degree(3) == "b3" else "major"
    start = chord.root.pc
    if order == "fourths":
        pcs = [(start + 5 * number) % 12 for number in range(12)]
    else:
        pcs = [(start - 2 * number - number // 6 * 11) % 12 for number in range(12)]
    plain = Chord(
        chord.symbol.rpartition("/")[0] if chord.bass else chord.symbol, chord.root, chord.degrees, chord.family
    )
    moved = [move_chord(plain, chord.root, Key.usual(pc, mode).tonic) for pc in pcs[1:]]
    return (plain, *moved)


def steps_of(close: CloseChord, way: str, shell: Sequence[int] = ()) -> tuple[tuple[int, ...], ...]:
    """What is to be struck, one step after the other. way: one of WAYS; shell: the keys that are left of it, none where the song plays none."""
    if way == "broken":
        return tuple((note,) for note in close.midi)
    if way == NAMES and shell:
        return (tuple(shell),)
    return (close.midi, tuple(shell)) if way == "left" and shell else (close.midi,)
