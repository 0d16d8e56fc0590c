"""The left hand worked out the slow and obvious way, to hold the solver against.

Imports nothing of the project and reads only plain numbers: what a chord is (semitones above its root), where a hand may play.
Its tables and prices were written from the rules anew, not taken from the code.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

PITCHES = {"C": 0, "Db": 1, "C#": 1, "D": 2, "Eb": 3, "D#": 3, "E": 4, "F": 5, "F#": 6, "Gb": 6, "G": 7, "Ab": 8, "A": 9,
           "Bb": 10, "B": 11, "G#": 8, "A#": 10, "Cb": 11, "Fb": 4, "E#": 5, "B#": 0}  # fmt: skip
# quality -> semitones of third, fifth, sixth, seventh above the root (and the fourth of a sus chord); None where it has none
QUALITIES = {
    "": (4, 7, None, None),
    "m": (3, 7, None, None),
    "6": (4, 7, 9, None),
    "m6": (3, 7, 9, None),
    "7": (4, 7, None, 10),
    "maj7": (4, 7, None, 11),
    "m7": (3, 7, None, 10),
    "m(maj7)": (3, 7, None, 11),
    "m7b5": (3, 6, None, 10),
    "dim7": (3, 6, None, 9),
    "7sus4": (None, 7, None, 10),
}
# the lowest lower note of each interval: m2 E3, M2 Eb3, m3 C3, M3 Bb2, fourth A2, tritone A2, fifth C#2, sixths and sevenths F2
LOWEST = {1: 52, 2: 51, 3: 48, 4: 46, 5: 45, 6: 45, 7: 37, 8: 41, 9: 41, 10: 41, 11: 41}


@dataclass(frozen=True)
class Room:
    """lowest and highest root, highest top note, reach; a reach of a tenth is not the oracle's business."""

    low: int = 40
    high: int = 55
    top: int = 60
    reach: int = 12


@dataclass(frozen=True)
class Plain:
    """A chord in numbers. options: (lower, upper, role): role 3, 5 or 7, what the upper note is in the guide line. rests: a
    root-fifth that was chosen."""

    root: int
    bass: int
    slash: bool
    tones: tuple
    leads: bool
    options: tuple
    rests: bool = False


def plain(symbol: str, room: Room | None = None, pin: str = "") -> Plain:
    """ "Dm7", "G7sus4" or "C/E" in numbers, with all shells that a teacher would allow; pin: "root-fifth" only."""
    room = room or Room()
    name, _, over = symbol.partition("/")
    letters = 2 if name[1:2] in ("b", "#") else 1
    root, quality = PITCHES[name[:letters]], name[letters:]
    third, fifth, sixth, seventh = QUALITIES[quality]
    bass = PITCHES[over] if over else root
    if pin:
        tiers = [[(fifth, 5)]]
    elif over and bass != root:
        tiers = [[(5, 3), (seventh, 7)] if quality == "7sus4" else [(third, 3), (sixth, 7) if sixth else (seventh, 7)]]
        tiers += [[(fifth, 5)], [(0, 5)], [(None if quality == "7sus4" else sixth, 5)]]
    elif quality == "7sus4":
        tiers = [[(5, 3), (10, 7)]]
    elif seventh:
        tiers = [[(third, 3), (seventh, 7)] + ([(fifth, 5)] if quality == "dim7" else [])]
    elif sixth:
        tiers = [[(third, 3), (sixth, 7)], [(fifth, 5)]]
    else:
        tiers = [[(third, 3), (fifth, 5)]]
    options = []
    for tier in tiers:
        found = []
        for above, role in tier:
            gap = 0 if above is None else (root + above - bass) % 12
            for lower in range(room.low, room.high + 1) if gap else ():
                if lower % 12 == bass and lower + gap <= room.top and gap <= room.reach and lower >= LOWEST[gap]:
                    found.append((lower, lower + gap, role))
        lowest = min((option[0] for option in options), default=999)
        options += [option for option in found if option[0] < lowest]
        if options and bass == root:
            break  # over a foreign bass a later tier may give a lower octave of it
    slash = bool(over)
    leads = not slash and (seventh is not None or sixth is not None)
    return Plain(root, bass, slash, QUALITIES[quality], leads, tuple(options), bool(pin))


def step_cost(a: Plain, x: tuple, b: Plain, y: tuple) -> int:
    """What it costs to go from shell x of chord a to shell y of chord b."""
    low, up = abs(x[0] - y[0]), abs(x[1] - y[1])
    cost = low
    if not a.rests and not b.rests:
        cost += up
        falls_a_fifth = (b.root - a.root) % 12 == 5
        if falls_a_fifth and a.leads and b.leads and sorted((x[2], y[2])) != [3, 7]:
            cost += 4
        if a.root == b.root and a.tones != b.tones and (low, up) == (0, 0):
            cost += 4
    if low >= 8 and min((b.bass - a.bass) % 12, (a.bass - b.bass) % 12) in (1, 2):
        cost += 6
    return cost


def ring_cost(chords: list[Plain], path: tuple) -> int:
    """Of a chorus that closes on itself."""
    return sum(
        step_cost(chords[i], path[i], chords[(i + 1) % len(path)], path[(i + 1) % len(path)]) for i in range(len(path))
    )


def phrase_cost(path: tuple, phrases: list[list[tuple[int, int]]]) -> int:
    """4 for every phrase whose inner shells are not those that most of its kind have. phrases: kinds, each a list of
    (first chord, last chord)."""
    cost = 0
    for kind in phrases:
        inner = [tuple(shell[:2] for shell in path[first + 1 : last]) for first, last in kind]
        cost += 4 * (len(inner) - max(inner.count(way) for way in inner))
    return cost


def least_cost(chords: list[Plain], phrases: list[list[tuple[int, int]]] = ()) -> int:
    """Of every path there is."""
    return min(ring_cost(chords, path) + phrase_cost(path, phrases) for path in all_paths(chords))


def all_paths(chords: list[Plain]):
    """Every choice of shells."""
    return product(*(chord.options for chord in chords))


def travelled(path: tuple) -> int:
    """Semitones that both notes travel in a ring."""
    return sum(abs(x[0] - y[0]) + abs(x[1] - y[1]) for x, y in zip(path, (*path[1:], path[0]), strict=True))


def least_alike(chords: list[Plain], spans: list[tuple[int, int]]) -> int:
    """The least of a chorus in which these phrases, all of one kind, have the same inner shells; nothing is charged for phrases. spans:
    (first chord, last chord) of each, in order. Without spans the least of all. Between the first and the last of the inner shells
    the way is a least one; so all pairs of these two are tried, and for each the least round over all first shells."""

    def onward(costs: dict, at: int) -> dict:
        """Costs by shell of chord `at`, to costs by shell of the one after it."""
        a, b = chords[at % len(chords)], chords[(at + 1) % len(chords)]
        return {y: min(cost + step_cost(a, x, b, y) for x, cost in costs.items()) for y in b.options}

    def along(costs: dict, first: int, last: int) -> dict:
        for at in range(first, last):
            costs = onward(costs, at)
        return costs

    def around(inner: tuple | None) -> int:
        """inner: (first shell, last shell, cost between them), None without spans."""
        begin, least = spans[0][0] if spans else 0, []
        for start in chords[begin].options:
            costs, at = {start: 0}, begin
            for first, last in spans:
                costs = onward(along(costs, at, first), first)
                costs = onward({inner[1]: costs[inner[0]] + inner[2]}, last - 1)
                at = last
            least.append(along(costs, at, begin + len(chords))[start])
        return min(least)

    if not spans:
        return around(None)
    first, last = spans[0][0] + 1, spans[0][1] - 1
    ways = ((x, y, cost) for x in chords[first].options for y, cost in along({x: 0}, first, last).items())
    return min(map(around, ways))
