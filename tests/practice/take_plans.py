"""What a made-up take is to hold (Recipe), and in which order its bars are played: begun again, left out, waited for. takes.py plays
them."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from itertools import pairwise

from companion.practice.marking.expected import TimedStrike

# What may be wrong with a chord, and the share of chords of a pattern it is possible for (see _slip).
SLIPS = ("wrong", "wrong first", "missing", "half", "late", "early", "octave", "other shell", "neighbour", "gone later")
HABITS = (
    "rushes",
    "drags",
    "rushes each chorus",
    "drags each chorus",
    "rushes a section",
    "changes late",
    "beat late",
    "weak note",
    "later note",
    "short",
    "waits at a change",
    "pushes",
    "better",
    "worse",
)
PUSHED_SHARE = 0.4  # of the changes, by a player who pushes
SLIPS_OF_CHORUS = (0.45, 0.3, 0.15, 0.05)  # the share of chords that slip in each chorus of a player who gets better


@dataclass(frozen=True, slots=True)
class Recipe:
    """What a take is to be made of; counts are of the whole take. jitter_ms: standard deviation of a stroke. wander: largest
    change of the tempo, over wander_beats. roll_ms: from the first to the last key. transpose: semitones. click: a click is in
    the file, and the student so many ms behind it (None: no click). silent_bars: the left hand rests so long, once, while the melody goes on. file: written
    as a MIDI file of any kind and read back."""

    pattern: str = "four"
    choruses: int = 2
    jitter_ms: float = 18.0
    wander: float = 0.0
    wander_beats: float = 64.0
    waits: int = 0
    restarts: int = 0
    skips: int = 0
    slips: int = 5
    pushes: int = 0
    smashes: int = 0
    roll_ms: float = 0.0
    melody: bool = False
    transpose: int = 0
    start_bar: int = 0
    stop_bars: int = 0
    rest_after: int | None = None
    takes: int = 1
    habit: str = ""
    click_ms: float | None = None
    tempo: float | None = None
    silent_bars: int = 0
    file: bool = False


@dataclass(slots=True)
class Visit:
    """A bar as it is played. strikes: how many of its strikes; counted: whether it is the last try at it. wait: beats waited
    before strike `wait_at`. pause: beats of silence before it."""

    visit: int
    position: int
    cut: int | None = None
    counted: bool = True
    pause: float = 0.0
    waits: dict[int, float] = field(default_factory=dict)
    silent: bool = False


def order_of_bars(rng: random.Random, recipe: Recipe, bars: int, by_bar: list[list[TimedStrike]]) -> list[Visit]:
    """The bars in the order in which they are played."""
    visits = []
    for take in range(recipe.takes):
        for turn in range(recipe.choruses):
            for position in range(bars):
                visit = Visit(take * recipe.choruses + turn, position)
                if take and not turn and not position:
                    visit.pause = rng.uniform(12.0, 30.0)
                if recipe.rest_after == turn and position == 0 and turn:
                    visit.pause = float(sum(4 for _ in range(bars)))
                visits.append(visit)
    visits = visits[recipe.start_bar : len(visits) - recipe.stop_bars]
    places = _apart(rng, recipe.restarts + recipe.skips, len(visits), 6)
    kinds = ["again"] * recipe.restarts + ["left out"] * recipe.skips
    rng.shuffle(kinds)
    for kind, place in sorted(zip(kinds, places), key=lambda pair: -pair[1]):
        if kind == "again":
            back = rng.choice([0, 0, 0, 1, 2])
            first = max(0, place - back)
            if visits[first].visit != visits[place].visit:
                first = place
            strikes_there = len(by_bar[visits[place].position])
            if not strikes_there:
                continue
            cut = rng.randint(1, strikes_there)
            again = [Visit(v.visit, v.position) for v in visits[first : place + 1]]
            again[0].pause = rng.uniform(0.5, 3.0)
            again[0].waits[-1] = -1.0  # told as begun again (see _note_events)
            for old in visits[first : place + 1]:
                old.counted = False
            visits[place].cut = cut
            visits[place + 1 : place + 1] = again
        else:
            count = min(rng.choice([1, 1, 2, 4]), len(visits) - place - 3)
            if count > 0 and visits[place + count].visit == visits[place].visit:
                visits[place + count].waits[-2] = float(count)
                del visits[place : place + count]
    return visits


def rest_hand(rng: random.Random, recipe: Recipe, visits: list[Visit], by_bar: list[list[TimedStrike]]) -> None:
    """The bars in which the left hand rests, with some before and after them."""
    bars = recipe.silent_bars
    first = rng.randrange(4, len(visits) - bars - 4) if bars else 0
    for visit in visits[first : first + bars]:
        visit.silent = bool(by_bar[visit.position])


def _apart(rng: random.Random, count: int, length: int, gap: int) -> list[int]:
    """So many places, at least gap apart and away from the ends where there is room."""
    for _ in range(200):
        places = sorted(rng.sample(range(3, max(4 + count, length - 4)), count)) if count else []
        if all(b - a >= gap for a, b in pairwise(places)):
            return places
    return places


def add_waits(
    rng: random.Random, recipe: Recipe, visits: list[Visit], by_bar: list[list[TimedStrike]]
) -> tuple[int, int] | None:
    free = [
        n
        for n, v in enumerate(visits)
        if 2 < n < len(visits) - 2
        and v.counted
        and not v.waits
        and v.cut is None
        and by_bar[v.position]
        and not visits[n - 1].waits
        and not visits[n - 1].cut
        and not visits[n + 1].waits
    ]
    chosen: list[int] = []
    for _ in range(recipe.waits):
        left = [n for n in free if all(abs(n - other) >= 3 for other in chosen)]
        if left:
            chosen.append(rng.choice(left))
    for n in chosen:
        firsts = [k for k, s in enumerate(by_bar[visits[n].position]) if s.number == 0]
        visits[n].waits[rng.choice(firsts)] = rng.choice([0.25, 0.4, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0])
    if recipe.habit == "waits at a change":
        position = rng.randrange(2, len(by_bar))
        while not by_bar[position]:
            position = rng.randrange(2, len(by_bar))
        for visit in visits:
            if visit.position == position:
                visit.waits[0] = 0.5
        return by_bar[position][0].group.index, by_bar[position][0].group.chord
    return None


def choose_slips(
    rng: random.Random, recipe: Recipe, visits: list[Visit], by_bar: list[list[TimedStrike]]
) -> dict[tuple[int, int], str]:
    """(number of the visit, chord in its bar) -> slip."""
    places = []
    for n, visit in enumerate(visits):
        near = visits[max(0, n - 1) : n + 2]
        if visit.counted and 0 < n < len(visits) - 1 and not any(v.cut is not None or v.waits or v.pause for v in near):
            places += [(n, chord) for chord in dict.fromkeys(s.group.chord for s in by_bar[visit.position])]
    if recipe.habit in ("better", "worse"):
        shares = SLIPS_OF_CHORUS if recipe.habit == "better" else SLIPS_OF_CHORUS[::-1]
        by_chorus = [[place for place in places if visits[place[0]].visit == number] for number in range(len(shares))]
        return {
            place: rng.choice(SLIPS)
            for share, chorus in zip(shares, by_chorus)
            for place in rng.sample(chorus, round(share * len(chorus)))
        }
    rng.shuffle(places)
    slips: dict[tuple[int, int], str] = {}
    taken: set[int] = set()
    wanted = [rng.choice(SLIPS) for _ in range(recipe.slips)] + ["push"] * recipe.pushes + ["smash"] * recipe.smashes
    for slip in wanted:
        for place in places:
            if place[0] not in taken:
                strikes_there = sum(s.group.chord == place[1] for s in by_bar[visits[place[0]].position])
                if slip == "gone later" and strikes_there == 1:
                    slip = "missing"
                slips[place] = slip
                taken |= {place[0] - 1, place[0], place[0] + 1}
                break
    return slips
