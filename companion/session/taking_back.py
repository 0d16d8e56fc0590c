"""Taking back the last change on the stand: what a choice of a shell or of a finger replaced, or how the stand was set before a key."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from companion.chart.melody import NotePlace
from companion.practice.leading import STEP_BPM
from companion.practice.slots import ChordPlace
from companion.session.stand import Stand
from companion.theory.shell_kinds import Pin

PinBefore = tuple[ChordPlace, Pin | None]  # what a chord was pinned to before a choice
SetBefore = Mapping[str, Any]  # what the settings that a change touched were before, by the stand's names for them


@dataclass(frozen=True, slots=True)
class FingerBefore:
    """What a note of the melody was fingered with of the student's own before a choice; None for the companion's."""

    place: NotePlace
    finger: int | None


Before = list[PinBefore | FingerBefore | SetBefore]  # the latest last


class ChangeStand(Protocol):
    """Puts a changed stand in place; False where it cannot be, which is said."""

    def __call__(self, make: Callable[[Stand], Stand], *, load: bool = True) -> bool:
        """Put what `make` makes of the stand in its place; returns whether that could be. load: whether the sound changes too."""


# The settings that are taken back, and how it is told.
_WORDS = {
    "key": "the key is {.key}",
    "loop": "the loop is {.loop_name}",
    "loop_name": "the loop is {.loop_name}",
    "tempo_bpm": "the tempo is {.tempo_bpm:g}",
    "pattern": "the left hand's rhythm",
    "click": "the click",
    "bass": "the bass",
    "demonstrate": "whether the shells are heard",
    "count_in_bars": "the count-in",
    "laid_back": "whether the melody lies back",
    "arranged": "the whole tune is as before",
    "hands": "the hands",
    "rest_sounds": "what the other hand hears",
}
TEMPO = frozenset({"tempo_bpm"})
MOST = 100


def remember(before: Before, then: Stand, now: Stand) -> None:
    """Keep what a change from one stand to the other took the place of. Steps of the tempo one after the other are one change; a tempo
    that was typed, tapped or doubled is one by itself."""
    replaced = {name: getattr(then, name) for name in _WORDS if getattr(then, name) != getattr(now, name)}
    steps = replaced.keys() == TEMPO and abs(then.tempo_bpm - now.tempo_bpm) <= STEP_BPM
    goes_on = steps and before and isinstance(before[-1], Mapping) and before[-1].keys() == TEMPO
    if replaced and not goes_on:
        before.append(replaced)
        del before[:-MOST]


def set_back(now: Stand, before: SetBefore) -> Stand:
    """The stand with that as it was. Raises as `Stand.with_key`."""
    fields = dict(before)
    if "key" in fields:
        now = now.with_key(fields.pop("key"))
    return now.change(**fields)


def back_words(before: SetBefore, now: Stand) -> str:
    """What was taken back, once it was. now: the stand after it."""
    what = _WORDS[next(name for name in _WORDS if name in before)]
    return f"Taken back: {what.format(now)}{' again' if '{' in what else ''}."
