"""Shells that the student chooses: pinned on the stand, kept for the song, and taken back; with every other change that can be."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from companion.errors import CompanionError
from companion.practice.slots import ChordPlace, Pins
from companion.session.conductor import Conductor
from companion.session.own_fingers import OwnFingers
from companion.session.taking_back import TEMPO, ChangeStand, FingerBefore, back_words, set_back
from companion.store.paths import Paths
from companion.store.pins import load_pins, save_pins
from companion.theory.shell_kinds import Pin


class OwnShells:
    """change: puts a changed stand in place. say: told what was done, complain: what cannot be kept."""

    def __init__(
        self,
        paths: Paths,
        conductor: Conductor,
        change: ChangeStand,
        say: Callable[[str], None],
        complain: Callable[[str], None],
    ) -> None:
        self._paths, self._conductor, self._change = paths, conductor, change
        self._say, self._complain = say, complain
        self._fingers = OwnFingers(paths, conductor, change, complain)
        self._unsaved: dict[ChordPlace, Pin | None] = {}

    def pin(self, index: int, number: int, pin: Pin | None) -> bool:
        """Pin the number-th chord (from 0) of a bar of the chorus, or let the companion choose (None); whether that is kept now and is
        another pin than before."""
        kept, place = self._kept(), self._conductor.stand.place_of(index, number)
        before = kept.get(place)
        if not self._change(lambda stand: stand.with_pins(kept).with_pin(index, number, pin)) or pin == before:
            return False
        self._conductor.before.append((place, before))
        return self._save(place, pin)

    def take_back(self, tempo: Callable[[float], None]) -> None:
        """The last change on the stand. tempo: sets it, or says why it cannot be."""
        before = self._conductor.before
        if not before:
            self._say("There is no change to take back.")
            return
        last, earlier = before[-1], before[:-1]
        if isinstance(last, FingerBefore):
            before.pop()
            if self._fingers.put_back(last):
                self._say("Taken back.")
            return
        if not isinstance(last, Mapping):
            before.pop()
            self._pin_back(*last)
            return
        if last.keys() == TEMPO:
            tempo(last["tempo_bpm"])
            done = not self._conductor.tempo_is_fixed
        else:
            done = self._change(lambda stand: set_back(stand, last))
        if done:
            before[:] = earlier  # without this change itself
            self._say(back_words(last, self._conductor.stand))

    def _pin_back(self, place: ChordPlace, pin: Pin | None) -> None:
        """The pin that was there before, at its place alone."""
        kept = self._kept()
        pins = {at: each for at, each in kept.items() if at != place} | ({place: pin} if pin else {})
        if self._change(lambda stand: stand.with_pins(pins)):
            self._save(place, pin)
            self._say("Taken back.")

    def _kept(self) -> Pins:
        """The pins as the file has them, which may have been changed by hand meanwhile, and what could not be written to it."""
        stand = self._conductor.stand
        try:
            kept: dict[ChordPlace, Pin | None] = {**load_pins(self._paths, stand.original.id)}
        except (CompanionError, OSError):  # said when it is written
            return stand.own_pins
        return {place: pin for place, pin in (kept | self._unsaved).items() if pin is not None}

    def _save(self, place: ChordPlace, pin: Pin | None) -> bool:
        stand = self._conductor.stand
        self._unsaved[place] = pin
        try:
            save_pins(self._paths, stand.original.id, stand.own_pins)
        except (CompanionError, OSError) as error:
            self._complain(str(error))
            return False
        self._unsaved.clear()
        return True
