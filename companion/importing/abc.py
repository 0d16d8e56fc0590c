"""ABC -> Sheet.

A lead sheet in ABC is read here and not by a library: its notes are those of the melodies of charts, and music21, which
reads the rest of what comes in, passes over inline fields, ornaments, third endings and every chord symbol it does not
know without a word. The tests hold its reading of pitches, lengths and bars against this one.

Source: The abc music standard 2.1 (December 2011), chapters 2 to 4 and 7.
"""

from __future__ import annotations

import re
from fractions import Fraction

from companion.base.text import quoted
from companion.chart.melody import BarReader, MelodyFault
from companion.errors import ChordError, SheetError
from companion.importing.abc_fields import (
    INFORMATION,
    key_of,
    key_signs_of,
    meter_of,
    parts_of,
    quarter_bpm_of,
    unit_ticks_of,
    usual_unit_ticks,
)
from companion.importing.abc_repeats import end_repeat
from companion.importing.guess import chord_typed, chord_with_bass
from companion.importing.score import Sheet, SheetBar, SheetNote
from companion.importing.signs import steering_of
from companion.importing.tune_book import find_tune, tunes_of
from companion.theory.key import Key
from companion.theory.meter import TICKS_PER_QUARTER, Meter
from companion.theory.pitch import LETTERS, Tone
from companion.theory.symbols import is_no_chord

_MOST_BARS = 2000
_MOST_SIGNS = 250_000  # of one tune; a long one has 5000
_MOST_ODD_CHORDS = 200
_MOST_NAMED = 20  # tunes in a remark
_NUMBERS = re.compile(r"\d[\d,-]*")
_LENGTH = r"(?:\d{1,4}(?:/\d{0,4})?|/\d{1,4}|/{1,4})?"
_NOTE = rf"(?:\^\^?|__?|=)?[A-Ga-g][',]*{_LENGTH}"
_TOKEN = re.compile(
    rf"(?P<blank>[ \t`]+|\\$)"
    rf"|\[(?P<field>[A-Za-z]):(?P<value>[^\][]*)\]"
    rf'|"(?P<text>[^"]*)"'
    rf"|!(?P<mark>[^!|]*)!|\+(?P<plus>[^+|]*)\+"
    rf"|(?P<bar>:*(?:\[?\|[|\]]*)+:*|:{{2,}}|\])"
    rf"|\[(?P<ending>\d[\d,-]*)"
    rf"|\{{(?P<grace>[^{{}}]*)\}}"
    rf"|\[(?P<chord>(?:{_NOTE}-?)+)\](?P<chord_length>{_LENGTH})(?P<chord_tie>-?)"
    rf"|(?P<note>{_NOTE}-?|[zx]{_LENGTH})"
    rf"|(?P<bars>[ZX]\d{{0,3}})"
    rf"|(?P<tuplet>\((?:[2-9]|1\d)(?::\d{{0,2}}){{0,2}})"
    rf"|(?P<broken>>{{1,3}}|<{{1,3}})"
    rf"|(?P<tie>-)"
    rf"|(?P<slur>[()])"
    rf"|(?P<ornament>[.~HLMOPSTuvJR])"
    rf"|(?P<spacer>y\d*)"
    rf"|(?P<overlay>&[^|]*)"
)
_ONE_NOTE = re.compile(rf"((?:\^\^?|__?|=)?)([A-Ga-g])([',]*)({_LENGTH})(-?)")
# Decorations that steer playing (ABC 2.1, 4.14) -> words that say the same.
_STEERING = {
    "segno": "segno", "coda": "coda", "fine": "fine", "D.C.": "D.C.", "D.S.": "D.S.", "dacoda": "da capo al coda",
    "dacapo": "da capo", "D.C.alcoda": "D.C. al Coda", "D.S.alcoda": "D.S. al Coda", "D.C.alfine": "D.C. al Fine",
    "D.S.alfine": "D.S. al Fine", "tocoda": "to coda",
}  # fmt: skip


def read_abc(text: str, wanted: str = "") -> Sheet:
    """A tune of an ABC text: the one of that number or title, the first for "". Raises SheetError where there is none."""
    tunes = tunes_of(text)
    tune = find_tune(tunes, wanted)
    reader = _TuneReader()
    if len(tunes) > 1 and not wanted.strip():
        others = ", ".join(other.words for other in tunes[:_MOST_NAMED]) + (", ..." if len(tunes) > _MOST_NAMED else "")
        reader.sheet.remark(
            "",
            f"the file holds {len(tunes)} tunes; only the first one is read; another by its number or title: {others}",
        )
    if sum(map(len, tune.lines)) > _MOST_SIGNS:
        raise SheetError(f"the tune has more than {_MOST_SIGNS} signs; expected the lead sheet of one tune")
    for line in tune.lines:
        if not line.strip() and reader.in_body:
            break  # a blank line ends a tune
        reader.line(line)
    return reader.finish()


class _TuneReader:
    """Takes a tune line by line."""

    def __init__(self) -> None:
        self.sheet = Sheet()
        self.in_body = False
        self.meter = Meter(4, 4)
        self.has_meter = False
        self.unit_ticks = 0  # 0: not given yet
        self.fifths, self.mode = 0, ""
        self.notes = BarReader(self.meter, Key(Tone("C")), forgives_ties=True)
        self.voice = self.first_voice = ""
        self.endings: frozenset[int] = frozenset()
        self.starts_repeat = False
        self.mark = ""
        self.odd_chords = 0
        self._new_bar()

    def _new_bar(self) -> None:
        self.words: list[str] = []  # the notes of the bar, cleaned
        self.symbols: list[tuple[int, str | None]] = []  # before which note a chord stands
        self.typed: list[tuple[int, str]] = []  # the same of words above the staff that are chords
        self.count = 0  # of notes so far
        self.steering: list[str] = []

    @property
    def number(self) -> str:
        return str(len(self.sheet.bars) + 1)

    # --- lines and fields

    def line(self, line: str) -> None:
        line = re.sub(r"(?<!\\)%.*", "", line).rstrip()
        field = re.match(r"([A-Za-z+]):(?!\|)\s*(.*)", line)
        if field and not (self.in_body and field[1] in "abcdefgz"):
            self._field(field[1], field[2])
        elif self.in_body and line.strip() and self.voice == self.first_voice:
            self._music(line)

    def _field(self, name: str, value: str) -> None:
        try:
            self._known_field(name, value)
        except ValueError:
            where = self.number if self.in_body else ""
            self.sheet.remark(where, f"the field {quoted(f'{name}:{value}')} is not understood; left out")

    def _known_field(self, name: str, value: str) -> None:
        if name == "T":
            self.sheet.title = self.sheet.title or value
        elif name == "M":
            self.meter, self.has_meter = meter_of(value), True
        elif name == "L":
            self.unit_ticks = unit_ticks_of(value)
        elif name == "Q":
            quarter_bpm = quarter_bpm_of(value)
            if self.sheet.quarter_bpm is None:
                self.sheet.quarter_bpm = quarter_bpm
            else:
                self.sheet.remark(self.number, f"the tempo changes to {value}; the first one is kept")
        elif name == "K":
            self._key(value)
        elif name == "P" and self.in_body:
            if self.mark and not self.sheet.bars and not self.words:
                self.sheet.form = parts_of(self.mark)  # the order of the parts, written below the key instead of above
            self.mark = value.strip()
        elif name == "P":
            self.sheet.form = parts_of(value)
        elif name == "V":
            self._voice(value)
        elif name in "wW":
            self.sheet.remark("", "the words of the song are left out: a chart has no place for them")
        elif name == "R":
            self.sheet.dance = value
        elif name not in INFORMATION and name != "+":
            raise ValueError(value)

    def _key(self, value: str) -> None:
        self.in_body = True
        key, self.fifths, self.mode = key_of(value)
        self.notes.key = key
        self.notes.key_signs = key_signs_of(value)

    def _voice(self, value: str) -> None:
        name = value.split()[0] if value.split() else ""
        if not self.first_voice:
            self.first_voice = name
        elif name != self.first_voice:
            self.sheet.remark("", f"of several voices only {quoted(self.first_voice)} is read")
        self.voice = name if self.in_body else self.first_voice

    # --- music

    def _music(self, line: str) -> None:
        at = 0
        after_bar = False
        while at < len(line):
            if after_bar and (ending := _NUMBERS.match(line, at)):
                self._ending(ending[0])  # the 1 of "|1"
                at, after_bar = ending.end(), False
                continue
            match = _TOKEN.match(line, at)
            if line[at] == "$":  # ends a line of the score (ABC 2.1, 6.1.1)
                at += 1
                continue
            if match is None:
                self.sheet.remark(self.number, f"{quoted(line[at])} is not understood; left out")
                at, after_bar = at + 1, False
                continue
            self._token(match)
            after_bar = match["bar"] is not None
            at = match.end()
            if self.voice != self.first_voice:
                return

    def _token(self, match: re.Match[str]) -> None:
        kind = match.lastgroup or ""
        if match["field"]:
            self._field(match["field"], match["value"])
        elif match["text"] is not None:
            self._text(match["text"].strip())
        elif match["mark"] is not None or match["plus"] is not None:
            self._decoration(match["mark"] if match["mark"] is not None else match["plus"])
        elif match["bar"]:
            self._barline(match["bar"])
        elif match["ending"]:
            self._ending(match["ending"])
        elif match["chord"]:
            self._stack(match)
        elif match["note"]:
            self.words.append(match["note"])
            self.count += 1
        elif match["bars"]:
            self._rests(int(match["bars"][1:] or 1))
        elif match["tie"]:
            self._tie()
        elif match["tuplet"]:
            if self.words and self.words[-1].startswith("("):
                self.words.pop()  # the sign written twice: "(3(3abc"
            self.words.append(match["tuplet"])
        elif match["broken"]:
            self.words.append(match["broken"])
        elif match["grace"] is not None:
            self.sheet.remark(self.number, "grace notes are left out of the melody")
        elif match["overlay"]:
            self.sheet.remark(self.number, "a second voice in the bar is left out")
        elif kind == "ornament" and match["ornament"] in "OS":
            self.steering.append("coda" if match["ornament"] == "O" else "segno")

    def _tie(self) -> None:
        """A tie that does not stand at its note: behind a blank, or behind the ">" of a broken rhythm."""
        at = next((at for at in reversed(range(len(self.words))) if self.words[at][0] not in "<>"), None)
        if at is not None and not self.words[at].endswith("-") and not self.words[at].startswith("("):
            self.words[at] += "-"

    def _text(self, text: str) -> None:
        """A chord symbol, or an annotation that says something else."""
        is_annotation = text[:1] in ("^", "_", "<", ">", "@")
        words = text[1:].strip() if is_annotation else text
        if steering_of(words):
            self.steering.append(words)
        elif is_no_chord(words):
            self.symbols.append((self.count, None))
        elif is_annotation or not words:
            if symbol := chord_typed(words):
                self.typed.append((self.count, symbol))
            elif words:
                self.sheet.remark(self.number, f"the words {quoted(words)} are left out")
        else:
            if words.startswith("(") and words.endswith(
                ")"
            ):  # another chord to play there, if one likes (ABC 2.1, 4.18)
                words = words[1:-1]
            first, *others = re.split(r"[;\n]", words)
            try:
                symbol, said = chord_with_bass(first)
                self.symbols.append((self.count, symbol))
                if said:
                    self.sheet.remark(self.number, said)
                if others:
                    self.sheet.remark(self.number, f"of {quoted(words)} only the first chord is taken")
            except ChordError as error:
                self.odd_chords += 1
                if self.odd_chords > _MOST_ODD_CHORDS:
                    raise SheetError(
                        f"more than {_MOST_ODD_CHORDS} chord symbols are not understood; expected a lead sheet"
                    ) from None
                self.sheet.remark(self.number, f"{error}; left out")

    def _decoration(self, name: str) -> None:
        if name in _STEERING:
            self.steering.append(_STEERING[name])

    def _stack(self, match: re.Match[str]) -> None:
        """Notes one above the other: the highest is the melody."""
        notes = _ONE_NOTE.findall(match["chord"])
        sign, letter, octave, length, tie = max(notes, key=lambda note: _height(note[1], note[2]))
        self.words.append(f"{sign}{letter}{octave}{match['chord_length'] or length}{match['chord_tie'] or tie}")
        self.count += 1
        if len(notes) > 1:
            self.sheet.remark(self.number, "the lower notes are left out of the melody: it has one note at a time")

    def _ending(self, text: str) -> None:
        numbers: set[int] = set()
        for piece in text.split(","):
            low, _, high = piece.partition("-")
            if low.isdigit():
                numbers |= set(range(int(low), min(int(high) if high.isdigit() else int(low), int(low) + 20) + 1))
        self.endings = frozenset(numbers) or frozenset((1,))

    def _rests(self, count: int) -> None:
        if self.words:
            self._close()
        for _ in range(min(count, _MOST_BARS)):
            self.words, self.count = ["z"], 1
            self._close(is_rest=True)

    # --- bars

    def _barline(self, sign: str) -> None:
        body = sign.strip(":")
        before, after = sign[: len(sign) - len(sign.lstrip(":"))], sign[len(sign.rstrip(":")) :]
        if not body:  # "::" is both
            before, after = ":" * (len(sign) - 1), ":"
        self._close()
        if before and self.sheet.bars:
            end_repeat(self.sheet.bars, len(before) + 1)
        is_double = len(body) > 1 and body != "[|]"  # a line that is not printed
        if is_double and self.sheet.bars:
            self.sheet.bars[-1].ends_section = True
        if before or after or is_double:
            self.endings = frozenset()
        if after:
            self.starts_repeat = True

    def _close(self, is_rest: bool = False) -> None:
        """End the bar, where it holds anything."""
        if not self.words and not self.symbols:
            for words in self.steering:  # a sign behind the last note belongs to the bar before
                if self.sheet.bars and (found := steering_of(words)):
                    self.sheet.bars[-1].steering.add(found)
            self.steering = []
            return
        if len(self.sheet.bars) >= _MOST_BARS:
            raise SheetError(f"the tune has more than {_MOST_BARS} bars; expected one tune")
        bar = SheetBar(self.number, self.meter, self.fifths, self.mode, Fraction(0), endings=self.endings)
        bar.mark, bar.starts_repeat = self.mark, self.starts_repeat
        self.mark, self.starts_repeat = "", False
        if is_rest:
            bar.length = bar.full_length
            bar.notes = [SheetNote(Fraction(0), bar.length, None)]
            bar.chords = [(Fraction(0), symbol) for _, symbol in self.symbols]
        else:
            self._fill(bar)
        for words in self.steering:
            if found := steering_of(words):
                bar.steering.add(found)
        self.sheet.bars.append(bar)
        self._new_bar()

    def _fill(self, bar: SheetBar) -> None:
        """The notes of the bar and where its chords stand. A bar at fault keeps its chords, spread evenly."""
        self.notes.meter = self.meter
        self.notes.unit_ticks = self.unit_ticks or usual_unit_ticks(self.meter)
        onsets = [Fraction(0)]
        try:
            for note in self.notes.notes(" ".join(self.words)) if self.words else ():
                if note.ticks.denominator != 1:
                    raise MelodyFault("a note's length cannot be counted exactly")
                length = note.ticks / TICKS_PER_QUARTER
                bar.notes.append(SheetNote(onsets[-1], length, note.pitch, note.is_tied))
                onsets.append(onsets[-1] + length)
            bar.length = onsets[-1]
        except MelodyFault as fault:
            self.notes.tied = None
            self.sheet.remark(bar.number, f"the melody is left out: {fault}")
            bar.notes = []
            step = bar.full_length / max(1, self.count)
            onsets = [step * number for number in range(self.count + 1)]
        bar.chords = [(onsets[min(count, len(onsets) - 1)], symbol) for count, symbol in self.symbols]
        self.sheet.typed += [(bar, onsets[min(count, len(onsets) - 1)], symbol) for count, symbol in self.typed]

    def finish(self) -> Sheet:
        self._close()
        if not self.has_meter:
            self.sheet.remark("", "no meter is given; 4/4 taken")
        if self.sheet.bars and _is_pickup(self.sheet.bars):
            for number, bar in enumerate(self.sheet.bars):
                bar.number = str(number)
            self.sheet.remarks = dict.fromkeys(map(_one_less, self.sheet.remarks))
        return self.sheet


def _is_pickup(bars: list[SheetBar]) -> bool:
    return len(bars) > 1 and 0 < bars[0].length < bars[0].full_length


def _one_less(remark: str) -> str:
    return re.sub(r"^bar (\d+):", lambda bar: f"bar {int(bar[1]) - 1}:", remark)


def _height(letter: str, octave: str) -> int:
    return LETTERS.index(letter.upper()) + 7 * (letter.islower() + octave.count("'") - octave.count(","))
