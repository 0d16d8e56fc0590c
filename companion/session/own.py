"""A song on the stand with all that its student made their own of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from companion.arranging.choice import ArrangementChoice
from companion.chart.model import Song
from companion.errors import SettingsError
from companion.groove.swung_choice import SwungChoice
from companion.practice.slots import Pins
from companion.session.stand import Stand
from companion.store.log.practice_log import PracticeLog
from companion.store.own_arrangement import load_arrangement
from companion.store.own_melody import SHELLS, OwnMelody, add_other_shells, load_melody
from companion.store.own_swing import load_swing
from companion.store.paths import Paths
from companion.store.pins import load_pins, load_rest
from companion.store.settings import Settings
from companion.theory.key import Key

T = TypeVar("T")
_LEFT = ("left", "both")


def own_stand(
    song: Song,
    settings: Settings,
    paths: Paths,
    learned: frozenset[int] = frozenset(),
    faults: list[str] | None = None,
) -> Stand:
    """The song as its student left it. learned: from `keys_learned`. faults: gets a sentence for what is damaged in a file of the student's, and that alone
    is left out; None raises it, a SettingsError. Raises as Stand.put."""

    def kept(load: Callable[[Paths, str], T], none: T) -> T:
        try:
            return load(paths, song.id)
        except SettingsError as error:
            if faults is None:
                raise
            if str(error) not in faults:  # two of them may stand in one file
                faults.append(str(error))
            return none

    no_pins: Pins = {}
    own = kept(load_melody, OwnMelody())
    return Stand.put(
        song,
        settings,
        kept(load_pins, no_pins),
        kept(load_rest, None),
        room_by=own.room,
        left_learned=learned - {tonic.pc for tonic in own.other_shells},
        own_fingers=own.fingers,
        swung=kept(load_swing, SwungChoice()),
        arranged=kept(load_arrangement, ArrangementChoice()),
    )


def keys_learned(log: PracticeLog, song: Song) -> frozenset[int]:
    """Pitch classes of the keys in which the left hand knows the song: it has played a section of it from memory. Raises LogError."""
    keys = {state.key for state in log.states("recall", song.id) if state.hands in _LEFT}
    return frozenset((Key.parse(name) if name else song.key).tonic.pc for name in keys)


class KeptRoom:
    """Keeps in which keys other shells were taken for the melody's sake, as soon as they are practised, so that they stay once they are learned."""

    def __init__(self, paths: Paths) -> None:
        self._paths = paths
        self._kept: set[tuple[str, int]] = set()

    def keep(self, stand: Stand) -> str:
        """For the stand that is played; gives a sentence where it could not be kept, "" else."""
        place = stand.original.id, stand.key.tonic.pc
        made_by = stand.room.made_by if stand.room else None
        if made_by != SHELLS or stand.room_by is not None or not place[0] or place in self._kept:
            return ""
        self._kept.add(place)
        try:
            add_other_shells(self._paths, stand.original.id, stand.key.tonic)
        except SettingsError as error:
            return str(error)
        return ""
