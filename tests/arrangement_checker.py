"""Whether two hands can play a whole arrangement, from plain numbers alone: the limits of a pianist at the target tempo. Imports nothing of the project.

The limits (common practice, as the project's list of aims has them): an octave's reach, what is still held counted in; leaps of an octave and a fifth at most within
300 ms; one key again not before 100 ms; right above left, and a key of one hand never under the other's finger.
"""

from __future__ import annotations

from dataclasses import dataclass

REACH, FINGERS = 12, 5
FAR_LEAP, LEAP_MS = 19, 300.0
AGAIN_MS = 100.0
ROUNDING_MS = 1.0  # two places that a tick rounds apart


@dataclass(frozen=True)
class Played:
    """Keys that one hand strikes together. hand: "left" or "right". start, ends: milliseconds from the first bar line, of the stroke and of each key."""

    hand: str
    start: float
    ends: tuple
    keys: tuple


def limits_broken(strokes):
    """A sentence for each limit that is broken. strokes: of both hands, in any order."""
    strokes = sorted(strokes, key=lambda stroke: (stroke.start, stroke.hand))
    found, struck = [], {}
    held = {"left": {}, "right": {}}  # key -> when it is let go
    latest = {}
    for stroke in strokes:
        say = lambda words, stroke=stroke: found.append(
            f"{stroke.hand} at {stroke.start:.0f} ms, {stroke.keys}: {words}"
        )
        own, other = held[stroke.hand], held["right" if stroke.hand == "left" else "left"]
        for each in (own, other):
            for key in [key for key, until in each.items() if until <= stroke.start + ROUNDING_MS]:
                del each[key]
        if list(stroke.keys) != sorted(set(stroke.keys)):
            say("a key twice, or out of order")
        for key in stroke.keys:
            if stroke.start - struck.get(key, -1e9) < AGAIN_MS - ROUNDING_MS:
                say(f"{key} again too soon")
            if key in other:
                say(f"{key} is under the other hand")
            struck[key] = stroke.start
        before = latest.get(stroke.hand)
        if before is not None and stroke.start - before.start < LEAP_MS - ROUNDING_MS:
            far = max(abs(a - b) for pick in (min, max) for a, b in [(pick(before.keys), pick(stroke.keys))])
            if far > FAR_LEAP:
                say("a leap too far")
        latest[stroke.hand] = stroke
        own.update(zip(stroke.keys, stroke.ends))
        if max(own) - min(own) > REACH or len(own) > FINGERS:
            say(f"out of reach with what is held, {sorted(own)}")
        if held["left"] and held["right"] and max(held["left"]) >= min(held["right"]):
            say("the hands cross")
    return found
