"""A sheet -> a song: bars in playing order are cut into sections wherever the order, the meter or the key turns."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from companion.base.text import plain, quoted
from companion.chart.bars import MOST_CHORDS, counted, is_countable
from companion.chart.fields import LONGEST_NAME, LONGEST_TITLE
from companion.chart.melody import MelodyNote
from companion.chart.melody_text import write_melody
from companion.chart.model import Bar, PlacedChord, Section, Song
from companion.chart.pins import SECTION_NAME
from companion.chart.transpose import transpose
from companion.chart.values import DEFAULT_TEMPO_BPM, FASTEST_BPM, SLOWEST_BPM
from companion.errors import SheetError
from companion.importing.order import playing_order
from companion.importing.score import Sheet, SheetBar
from companion.theory.key import Key
from companion.theory.meter import TICKS_PER_QUARTER, Meter
from companion.theory.pitch import Pitch, Tone
from companion.theory.symbols import parse_chord

# Keys by their signature, from seven flats to seven sharps (circle of fifths).
_MAJOR = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
_MINOR = ("Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#")


@dataclass(frozen=True, slots=True)
class _Piece:
    """A bar of the chart: one bar of the sheet, or two that a repeat sign cuts in the middle. at: their numbers from 0."""

    at: tuple[int, ...]
    bar: Bar
    notes: tuple[tuple[int, int, Pitch | None, bool], ...]  # start and length in ticks, pitch, held on
    meter: Meter
    key: Key


def compose(sheet: Sheet, name: str) -> Song:
    """The song of a sheet. name: the file's stem, for a sheet without a title. Raises SheetError where it has no bars."""
    if not sheet.bars:
        raise SheetError("the file has no bars; expected a lead sheet")
    return _Composer(sheet, name).song()


class _Composer:
    def __init__(self, sheet: Sheet, name: str) -> None:
        self.sheet = sheet
        self.name = name
        self.bars = sheet.bars
        self.keys = self._keys()
        self.carried = self._carried()
        self.pickup = self._pickup()
        self.pieces: dict[tuple[int, ...], _Piece] = {}

    def song(self) -> Song:
        sheet = self.sheet
        groups = self._groups(playing_order(sheet))
        for group in groups:
            self.pieces.setdefault(group, self._piece(group))
        stretches, form = self._sections(groups)
        self._remark_unplayed(groups)
        same = self._same_sections(stretches)
        form = [same[name] for name in form]
        sections = {
            name: self._section(name, groups, name == form[0])
            for name, groups in stretches.items()
            if same[name] == name
        }
        first = sections[form[0]]
        title = self._title()
        song = Song(
            id=re.sub(r"[^a-z0-9]+", "-", title.lower().replace("'", "")).strip("-") or "imported",
            title=title,
            key=first.key,
            meter=first.meter,
            tempo_bpm=self._tempo(first.meter),
            feel=sheet.feel or "swing",
            form=tuple(form),
            sections=sections,
            pickup=self.pickup * first.meter.unit / 4,
        )
        if sheet.semitones % 12:
            sounding = Key.usual(song.key.tonic.pc + sheet.semitones, song.key.mode)
            sheet.remark(
                "", f"the part is for a transposing instrument; moved from {song.key} to {sounding}, as it sounds"
            )
            song = transpose(song, sounding)
        return song

    # --- what every bar has

    def _keys(self) -> list[Key]:
        """The key of each bar. Where the file gives no mode the last chord tells major from minor."""
        sounding = [
            symbol for bar in self.bars for _, symbol in sorted(bar.chords, key=lambda chord: chord[0]) if symbol
        ]
        last = parse_chord(sounding[-1]) if sounding else None
        keys = []
        for bar in self.bars:
            fifths = max(-7, min(7, bar.fifths))
            if fifths != bar.fifths:
                self.sheet.remark(bar.number, f"a signature of {abs(bar.fifths)} signs has no key; seven are taken")
            minor = Key(Tone.parse(_MINOR[fifths + 7]), "minor")
            is_minor = bar.mode == "minor" or (
                not bar.mode and last is not None and last.root == minor.tonic and "b3" in last.degrees
            )
            keys.append(minor if is_minor else Key(Tone.parse(_MAJOR[fifths + 7])))
        return keys

    def _carried(self) -> list[str | None]:
        """The chord that still sounds where each bar begins, as one reads on."""
        carried, last = [], None
        for bar in self.bars:
            carried.append(last)
            for _, symbol in sorted(bar.chords, key=lambda chord: chord[0]):
                last = symbol
        return carried

    def _pickup(self) -> Fraction:
        """Quarters of the pickup: a first bar that holds less than its meter, with more bars behind it."""
        first = self.bars[0]
        if len(self.bars) < 2 or not 0 < first.length < first.full_length:
            return Fraction(0)
        if not is_countable(first.length * first.meter.unit / 4, first.meter):
            return Fraction(0)
        if any(symbol for _, symbol in first.chords):
            self.sheet.remark(
                first.number, "the chords of the pickup are left out: the left hand enters on the first beat"
            )
        return first.length

    # --- bars of the chart

    def _groups(self, order: list[int]) -> list[tuple[int, ...]]:
        """The bars of the chart in playing order, each as the numbers of the sheet's bars in it."""
        if self.pickup and order and order[0] == 0:
            order = order[1:]
            again = [
                at for at in range(1, len(order)) if order[at] == 0 and not self._is_short(self.bars[order[at - 1]])
            ]
            if again:
                self.sheet.remark(self.bars[0].number, "the pickup comes again behind a whole bar; left out there")
                order = [bar for at, bar in enumerate(order) if at not in again]
        groups: list[tuple[int, ...]] = []
        at = 0
        while at < len(order):
            here = self.bars[order[at]]
            after = self.bars[order[at + 1]] if at + 1 < len(order) else None
            joins = (
                after is not None
                and self._is_short(here)
                and self._is_short(after)
                and here.meter == after.meter
                and here.length + after.length == here.full_length
            )
            groups.append((order[at], order[at + 1]) if joins else (order[at],))
            at += 2 if joins else 1
        if not groups:
            raise SheetError("the file has nothing but a pickup; expected a lead sheet")
        return groups

    @staticmethod
    def _is_short(bar: SheetBar) -> bool:
        return 0 < bar.length < bar.full_length

    def _piece(self, group: tuple[int, ...]) -> _Piece:
        first = self.bars[group[0]]
        meter = self._meter_of(group)
        chords: list[tuple[Fraction, str | None]] = []
        notes: list[tuple[int, int, Pitch | None, bool]] = []
        start = Fraction(0)
        for at in group:
            bar = self.bars[at]
            chords += [(start + offset, symbol) for offset, symbol in bar.chords]
            for note in bar.notes:
                begin, length = (start + note.offset) * TICKS_PER_QUARTER, note.length * TICKS_PER_QUARTER
                notes.append((int(begin), int(length), note.pitch, note.is_tied))
            start += bar.length
        placed = self._placed(chords, meter, first.number, self.carried[group[0]])
        return _Piece(group, Bar(placed), tuple(notes), meter, self.keys[group[0]])

    def _meter_of(self, group: tuple[int, ...]) -> Meter:
        """The meter of a bar; one that holds more or less than it should gets the meter that it really has."""
        bar = self.bars[group[0]]
        if len(group) > 1 or bar.length in (0, bar.full_length):
            return bar.meter
        is_last = group[0] == len(self.bars) - 1
        if is_last and bar.length < bar.full_length:
            if self.pickup + bar.length != bar.full_length:
                self._remark_length(bar, "filled up with a rest")
            return bar.meter
        beats = bar.length * bar.meter.unit / 4
        for factor in (1, 2, 4):
            try:
                if (beats * factor).denominator == 1:
                    meter = Meter.parse(f"{beats * factor}/{bar.meter.unit * factor}")
                    self._remark_length(bar, f"it stands in a section of its own in {meter}")
                    return meter
            except ValueError:
                continue
        self._remark_length(bar, "read as if it had the right length")
        return bar.meter

    def _remark_length(self, bar: SheetBar, what: str) -> None:
        beats = counted(bar.length * bar.meter.unit / 4, "beat")
        self.sheet.remark(bar.number, f"it holds {beats} where {bar.meter} has {bar.meter.beats}; {what}")

    def _placed(
        self, chords: list[tuple[Fraction, str | None]], meter: Meter, number: str, carried: str | None
    ) -> tuple[PlacedChord, ...]:
        """The chords of a bar with their lengths in beats, the one that still sounds first where none starts the bar."""
        whole = Fraction(meter.beats)
        at: dict[Fraction, str | None] = {}
        for offset, symbol in sorted(chords, key=lambda chord: chord[0]):
            beat = offset * meter.unit / 4
            if not 0 <= beat < whole or not is_countable(beat, meter):
                self.sheet.remark(number, f"{symbol or 'N.C.'} stands behind the bar's end or off every beat; left out")
            elif at.get(beat) is None:
                at[beat] = symbol
            elif symbol is not None and symbol != at[beat]:
                self.sheet.remark(number, f"{symbol} stands on the same beat as {at[beat]}; left out")
        at.setdefault(Fraction(0), carried)
        beats = sorted(at)
        # N.C. behind N.C. says nothing new; a chord written again is struck again.
        beats = [beat for last, beat in zip([None, *beats], beats) if last is None or at[beat] or at[last]]
        for beat in beats[MOST_CHORDS:]:
            self.sheet.remark(number, f"{at[beat] or 'N.C.'} is one of more than {MOST_CHORDS} chords; left out")
        beats = beats[:MOST_CHORDS]
        return tuple(
            PlacedChord(parse_chord(symbol) if (symbol := at[beat]) else None, beat, end - beat)
            for beat, end in zip(beats, [*beats[1:], whole])
        )

    # --- sections and form

    def _sections(self, groups: list[tuple[int, ...]]) -> tuple[dict[str, list[tuple[int, ...]]], list[str]]:
        """The bars of each section, and the form. A stretch ends where what follows it is not always the same."""
        behind: dict[tuple[int, ...], set[object]] = {groups[-1]: {"end"}}
        before: dict[tuple[int, ...], set[object]] = {groups[0]: {"start"}}
        for left, right in pairwise(groups):
            behind.setdefault(left, set()).add(right)
            before.setdefault(right, set()).add(left)
        stretches: dict[tuple[int, ...], list[tuple[int, ...]]] = {}
        played: list[tuple[int, ...]] = []
        for at, group in enumerate(groups):
            left = groups[at - 1] if at else None
            if left is None or len(behind[left]) > 1 or len(before[group]) > 1 or self._turns(left, group):
                played.append(group)
                current = stretches.setdefault(group, [])
                is_new = not current
            if is_new:
                current.append(group)
        names = self._names(stretches)
        return {names[first]: stretch for first, stretch in stretches.items()}, [names[first] for first in played]

    def _turns(self, left: tuple[int, ...], right: tuple[int, ...]) -> bool:
        """Whether a new section must start between two bars, or the sheet says that one does."""
        a, b = self.pieces[left], self.pieces[right]
        return a.meter != b.meter or a.key != b.key or any(self.bars[at].mark for at in right)

    def _names(self, stretches: dict[tuple[int, ...], list[tuple[int, ...]]]) -> dict[tuple[int, ...], str]:
        """Rehearsal marks where there are any, End1 and Coda where the sheet shows them, letters for the others."""
        names: dict[tuple[int, ...], str] = {}
        taken = {self._mark_of(group) for group in stretches}
        letters = (letter * times for times in (1, 2, 3, 4) for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
        for first in stretches:
            bar = self.bars[first[0]]
            wanted = self._mark_of(first)
            if not wanted and bar.endings:
                wanted = f"End{min(bar.endings)}"
            elif not wanted and bar.is_coda:
                wanted = "Coda"
            if not wanted:
                wanted = next((letter for letter in letters if letter not in taken), f"Part{len(names) + 1}")
            name, number = wanted, 1
            while name in names.values():
                number += 1
                name = f"{wanted}-{number}"
            names[first] = name
        return names

    def _same_sections(self, stretches: dict[str, list[tuple[int, ...]]]) -> dict[str, str]:
        """Each section -> the first one of the same mark that is the same bar by bar: an A written out three times."""
        first: dict[object, str] = {}
        same = {}
        for name, stretch in stretches.items():
            pieces = [self.pieces[group] for group in stretch]
            mark = self._mark_of(stretch[0])
            content = tuple((piece.bar, piece.notes, piece.meter, piece.key) for piece in pieces)
            same[name] = first.setdefault((mark, content), name) if mark else name
        return same

    def _mark_of(self, group: tuple[int, ...]) -> str:
        return next((name for at in group if (name := _section_name(self.bars[at].mark))), "")

    def _remark_unplayed(self, groups: list[tuple[int, ...]]) -> None:
        played = {at for group in groups for at in group} | ({0} if self.pickup else set())
        for at, bar in enumerate(self.bars):
            if at not in played:
                self.sheet.remark(bar.number, "no repeat or leap ever reaches it; left out")

    def _section(self, name: str, stretch: list[tuple[int, ...]], is_first: bool) -> Section:
        pieces = [self.pieces[group] for group in stretch]
        meter, key = pieces[0].meter, pieces[0].key
        section = Section(name, tuple(piece.bar for piece in pieces), meter, key)
        pickup_ticks = meter.ticks(self.pickup * meter.unit / 4) if is_first else 0
        notes = self._melody(pieces, pickup_ticks)
        if not any(note.pitch for note in notes):
            return section
        return replace(section, melody=write_melody(notes, meter, key, len(pieces), pickup_ticks))

    def _melody(self, pieces: list[_Piece], pickup_ticks: int) -> list[MelodyNote]:
        """The notes of a section, tied ones joined; a tie that leads out of the section ends with it."""
        notes: list[MelodyNote] = []
        is_held = False
        at = -pickup_ticks
        stretches = [(piece.notes, piece.meter.bar_ticks) for piece in pieces]
        if pickup_ticks:
            first = self.bars[0].notes
            own = [
                (int(note.offset * TICKS_PER_QUARTER), int(note.length * TICKS_PER_QUARTER), note.pitch, note.is_tied)
                for note in first
            ]
            stretches.insert(0, (tuple(own), pickup_ticks))
        for written, ticks in stretches:
            for start, length, pitch, tied in written:
                length = min(length, ticks - start)
                if length <= 0:
                    continue
                last = notes[-1] if notes else None
                if is_held and last and last.pitch == pitch and last.start_tick + last.ticks == at + start:
                    notes[-1] = replace(last, ticks=last.ticks + length)
                else:
                    notes.append(MelodyNote(at + start, length, pitch))
                is_held = tied
            at += ticks
        return notes

    # --- the head

    def _title(self) -> str:
        title = " ".join(plain(self.sheet.title).split())
        if not title:
            title = " ".join(plain(self.name).replace("-", " ").replace("_", " ").split()) or "Imported"
            title = title[:1].upper() + title[1:]
            self.sheet.remark("", f"the file has no title; {quoted(title)} taken from its name")
        if len(title) > LONGEST_TITLE:
            self.sheet.remark("", f"the title is longer than {LONGEST_TITLE} signs; cut")
            title = title[:LONGEST_TITLE].rstrip()
        return title

    def _tempo(self, meter: Meter) -> float:
        quarters = self.sheet.quarter_bpm
        if quarters is None:
            self.sheet.remark("", f"the file has no tempo; {DEFAULT_TEMPO_BPM:g} taken")
            return DEFAULT_TEMPO_BPM
        pulses = quarters * TICKS_PER_QUARTER / meter.pulse_ticks
        tempo = round(max(SLOWEST_BPM, min(FASTEST_BPM, pulses)), 2)
        if abs(tempo - pulses) > 0.01:
            self.sheet.remark("", f"a tempo of {pulses:g} is beyond {SLOWEST_BPM} to {FASTEST_BPM}; {tempo:g} taken")
        return tempo


def _section_name(mark: str) -> str:
    """A rehearsal mark as the name of a section: "[A]" -> "A", "12" -> "Part12", "Verse 2" -> "Verse-2"."""
    name = re.sub(r"[^\w'-]+", "-", mark).strip("-_'")[: LONGEST_NAME - 4].strip("-_'")
    if name and SECTION_NAME.fullmatch(name) is None:
        name = "Part" + name
    return name if SECTION_NAME.fullmatch(name) else ""
