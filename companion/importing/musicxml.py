"""MusicXML -> Sheet, through music21.

Why music21: it knows all that stands in a lead sheet (voices, tuplets and ties, repeats and endings, segno and coda,
rehearsal marks, pickups, changes of meter and key, transposing parts), is pure Python and well kept. partitura 1.9 keeps
of a chord only the text that is printed, neither kind nor degrees nor bass, and needs scipy; a reader of our own would
repeat ten years of other people's files. What music21 passes over, the steering attributes of <sound> and the words N.C.,
comes from the raw text or from its text expressions; what the chord symbols say is read in harmonies.py.

Only this module and the child process that runs it import music21.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from companion.base.text import quoted
from companion.chart.bars import counted
from companion.errors import SheetError
from companion.importing.guard import Scanned
from companion.importing.guess import chord_typed
from companion.importing.harmonies import Harmony, number_of, take_harmonies
from companion.importing.score import Sheet, SheetBar, SheetNote, Steering, key_of_signature
from companion.importing.signs import steering_of, steering_of_name, steering_of_sound
from companion.importing.sounding import Transposition
from companion.theory.meter import TICKS_PER_QUARTER, Meter
from companion.theory.pitch import Pitch, Tone
from companion.theory.symbols import is_no_chord

_DEFAULT_METER = Meter(4, 4)
_DOUBLE = ("double", "final", "heavy-light", "heavy-heavy")  # music21's names of bar lines


def read_musicxml(xml: str, scanned: Scanned) -> Sheet:
    """The lead sheet in a MusicXML text that `guard.scan` has looked through. Raises whatever music21 raises."""
    from music21.converter.subConverters import ConverterMusicXML

    plain, harmonies = take_harmonies(xml)
    converter = ConverterMusicXML()
    converter.parseData(plain)
    return _ScoreReader(converter.stream, scanned, harmonies).sheet()


def exact(number: Any) -> Fraction:
    """A length of music21's, a float or a Fraction, as the fraction that was written."""
    return Fraction(number).limit_denominator(TICKS_PER_QUARTER * 4)


class _ScoreReader:
    def __init__(self, score: Any, scanned: Scanned, harmonies: list[Harmony]) -> None:
        from music21 import stream

        self.score = score
        self.scanned = scanned
        self.harmonies = harmonies
        parts = list(score.parts)
        if not parts:
            raise SheetError(
                "the score does not list the parts that it holds; expected a lead sheet with its part-list"
            )
        self.measures = [list(part.getElementsByClass(stream.Measure)) for part in parts]
        melodic = (number for number, part in enumerate(parts) if any(_pitches(note) for note in part.recurse().notes))
        self.melody_part = next(melodic, 0)
        self.parts = parts
        instruments = [part.getInstrument(returnDefault=False) for part in parts]
        self.part_ids = [str(getattr(instrument, "partId", "")) for instrument in instruments]  # as the file has them
        self.transpositions = [Transposition()] * len(parts)
        self.written_fifths = [0] * len(parts)
        self.moved: set[int] = set()
        self.result = Sheet(title=_title(score))

    def sheet(self) -> Sheet:
        result = self.result
        meter, fifths, mode = _DEFAULT_METER, 0, ""
        count = max(map(len, self.measures))
        for index in range(count):
            here = [(part, measures[index]) for part, measures in enumerate(self.measures) if index < len(measures)]
            same = [measure for _, measure in here]
            melody_part, lead = next((both for both in here if both[0] == self.melody_part), here[-1])
            number = f"{lead.number}{lead.numberSuffix or ''}"
            meter = self._meter(same, number, meter, index)
            for part, measure in here:
                self._transposition(part, index, number)
                fifths, mode = self._key(part, measure, number, fifths, mode)
            sounding_fifths = self.transpositions[melody_part].fifths(fifths)
            # music21 stretches a rest that fills its bar to the meter's length, even in a pickup.
            sounding = [measure for measure in same if any(_pitches(note) for note in measure.recurse().notes)]
            length = max(exact(measure.duration.quarterLength) for measure in sounding or same)
            bar = SheetBar(number, meter, sounding_fifths, mode, length)
            self._barlines(bar, same)
            self._texts(bar, same, index)
            self._chords(bar, here)
            self._melody(bar, lead, melody_part)
            result.bars.append(bar)
        self._endings()
        self._tempo()
        found = sum(len(list(_chord_symbols(measure))) for measures in self.measures for measure in measures)
        if found < len(self.harmonies):
            result.remark("", f"{len(self.harmonies) - found} chord symbols of the file could not be read")
        if result.feel == "" and self.scanned.swing is not None:
            result.feel = "swing" if self.scanned.swing else "straight"
        if any(note.lyrics for measures in self.measures for measure in measures for note in measure.recurse().notes):
            result.remark("", "the words of the song are left out: a chart has no place for them")
        if len({part.partName for part in self.parts}) > 1:
            name = self.parts[self.melody_part].partName or f"part {self.melody_part + 1}"
            result.remark("", f"of {len(self.parts)} parts only {quoted(name)} is taken as the melody")
        elif len(self.parts) > 1:  # the staves of one instrument
            result.remark("", f"of {len(self.parts)} staves only number {self.melody_part + 1} is taken as the melody")
        return result

    # --- what rules a bar

    def _meter(self, same: list[Any], number: str, before: Meter, index: int) -> Meter:
        from music21 import meter

        meter_now = before
        for sign in _unique(same, meter.TimeSignature):
            offset = exact(sign.offset)
            if offset:
                self.result.remark(number, f"the meter changes to {sign.ratioString} within the bar; left out")
                continue
            try:
                meter_now = Meter.parse(f"{sign.numerator}/{sign.denominator}")
            except ValueError:
                self.result.remark(number, f"the meter {sign.ratioString} has no place in a chart; {before} kept")
            if "+" in sign.ratioString:
                self.result.remark(number, f"the meter {sign.ratioString} is read as {meter_now}")
        if index == 0 and not any(measure.timeSignature for measure in same):
            self.result.remark(number, f"no meter is given; {meter_now} taken")
        return meter_now

    def _transposition(self, part: int, index: int, number: str) -> None:
        """What the part's own <transpose> says in this measure."""
        said = self.scanned.transposes.get((self.part_ids[part], index))
        if said is None:
            return
        found = Transposition.parse(said)
        if found is None:  # steps alone, without <chromatic>, which MusicXML 4.0 asks for
            self.result.remark("", "how far the part is transposed is not said in semitones; left as it is written")
        self.transpositions[part] = found or Transposition()

    def _key(self, part: int, measure: Any, number: str, fifths: int, mode: str) -> tuple[int, str]:
        """The signature and mode of the melody's part; those of the others are kept for their chord symbols."""
        from music21 import key

        if part != self.melody_part:
            signs = [sign for sign in measure.getElementsByClass(key.KeySignature) if not sign.offset]
            self.written_fifths[part] = int(signs[-1].sharps or 0) if signs else self.written_fifths[part]
            return fifths, mode
        for sign in measure.getElementsByClass(key.KeySignature):
            if sign.offset:
                self.result.remark(number, "the key changes within the bar; the change is left out")
            elif sign.sharps is None or getattr(sign, "isNonTraditional", False):
                self.result.remark(number, "a key signature of single accidentals has no place in a chart; left out")
            else:
                fifths, mode = int(sign.sharps), str(getattr(sign, "mode", "") or "")
        self.written_fifths[part] = fifths
        return fifths, mode

    def _barlines(self, bar: SheetBar, same: list[Any]) -> None:
        from music21 import bar as barlines

        for measure in same:
            for line in measure.recurse().getElementsByClass(barlines.Repeat):
                if line.direction == "start":
                    bar.starts_repeat = True
                else:
                    bar.times = max(bar.times, int(line.times or 2))
            left, right = measure.leftBarline, measure.rightBarline
            bar.ends_section |= right is not None and right.type in _DOUBLE
            if left is not None and left.type in _DOUBLE and self.result.bars:
                self.result.bars[-1].ends_section = True

    def _endings(self) -> None:
        from music21 import spanner

        for measures, part in zip(self.measures, self.parts):
            places = {id(measure): at for at, measure in enumerate(measures)}
            for bracket in part.recurse().getElementsByClass(spanner.RepeatBracket):
                for measure in bracket.getSpannedElements():
                    at = places.get(id(measure))
                    if at is not None:
                        bar = self.result.bars[at]
                        bar.endings |= frozenset(int(number) for number in bracket.numberRange or (1,))

    def _texts(self, bar: SheetBar, same: list[Any], index: int) -> None:
        """Rehearsal marks, the signs that steer playing, and other words."""
        from music21 import expressions, repeat

        steering = [steering_of_sound(self.scanned.sounds.get(index, {}))]
        for measure in same:
            for mark in measure.recurse().getElementsByClass(expressions.RehearsalMark):
                bar.mark = bar.mark or str(mark.content or "").strip()
            for sign in measure.recurse().getElementsByClass(repeat.RepeatExpression):
                text = sign.getTextExpression().content if sign.getTextExpression() else ""
                steering.append(steering_of(text) or steering_of_name(type(sign).__name__))
            for text in measure.recurse().getElementsByClass(expressions.TextExpression):
                self._words(bar, text, exact(text.getOffsetInHierarchy(measure)), steering)
        for one in steering:
            bar.steering.add(one)

    def _words(self, bar: SheetBar, text: Any, offset: Fraction, steering: list[Steering]) -> None:
        words = str(text.content or "").strip()
        found = steering_of(words)
        if found is not None:
            steering.append(found)
        elif is_no_chord(words):
            bar.chords.append((offset, None))
        elif re.search(r"swing|shuffle", words, re.IGNORECASE):
            self.result.feel = "swing"
        elif re.search(r"straight|\beven\b|bossa|samba|latin", words, re.IGNORECASE):
            self.result.feel = "straight"
        elif symbol := chord_typed(words):
            self.result.typed.append((bar, offset, symbol))
        elif words:
            self.result.dance += f" {words}"
            self.result.remark(bar.number, f"the words {quoted(words)} are left out")

    # --- chords and melody

    def _chords(self, bar: SheetBar, here: list[tuple[int, Any]]) -> None:
        for part, measure in here:
            for symbol in _chord_symbols(measure):
                offset = exact(symbol.getOffsetInHierarchy(measure))
                number = number_of(symbol.chordKindStr or "")
                if number is not None:
                    harmony = self.harmonies[number]
                    if harmony.said:
                        self.result.remark(bar.number, harmony.said)
                    bar.chords.append((offset, harmony.symbol and self._sounding(harmony.symbol, part)))

    def _sounding(self, symbol: str, part: int) -> str:
        transposition, fifths = self.transpositions[part], self.written_fifths[part]
        self._remark_moved(part)
        return transposition.symbol(symbol, fifths)

    def _remark_moved(self, part: int) -> None:
        """Tell once for each part that it comes in as it sounds."""
        transposition, fifths = self.transpositions[part], self.written_fifths[part]
        old, new = key_of_signature(fifths), key_of_signature(transposition.fifths(fifths))
        if not transposition.semitones or part in self.moved:
            return
        self.moved.add(part)
        whose = "the part" if part == self.melody_part else f"the part {quoted(str(self.parts[part].partName))}"
        octaves, rest = divmod(abs(transposition.semitones), 12)
        way = (
            f"{counted(octaves, 'octave')} {'down' if transposition.semitones < 0 else 'up'}"
            if octaves and not rest
            else f"from {old} to {new}"
        )
        self.result.remark("", f"{whose} is for a transposing instrument; moved {way}, as it sounds")

    def _melody(self, bar: SheetBar, measure: Any, part: int) -> None:
        top: dict[Fraction, tuple[Fraction, Pitch | None, bool]] = {}
        lower = 0
        for note in measure.recurse().notesAndRests:
            if _is_chord_symbol(note):
                continue
            if note.duration.isGrace:
                self.result.remark(bar.number, "grace notes are left out of the melody")
                continue
            offset, length = exact(note.getOffsetInHierarchy(measure)), exact(note.duration.quarterLength)
            pitches = _pitches(note)
            if length <= 0:
                continue
            if not note.isRest and not pitches and getattr(note, "notehead", "") != "slash":
                self.result.remark(bar.number, "notes without a pitch are left out of the melody")
            if (length * TICKS_PER_QUARTER).denominator != 1 or (offset * TICKS_PER_QUARTER).denominator != 1:
                self.result.remark(bar.number, "a note's length cannot be counted exactly; a rest stands in its place")
                continue
            pitch = _pitch(max(pitches, key=lambda pitch: pitch.ps)) if pitches else None
            if pitches and pitch is None:
                self.result.remark(bar.number, "a note between the keys of a piano is left out of the melody")
            if pitch is not None:
                self._remark_moved(part)
                pitch = self.transpositions[part].pitch(pitch, self.written_fifths[part])
                pitch = pitch if 0 <= pitch.midi <= 127 else None
            lower += max(0, len(pitches) - 1)
            tie = note.tie is not None and note.tie.type in ("start", "continue")
            known = top.get(offset)
            if known is None or known[1] is None or (pitch is not None and pitch.midi > known[1].midi):
                lower += known is not None and known[1] is not None
                top[offset] = (length, pitch, tie)
            else:
                lower += pitch is not None
        bar.notes, hidden = _one_voice(top)
        if lower + hidden:
            self.result.remark(bar.number, "the lower notes are left out of the melody: it has one note at a time")

    # --- the whole

    def _tempo(self) -> None:
        from music21 import tempo

        for mark in self.score.recurse().getElementsByClass(tempo.MetronomeMark):
            quarter_bpm = mark.getQuarterBPM()
            if quarter_bpm:
                if self.result.quarter_bpm is None:
                    self.result.quarter_bpm = float(quarter_bpm)
                elif abs(self.result.quarter_bpm - quarter_bpm) > 0.5:
                    measure = mark.getContextByClass("Measure")
                    self.result.remark(
                        str(measure.number) if measure is not None else "",
                        f"the tempo changes to {quarter_bpm:g} quarters a minute; the first one is kept",
                    )


def _one_voice(top: dict[Fraction, tuple[Fraction, Pitch | None, bool]]) -> tuple[list[SheetNote], int]:
    """The notes one after the other: a note ends where the next one starts. Also how many rests and notes it cut."""
    notes: list[SheetNote] = []
    cut = 0
    sounding = [(offset, *what) for offset, what in sorted(top.items())]
    end = Fraction(0)
    for offset, length, pitch, tie in sounding:
        if offset < end and pitch is None:
            continue  # another voice rests while this one sounds
        if offset < end and notes:
            last = notes[-1]
            notes[-1] = SheetNote(last.offset, offset - last.offset, last.pitch)
            cut += last.pitch is not None
        notes.append(SheetNote(offset, length, pitch, tie))
        end = max(end, offset + length)
    return notes, cut


def _unique(measures: list[Any], kind: type) -> Iterator[Any]:
    """The signs of a kind in the measures of all parts, each place once."""
    seen: set[Any] = set()
    for measure in measures:
        for sign in measure.getElementsByClass(kind):
            if exact(sign.offset) not in seen:
                seen.add(exact(sign.offset))
                yield sign


def _is_chord_symbol(note: Any) -> bool:
    from music21 import harmony

    return isinstance(note, harmony.Harmony)


def _chord_symbols(measure: Any) -> Iterator[Any]:
    from music21 import harmony

    return iter(measure.recurse().getElementsByClass(harmony.ChordSymbol))


def _pitches(note: Any) -> list[Any]:
    """The pitches of a note or chord that sounds; none for rests, slashes and drums."""
    if note.isRest or _is_chord_symbol(note) or getattr(note, "notehead", "") == "slash":
        return []
    return list(note.pitches)


def _tone(pitch: Any) -> Tone | None:
    alter = pitch.alter
    return Tone(pitch.step, int(alter)) if alter == int(alter) and abs(alter) <= 2 else None


def _pitch(pitch: Any) -> Pitch | None:
    tone = _tone(pitch)
    octave = pitch.octave if pitch.octave is not None else 4
    return Pitch(tone, octave) if tone is not None and 0 <= Pitch(tone, octave).midi <= 127 else None


def _title(score: Any) -> str:
    data = score.metadata
    return str((data and (data.title or data.movementName)) or "").strip() if data else ""
