"""Melodies as a person types them: pitches and lengths in the notation of ABC 2.1.

    melody = lines of bars; a bar ends at "|" or "||" or at the end of its line, and may be opened by one too
    bar    = (note | rest | tuplet | broken)+ and blanks, which only group; or "Z", "Z4": a bar, four bars of rest
    note   = sign? letter octave* length? "-"?
    sign   = "^" sharp, "^^", "_" flat, "__", "=" natural; it holds to the bar's end, in every octave
    letter = C to B from middle C upwards, c to b an octave higher; "'" an octave up, "," an octave down
    length = 2, 3/2, /2, / (a half), // (a quarter): times the eighth note, or what "[L:1/4]" set before it
    "-"    = a tie: the next note is the same one, held on; behind the last note it leads into the next section
    rest   = "z" length?, or "x", a rest that is not printed
    broken = ">" between two notes: the first dotted, the second halved; "<" the other way; ">>" and ">>>" more so
    tuplet = "(3" before three notes in the time of two; (2 (4 (6 (8 as in the standard's table; "(p:q:r" puts p notes
             into the time of q, for the next r notes

The key signature is that of the section. A song with a pickup may open its first section's melody with it, and a section
with a pickup of its own its melody: the notes before the first barline; a melody without them then starts with "|".

Lengths are exact: every note has a whole number of ticks (1/960 of a quarter) and every bar is filled to the tick.

Source: The abc music standard 2.1 (December 2011), chapter 4, "The tune body": pitch 4.1, accidentals 4.2, note lengths
4.3, broken rhythm 4.4, rests 4.5, ties 4.11, tuplets 4.13; how far accidentals hold: 11.3, propagate-accidentals.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from companion.base.text import quoted
from companion.chart.bars import MOST_BARS, BarFault, counted, split_bars
from companion.chart.model import Song
from companion.errors import ChartError, Fault
from companion.theory.key import Key
from companion.theory.meter import TICKS_PER_QUARTER, Meter
from companion.theory.pitch import Pitch, Tone

UNIT_TICKS = TICKS_PER_QUARTER // 2  # an eighth, ABC's usual unit; written where it differs
ACCIDENTAL_SIGNS = {"__": -2, "_": -1, "=": 0, "^": 1, "^^": 2}
_LENGTH = r"(?:\d{1,4}(?:/\d{0,4})?|/\d{1,4}|/{1,4})?"
_TOKEN = re.compile(
    rf"(?P<blank>[ \t]+)"
    rf"|(?P<pitch>(?P<sign>\^\^?|__?|=)?(?P<letter>[A-Ga-g])(?P<octave>[',]*))(?P<length>{_LENGTH})(?P<tie>-?)"
    rf"|(?P<rest>[zx])(?P<rest_length>{_LENGTH})"
    r"|\((?P<tuplet>[2-9]|1\d)(?P<ratio>(?::\d{0,2}){0,2})"
    r"|(?P<broken>>{1,3}|<{1,3})"
    r"|\[L:(?P<unit>1(?:/(?:1|2|4|8|16|32))?)\]"
)
_BARS_OF_REST = re.compile(r"Z(\d{0,4})")
# p -> q of a tuplet, None where the meter decides: three in a compound meter, else two (ABC 2.1, 4.13).
_TUPLETS = {2: 3, 3: 2, 4: 3, 5: None, 6: 2, 7: None, 8: 3, 9: None}
# The first sign of what people also try -> what to write instead.
_HINTS = {
    ":": "repeat signs are not read: name the section again in the form",
    "[": "a melody has one note at a time; expected single notes such as c2 e2 g4",
    "{": "grace notes are not read; expected plain notes such as c2 e2 g4",
    '"': "chord symbols belong into bars; expected notes such as c2 e2 g4",
    "(": "slurs are not read, only tuplets such as (3cde",
    ")": "slurs are not read, only tuplets such as (3cde",
    "%": "the sign for the same bar again is for chords; expected the notes once more",
    "-": "a tie stands right behind a note, as in c4-",
    "!": "ornaments are not read; expected plain notes such as c2 e2 g4",
}  # fmt: skip
_EXPECTED = "expected notes C to B and c to b, rests z, lengths such as 2 or 3/2, ties -, (3, >, < and barlines"


NotePlace = tuple[
    str, int, int
]  # section, bar of it from 1 (0: the song's pickup), note from 1 of those that begin there


@dataclass(frozen=True, slots=True)
class MelodyNote:
    """start_tick: from the first beat of the section's first bar, negative in the pickup. ticks: how long it lasts,
    ties included. pitch: None for a rest. is_tied: of a section's last note, held on into what is played next where that begins
    with the same pitch."""

    start_tick: int
    ticks: int
    pitch: Pitch | None
    is_tied: bool = False

    @property
    def end_tick(self) -> int:
        """The tick at which it ends."""
        return self.start_tick + self.ticks


@dataclass(slots=True)
class MelodyToken:
    """A note or rest as it stands in the text. span: offsets of its sign, letter and octave; (0, 0) for a rest."""

    ticks: Fraction
    pitch: Pitch | None = None
    span: tuple[int, int] = (0, 0)
    is_tied: bool = False


@dataclass(frozen=True, slots=True)
class BarTokens:
    """bar: from 1, 0 for the pickup. notes: empty where the bar is at fault."""

    bar: int
    start_tick: int
    notes: tuple[MelodyToken, ...]


class MelodyFault(ValueError):
    """Raised while a bar is read; the message is the fault's sentence."""


def parse_melody(
    text: str, meter: Meter, key: Key, bar_count: int | None = None, pickup_ticks: int = 0
) -> tuple[MelodyNote, ...]:
    """The notes and rests of a melody, end to end. bar_count: how many bars it must have, None for any number.

    pickup_ticks: the song's pickup where the melody may open with it, else 0. Raises ChartError with every fault.
    """
    notes, faults = read_melody(text, (), meter, key, bar_count, pickup_ticks)
    if faults:
        raise ChartError([Fault("melody", 0, message, bar=bar) for _, bar, message in faults])
    return notes


def section_melody(song: Song, name: str) -> tuple[MelodyNote, ...]:
    """The melody of a section, () where it has none. Raises ChartError where its text cannot be read."""
    section = song.sections[name]
    if not section.melody or not section.melody.strip():
        return ()
    return _read_before(section.melody, section.meter, section.key, len(section.bars), pickup_ticks_of(song, name))


@lru_cache(maxsize=512)
def _read_before(text: str, meter: Meter, key: Key, bar_count: int, pickup_ticks: int) -> tuple[MelodyNote, ...]:
    """As `parse_melody`, once for each section: every stand, sheet and line asks for it again."""
    return parse_melody(text, meter, key, bar_count, pickup_ticks)


def chorus_melody(song: Song, of: Callable[[str], tuple[MelodyNote, ...]] | None = None) -> tuple[MelodyNote, ...]:
    """The melody of one chorus: start_tick counts from the first bar of the form, negative in the pickup. of: gives the melody of a
    section by its name, None for as it is written.

    The song's pickup sounds where the chorus starts: where its section comes again, the bar before is already written
    out. A section's own pickup sounds each time it comes, in the place of what the bar before has there.
    """
    notes: list[MelodyNote] = []
    at = 0
    for name in song.form:
        section = song.sections[name]
        pickup_ticks = section.meter.ticks(section.pickup) if at else pickup_ticks_of(song, name)
        own = of(name) if of else section_melody(song, name)
        if own and own[0].start_tick < 0 and at:
            notes = _until(notes, at - pickup_ticks)
        for note in own:
            start = max(-pickup_ticks, note.start_tick)
            ticks = note.end_tick - start
            last = notes[-1] if notes else None
            if last and last.is_tied and last.pitch == note.pitch and last.end_tick == at + start:
                notes[-1] = replace(last, ticks=last.ticks + ticks, is_tied=note.is_tied)
            elif ticks > 0:
                notes.append(replace(note, start_tick=at + start, ticks=ticks))
        at += len(section.bars) * section.meter.bar_ticks
    return tuple(replace(note, is_tied=False) for note in notes)


def _until(notes: list[MelodyNote], end_tick: int) -> list[MelodyNote]:
    """The notes as far as a tick, the last one cut there."""
    return [
        MelodyNote(note.start_tick, min(note.ticks, end_tick - note.start_tick), note.pitch)
        for note in notes
        if note.start_tick < end_tick
    ]


def pickup_ticks_of(song: Song, name: str) -> int:
    """Ticks of the pickup that the melody of this section may open with: its own, or the song's."""
    section = song.sections[name]
    return section.meter.ticks(song.pickup if song.form and name == song.form[0] else section.pickup)


def read_melody(
    text: str, lines: Sequence[int], meter: Meter, key: Key, bar_count: int | None, pickup_ticks: int
) -> tuple[tuple[MelodyNote, ...], list[BarFault]]:
    """The notes of a melody, and every fault in it. lines: the file line of each character of `text`."""
    bars, faults = scan_melody(text, lines, meter, key, bar_count, pickup_ticks)
    return () if faults else tuple(_joined(bars)), faults


def scan_melody(
    text: str, lines: Sequence[int], meter: Meter, key: Key, bar_count: int | None, pickup_ticks: int
) -> tuple[list[BarTokens], list[BarFault]]:
    """The melody bar by bar as it is written, and every fault in it."""
    bars: list[BarTokens] = []
    faults: list[BarFault] = []
    if not text.strip():
        return bars, faults
    reader = BarReader(meter, key)
    in_pickup = pickup_ticks > 0 and not text.lstrip().startswith("|")
    count = 0
    line = 0
    for cell, offset in split_bars(text):
        line = lines[min(offset, len(lines) - 1)] if lines else 0
        if rest := _BARS_OF_REST.fullmatch(cell):
            in_pickup = False
            try:
                reader.end_tie()
            except MelodyFault as fault:
                faults.append((line, count, str(fault)))
            for _ in range(min(int(rest[1] or 1), MOST_BARS + 1)):
                count += 1
                bars.append(BarTokens(count, (count - 1) * meter.bar_ticks, (MelodyToken(Fraction(meter.bar_ticks)),)))
        else:
            count += not in_pickup
            try:
                notes = reader.read(cell, offset, pickup_ticks if in_pickup else meter.bar_ticks, in_pickup)
            except MelodyFault as fault:
                faults.append((line, count, str(fault)))
                notes = []
            start = -pickup_ticks if in_pickup else (count - 1) * meter.bar_ticks
            bars.append(BarTokens(count, start, tuple(notes)))
            in_pickup = False
        if count > MOST_BARS:
            faults.append((line, 0, f"the melody has more than {MOST_BARS} bars; expected those of its section"))
            break
    if bar_count is not None and count != bar_count and count <= MOST_BARS:
        faults.append((line, 0, f"the melody has {counted(count, 'bar')}; expected the {bar_count} of its section"))
    return bars, faults


def _joined(bars: list[BarTokens]) -> Iterator[MelodyNote]:
    """The notes with tied ones joined to one."""
    held: tuple[int, int] | None = None  # start and ticks so far
    pitch: Pitch | None = None
    for bar in bars:
        at = bar.start_tick
        for written in bar.notes:
            ticks = int(written.ticks)
            start, so_far = held or (at, 0)
            if written.is_tied:
                held = start, so_far + ticks
            else:
                held = None
                yield MelodyNote(start, so_far + ticks, written.pitch)
            pitch = written.pitch
            at += ticks
    if held:
        yield MelodyNote(*held, pitch, True)


class BarReader:
    """Reads one bar after the other; the unit of length and an open tie pass from bar to bar."""

    def __init__(self, meter: Meter, key: Key, forgives_ties: bool = False) -> None:
        """forgives_ties: a tie that leads to no note of its pitch is dropped, in text from elsewhere, instead of raised."""
        self.meter = meter
        self.key = key
        self.forgives_ties = forgives_ties
        self.key_signs: dict[str, int] = {}  # letter -> alteration, where a signature differs from its key's
        self.unit_ticks = UNIT_TICKS
        self.tied: Pitch | None = None  # the note whose tie waits for its end

    def end_tie(self) -> None:
        """A rest follows: an open tie leads nowhere. Raises MelodyFault."""
        if self.tied is not None:
            tied, self.tied = self.tied, None
            if self.forgives_ties:
                return
            raise MelodyFault(f"the tie behind {tied} leads to a rest; expected the same note again")

    def read(self, cell: str, offset: int, wanted_ticks: int, is_pickup: bool) -> list[MelodyToken]:
        """The notes of a bar that must last `wanted_ticks` ticks. Raises MelodyFault; a tie is then forgotten."""
        try:
            notes = self.notes(cell, offset)
            self._check_length(notes, wanted_ticks, is_pickup)
        except MelodyFault:
            self.tied = None
            raise
        return notes

    def notes(self, cell: str, offset: int = 0) -> list[MelodyToken]:
        """The notes of a bar, however long they are together. Raises MelodyFault."""
        notes: list[MelodyToken] = []
        signs: dict[str, int] = {}  # letter -> alteration, to the end of the bar
        stretch = Fraction(1)  # of the running tuplet
        left = 0  # notes still to come in it
        broken = Fraction(0)  # what the sign before this note leaves to it; 0 without one
        at = 0
        while at < len(cell):
            match = _TOKEN.match(cell, at)
            if match is None:
                raise MelodyFault(_not_understood(cell[at:]))
            at = match.end()
            if match["tuplet"]:
                if left:
                    raise MelodyFault(f"{quoted(match[0])} opens a tuplet within another; expected one at a time")
                stretch, left = self._tuplet(match)
            elif match["broken"]:
                if not notes or broken:
                    raise MelodyFault(f"{quoted(match[0])} stands before a note; expected it between two notes")
                short = Fraction(1, 2 ** len(match["broken"]))
                before, broken = (2 - short, short) if match["broken"][0] == ">" else (short, 2 - short)
                notes[-1].ticks *= before
            elif match["unit"]:
                self.unit_ticks = int(Fraction(match["unit"]) * 4 * TICKS_PER_QUARTER)
            elif match["pitch"] or match["rest"]:
                note = self._note(match, offset, signs) if match["pitch"] else self._rest(match)
                if left:
                    note.ticks *= stretch
                    left -= 1
                if broken:
                    note.ticks *= broken
                    broken = Fraction(0)
                notes.append(note)
        if not notes:
            raise MelodyFault("the bar is empty; expected notes, or a rest such as z8")
        if broken:
            raise MelodyFault("a sign > or < stands behind the last note; expected it between two notes")
        if left:
            raise MelodyFault(f"the tuplet lacks {counted(left, 'note')} before the barline; expected all of them")
        return notes

    def _note(self, match: re.Match[str], offset: int, signs: dict[str, int]) -> MelodyToken:
        letter = match["letter"].upper()
        octave = 4 + match["letter"].islower() + match["octave"].count("'") - match["octave"].count(",")
        if match["sign"]:
            signs[letter] = ACCIDENTAL_SIGNS[match["sign"]]
        alter = signs.get(letter, self.key_signs.get(letter, self.key.signature(letter)))
        tied, self.tied = self.tied, None
        # A note held over the barline keeps its accidental without a new sign (common practice).
        if tied and letter not in signs and (tied.tone.letter, tied.octave) == (letter, octave):
            alter = tied.tone.alter
        pitch = Pitch(Tone(letter, alter), octave)
        if not 0 <= pitch.midi <= 127:
            raise MelodyFault(f"{quoted(match['pitch'])} lies beyond every keyboard; expected fewer ' or ,")
        if tied and tied != pitch and not self.forgives_ties:
            raise MelodyFault(f"the tie behind {tied} leads to {pitch}; expected the same note again")
        self.tied = pitch if match["tie"] else None
        ticks = _ticks(match["length"], self.unit_ticks)
        span = offset + match.start("pitch"), offset + match.end("pitch")
        return MelodyToken(ticks, pitch, span, bool(match["tie"]))

    def _rest(self, match: re.Match[str]) -> MelodyToken:
        self.end_tie()
        return MelodyToken(_ticks(match["rest_length"], self.unit_ticks))

    def _tuplet(self, match: re.Match[str]) -> tuple[Fraction, int]:
        """How a tuplet stretches its notes, and how many they are."""
        p = int(match["tuplet"])
        q, r = ([int(figure or 0) for figure in match["ratio"].split(":")[1:]] + [0, 0])[:2]
        return Fraction(q or _TUPLETS.get(p) or (3 if self.meter.is_compound else 2), p), r or p

    def _check_length(self, notes: list[MelodyToken], wanted_ticks: int, is_pickup: bool) -> None:
        total = sum((note.ticks for note in notes), Fraction(0))
        if total != wanted_ticks:
            beats, wanted = (Fraction(ticks) / self.meter.beat_ticks for ticks in (total, wanted_ticks))
            if is_pickup:
                raise MelodyFault(
                    f"the notes before the first barline make {counted(beats, 'beat')}, but the pickup is "
                    f"{counted(wanted, 'beat')}; a melody without a pickup starts with |"
                )
            raise MelodyFault(f"the notes make {counted(beats, 'beat')}, but a bar of {self.meter} has {wanted}")
        for note in notes:
            if note.ticks.denominator != 1:
                length = counted(note.ticks / self.meter.beat_ticks, "beat")
                raise MelodyFault(f"a note of {length} cannot be counted exactly; expected a simpler length")


@lru_cache(maxsize=1024)
def _ticks(text: str, unit_ticks: int) -> Fraction:
    """A length as ABC writes it: "" is the unit, "/" a half of it, "//" a quarter, "3/" three halves."""
    above, slash, below = text.partition("/")
    if below.startswith("/"):
        return Fraction(unit_ticks, 2 ** text.count("/"))
    divisor = int(below or 2) if slash else 1
    if not divisor or above.strip("0") == "" != above:
        raise MelodyFault(f"a length of {quoted(text)} is none; expected such as c2 or c3/2")
    return Fraction(unit_ticks * int(above or 1), divisor)


def _not_understood(text: str) -> str:
    word = re.split(r"[ \t|]", text, maxsplit=1)[0] or text[:1]
    return f"{quoted(word)} is not understood; {_HINTS.get(text[0], _EXPECTED)}"
