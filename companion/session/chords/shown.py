"""How things stand while chords in root position are practised: small values for a screen to draw."""

from __future__ import annotations

from dataclasses import dataclass

from companion.session.chords.rounds import Item


@dataclass(frozen=True, slots=True)
class Done:
    """A chord that was played. find_s: seconds to find it, or that there were for it with a click; right: at once; verdict: with the click, "" else. heard: by a
    keyboard, else the student's word."""

    item: Item
    find_s: float
    right: bool
    verdict: str = ""
    heard: bool = True


@dataclass(frozen=True, slots=True)
class Shown:
    """now, after: the chord to play and the one after it, None where there is none. number, total: of the round, from 1. once_more: whether
    the slow ones come again. playing: between start and end; counting: in the count-in. keys: whether the chord's keys are shown, name: whether its name is. down: keys that
    are held. step: of the chord, how many are done. answer: what there is to say. lines: how the round went. beat: pulse from 0 and how many
    there are in the bar, None where nothing clicks."""

    now: Item | None = None
    after: Item | None = None
    number: int = 0
    total: int = 0
    once_more: bool = False
    playing: bool = False
    counting: bool = False
    keys: bool = True
    name: bool = True
    down: frozenset[int] = frozenset()
    step: int = 0
    answer: str = ""
    lines: tuple[str, ...] = ()
    beat: tuple[int, int] | None = None
