"""Whether what the left hand does at a phrase's end keeps its rules, from plain numbers alone. Imports nothing of the project. Scales: fills_checker.py."""

from __future__ import annotations

from itertools import pairwise

from fills_checker import SCALES


def faults(kind, keys, fingers, root, semitones, goal, goal_root, lowest, above):
    """A sentence for each rule that is broken. keys: one a beat. root, semitones: of the chord that still sounds; goal: the key that comes next, goal_root: its chord's root. above: the
    right hand's keys, beat by beat."""
    found = []
    if kind == "rest":
        return ["a rest sounds"] if keys else []
    if not 1 <= len(keys) <= 3 or len(fingers) != len(keys) or not all(1 <= each <= 5 for each in fingers):
        found.append("too many notes, or no finger")
    if kind == "walk":
        steps = [b - a for a, b in pairwise([*keys, goal])]
        if any(not 1 <= abs(step) <= 2 for step in steps) or len({step > 0 for step in steps}) > 1:
            found.append("not by step")
        scale = next(scale for needed, scale in SCALES if needed <= set(semitones)) | set(semitones)
        outside = [key for key in keys if (key - root) % 12 not in scale]
        if outside and (outside != list(keys[-1:]) or abs(keys[-1] - goal) != 1):
            found.append("out of the scale")
    if kind == "dominant":
        if (keys[0] - goal_root) % 12 != 7 or list(keys[1:]) not in ([], [goal - 1]):
            found.append("no dominant")
        if len(keys) == 2 and keys[1] - keys[0] != 4:
            found.append("a leap down to the leading note")
    for key, over in zip(keys, above[len(above) - len(keys) :], strict=True):
        if key < lowest:
            found.append("too low")
        if any(other < key + 3 or other - key in (13, 25, 37) for other in over):
            found.append("in the way of the right hand")
    for (a, f), (b, g) in pairwise(zip(keys, fingers, strict=True)):
        if a != b and (f == g or (abs(f - g) > 0 and 1 not in (f, g) and (b > a) != (g < f))):
            found.append("fingers cross")
    return found
