"""A score as MusicXML 4.0: chord symbols with the text as the student wrote it, the shells with their fingering on
the lower staff, the melody or rests above.

The form is written out. Source: MusicXML 4.0 (W3C Music Notation Community Group Final Report, June 2021); the order of
elements is the schema's.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from xml.etree import ElementTree

from companion import __version__
from companion.base.text import plain
from companion.chart.grid import BARS_A_LINE
from companion.chart.model import NO_CHORD
from companion.export.harmony import kind_of
from companion.export.midi import signed_key
from companion.export.notation import NotatedNote, note_value, write_bar
from companion.export.score import HIDDEN, Fingered, Score, ScoreBar, Sung, Symbol
from companion.groove.timeline import TempoMark
from companion.theory.chord import Chord
from companion.theory.pitch import Pitch, Tone
from companion.theory.symbols import split_symbol

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_SIGNS = {
    -3: "flat-flat-flat",
    -2: "flat-flat",
    -1: "flat",
    0: "natural",
    1: "sharp",
    2: "double-sharp",
    3: "triple-sharp",
}
FEEL_WORDS = {"swing": "Swing", "straight": "Even eighths"}
_ALTERATION = re.compile(r"[b#](?=\d)")
_CLEFS = {"right": ("G", 2), "left": ("F", 4)}
_MELODY, _LEFT = "1", "5"  # voices: MusicXML numbers them through both staves

Element = ElementTree.Element


def musicxml_text(score: Score, *, to_engrave: bool = False) -> str:
    """The score as a grand staff. to_engrave: for a printed sheet, whose head says the tempo: without a melody the
    upper staff is left away, and the signs in chord symbols are those of print."""
    root = Element("score-partwise", version="4.0")
    _add(_add(root, "work"), "work-title", plain(score.title))
    _add(root, "movement-title", plain(score.title))
    encoding = _add(_add(root, "identification"), "encoding")
    _add(encoding, "software", f"Shell companion {__version__}")
    for feature, written in (("accidental", "yes"), ("beam", "yes"), ("stem", "no")):
        _add(encoding, "supports", element=feature, type=written)
    part = _add(_add(root, "part-list"), "score-part", id="P1")
    _add(part, "part-name", "Piano", **{"print-object": "no"})
    writer = _Writer(score, to_engrave)
    measures = _add(root, "part", id="P1")
    for position in range(len(score.bars)):
        measures.append(writer.measure(position))
    ElementTree.indent(root, " ")
    return _HEAD + ElementTree.tostring(root, encoding="unicode") + "\n"


def _add(parent: Element, tag: str, content: str | int | None = None, /, **attributes: str) -> Element:
    child = ElementTree.SubElement(parent, tag, attributes)
    if content is not None:
        child.text = str(content)
    return child


class _Writer:
    """Writes the measures of one score in turn."""

    def __init__(self, score: Score, to_engrave: bool) -> None:
        self.score = score
        self.to_engrave = to_engrave
        # The parts that are written, the upper staff first.
        left_alone = score.hands == "left" or (to_engrave and not score.has_melody)
        self.parts = ("left",) if left_alone else ("right",) if score.hands == "right" else ("right", "left")
        self.staves = len(self.parts)
        self.written = [(write_bar(bar.melody, bar.meter), write_bar(bar.left, bar.meter)) for bar in score.bars]
        lengths = [note.length for both in self.written for notes in both for note in notes]
        starts = [symbol.start for bar in score.bars for symbol in bar.symbols]
        self.divisions = math.lcm(*(length.denominator for length in (*lengths, *starts)))
        self.column = 0

    def measure(self, position: int) -> Element:
        bar = self.score.bars[position]
        melody, left = self.written[position]
        measure = Element("measure", number=str(bar.number))
        if bar.length is not None:
            measure.set("implicit", "yes")
        self._line_break(measure, bar, position)
        self._opening_line(measure, position)
        self._attributes(measure, bar, position)
        self._words(measure, bar, position)
        self._harmonies(measure, bar)
        signs = _Signs(bar)
        for note in melody if "right" in self.parts else ():
            self._note(measure, note, bar, _MELODY, 1, signs)
        if self.staves == 2:
            _add(_add(measure, "backup"), "duration", self._duration(bar.quarters))
        texts = list(bar.notes)
        signs = _Signs(bar)
        for note in left if "left" in self.parts else ():
            while texts and texts[0][0] < note.start + note.length:
                self._note_names(measure, *texts.pop(0), note.start)
            self._note(measure, note, bar, _LEFT, self.staves, signs)
        self._closing_line(measure, position)
        return measure

    def _opening_line(self, measure: Element, position: int) -> None:
        """A bar line at the left where a repeat or an ending begins."""
        bar = self.score.bars[position]
        begins = bar.ending and (not position or self.score.bars[position - 1].ending != bar.ending)
        if not (bar.opens_repeat or begins):
            return
        line = _add(measure, "barline", location="left")
        if bar.opens_repeat:
            _add(line, "bar-style", "heavy-light")
        if begins:
            _add(line, "ending", f"{bar.ending}.", number=str(bar.ending), type="start")
        if bar.opens_repeat:
            _add(line, "repeat", direction="forward")

    def _closing_line(self, measure: Element, position: int) -> None:
        bar, is_last = self.score.bars[position], position + 1 == len(self.score.bars)
        ends = bar.ending and (is_last or self.score.bars[position + 1].ending != bar.ending)
        if not (is_last or ends or bar.ends_section or bar.closes_repeat):
            return
        line = _add(measure, "barline", location="right")
        if is_last or bar.closes_repeat or bar.ends_section:
            _add(line, "bar-style", "light-heavy" if is_last or bar.closes_repeat else "light-light")
        if ends:
            _add(line, "ending", number=str(bar.ending), type="stop" if bar.closes_repeat else "discontinue")
        if bar.closes_repeat:
            _add(
                line,
                "repeat",
                direction="backward",
                **({"times": str(bar.closes_repeat)} if bar.closes_repeat > 2 else {}),
            )

    def _duration(self, length: Fraction) -> int:
        return int(length * self.divisions)

    def _line_break(self, measure: Element, bar: ScoreBar, position: int) -> None:
        """Four bars a line, and every section begins one."""
        if bar.length is not None:
            return
        if (bar.section and self.column) or self.column == BARS_A_LINE:
            _add(measure, "print", **{"new-system": "yes"})
            self.column = 0
        self.column += 1

    def _attributes(self, measure: Element, bar: ScoreBar, position: int) -> None:
        before = self.score.bars[position - 1] if position else None
        new_key = before is None or before.key != bar.key
        new_meter = before is None or before.meter != bar.meter
        if not (new_key or new_meter):
            return
        attributes = _add(measure, "attributes")
        if before is None:
            _add(attributes, "divisions", self.divisions)
        if new_key:
            key = _add(attributes, "key")
            _add(key, "fifths", signed_key(bar.key).fifths)
            _add(key, "mode", bar.key.mode)
        if new_meter:
            time = _add(attributes, "time")
            _add(time, "beats", bar.meter.beats)
            _add(time, "beat-type", bar.meter.unit)
        if before is None:
            if self.staves > 1:
                _add(attributes, "staves", self.staves)
            for number, (sign, line) in enumerate((_CLEFS[written] for written in self.parts), 1):
                clef = _add(attributes, "clef", **({"number": str(number)} if self.staves > 1 else {}))
                _add(clef, "sign", sign)
                _add(clef, "line", line)

    def _words(self, measure: Element, bar: ScoreBar, position: int) -> None:
        """The tempo at the start and where the pulse changes its note; the name of a section where it begins."""
        before = self.score.bars[position - 1] if position else None
        change = TempoMark(0, bar.meter, self.score.tempo_bpm)
        if not self.to_engrave and (before is None or before.meter.pulse_ticks != bar.meter.pulse_ticks):
            direction = _add(measure, "direction", placement="above")
            if before is None:
                _add(_add(direction, "direction-type"), "words", FEEL_WORDS[self.score.feel])
            metronome = _add(_add(direction, "direction-type"), "metronome", parentheses="no")
            name, dots = note_value(Fraction(bar.meter.pulse_ticks, 960)) or ("quarter", 0)
            _add(metronome, "beat-unit", name)
            for _ in range(dots):
                _add(metronome, "beat-unit-dot")
            _add(metronome, "per-minute", f"{self.score.tempo_bpm:g}")
            if self.staves > 1:
                _add(direction, "staff", 1)
            _add(direction, "sound", tempo=f"{change.quarters_per_minute:.10g}")
        if bar.section:
            direction = _add(measure, "direction", placement="above")
            _add(_add(direction, "direction-type"), "rehearsal", plain(bar.section))
            if self.staves > 1:
                _add(direction, "staff", 1)

    def _harmonies(self, measure: Element, bar: ScoreBar) -> None:
        """The chord symbols above the upper staff, each in its place whatever the melody does there."""
        at = Fraction(0)
        for symbol in bar.symbols:
            if symbol.start > at:
                _add(_add(measure, "forward"), "duration", self._duration(symbol.start - at))
                at = symbol.start
            self._harmony(measure, symbol)
        if at:
            _add(_add(measure, "backup"), "duration", self._duration(at))

    def _harmony(self, measure: Element, symbol: Symbol) -> None:
        harmony = _add(measure, "harmony", placement="above")
        chord = symbol.chord
        if chord is None:
            _add(_add(harmony, "root"), "root-step", "C", text="")
            _add(harmony, "kind", "none", text=NO_CHORD)
        elif symbol.root_only:
            _tone(_add(harmony, "root"), "root", chord.root)
            _add(harmony, "kind", "other", text="\u2026")
        else:
            _chord(harmony, chord, self.to_engrave)
        if self.staves > 1:
            _add(harmony, "staff", 1)

    def _note_names(self, measure: Element, start: Fraction, words: str, at: Fraction) -> None:
        direction = _add(measure, "direction", placement="below")
        _add(_add(direction, "direction-type"), "words", words)
        if start > at:
            _add(direction, "offset", self._duration(start - at))
        if self.staves > 1:
            _add(direction, "staff", self.staves)

    def _note(self, measure: Element, note: NotatedNote, bar: ScoreBar, voice: str, staff: int, signs: _Signs) -> None:
        """A written note, the two notes of a shell, or a rest."""
        pitches = _pitches(note.what)
        for number, pitch in enumerate(pitches or (None,)):
            hidden = note.what == HIDDEN
            element = _add(measure, "note", **({"print-object": "no"} if hidden else {}))
            if number:
                _add(element, "chord")
            whole_rest = pitch is None and not hidden and note.length == bar.quarters and bar.length is None
            if pitch is None:
                _add(element, "rest", **({"measure": "yes"} if whole_rest else {}))
            else:
                _pitch(element, pitch)
            back, on = _ties(note)
            _add(element, "duration", self._duration(note.length))
            for kind, tied in (("stop", back), ("start", on)):
                if pitch is not None and tied:
                    _add(element, "tie", type=kind)
            _add(element, "voice", voice)
            if note.type and not whole_rest:
                _add(element, "type", note.type)
                for _ in range(note.dots):
                    _add(element, "dot")
            if pitch is not None and signs.needs(pitch, tied=back):
                _add(element, "accidental", _SIGNS[pitch.tone.alter])
            if note.tuplet:
                modification = _add(element, "time-modification")
                _add(modification, "actual-notes", note.tuplet[0])
                _add(modification, "normal-notes", note.tuplet[1])
            if isinstance(note.what, Fingered) and note.length < 4:
                _add(element, "stem", "up")  # the fingering stands below
            if self.staves > 1:
                _add(element, "staff", staff)
            for level, words in enumerate(note.beams if number == 0 else (), 1):
                _add(element, "beam", words, number=str(level))
            self._notations(element, note, number, pitch, back, on)

    def _notations(
        self, element: Element, note: NotatedNote, number: int, pitch: Pitch | None, back: bool, on: bool
    ) -> None:
        notations = Element("notations")
        for kind, tied in (("stop", back), ("start", on)):
            if pitch is not None and tied:
                _add(notations, "tied", type=kind)
        if number == 0:
            for kind, there in (("start", note.opens), ("stop", note.closes)):
                if there:
                    _add(notations, "tuplet", type=kind, number="1")
        if isinstance(note.what, Fingered) and note.what.fingers and note.first:
            finger = note.what.fingers.split("-")[number]
            _add(_add(notations, "technical"), "fingering", finger, placement="below")
        if isinstance(note.what, Sung) and note.what.finger and note.first:
            _add(_add(notations, "technical"), "fingering", note.what.finger, placement="above")
        if len(notations):
            element.append(notations)


def printed(text: str) -> str:
    """Flat and sharp as print writes them: "m7b5" as "m7♭5"."""
    return _ALTERATION.sub(lambda sign: {"b": "♭", "#": "♯"}[sign[0]], text)


class _Signs:
    """Which accidentals a staff needs in one bar: a sign holds to the bar's end in its octave (common practice)."""

    def __init__(self, bar: ScoreBar) -> None:
        self._signature = _signature(signed_key(bar.key).fifths)
        self._holding: dict[tuple[str, int], int] = {}

    def needs(self, pitch: Pitch, tied: bool) -> bool:
        place = (pitch.tone.letter, pitch.octave)
        if self._holding.get(place, self._signature.get(pitch.tone.letter, 0)) == pitch.tone.alter or tied:
            return False
        self._holding[place] = pitch.tone.alter
        return True


def _signature(fifths: int) -> dict[str, int]:
    """Letter -> semitones: sharps come in the order F C G D A E B, flats the other way."""
    order = "FCGDAEB"
    return dict.fromkeys(order[:fifths], 1) if fifths > 0 else dict.fromkeys(order[7 + fifths :], -1)


def _pitches(what: Fingered | Sung | str | None) -> tuple[Pitch, ...]:
    if isinstance(what, Fingered):
        return (what.lower, what.upper)
    return (what.pitch,) if isinstance(what, Sung) else ()


def _ties(note: NotatedNote) -> tuple[bool, bool]:
    """(from the note before, to the next one), over the bar line too."""
    if not isinstance(note.what, Sung):
        return note.tied_back, note.tied_on
    back = note.tied_back or note.what.from_before
    return back, note.tied_on or note.what.goes_on


def _pitch(element: Element, pitch: Pitch) -> None:
    child = _add(element, "pitch")
    _add(child, "step", pitch.tone.letter)
    if pitch.tone.alter:
        _add(child, "alter", pitch.tone.alter)
    _add(child, "octave", pitch.octave)


def _tone(element: Element, name: str, tone: Tone) -> None:
    _add(element, f"{name}-step", tone.letter)
    if tone.alter:
        _add(element, f"{name}-alter", tone.alter)


def _chord(harmony: Element, chord: Chord, in_print: bool) -> None:
    """Root, kind with the quality as it was written, bass, and degrees that the text already says."""
    kind, degrees = kind_of(chord)
    quality = split_symbol(chord.symbol)[1]
    _tone(_add(harmony, "root"), "root", chord.root)
    _add(harmony, "kind", kind, text=printed(quality) if in_print else quality)
    if chord.bass is not None:
        _tone(_add(harmony, "bass"), "bass", chord.bass)
    for degree in () if in_print else degrees:
        child = _add(harmony, "degree", **{"print-object": "no"})
        _add(child, "degree-value", degree.value)
        _add(child, "degree-alter", degree.alter)
        _add(child, "degree-type", degree.type)
