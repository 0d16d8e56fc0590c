"""From exact lengths to written notes: which note values, dots, ties and tuplets stand in a bar.

Units: quarters as exact fractions, counted from the bar line. A note is written as one where a reader sees the beat,
else it is cut and tied at the beat or the felt group (common practice of engraving; Elaine Gould, Behind Bars, 2011,
"Grouping of rhythms", from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Any

from companion.theory.meter import TICKS_PER_QUARTER, Meter

# Written value in quarters -> its name in MusicXML ("note-type-value").
NOTE_TYPES = {
    Fraction(8): "breve", Fraction(4): "whole", Fraction(2): "half", Fraction(1): "quarter", Fraction(1, 2): "eighth",
    Fraction(1, 4): "16th", Fraction(1, 8): "32nd", Fraction(1, 16): "64th", Fraction(1, 32): "128th",
    Fraction(1, 64): "256th", Fraction(1, 128): "512th", Fraction(1, 256): "1024th",
}  # fmt: skip
_TYPE_ORDER = tuple(NOTE_TYPES.values())
_DOTS = {Fraction(1): 0, Fraction(3, 2): 1, Fraction(7, 4): 2}
_SINGLE_VALUES = tuple(base * factor for base in NOTE_TYPES for factor in (Fraction(1), Fraction(3, 2)))
_FINEST = 256  # the shortest note value is 1/256 quarter
_FINEST_TICKED = 64


@dataclass(frozen=True, slots=True)
class Span:
    """Something that lasts. start, length: in quarters from the bar line. what: the note or notes, None for a rest. tied_back, tied_on: it is a part of
    something longer that was cut inside the bar."""

    start: Fraction
    length: Fraction
    what: Any = None
    tied_back: bool = False
    tied_on: bool = False

    @property
    def end(self) -> Fraction:
        """In quarters from the bar line."""
        return self.start + self.length


@dataclass(frozen=True, slots=True)
class NotatedNote:
    """One written note, chord or rest. length: how long it sounds. type, dots: its value, "" where the length has none.
    tuplet: (notes, in the time of) or None; opens and closes: whether it is the first or last of its tuplet. tied_on: a
    tie leads to the next; tied_back: one comes from the note before. first: whether the sound begins here. beams:
    from the main one on, in MusicXML's words."""

    what: Any
    start: Fraction
    length: Fraction
    type: str
    dots: int
    tuplet: tuple[int, int] | None = None
    opens: bool = False
    closes: bool = False
    tied_on: bool = False
    tied_back: bool = False
    beams: tuple[str, ...] = ()

    @property
    def first(self) -> bool:
        """Whether the sound begins here."""
        return not self.tied_back


@lru_cache(1024)
def quarters(ticks: int) -> Fraction:
    """Ticks as quarters. A seventh of a quarter is no whole number of ticks: the simple fraction within half a tick."""
    exact = Fraction(ticks, TICKS_PER_QUARTER)
    simple = exact.limit_denominator(_FINEST_TICKED)
    return simple if abs(simple - exact) <= Fraction(1, 2 * TICKS_PER_QUARTER) else exact


def filled(spans: list[Span], length: Fraction) -> tuple[Span, ...]:
    """The spans with rests between them, up to `length`."""
    whole, at = [], Fraction(0)
    for span in spans:
        if span.start > at:
            whole.append(Span(at, span.start - at))
        whole.append(span)
        at = span.end
    if at < length:
        whole.append(Span(at, length - at))
    return tuple(whole)


def write_bar(spans: Sequence[Span], meter: Meter) -> list[NotatedNote]:
    """The written notes of one bar. spans: in order, filling the bar without a gap."""
    written: list[NotatedNote] = []
    for group in _groups(_cut_at_beats(spans, meter)):
        ratio = _tuplet_of(group)
        written += _tuplet(group, ratio) if ratio else [note for span in group for note in _plain(span, meter)]
    return _beamed(written, meter)


@lru_cache(1024)  # a tune has few lengths, and fractions compare slowly
def note_value(length: Fraction) -> tuple[str, int] | None:
    """(type, dots) of a length that one written note can have."""
    for base, name in NOTE_TYPES.items():
        dots = _DOTS.get(length / base)
        if dots is not None:
            return name, dots
    return None


def _is_even(value: Fraction) -> bool:
    """Whether halving quarters gets there: a denominator that is a power of two."""
    return value.denominator & (value.denominator - 1) == 0 and value.denominator <= _FINEST


def _cut_at_beats(spans: Sequence[Span], meter: Meter) -> list[Span]:
    """A span that begins or ends inside a tuplet is cut at the pulse beside it where its neighbour there stays within that pulse, so that the tuplet
    is no longer than it must be: a quarter tied into a triplet of eighths, but half notes in the time of two stay whole."""
    pulse = quarters(meter.pulse_ticks)
    pieces: list[Span] = []
    for before, span, after in zip([None, *spans[:-1]], spans, [*spans[1:], None]):
        place = span.start
        if _is_even(span.start) and not _is_even(span.end):
            place = span.end // pulse * pulse
            is_within = after is not None and after.end <= place + pulse
        elif _is_even(span.end) and not _is_even(span.start):
            place = (span.start // pulse + 1) * pulse
            is_within = before is not None and before.start >= place - pulse
        if span.start < place < span.end and is_within:
            pieces.append(replace(span, length=place - span.start, tied_on=True))
            span = replace(span, start=place, length=span.end - place, tied_back=True)
        pieces.append(span)
    return pieces


def _groups(spans: Sequence[Span]) -> list[list[Span]]:
    """Spans that begin and end on even places stand alone; those between two such places are one tuplet."""
    groups: list[list[Span]] = []
    inside = False
    for span in spans:
        if inside:
            groups[-1].append(span)
        else:
            groups.append([span])
        inside = not _is_even(span.end)
    return groups


def _tuplet_of(group: Sequence[Span]) -> tuple[int, int] | None:
    """(3, 2) for thirds: the odd number of parts, and the power of two below it in whose time they are played."""
    denominator = math.lcm(*(span.length.denominator for span in group))
    odd = denominator // (denominator & -denominator)
    return (odd, 1 << (odd.bit_length() - 1)) if odd > 1 else None


def _tuplet(group: Sequence[Span], ratio: tuple[int, int]) -> list[NotatedNote]:
    """Every note of the group in its written value, which is longer than it sounds."""
    notes, time_of = ratio
    stretch = Fraction(notes, time_of)
    written: list[NotatedNote] = []
    for span in group:
        written += _tied(_pieces(span, span.start, span.length, stretch), span)
    written = [replace(note, tuplet=ratio) for note in written]
    written[0] = replace(written[0], opens=True)
    written[-1] = replace(written[-1], closes=True)
    return written


def _pieces(span: Span, start: Fraction, length: Fraction, stretch: Fraction = Fraction(1)) -> list[NotatedNote]:
    """A length as note values, the longest first. stretch: written value over sounding length."""
    pieces = []
    end = start + length
    while start < end:
        left = (end - start) * stretch
        value = _longest_value(left)
        # finer than any note value: without one
        name, dots = (None if value is None else note_value(value)) or ("", 0)
        piece = end - start if value is None else value / stretch
        pieces.append(NotatedNote(span.what, start, piece, name, dots))
        start += piece
    return pieces


@lru_cache(1024)
def _longest_value(length: Fraction) -> Fraction | None:
    """The longest note value that is no longer; None where even the shortest is."""
    return max((value for value in _SINGLE_VALUES if value <= length), default=None)


def _plain(span: Span, meter: Meter) -> list[NotatedNote]:
    pieces: list[NotatedNote] = []
    places = [span.start, *_cuts(span, meter), span.end]
    for start, end in pairwise(places):
        pieces += _pieces(span, start, end - start)
    return _tied(pieces, span)


def _cuts(span: Span, meter: Meter) -> list[Fraction]:
    """Where a note is cut so that the beat can be seen."""
    pulse = quarters(meter.pulse_ticks)
    strong = [pulse * number for number in meter.strong_pulses]
    if span.start % pulse == 0 and note_value(span.length) and span.length % pulse == 0:
        # A whole note on 1, a half on 2 in 4/4 (quarter, half, quarter); a longer one off the group is cut there.
        if span.start in strong or span.length <= 2 * pulse or not _crossed(span, strong):
            return []
        return _crossed(span, strong)
    if span.start % pulse == 0 and note_value(span.length) and not meter.is_compound and not _crossed(span, strong):
        return []  # a dotted quarter on the beat
    if note_value(span.length) and not _crossed(span, [pulse * number for number in range(meter.pulses)]):
        return []
    if span.length == pulse and not meter.is_compound and not _crossed(span, strong):
        return []  # eighth, quarter, eighth inside a group
    crossed = _crossed(span, strong)
    if crossed:
        return crossed
    crossed = _crossed(span, [pulse * number for number in range(meter.pulses)])
    return crossed[:1] if span.start % pulse else crossed[-1:] if span.end % pulse else []


def _crossed(span: Span, places: Sequence[Fraction]) -> list[Fraction]:
    return [place for place in places if span.start < place < span.end]


def _tied(pieces: list[NotatedNote], span: Span) -> list[NotatedNote]:
    """Pieces of one sound are tied; rests are not."""
    if span.what is None:
        return pieces
    last = len(pieces) - 1
    return [
        replace(p, tied_back=span.tied_back or number > 0, tied_on=span.tied_on or number < last)
        for number, p in enumerate(pieces)
    ]


# --- beams


def _beamed(written: Sequence[NotatedNote], meter: Meter) -> list[NotatedNote]:
    """Notes with flags are beamed within a pulse; a rest breaks the beam."""
    pulse = quarters(meter.pulse_ticks)
    groups: list[list[NotatedNote]] = []
    before = None
    for note in written:
        place = (note.start // pulse, note.tuplet) if _flags(note) else None
        if place is not None and place == before:
            groups[-1].append(note)
        else:
            groups.append([note])
        before = place
    return [note for group in groups for note in (_one_beam(group) if len(group) > 1 else group)]


def _flags(note: NotatedNote) -> int:
    """How many flags a note of this value has: one for an eighth, two for a 16th. None for a rest."""
    if note.what is None or not note.type:
        return 0
    return max(0, _TYPE_ORDER.index(note.type) - _TYPE_ORDER.index("quarter"))


def _one_beam(group: Sequence[NotatedNote]) -> list[NotatedNote]:
    flags = [_flags(note) for note in group]
    levels = [_level(flags, level) for level in range(1, max(flags) + 1)]
    return [
        replace(note, beams=tuple(level[number] for level in levels if level[number]))
        for number, note in enumerate(group)
    ]


def _level(flags: Sequence[int], level: int) -> list[str]:
    """The words for each note at one level of beams; a note alone at its level gets a hook towards its neighbour."""
    words = []
    for number, count in enumerate(flags):
        before = number > 0 and flags[number - 1] >= level
        after = number + 1 < len(flags) and flags[number + 1] >= level
        if count < level:
            words.append("")
        elif before or after:
            words.append("continue" if before and after else "begin" if after else "end")
        else:
            words.append("backward hook" if number else "forward hook")
    return words
