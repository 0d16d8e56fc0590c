"""What the student wants under a note of the melody: what is possible there, and the arrangement with one of them chosen."""

from __future__ import annotations

from dataclasses import dataclass, replace

from companion.arranging.choice import ArrangementChoice
from companion.chart.melody import NotePlace
from companion.hands.right.company_reason import company_names, degree_of
from companion.hands.right.voicings import Voicing, voicings_of
from companion.session.harmonised import HarmonisedNote
from companion.session.note_places import as_written, note_places
from companion.session.stand import Stand

_MOST = 8  # offered of a note, the best first (ours)


@dataclass(frozen=True, slots=True)
class NoteWithCompany:
    """A note of the melody in a bar. names: what goes under it now, from the lowest; is_own: whether the student chose that."""

    place: NotePlace
    voiced: HarmonisedNote
    names: tuple[str, ...]
    is_own: bool


@dataclass(frozen=True, slots=True)
class CompanyOffer:
    """degrees: as the student's file has them, () for the melody alone, None for what the companion chooses. names: the notes, from the lowest."""

    degrees: tuple[str, ...] | None
    names: tuple[str, ...] = ()


def company_in_bar(stand: Stand, index: int) -> tuple[NoteWithCompany, ...]:
    """The notes that begin in a bar of the chorus and have a chord under them; () for the melody alone."""
    bar, places = stand.bars[index], note_places(stand.bars, stand.written)
    return tuple(
        NoteWithCompany(places[at], each, company_names(each.stroke, each.voicing), places[at] in stand.arranged.notes)
        for each, at in zip(stand.harmonised, as_written(stand.written, stand.melody), strict=False)
        if bar.start_tick <= each.note.start_tick < bar.end_tick and each.stroke.chords
    )


def company_offers(stand: Stand, note: NoteWithCompany) -> tuple[CompanyOffer, ...]:
    """What may go under it, the best first: as the companion chooses, each set of notes that keeps the rules, and the melody alone."""
    stroke = replace(note.voiced.stroke, pin=None)
    choice, chord = stand.arranged, stroke.chords[0]
    costs: dict[tuple[int, ...], tuple[int, Voicing]] = {}
    for voicing, cost in voicings_of(stroke, choice.voices, tensions=choice.tensions, limits=stand.hand.limits).items():
        if voicing.added and cost < costs.get(voicing.added, (cost + 1, voicing))[0]:
            costs[voicing.added] = cost, voicing
    best = [voicing for _, voicing in sorted(costs.values(), key=lambda each: (each[0], each[1].added))]
    sets = {
        tuple(degree_of(key, chord) for key in voicing.added): company_names(stroke, voicing)
        for voicing in reversed(best[:_MOST])
    }
    found = [CompanyOffer(degrees, names) for degrees, names in reversed(sets.items())]
    return (CompanyOffer(None), *found, CompanyOffer(()))


def with_company(stand: Stand, place: NotePlace, degrees: tuple[str, ...] | None) -> ArrangementChoice:
    """The arrangement with that under a note wherever its section comes; None lets the companion choose again."""
    others = {at: each for at, each in stand.arranged.notes.items() if at != place}
    return replace(stand.arranged, notes=others if degrees is None else {**others, place: degrees})
