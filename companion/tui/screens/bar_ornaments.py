"""What is played in one bar besides: slides, tremolos, its fill, and what the left hand does where a phrase ends. The choice is kept for the song."""

from __future__ import annotations

from typing import TYPE_CHECKING

from companion.arranging.choice import FILL, SLIDE, STRAIGHT, TREMOLO, WALK, ArrangementChoice
from companion.chart.loops import loop_name
from companion.errors import CompanionError
from companion.session.bar_ornaments import chosen, loop_of, offers, wish_of
from companion.session.conductor import Conductor
from companion.session.stand_changes import loop_between
from companion.session.taking_back import ChangeStand
from companion.store.own_arrangement import save_arrangement
from companion.tui.draw.words import signs
from companion.tui.screens.pick import Item

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion

_LOOP = "loop"
_WORDS = {
    FILL: "a fill in this bar ...",
    WALK: "what ends the phrase in the left hand ...",
    SLIDE: "a slide into a note of this bar ...",
    TREMOLO: "a tremolo in this bar ...",
}
_TITLES = {
    FILL: "Which fill in bar {}?",
    WALK: "How does the left hand end bar {}?",
    SLIDE: "Slides into the notes of bar {}",
    TREMOLO: "A tremolo in bar {}?",
}


class BarOrnaments:
    """change: puts a changed stand in place."""

    def __init__(self, companion: Companion, conductor: Conductor, change: ChangeStand) -> None:
        self._companion, self._conductor, self._change = companion, conductor, change

    def items(self, index: int) -> list[Item]:
        """A line for each kind that the bar has room for."""
        stand = self._conductor.stand
        return [Item(words, kind) for kind, words in _WORDS.items() if offers(stand, index, kind)]

    def choose(self, index: int, kind: str) -> None:
        """Open the list of one kind."""
        stand = self._conductor.stand
        bar, found, now = stand.bars[index], offers(stand, index, kind), wish_of(stand, index, kind)
        items = [Item(signs(offer.words), offer) for offer in found]
        loop = loop_of(stand, index, kind)
        if loop is not None:
            items.append(Item(f"practise it with its goal: loop {loop_name(loop)}", _LOOP))
        start = next(
            number
            for number, offer in enumerate(found)
            if offer.way == STRAIGHT or (offer.note is None and offer.wish == now)
        )

        def taken(item: Item | None) -> None:
            if item is None:
                return
            if item.value == _LOOP and loop is not None:
                self._change(lambda stand: loop_between(stand, loop[0], loop[-1]))
            else:
                self._put(chosen(stand, index, kind, item.value))

        title = _TITLES[kind].format(f"{bar.bar} of {bar.section}")
        self._companion.open("pick", title, items, start, taken=taken)

    def _put(self, choice: ArrangementChoice) -> None:
        stand = self._conductor.stand
        if choice == stand.arranged or not self._change(lambda stand: stand.change(arranged=choice)):
            return
        try:
            save_arrangement(self._companion.paths, stand.original.id, choice)
        except CompanionError as error:
            self._companion.complain(str(error))
        else:
            self._companion.say("Kept for this song, wherever the section comes.")
