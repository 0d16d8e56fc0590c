"""Takes with voices under the melody, as hands play them, with all that was done in them known.

Every strike of a hand is off the beat by itself, its keys are held for a share of what is written, and what lies under the melody is rolled behind it.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

from companion.groove.model import HAND_PARTS
from companion.groove.timeline import timeline
from companion.practice.model import Press
from companion.session.stand import Stand

SPREAD_S, ROLL_S, HELD = 0.020, 0.030, (0.60, 0.95)
STARTS_AT_S = 2.0
Keys = list[tuple[float, float, int]]  # second, second it ends, key


@dataclass(frozen=True)
class Slip:
    """kind: "wrong" or "missing". key: that was due; played: what was struck in its place; melody: the key of the note of the melody there."""

    kind: str
    key: int
    melody: int
    played: int = 0


def with_voices(stand: Stand, voices: int) -> Stand:
    stand = stand.with_hands("both")
    return stand.change(arranged=replace(stand.arranged, voices=voices))


def strokes(stand: Stand) -> dict[tuple[str, float], Keys]:
    """Hand and second -> what it strikes there, of the loop once through, from its first bar line on."""
    asked = replace(stand.arrangement(), parts=HAND_PARTS, count_in_bars=0)
    whole = timeline(asked, [stand.tempo_bpm])
    found: dict[tuple[str, float], Keys] = {}
    events = [event for event in whole.events if event.part in HAND_PARTS]
    starts = whole.seconds(event.tick for event in events)
    ends = whole.seconds(event.tick + event.ticks for event in events)
    for event, start_s, end_s in zip(events, starts, ends, strict=True):
        found.setdefault((event.part, round(start_s, 4)), []).append((start_s, end_s, event.note))
    return found


def played(stand: Stand, seed: int, slips_in: float = 0.0) -> tuple[list[Press], dict[float, Slip]]:
    """The keys in order of time, and by the second of the stroke what slipped in the right hand. slips_in: so many of its strokes."""
    rng, presses, slips = random.Random(seed), [], {}
    for (part, at_s), keys in strokes(stand).items():
        melody, due = max(note for _, _, note in keys), {note for _, _, note in keys}
        slip = _slip(rng, due, melody) if part == "right" and rng.random() < slips_in else None
        if slip is not None:
            slips[at_s] = slip
        off_s, held = rng.gauss(0.0, SPREAD_S), rng.uniform(*HELD)
        for start_s, end_s, note in keys:
            roll_s = rng.uniform(0.0, ROLL_S) if part == "right" and note != melody else 0.0
            if slip is not None and note == slip.key:
                if slip.kind == "missing":
                    continue
                note = slip.played
            presses.append(Press(STARTS_AT_S + start_s + off_s + roll_s, note, 64, held * (end_s - start_s)))
    return sorted(presses, key=lambda press: press.time_s), slips


def _slip(rng: random.Random, due: set[int], melody: int) -> Slip | None:
    """As often of the melody as of what lies under it."""
    key = melody if len(due) == 1 or rng.random() < 0.5 else rng.choice(sorted(due - {melody}))
    if rng.random() < 0.5:
        return Slip("missing", key, melody)
    beside = [note for note in (key - 2, key - 1, key + 1, key + 2) if note not in due]
    return Slip("wrong", key, melody, rng.choice(beside)) if beside else None
