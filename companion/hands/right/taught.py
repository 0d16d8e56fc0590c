"""The fingerings that methods teach for scales and arpeggios, and where a phrase runs along one.

A run takes the taught fingers, whatever other ones cost. It goes all up or all down through all that there is of a scale or a chord, and does not
lie under one hand; what is shorter is no exercise but a piece of the tune, and the costs choose:

| run | notes | through |
|---|---|---|
| scale | 7 or more | the steps of a major, natural, harmonic or melodic minor scale |
| chromatic | 5 or more | semitones |
| arpeggio | 4 or more | the tones of a major or minor triad, none left out |

Source of every row: common practice of methods, from memory. Methods differ (a scale of B flat may begin on 2 or on 4); a teacher's
or the student's own fingering is as good.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from companion.hands.right.prices import is_black
from companion.theory.key import Key

LEAST_SCALE, LEAST_CHROMATIC, LEAST_ARPEGGIO = 7, 5, 4
STEPS = {
    "major": (0, 2, 4, 5, 7, 9, 11),
    "natural minor": (0, 2, 3, 5, 7, 8, 10),
    "harmonic minor": (0, 2, 3, 5, 7, 8, 11),
    "melodic minor": (0, 2, 3, 5, 7, 9, 11),
}
TRIADS = {"major": (0, 4, 7), "minor": (0, 3, 7)}


@dataclass(frozen=True, slots=True)
class Taught:
    """fingers: of each tone from the root upwards. top: of the root where the run turns above or ends there, low: where it is the
    lowest note; 0 where they are as anywhere."""

    fingers: tuple[int, ...]
    top: int = 0
    low: int = 0


def _row(fingers: str, top: int = 0, low: int = 0) -> Taught:
    return Taught(tuple(int(finger) for finger in fingers), top, low)


# On top of a scale no thumb passes under for nothing: the next finger takes that note (see `_along`).
_WHITE, _F = _row("1231234"), _row("1234123")
_BB, _EB, _AB = _row("4123123"), _row("3123412"), _row("3412312")
_DB, _GB = _row("2312341"), _row("2341231")
# Pitch class of the tonic -> fingers, right hand.
_MAJOR = {
    0: _WHITE,
    1: _DB,
    2: _WHITE,
    3: _EB,
    4: _WHITE,
    5: _F,
    6: _GB,
    7: _WHITE,
    8: _AB,
    9: _WHITE,
    10: _BB,
    11: _WHITE,
}
_HARMONIC = {**_MAJOR, 1: _AB, 6: _AB}
SCALES = {
    "major": _MAJOR,
    "natural minor": _HARMONIC,
    "harmonic minor": _HARMONIC,
    "melodic minor": {**_HARMONIC, 1: _DB, 6: _DB},  # going up; going down it is the natural minor
}
_ROOT, _BLACK_ROOT = _row("123", top=5), _row("412", top=4, low=2)
ARPEGGIOS = {
    "major": dict.fromkeys((0, 2, 4, 5, 6, 7, 9, 11), _ROOT) | dict.fromkeys((1, 3, 8, 10), _BLACK_ROOT),
    "minor": dict.fromkeys((0, 2, 3, 4, 5, 7, 9, 11), _ROOT)
    | dict.fromkeys((1, 6, 8), _BLACK_ROOT)
    | {10: _row("231", top=2)},
}
# An inversion that begins on a white key, from its lowest tone: the fourth finger, as a third is left to the top.
INVERSION = _row("124", top=5)
_CHROMATIC = {pc: 3 if is_black(pc) else 2 if pc in (0, 5) else 1 for pc in range(12)}  # third finger on black keys


def taught_fingers(keys: Sequence[int], key: Key) -> dict[int, int]:
    """Place in the phrase -> its taught finger, for the notes of runs. keys: MIDI numbers; key: that the phrase is in.

    A note that two runs share has the finger of the longer one.
    """
    runs = [run for find in (_scales, _chromatics, _arpeggios) for run in find(keys, key)]
    found: dict[int, int] = {}
    for start, fingers in sorted(runs, key=lambda run: -len(run[1])):
        for at, finger in enumerate(fingers, start):
            found.setdefault(at, finger)
    return found


Run = tuple[int, tuple[int, ...]]


def _scales(keys: Sequence[int], key: Key) -> Iterator[Run]:
    for start, end in _stretches(keys, 1, 3):
        at = start
        while end - at >= LEAST_SCALE:
            stretch = keys[at:end]
            found = ((_fitting(stretch, *scale), stretch[0] % 12 == scale[1], scale) for scale in _scales_near(key))
            length, _, scale = max(
                found, key=lambda each: each[:2]
            )  # of equals that on the run's first note, then the first
            if length >= LEAST_SCALE:
                yield at, _along_scale(keys, at, at + length, *scale)
            at += max(1, length - 1)


def _scales_near(key: Key) -> Iterator[tuple[str, int]]:
    """Every scale, those of the key itself first, then by how many signs its signature differs."""
    own = key.tonic.pc
    relative = (own + 3 * (1 if key.mode == "minor" else -1)) % 12
    tonics = {"major": own, "minor": relative} if key.mode == "major" else {"major": relative, "minor": own}
    for away in (0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6):
        for name in STEPS if key.mode == "major" else (*tuple(STEPS)[1:], "major"):
            yield name, (tonics["major" if name == "major" else "minor"] + 7 * away) % 12


def _fitting(keys: Sequence[int], name: str, tonic: int) -> int:
    """How many of these, from the first on, are steps of the scale one after the other."""
    steps = STEPS[name]
    places = [steps.index((key - tonic) % 12) if (key - tonic) % 12 in steps else None for key in keys]
    if places[0] is None:
        return 0
    way = 1 if keys[-1] > keys[0] else -1
    for at, place in enumerate(places):
        if place is None or place != (places[0] + way * at) % 7:
            return at
    return len(keys)


def _along_scale(keys: Sequence[int], start: int, end: int, name: str, tonic: int) -> tuple[int, ...]:
    comes_down = keys[end - 1] < keys[start]
    taught = SCALES["natural minor" if name == "melodic minor" and comes_down else name][tonic]
    fingers = list(_along(keys, start, end, tonic, STEPS[name], taught))
    top, below, beyond = (0, 1, start - 1) if comes_down else (-1, -2, end)
    turns = not 0 <= beyond < len(keys) or keys[beyond] <= max(keys[start], keys[end - 1])
    if fingers[top] == 1 and turns:
        fingers[top] = fingers[below] + 1
    return tuple(fingers)


def _along(
    keys: Sequence[int], start: int, end: int, root: int, tones: Sequence[int], taught: Taught
) -> tuple[int, ...]:
    """The taught finger of each key, at the ends those of low and top."""
    run = keys[start:end]
    lowest, highest = min(run), max(run)
    fingers = []
    for key in run:
        tone = (key - root) % 12
        ends = taught.low if key == lowest else taught.top if key == highest else 0
        fingers.append(ends if tone == 0 and ends else taught.fingers[tones.index(tone)])
    return tuple(fingers)


def _chromatics(keys: Sequence[int], key: Key) -> Iterator[Run]:
    for start, end in _stretches(keys, 1, 1):
        if end - start >= LEAST_CHROMATIC:
            yield start, tuple(_CHROMATIC[midi % 12] for midi in keys[start:end])


def _arpeggios(keys: Sequence[int], key: Key) -> Iterator[Run]:
    for start, end in _stretches(keys, 3, 5):
        for at in range(start, end - LEAST_ARPEGGIO + 1):
            until = end
            while until - at >= LEAST_ARPEGGIO and (fingers := _along_triad(keys, at, until)) is None:
                until -= 1
            if until - at >= LEAST_ARPEGGIO and fingers:
                yield at, fingers
                break


def _along_triad(keys: Sequence[int], start: int, end: int) -> tuple[int, ...] | None:
    """The taught fingers of an arpeggio; None where it is none, or none that has taught ones."""
    lowest = min(keys[start:end])
    pitches = {midi % 12 for midi in keys[start:end]}
    for name, tones in TRIADS.items():
        for root in pitches:
            if pitches != {(root + tone) % 12 for tone in tones}:
                continue
            if is_black(root) or lowest % 12 == root:
                return _along(keys, start, end, root, tones, ARPEGGIOS[name][root])
            if not is_black(lowest):
                return _along(
                    keys, start, end, lowest % 12, sorted((root + tone - lowest) % 12 for tone in tones), INVERSION
                )
    return None


def _stretches(keys: Sequence[int], least: int, most: int) -> Iterator[tuple[int, int]]:
    """(start, end) of every stretch that goes one way, each step of so many semitones."""
    start = 0
    for at in range(1, len(keys) + 1):
        step = keys[at] - keys[at - 1] if at < len(keys) else 0
        goes_on = least <= abs(step) <= most and (at - start < 2 or (step > 0) == (keys[at - 1] > keys[at - 2]))
        if not goes_on:
            if at - start > 1:
                yield start, at
            start = at - 1 if least <= abs(step) <= most else at
