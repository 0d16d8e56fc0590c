"""Whether a right hand that harmonises a melody keeps every hard rule, from plain numbers alone. Imports nothing of the project.

Low-interval limits: the handbook figures of hands/limits.py's source A, its misprinted tritone read as A2, written anew; spans of two fingers: Parncutt,
Sloboda, Clarke, Raekallio and Desain 1997, MinPrac and MaxPrac (from the table in hands/right_oracle.py). The rest is the project's own rules,
written anew from their words.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise

from hands.right_oracle import ROWS, note_points, pair_points, triple_points

LOWEST_OF = {
    1: 52,
    2: 51,
    3: 48,
    4: 46,
    5: 45,
    6: 45,
    7: 37,
    8: 41,
    9: 41,
    10: 41,
    11: 41,
    13: 40,
    14: 39,
    15: 36,
    16: 34,
}
NEEDS_MS = {1: 0, 2: 200, 3: 300, 4: 400}


@dataclass(frozen=True)
class Struck:
    """Ticks in the chorus; keys from the lowest, the melody last."""

    start: int
    added_end: int
    end: int
    keys: tuple[int, ...]
    fingers: tuple[int, ...]


@dataclass(frozen=True)
class Sounding:
    """A chord in its place. degrees: name -> pitch class. extra: tensions that may be added. shell: keys of the left hand."""

    start: int
    end: int
    root: int
    degrees: dict
    extra: frozenset
    shell: tuple[int, ...]


def faults(struck, chords, tick_ms, voices, span=12):
    """A sentence for each rule that is broken. struck: in order; chords: in order, those of N.C. left out."""
    found = []
    for number, hand in enumerate(struck):
        say = lambda words, hand=hand: found.append(f"tick {hand.start}, {hand.keys}: {words}")
        after = struck[number + 1].start if number + 1 < len(struck) else None
        room_ms = (after - hand.start) * tick_ms if after is not None else 10_000
        *added, melody = hand.keys
        if len(hand.keys) > voices or list(hand.keys) != sorted(set(hand.keys)):
            say("too many notes, or out of order")
        if added and room_ms < NEEDS_MS.get(len(hand.keys), 10**9) - 1e-6:
            say("the next stroke comes too soon")
        if len(hand.fingers) != len(hand.keys) or any(b <= a for a, b in zip(hand.fingers, hand.fingers[1:])):
            say("no fingering")
        else:
            for (f, p), (g, q) in combinations(zip(hand.fingers, hand.keys), 2):
                if not 1 <= f < g <= 5 or not ROWS[f, g][0] <= q - p <= ROWS[f, g][5]:
                    say(f"fingers {f} and {g} do not reach")
        if not added:
            continue
        over = [chord for chord in chords if chord.start < hand.added_end and chord.end > hand.start]
        if not over or hand.start < over[0].start:
            say("no chord sounds")
            continue
        if hand.added_end > hand.end:
            say("held longer than the melody")
        first = over[0]
        for chord in over:
            if (chord.root, chord.degrees) != (first.root, first.degrees) and first.end - hand.start > 480:
                say("held into another chord")
            allowed = {
                pc for name, pc in chord.degrees.items() if not (name in ("11", "4") and "3" in chord.degrees)
            } | chord.extra
            if any(key % 12 not in allowed for key in added):
                say("no chord tone")
            for lower, upper in [(low, key) for low in chord.shell for key in added] + list(combinations(hand.keys, 2)):
                own = lower % 12 == chord.root and upper % 12 == chord.degrees.get("b9")
                if upper - lower in (13, 25) and not own:
                    say("a minor ninth")
                if lower < LOWEST_OF.get(upper - lower, 0):
                    say("too low for its interval")
            if chord.shell and min(added) < max(chord.shell) + 3:
                say("on top of the shell")
        if melody - added[0] > span or added[0] < 53:
            say("too far down")
        if melody - added[-1] < 3 or any(b - a < 2 for a, b in pairwise(added)):
            say("too close")
        if len({key % 12 for key in hand.keys}) < len(hand.keys):
            say("a tone twice")
        for other in (*struck[max(0, number - 1) : number], *struck[number + 1 : number + 2]):
            away_ms = abs(other.start - hand.start) * tick_ms
            if (
                away_ms < 300
                and max(abs(a - b) for a, b in zip((hand.keys[0], hand.keys[-1]), (other.keys[0], other.keys[-1]))) > 19
            ):
                say("a leap too far")
    return found


# --- all of it tried: the least cost of a phrase

INTERVAL_COST = {2: 3, 3: 0, 4: 0, 5: 3, 6: 2, 7: 4, 8: 0, 9: 0, 10: 5, 11: 7, 12: 8}


def note_cost(keys, chord, shell, voices, place=""):
    """What one voicing costs but for its fingers. chord: a Sounding. place: "light" between others, "last" of a phrase."""
    heard = {key % 12 for key in (*shell, *keys)}
    guides = [next((chord.degrees[name] for name in names if name in chord.degrees), None) for names in
              (("b3", "3", "#3", "4", "2"), ("bb7", "b7", "7", "6", "b6"))]  # fmt: skip
    silent = sum(guide is not None and guide not in heard for guide in guides)
    if place == "light":
        cost = 4 * silent + ((3 if voices == 2 else 7) if len(keys) == 1 else 0) + 2 * (voices - max(2, len(keys)))
    else:
        cost = 8 * silent + 10 * (voices - len(keys))
    for low, high in pairwise(keys):
        cost += min(4, INTERVAL_COST[high - low]) if place == "last" and high - low >= 10 else INTERVAL_COST[high - low]
    return cost + sum((3 if key < 60 else 1) for key in keys[:-1] if key % 12 in {low % 12 for low in shell})


def inner_cost(before, after):
    """A point for each semitone beyond one that an added note lies from the nearest before, six at most. before, after: added keys."""
    return min(6, sum(max(0, min(abs(key - old) for old in before) - 1) for key in after)) if before and after else 0


def hold_cost(keys, fingers):
    """What holding it costs: rules 1, 2, 3 of the paper over every pair, 6 and 10 over every note but the melody."""
    if len(keys) == 1:
        return 0
    cost = 0
    for (f, p), (g, q) in combinations(zip(fingers, keys), 2):
        _, min_comf, min_rel, max_rel, max_comf, _ = ROWS[f, g]
        cost += 2 * max(0, min_comf - (q - p), (q - p) - max_comf)
        cost += (1 if f == 1 else 2) * max(0, min_rel - (q - p), (q - p) - max_rel)
    for f, p in zip(fingers[:-1], keys):
        cost += (f in (4, 5)) + (f == 1 and p % 12 in (1, 3, 6, 8, 10))
    return min(5, cost)


def least_cost(strokes, voices, tick_ms, places, span=12):
    """The least that a phrase can cost, every set of keys and every fingering tried, each after each. strokes: Struck
    with the melody alone, each with its Sounding, or None for no chord; onsets as in the chorus."""
    options, duties = [], []
    for number, (hand, chord) in enumerate(strokes):
        melody = hand.keys[-1]
        after = strokes[number + 1][0].start if number + 1 < len(strokes) else hand.start + 10**6
        most = max((n for n, ms in NEEDS_MS.items() if n <= voices and (after - hand.start) * tick_ms >= ms), default=1)
        here = {}
        tones = [] if chord is None else [
            key for key in range(max(53, melody - span), melody - 2)
            if key % 12 in {pc for name, pc in chord.degrees.items() if not (name in ("11", "4") and "3" in chord.degrees)}
        ]  # fmt: skip
        if voices == 2 and chord is not None:
            heard = {key % 12 for key in chord.shell}
            third = [chord.degrees[name] for name in ("3", "b3", "4", "2") if name in chord.degrees][:1]
            seventh = [chord.degrees[name] for name in ("7", "b7", "bb7", "6") if name in chord.degrees][:1]
            tones = [
                key
                for key in tones
                if melody - key in (3, 4, 8, 9) or (key % 12 in third + seventh and key % 12 not in heard)
            ]
        for count in range(most):
            for added in combinations(tones, count):
                keys = (*added, melody)
                first = Struck(hand.start, hand.end, hand.end, keys, tuple(range(1, len(keys) + 1)))
                wrong = faults([first], [chord], tick_ms, voices, span) if added else []
                if any(": fingers" not in words for words in wrong):
                    continue  # no fingering mends that
                for fingers in combinations(range(1, 6), len(keys)):
                    alone = Struck(hand.start, hand.end, hand.end, keys, fingers)
                    if added and faults([alone], [chord], tick_ms, voices, span):
                        continue
                    cost = note_cost(keys, chord, chord.shell, voices, places[number]) if chord and most > 1 else 0
                    cost += hold_cost(keys, fingers)
                    here[added, fingers[-1]] = min(cost, here.get((added, fingers[-1]), cost))
        options.append(here)
        duties.append(most > 1 and chord is not None)
    keys = [hand.keys[-1] for hand, _ in strokes]
    return _least(keys, options, duties)


def _least(keys, options, duties):
    """Every way from the first note on, of which only the cheapest with the same last two fingers and the same last keys is kept, as no rule sees more."""
    best = {(0, option): cost + _own(option[1], keys, 0) for option, cost in options[0].items()}
    for n in range(1, len(keys)):
        longer = {}
        turn_most = 1 if any(duties[max(0, n - 2) : n + 1]) else 10**6
        for (e, (before, f)), so_far in best.items():
            for (after, g), cost in options[n].items():
                step = min(3 if any(duties[n - 1 : n + 1]) else 10**6, pair_points(f, g, *keys[n - 1 : n + 1]))
                turn = min(turn_most, triple_points(e, f, g, *keys[n - 2 : n + 1])) if n > 1 else 0
                whole = so_far + cost + _own(g, keys, n) + step + turn + inner_cost(before, after)
                way = (f, (after, g))
                if whole < longer.get(way, 10**9):
                    longer[way] = whole
        best = longer
    return min(best.values())


def _own(finger, keys, n):
    return note_points(finger, keys[n], [*keys[max(0, n - 1) : n], *keys[n + 1 : n + 2]])
