"""Whether slides and tremolos keep every rule, from plain numbers alone. Imports nothing of the project.

Sources: one finger slips from a black key to the white one beside it, else two neighbouring fingers (arithmetic of the keyboard; common practice); graces
keep their length over tempo (Timmers and others 2002); six to nine strokes a second, no key again before 100 ms (common practice); an octave's reach.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

BLACK = {1, 3, 6, 8, 10}


@dataclass(frozen=True)
class Hit:
    """Keys that go down together, ticks of the chorus. kind: "slide", "tremolo", "fill" or None."""

    start: int
    end: int
    keys: tuple
    fingers: tuple
    kind: str | None = None


def faults(hits, left, tick_ms, slide_ms, pulse):
    """A sentence for each rule that is broken. hits: the right hand's, in order; left: (start, end, keys) of the left hand; slide_ms: how long a grace is to last."""
    found = []
    for number, hit in enumerate(hits):
        before = hits[number - 1] if number else None
        after = hits[number + 1] if number + 1 < len(hits) else None
        if hit.kind == "slide":
            found += _slide(hit, before, after, tick_ms, slide_ms)
        if any(low + 3 > key for start, end, keys in left if start < hit.end and hit.start < end for low in keys
               for key in (hit.keys if hit.kind else ())):  # fmt: skip
            found.append("under the left hand, or too near it")
    for a, b in pairwise(hits):
        if "slide" in (a.kind, b.kind) or "tremolo" in (a.kind, b.kind):
            if a.end > b.start:
                found.append("sounds into the next")
            ms = (b.start - a.start) * tick_ms
            if ms < 300 and max(abs(x - y) for x in a.keys for y in b.keys) > 19:
                found.append("a leap too far")
    found += _again(hits, tick_ms)
    return found + _tremolos(hits, tick_ms, pulse)


def _slide(hit, before, after, tick_ms, slide_ms):
    found = []
    if after is None or after.start != hit.end:
        return ["leads to nothing"]
    key, grace = after.keys[-1], hit.keys[0]
    if len(hit.keys) != 1 or abs(key - grace) != 1:
        found.append("no semitone")
    if abs((hit.end - hit.start) * tick_ms - slide_ms) > 1:
        found.append("not as long as asked")
    if grace - min(after.keys) > 12:
        found.append("out of reach")
    if any(abs(grace - other) < 2 for other in after.keys[:-1]):
        found.append("a semitone in the hand")
    same = grace % 12 in BLACK and key % 12 not in BLACK
    if hit.fingers[0] != after.fingers[-1] - (0 if same else (key - grace)) or not 1 <= hit.fingers[0] <= 5:
        found.append("no such fingers")
    if hit.fingers[0] in after.fingers[:-1]:
        found.append("the finger is held elsewhere")
    if before is not None and (hit.start - before.start) * tick_ms < 99:
        found.append("nothing is left of the note before")
    return found


def _again(hits, tick_ms):
    found, last = [], {}
    for hit in hits:
        for key in hit.keys:
            start, end, was = last.get(key, (None, None, None))
            near = was == "slide" or hit.kind in ("slide", "tremolo")
            if start is not None and near and (hit.start - start) * tick_ms < 99:
                found.append("one key again too soon")
            if start is not None and hit.kind == "slide" and (hit.start - end) * tick_ms < 99:
                found.append("a grace on a key just let go")
            last[key] = (hit.start, hit.end, hit.kind)
    return found


def _tremolos(hits, tick_ms, pulse):
    found, number = [], 0
    while number < len(hits):
        if hits[number].kind != "tremolo":
            number += 1
            continue
        run = [hits[number]]
        for hit in hits[number + 1 :]:  # as far as two chords take turns
            if (
                hit.kind != "tremolo"
                or hit.start != run[-1].end
                or hit.keys != (run[-2].keys if len(run) > 1 else hit.keys)
            ):
                break
            run.append(hit)
        number += len(run)
        after = hits[number] if number < len(hits) else None
        end = (
            after.end if after is not None and after.kind == "slide" else run[-1].end
        )  # a grace takes its time from it
        if len(run) < 4 or end - run[0].start < 2 * pulse:
            found.append("too short for a tremolo")
            continue
        first, second = run[0], run[1]
        if set(first.keys) & set(second.keys) or set(first.fingers) & set(second.fingers):
            found.append("one key or finger in both halves")
        every = sorted((*first.keys, *second.keys))
        if every[-1] not in first.keys or (len(every) > 2 and every[0] not in first.keys):
            found.append("the outer notes are not first")
        if every[-1] - every[0] > 12:
            found.append("out of reach")
        rates = [1000 / ((b.start - a.start) * tick_ms) for a, b in pairwise(run)]
        if not all(5.95 <= rate <= 9.05 for rate in rates):
            found.append("not six to nine strokes a second")
        if max(rates) - min(rates) > 0.1:
            found.append("uneven")
    return found
