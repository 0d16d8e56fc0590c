"""What is played in one bar besides: slides, tremolos, its fill, and what the left hand does where a phrase ends. The choice is kept for the song."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from companion.arranging.choice import FILL, SLIDE, STRAIGHT, TREMOLO, WALK, ArrangementChoice
from companion.base.text import figure
from companion.chart.loops import loop_name
from companion.errors import CompanionError
from companion.session.bar_ornaments import chosen, loop_of, offers, wish_of
from companion.session.conductor import Conductor
from companion.session.note_places import bar_at
from companion.session.own_company import CompanyOffer, NoteWithCompany, company_in_bar, company_offers, with_company
from companion.session.stand import Stand
from companion.session.stand_changes import loop_between
from companion.session.taking_back import ChangeStand
from companion.store.own_arrangement import save_arrangement
from companion.tui.draw.words import signs
from companion.tui.screens.pick import Item

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion

_LOOP = "loop"
COMPANY = "company"
_COMPANY_WORDS = "what goes under a note of the melody in this bar ..."
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


def _note_words(stand: Stand, note: NoteWithCompany) -> str:
    """ "beat 3   D5    with F♯4 A4, as you chose"."""
    bar = bar_at(stand.bars, note.voiced.note.start_tick)
    assert bar is not None
    beat = 1 + Fraction(note.voiced.note.start_tick - bar.start_tick, bar.meter.beat_ticks)
    company = f"with {' '.join(note.names)}" if note.names else "alone"
    return f"beat {figure(beat):<5} {note.voiced.note.pitch!s:<5} {company}{', as you chose' if note.is_own else ''}"


def _offer_words(offer: CompanyOffer) -> str:
    if offer.degrees is None:
        return "as the companion chooses"
    return (
        f"{' '.join(offer.names):<13} {' and '.join(offer.degrees)} of the chord"
        if offer.degrees
        else "the melody alone"
    )


class BarOrnaments:
    """change: puts a changed stand in place."""

    def __init__(self, companion: Companion, conductor: Conductor, change: ChangeStand) -> None:
        self._companion, self._conductor, self._change = companion, conductor, change

    def items(self, index: int) -> list[Item]:
        """A line for each kind that the bar has room for."""
        stand = self._conductor.stand
        found = [Item(words, kind) for kind, words in _WORDS.items() if offers(stand, index, kind)]
        return [*found, *([Item(_COMPANY_WORDS, COMPANY)] if company_in_bar(stand, index) else [])]

    def choose_company(self, index: int) -> None:
        """Which note of the bar, then what goes under it."""
        stand = self._conductor.stand
        bar, notes = stand.bars[index], company_in_bar(stand, index)

        def taken(item: Item | None) -> None:
            if item is not None:
                self._choose_under(item.value)

        items = [Item(signs(_note_words(stand, each)), each) for each in notes]
        self._companion.open("pick", f"Under which note of bar {bar.bar} of {bar.section}?", items, taken=taken)

    def _choose_under(self, note: NoteWithCompany) -> None:
        stand = self._conductor.stand
        found = company_offers(stand, note)
        now = stand.arranged.notes.get(note.place)
        start = next((number for number, offer in enumerate(found) if offer.degrees == now), 0)

        def taken(item: Item | None) -> None:
            if item is not None:
                self._put(with_company(stand, note.place, item.value.degrees))

        items = [Item(signs(_offer_words(offer)), offer) for offer in found]
        self._companion.open(
            "pick", f"What goes under {signs(str(note.voiced.note.pitch))}?", items, start, taken=taken
        )

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
