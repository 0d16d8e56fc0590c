"""A song that was on the stand this evening, to be found again as it was left."""

from __future__ import annotations

from dataclasses import dataclass

from companion.practice.slots import ChordPlace
from companion.session.all_keys import AllKeys
from companion.session.practice import Practice
from companion.session.shown_passes import ShownPasses
from companion.session.stand import Stand
from companion.theory.shell_kinds import Pin

PinBefore = tuple[ChordPlace, Pin | None]  # what a chord was pinned to before a choice


@dataclass(frozen=True, slots=True)
class LeftSong:
    """What a conductor holds for its song; all else (keyboards, minutes, what sounds) is the evening's. The names are the conductor's."""

    stand: Stand
    kind: str
    asks: bool
    practice: Practice | None
    keys: AllKeys
    pins_before: list[PinBefore]
    shown: ShownPasses
