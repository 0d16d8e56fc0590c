"""Tremolos: the outer notes of a chord against its inner ones, on a note of two beats or more (common practice). How fast: groove/ornamented.py."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

LEAST_PULSES = 2
APART = 4  # bars from one tremolo to the next at least where nobody asked for this very one (ours)


@dataclass(frozen=True, slots=True)
class Tremolo:
    """turns: the keys that take turns with the others of the chord, which come first. why: a sentence. pulses: that it lasts."""

    turns: tuple[int, ...]
    why: str
    pulses: float = LEAST_PULSES


def tremolo(keys: Sequence[int], names: Sequence[str], pulses: float) -> Tremolo | None:
    """The tremolo on a chord of the right hand, keys and names from the lowest, None where it is a single note or lasts too short. pulses: that it lasts."""
    if len(keys) < 2 or pulses < LEAST_PULSES:
        return None
    inner = tuple(keys[1:-1]) or (keys[0],)
    outer = [name for key, name in zip(keys, names, strict=True) if key not in inner]
    within = [name for key, name in zip(keys, names, strict=True) if key in inner]
    why = f"A tremolo: {' and '.join(outer)} in turns with {' and '.join(within)}, from a loose wrist; stop when the arm tires."
    return Tremolo(inner, why, pulses)
