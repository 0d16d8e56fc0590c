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
from companion.export.musicxml_notes import Where, add, durations_of, signs_of, write_note
from companion.export.notation import NotatedNote, note_value, write_bar
from companion.export.score import Score, ScoreBar, Symbol
from companion.export.written_out import BLANK, Struck
from companion.groove.timeline import TempoMark
from companion.theory.chord import Chord
from companion.theory.pitch import Tone
from companion.theory.symbols import split_symbol

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
FEEL_WORDS = {"swing": "Swing", "straight": "Even eighths"}
_ALTERATION = re.compile(r"[b#](?=\d)")
_CLEFS = {"right": ("G", 2), "left": ("F", 4)}
_FIRST_VOICE = {"right": 1, "left": 5}  # MusicXML numbers them through both staves

Element = ElementTree.Element


def musicxml_text(score: Score, *, to_engrave: bool = False) -> str:
    """The score as a grand staff. to_engrave: for a printed sheet, whose head says the tempo: without a melody the
    upper staff is left away, and the signs in chord symbols are those of print."""
    root = Element("score-partwise", version="4.0")
    add(add(root, "work"), "work-title", plain(score.title))
    add(root, "movement-title", plain(score.title))
    encoding = add(add(root, "identification"), "encoding")
    add(encoding, "software", f"Shell companion {__version__}")
    for feature, written in (("accidental", "yes"), ("beam", "yes"), ("stem", "no")):
        add(encoding, "supports", element=feature, type=written)
    part = add(add(root, "part-list"), "score-part", id="P1")
    add(part, "part-name", "Piano", **{"print-object": "no"})
    writer = _Writer(score, to_engrave)
    measures = add(root, "part", id="P1")
    for position in range(len(score.bars)):
        measures.append(writer.measure(position))
    ElementTree.indent(root, " ")
    return _HEAD + ElementTree.tostring(root, encoding="unicode") + "\n"


class _Writer:
    """Writes the measures of one score in turn."""

    def __init__(self, score: Score, to_engrave: bool) -> None:
        self.score = score
        self.to_engrave = to_engrave
        # The parts that are written, the upper staff first.
        left_alone = score.hands == "left" or (to_engrave and not score.has_melody)
        self.parts = ("left",) if left_alone else ("right",) if score.hands == "right" else ("right", "left")
        self.staves = len(self.parts)
        self.written = [self._voices(bar) for bar in score.bars]
        lengths = [length for voices in self.written for *_, notes in voices for length in durations_of(notes)]
        starts = [symbol.start for bar in score.bars for symbol in bar.symbols]
        wholes = [bar.quarters for bar in score.bars]
        self.divisions = math.lcm(*(length.denominator for length in (*lengths, *starts, *wholes)))
        self.column = 0

    def _voices(self, bar: ScoreBar) -> list[tuple[str, str, list[NotatedNote]]]:
        """(hand, number of the voice, notes) of what is written, the upper staff first."""
        found = []
        for hand in self.parts:
            spans = [
                bar.melody if hand == "right" else bar.left,
                *(more.spans for more in bar.more if more.hand == hand),
            ]
            found += [
                (hand, str(_FIRST_VOICE[hand] + number), write_bar(voice, bar.meter))
                for number, voice in enumerate(spans)
            ]
        return found

    def measure(self, position: int) -> Element:
        bar = self.score.bars[position]
        measure = Element("measure", number=str(bar.number))
        if bar.length is not None:
            measure.set("implicit", "yes")
        self._line_break(measure, bar, position)
        self._opening_line(measure, position)
        self._attributes(measure, bar, position)
        self._words(measure, bar, position)
        self._harmonies(measure, position)
        self._notes(measure, position)
        self._closing_line(measure, position)
        return measure

    def _notes(self, measure: Element, position: int) -> None:
        """Voice by voice, going back to the bar line between them."""
        bar, voices = self.score.bars[position], self.written[position]
        signs = {
            hand: signs_of(bar, [(voice, notes) for there, voice, notes in voices if there == hand])
            for hand in self.parts
        }
        for number, (hand, voice, notes) in enumerate(voices):
            if number:
                add(add(measure, "backup"), "duration", self._duration(bar.quarters))
            staff = str(self.parts.index(hand) + 1) if self.staves > 1 else ""
            others = tuple(
                (note.start, note.start + note.length)
                for there, another, sounding in voices
                if there == hand and another != voice
                for note in sounding
                if note.what not in (None, BLANK)
            )
            parted = "up" if voice == str(_FIRST_VOICE[hand]) else "down"
            where = Where(
                measure, bar, voice, staff, hand, self.divisions, signs[hand], _stem(bar, hand), parted, others
            )
            texts = list(bar.notes) if voice == str(_FIRST_VOICE["left"]) else []
            for note in notes:
                while texts and texts[0][0] < note.start + note.length:
                    self._note_names(measure, *texts.pop(0), note.start)
                write_note(where, note)

    def _opening_line(self, measure: Element, position: int) -> None:
        """A bar line at the left where a repeat or an ending begins."""
        bar = self.score.bars[position]
        begins = bar.ending and (not position or self.score.bars[position - 1].ending != bar.ending)
        if not (bar.opens_repeat or begins):
            return
        line = add(measure, "barline", location="left")
        if bar.opens_repeat:
            add(line, "bar-style", "heavy-light")
        if begins:
            add(line, "ending", f"{bar.ending}.", number=str(bar.ending), type="start")
        if bar.opens_repeat:
            add(line, "repeat", direction="forward")

    def _closing_line(self, measure: Element, position: int) -> None:
        bar, is_last = self.score.bars[position], position + 1 == len(self.score.bars)
        ends = bar.ending and (is_last or self.score.bars[position + 1].ending != bar.ending)
        if not (is_last or ends or bar.ends_section or bar.closes_repeat):
            return
        line = add(measure, "barline", location="right")
        if is_last or bar.closes_repeat or bar.ends_section:
            add(line, "bar-style", "light-heavy" if is_last or bar.closes_repeat else "light-light")
        if ends:
            add(line, "ending", number=str(bar.ending), type="stop" if bar.closes_repeat else "discontinue")
        if bar.closes_repeat:
            add(
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
            add(measure, "print", **{"new-system": "yes"})
            self.column = 0
        self.column += 1

    def _attributes(self, measure: Element, bar: ScoreBar, position: int) -> None:
        before = self.score.bars[position - 1] if position else None
        new_key = before is None or before.key != bar.key
        new_meter = before is None or before.meter != bar.meter
        if not (new_key or new_meter):
            return
        attributes = add(measure, "attributes")
        if before is None:
            add(attributes, "divisions", self.divisions)
        if new_key:
            key = add(attributes, "key")
            add(key, "fifths", signed_key(bar.key).fifths)
            add(key, "mode", bar.key.mode)
        if new_meter:
            time = add(attributes, "time")
            add(time, "beats", bar.meter.beats)
            add(time, "beat-type", bar.meter.unit)
        if before is None:
            if self.staves > 1:
                add(attributes, "staves", self.staves)
            for number, (sign, line) in enumerate((_CLEFS[written] for written in self.parts), 1):
                clef = add(attributes, "clef", **({"number": str(number)} if self.staves > 1 else {}))
                add(clef, "sign", sign)
                add(clef, "line", line)

    def _words(self, measure: Element, bar: ScoreBar, position: int) -> None:
        """The tempo at the start and where the pulse changes its note; the name of a section where it begins."""
        before = self.score.bars[position - 1] if position else None
        change = TempoMark(0, bar.meter, self.score.tempo_bpm)
        if not self.to_engrave and (before is None or before.meter.pulse_ticks != bar.meter.pulse_ticks):
            direction = add(measure, "direction", placement="above")
            if before is None:
                add(add(direction, "direction-type"), "words", FEEL_WORDS[self.score.feel])
            metronome = add(add(direction, "direction-type"), "metronome", parentheses="no")
            name, dots = note_value(Fraction(bar.meter.pulse_ticks, 960)) or ("quarter", 0)
            add(metronome, "beat-unit", name)
            for _ in range(dots):
                add(metronome, "beat-unit-dot")
            add(metronome, "per-minute", f"{self.score.tempo_bpm:g}")
            if self.staves > 1:
                add(direction, "staff", 1)
            add(direction, "sound", tempo=f"{change.quarters_per_minute:.10g}")
        if bar.words or (
            not self.to_engrave and before is not None and _tempo(before, self.score) != _tempo(bar, self.score)
        ):
            self._changes(measure, bar)
        if bar.section:
            direction = add(measure, "direction", placement="above")
            add(add(direction, "direction-type"), "rehearsal", plain(bar.section))
            if self.staves > 1:
                add(direction, "staff", 1)

    def _changes(self, measure: Element, bar: ScoreBar) -> None:
        """What is said of the tempo inside the tune, and how fast it goes on."""
        into = measure
        if bar.words:
            into = add(measure, "direction", placement="above")
            add(add(into, "direction-type"), "words", bar.words)
            if self.staves > 1:
                add(into, "staff", 1)
        if not self.to_engrave:
            quarters_per_minute = TempoMark(0, bar.meter, _tempo(bar, self.score)).quarters_per_minute
            add(into, "sound", tempo=f"{quarters_per_minute:.10g}")

    def _harmonies(self, measure: Element, position: int) -> None:
        """The chord symbols above the upper staff, each in its place whatever the melody does there. In print N.C. holds until a chord comes."""
        bar = self.score.bars[position]
        before = self.score.bars[position - 1] if position and not (bar.opens_repeat or bar.ending) else None
        silent = self.to_engrave and before is not None and before.symbols[-1:] and before.symbols[-1].chord is None
        at = Fraction(0)
        for symbol in bar.symbols[1 if silent and bar.symbols[0].chord is None else 0 :]:
            if symbol.start > at:
                add(add(measure, "forward"), "duration", self._duration(symbol.start - at))
                at = symbol.start
            self._harmony(measure, symbol)
        if at:
            add(add(measure, "backup"), "duration", self._duration(at))

    def _harmony(self, measure: Element, symbol: Symbol) -> None:
        harmony = add(measure, "harmony", placement="above")
        chord = symbol.chord
        if chord is None:
            add(add(harmony, "root"), "root-step", "C", text="")
            add(harmony, "kind", "none", text=NO_CHORD)
        elif symbol.root_only:
            _tone(add(harmony, "root"), "root", chord.root)
            add(harmony, "kind", "other", text="\u2026")
        else:
            _chord(harmony, chord, self.to_engrave)
        if self.staves > 1:
            add(harmony, "staff", 1)

    def _note_names(self, measure: Element, start: Fraction, words: str, at: Fraction) -> None:
        direction = add(measure, "direction", placement="below")
        add(add(direction, "direction-type"), "words", words)
        if start > at:
            add(direction, "offset", self._duration(start - at))
        if self.staves > 1:
            add(direction, "staff", self.staves)


def _tempo(bar: ScoreBar, score: Score) -> float:
    return score.tempo_bpm if bar.tempo_bpm is None else bar.tempo_bpm


def _stem(bar: ScoreBar, hand: str) -> str:
    """Away from the fingers, which stand below the left hand and above the right one."""
    has_fingers = any(isinstance(span.what, Struck) and span.what.fingers for span in bar.melody)
    return "up" if hand == "left" else "down" if has_fingers else ""


def printed(text: str) -> str:
    """Flat and sharp as print writes them: "m7b5" as "m7♭5"."""
    return _ALTERATION.sub(lambda sign: {"b": "♭", "#": "♯"}[sign[0]], text)


def _tone(element: Element, name: str, tone: Tone) -> None:
    add(element, f"{name}-step", tone.letter)
    if tone.alter:
        add(element, f"{name}-alter", tone.alter)


def _chord(harmony: Element, chord: Chord, in_print: bool) -> None:
    """Root, kind with the quality as it was written, bass, and degrees that the text already says."""
    kind, degrees = kind_of(chord)
    quality = split_symbol(chord.symbol)[1]
    _tone(add(harmony, "root"), "root", chord.root)
    add(harmony, "kind", kind, text=printed(quality) if in_print else quality)
    if chord.bass is not None:
        _tone(add(harmony, "bass"), "bass", chord.bass)
    for degree in () if in_print else degrees:
        child = add(harmony, "degree", **{"print-object": "no"})
        add(child, "degree-value", degree.value)
        add(child, "degree-alter", degree.alter)
        add(child, "degree-type", degree.type)
