"""The notes of one voice in one bar as MusicXML: pitches, ties, signs, beams, fingers, graces and tremolos. Order of elements: the schema's.

A tremolo of two chords is written as the standard has it ("tremolo", types start and stop): each with the value of the whole, in the time of half of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from xml.etree import ElementTree

from companion.export.midi import signed_key
from companion.export.notation import NotatedNote
from companion.export.score import HIDDEN, Fingered, ScoreBar, Sung
from companion.export.written_out import BLANK, Grace, Struck
from companion.theory.pitch import Pitch

Element = ElementTree.Element
SIGNS = {
    -3: "flat-flat-flat",
    -2: "flat-flat",
    -1: "flat",
    0: "natural",
    1: "sharp",
    2: "double-sharp",
    3: "triple-sharp",
}
_TREMOLO_STROKES = 3  # unmeasured, common practice


def add(parent: Element, tag: str, content: str | int | None = None, /, **attributes: str) -> Element:
    """A child with its text."""
    child = ElementTree.SubElement(parent, tag, attributes)
    if content is not None:
        child.text = str(content)
    return child


GRACE, SECOND = "grace", "second"  # which of the notes at a place: before it, or the other half of its tremolo
Sign = tuple[str, Fraction, Pitch, str]  # voice, start, note, and "", GRACE or SECOND


def signs_of(bar: ScoreBar, voices: Sequence[tuple[str, Sequence[NotatedNote]]]) -> frozenset[Sign]:
    """The notes of a staff that need an accidental: a sign holds to the bar's end in its octave, for every voice (common practice). voices: number and notes."""
    signature = _signature(signed_key(bar.key).fifths)
    holding: dict[tuple[str, int], int] = {}
    found = set()
    for note, voice in sorted(
        ((note, voice) for voice, notes in voices for note in notes), key=lambda pair: pair[0].start
    ):
        for pitch, kind in _in_order(note):
            place = (pitch.tone.letter, pitch.octave)
            if holding.get(place, signature.get(pitch.tone.letter, 0)) == pitch.tone.alter or (
                _ties(note, pitch)[0] and not kind
            ):
                continue
            holding[place] = pitch.tone.alter
            found.add((voice, note.start, pitch, kind))
    return frozenset(found)


def _in_order(note: NotatedNote) -> Iterable[tuple[Pitch, str]]:
    struck = note.what if isinstance(note.what, Struck) else None
    if struck is not None and note.first and not struck.from_before:
        yield from ((pitch, GRACE) for grace in struck.graces for pitch in grace.pitches)
    yield from ((pitch, "") for pitch in _pitches(note.what))
    if struck is not None and struck.second is not None:
        yield from ((pitch, SECOND) for pitch in struck.second.pitches)


def _signature(fifths: int) -> dict[str, int]:
    """Letter -> semitones: sharps come in the order F C G D A E B, flats the other way."""
    order = "FCGDAEB"
    return dict.fromkeys(order[:fifths], 1) if fifths > 0 else dict.fromkeys(order[7 + fifths :], -1)


@dataclass(frozen=True, slots=True)
class Where:
    """Where notes go. voice, staff: their numbers, staff "" where there is one alone; hand: whose they are; divisions: of a quarter; signs: see signs_of;
    stem: "up", "down" or "" for as it comes; parted: the same while another voice of the hand sounds, from and to the quarters in `others`."""

    measure: Element
    bar: ScoreBar
    voice: str
    staff: str
    hand: str
    divisions: int
    signs: frozenset[Sign]
    stem: str = ""
    parted: str = ""
    others: tuple[tuple[Fraction, Fraction], ...] = ()

    def stem_of(self, note: NotatedNote) -> str:
        """ "up", "down", or "" for as it comes."""
        is_parted = any(start < note.start + note.length and note.start < end for start, end in self.others)
        return self.parted if is_parted else self.stem

    def duration(self, length: Fraction) -> int:
        """In divisions."""
        return int(length * self.divisions)


def durations_of(notes: Iterable[NotatedNote]) -> Iterable[Fraction]:
    """Every length that will be written, in quarters."""
    for note in notes:
        yield note.length / 2 if _trembles(note) else note.length


def write_note(where: Where, note: NotatedNote) -> None:
    """A written note or chord with what comes before it, or a rest."""
    if note.what == BLANK:
        forward = add(where.measure, "forward")
        add(forward, "duration", where.duration(note.length))
        add(forward, "voice", where.voice)
        if where.staff:
            add(forward, "staff", where.staff)
        return
    if isinstance(note.what, Struck) and note.first and not note.what.from_before:
        for grace in note.what.graces:
            _grace(where, note.start, grace)
    if not _trembles(note):
        _chord(where, note, note.what)
        return
    _chord(where, note, note.what, tremolo="start")
    _chord(where, note, note.what.second, tremolo="stop")


def _trembles(note: NotatedNote) -> bool:
    return isinstance(note.what, Struck) and note.what.second is not None


def _grace(where: Where, start: Fraction, grace: Grace) -> None:
    for number, pitch in enumerate(grace.pitches):
        element = add(where.measure, "note")
        add(element, "grace", slash="yes")
        if number:
            add(element, "chord")
        _pitch(element, pitch)
        add(element, "voice", where.voice)
        add(element, "type", "eighth")
        if (where.voice, start, pitch, GRACE) in where.signs:
            add(element, "accidental", SIGNS[pitch.tone.alter])
        if where.staff:
            add(element, "staff", where.staff)
        if number < len(grace.fingers):
            _finger(add(element, "notations"), str(grace.fingers[number]), where.hand)


def _chord(where: Where, note: NotatedNote, what: object, tremolo: str = "") -> None:
    """The notes that go down together; a rest where there is none. tremolo: "start" or "stop" for a half of one."""
    pitches, hidden = _pitches(what), what == HIDDEN
    whole_rest = not pitches and not hidden and note.length == where.bar.quarters and where.bar.length is None
    length = note.length / 2 if tremolo else note.length
    for number, pitch in enumerate(pitches or (None,)):
        back, on = (False, False) if tremolo or pitch is None else _ties(note, pitch)
        element = add(where.measure, "note", **({"print-object": "no"} if hidden else {}))
        if number:
            add(element, "chord")
        if pitch is None:
            add(element, "rest", **({"measure": "yes"} if whole_rest else {}))
        else:
            _pitch(element, pitch)
        add(element, "duration", where.duration(length))
        for kind, tied in (("stop", back), ("start", on)):
            if tied:
                add(element, "tie", type=kind)
        add(element, "voice", where.voice)
        if note.type and not whole_rest:
            add(element, "type", note.type)
            for _ in range(note.dots):
                add(element, "dot")
        kind = SECOND if tremolo == "stop" else ""
        if pitch is not None and (where.voice, note.start, pitch, kind) in where.signs:
            add(element, "accidental", SIGNS[pitch.tone.alter])
        ratio = (2, 1) if tremolo else note.tuplet
        if ratio:
            modification = add(element, "time-modification")
            add(modification, "actual-notes", ratio[0])
            add(modification, "normal-notes", ratio[1])
        if pitch is not None and note.length < 4 and (stem := where.stem_of(note)):
            add(element, "stem", stem)
        if where.staff:
            add(element, "staff", where.staff)
        for level, words in enumerate(note.beams if number == 0 else (), 1):
            add(element, "beam", words, number=str(level))
        _notations(element, where, note, what, number, tremolo, (back, on))


def _notations(
    element: Element,
    where: Where,
    note: NotatedNote,
    what: object,
    number: int,
    tremolo: str,
    ties: tuple[bool, bool],
) -> None:
    notations = Element("notations")
    for kind, tied in zip(("stop", "start"), ties):
        if tied:
            add(notations, "tied", type=kind)
    if number == 0 and not tremolo:
        for kind, there in (("start", note.opens), ("stop", note.closes)):
            if there:
                add(notations, "tuplet", type=kind, number="1")
    if tremolo and number == 0:
        add(add(notations, "ornaments"), "tremolo", _TREMOLO_STROKES, type=tremolo)
    fingers = _fingers(what)
    if note.first and number < len(fingers):
        _finger(notations, fingers[number], where.hand)
    if len(notations):
        element.append(notations)


def _finger(notations: Element, finger: str, hand: str) -> None:
    placement = "below" if hand == "left" else "above"
    add(add(notations, "technical"), "fingering", finger, placement=placement)


def _fingers(what: object) -> Sequence[str]:
    """From the lowest; none where the notes were struck before."""
    if isinstance(what, Fingered):
        return what.fingers.split("-") if what.fingers else ()
    if isinstance(what, Struck):
        return () if what.from_before else [str(finger) for finger in what.fingers]
    return [str(what.finger)] if isinstance(what, Sung) and what.finger else ()


def _pitches(what: object) -> tuple[Pitch, ...]:
    if isinstance(what, Fingered):
        return (what.lower, what.upper)
    if isinstance(what, Struck):
        return what.pitches
    return (what.pitch,) if isinstance(what, Sung) else ()


def _ties(note: NotatedNote, pitch: Pitch) -> tuple[bool, bool]:
    """(from the note before, to the next one) of one of its pitches, over the bar line too."""
    what = note.what
    if not isinstance(what, Sung | Struck):
        return note.tied_back, note.tied_on
    goes_on = what.goes_on and not (isinstance(what, Struck) and what.top_alone and pitch != what.pitches[-1])
    return note.tied_back or what.from_before, note.tied_on or goes_on


def _pitch(element: Element, pitch: Pitch) -> None:
    child = add(element, "pitch")
    add(child, "step", pitch.tone.letter)
    if pitch.tone.alter:
        add(child, "alter", pitch.tone.alter)
    add(child, "octave", pitch.octave)
