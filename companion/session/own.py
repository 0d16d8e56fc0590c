"""A song on the stand with all that its student made their own of it."""

from __future__ import annotations

from companion.chart.model import Song
from companion.errors import SettingsError
from companion.session.stand import Stand
from companion.store.log.practice_log import PracticeLog
from companion.store.own_melody import SHELLS, add_other_shells, load_melody
from companion.store.own_swing import load_swing
from companion.store.paths import Paths
from companion.store.pins import load_pins, load_rest
from companion.store.settings import Settings
from companion.theory.key import Key

_LEFT = ("left", "both")


def own_stand(song: Song, settings: Settings, paths: Paths, learned: frozenset[int] = frozenset()) -> Stand:
    """The song as its student left it. learned: from `keys_learned`. Raises SettingsError where a file of the student's is damaged, and as
    Stand.put."""
    own = load_melody(paths, song.id)
    return Stand.put(
        song,
        settings,
        load_pins(paths, song.id),
        load_rest(paths, song.id),
        room_by=own.room,
        left_learned=learned - {tonic.pc for tonic in own.other_shells},
        own_fingers=own.fingers,
        swung=load_swing(paths, song.id),
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
