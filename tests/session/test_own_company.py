"""What goes under a note of the melody is exchanged, left out and given back; each set that is offered is what is then played there."""

from __future__ import annotations

from desk import put
from session_songs import SUNG_FOUR

from companion.arranging.choice import ArrangementChoice
from companion.session.own_company import company_in_bar, company_offers, with_company


def test_each_offer_taken_is_what_is_played_wherever_the_section_comes(settings) -> None:
    stand = put(SUNG_FOUR.replace('"A"', '"A A"'), settings).change(hands="both", arranged=ArrangementChoice(voices=3))
    bars = len(stand.bars) // 2
    note = next(each for index in range(bars) for each in company_in_bar(stand, index) if len(each.names) == 2)
    index = next(index for index in range(bars) if note in company_in_bar(stand, index))
    offers = company_offers(stand, note)
    assert offers[0].degrees is None and offers[-1].degrees == () and len(offers) > 4
    assert note.names in [offer.names for offer in offers]
    for offer in offers[1:]:
        chosen = stand.change(arranged=with_company(stand, note.place, offer.degrees))
        for here in (index, index + bars):
            (there,) = (each for each in company_in_bar(chosen, here) if each.place == note.place)
            assert (set(there.names), there.is_own) == (set(offer.names), True)
        assert with_company(chosen, note.place, None) == stand.arranged


def test_the_melody_alone_is_offered_nothing(settings) -> None:
    assert company_in_bar(put(SUNG_FOUR, settings), 0) == ()
