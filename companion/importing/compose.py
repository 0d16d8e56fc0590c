"""A sheet -> a song: bars in playing order are cut into sections wherever the order, the meter or the key turns."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction

from companion.base.ids import song_id
from companion.base.text import plain, quoted
from companion.chart.bars import MOST_CHORDS, counted, is_countable
from companion.chart.fields import LONGEST_NAME, LONGEST_TITLE
from companion.chart.melody import MelodyNote
from companion.chart.melody_text import write_melody
from companion.chart.model import Bar, PlacedChord, Section, Song
from companion.chart.pins import SECTION_NAME
from companion.chart.values import DEFAULT_TEMPO_BPM, FASTEST_BPM, SLOWEST_BPM
from companion.errors import SheetError
from companion.importing.form import BarGroup, FormStretch, beats_of, chart_bars, form_of
from companion.importing.guess import feel_of, take_typed_chords
from companion.importing.keys import keys_of
from companion.importing.order import playing_order
from companion.importing.score import Sheet, SheetBar, SheetChord
from companion.importing.slips import mend_bars, meter_of_length
from companion.theory.key import Key
from companion.theory.meter import TICKS_PER_QUARTER, Meter
from companion.theory.pitch import Pitch
from companion.theory.symbols import parse_chord

_Note = tuple[int, int, Pitch | None, bool]  # start and length in ticks, pitch, held on


@dataclass(frozen=True, slots=True)
class _SectionPiece:
    """One bar of the chart. notes: start and length in ticks, pitch, held on."""

    bar: Bar
    notes: tuple[_Note, ...]
    meter: Meter
    key: Key


def compose(sheet: Sheet, name: str) -> Song:
    """The song of a sheet. name: the file's stem, for a sheet without a title. Raises SheetError where it has no bars."""
    if not sheet.bars:
        raise SheetError("the file has no bars; expected a lead sheet")
    return _Composer(sheet, name).song()


class _Composer:
    def __init__(self, sheet: Sheet, name: str) -> None:
        mend_bars(sheet)
        self.sheet = sheet
        self.name = name
        self.bars = sheet.bars
        take_typed_chords(sheet)
        self.keys = keys_of(sheet)
        self.carried = self._carried()
        order = playing_order(sheet)
        self.chart = chart_bars(sheet, order)
        self.pieces = {group: self._piece(group) for group in dict.fromkeys(self.chart.groups)}
        self.stretches, self.played = form_of(sheet, self.chart, self._turns)
        self._remark_unplayed(order)

    def song(self) -> Song:
        sheet = self.sheet
        names, sections = self._sections()
        form = tuple(names[number] for number in self.played)
        first = sections[form[0]]
        opening = self.stretches[self.played[0]]
        pickup = Fraction(0)
        if opening.pickup is not None:
            pickup = beats_of(self.bars[opening.pickup], self.bars[opening.groups[0][0]])
        if form.count(form[0]) == 1:
            sections[form[0]] = replace(first, pickup=Fraction(0))  # the song's own says the same
        title = self._title()
        return Song(
            id=song_id(title),
            title=title,
            key=first.key,
            meter=first.meter,
            tempo_bpm=self._tempo(first.meter),
            feel=feel_of(sheet, first.meter),
            form=form,
            sections=sections,
            pickup=pickup,
        )

    # --- what every bar has

    def _carried(self) -> list[str | None]:
        """The chord that still sounds where each bar begins, as one reads on."""
        carried: list[str | None] = []
        last: str | None = None
        for bar in self.bars:
            carried.append(last)
            for _, symbol in sorted(bar.chords, key=lambda chord: chord[0]):
                last = symbol
        return carried

    # --- bars of the chart

    def _piece(self, group: BarGroup) -> _SectionPiece:
        first = self.bars[group[0]]
        meter = self._meter_of(group)
        chords: list[SheetChord] = []
        notes: list[_Note] = []
        start = Fraction(0)
        for at in group:
            bar = self.bars[at]
            chords += [(start + offset, symbol) for offset, symbol in bar.chords]
            notes += _ticked(bar, start)
            start += bar.length
        placed = self._placed(chords, meter, first.number, self.carried[group[0]])
        return _SectionPiece(Bar(placed), tuple(notes), meter, self.keys[group[0]])

    def _meter_of(self, group: BarGroup) -> Meter:
        """The meter of a bar; one that holds more or less than it should gets the meter that it really has."""
        bar = self.bars[group[0]]
        if len(group) > 1 or bar.length in (0, bar.full_length):
            return bar.meter
        is_last = group[0] == len(self.bars) - 1
        if group[0] in self.chart.filled or (is_last and bar.is_short):
            upbeats = [self.bars[at].length for at in self.chart.pickups]
            if not any(upbeat + bar.length == bar.full_length for upbeat in upbeats):
                self._remark_length(bar, "filled up with a rest")
            return bar.meter
        meter = meter_of_length(bar.length, bar.meter)
        if meter is None:
            self._remark_length(bar, "read as if it had the right length")
            return bar.meter
        self._remark_length(bar, f"it stands in a section of its own in {meter}")
        return meter

    def _turns(self, left: BarGroup, right: BarGroup) -> bool:
        """Whether meter or key change between two bars."""
        a, b = self.pieces[left], self.pieces[right]
        return a.meter != b.meter or a.key != b.key

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

    # --- sections

    def _sections(self) -> tuple[list[str], dict[str, Section]]:
        """The name of each stretch, and the sections; those that are alike bar by bar are one."""
        names: list[str] = []
        sections: dict[str, Section] = {}
        known: list[tuple[str, Section, str]] = []
        marks = {self._mark_of(stretch.groups[0]) for stretch in self.stretches}
        letters = (letter * times for times in (1, 2, 3, 4) for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
        letters = (letter for letter in letters if letter not in marks)
        for stretch in self.stretches:
            label = self._label(stretch.groups[0])
            section = self._section(stretch, stretch.each_time)
            name = next((name for other, old, name in known if (other, old) == (label, section)), "")
            if not name and names and self.stretches[0].pickup is not None and stretch.pickup is None:
                # The first time it is the same but for the pickup that the tune begins with.
                bare = self._section(replace(self.stretches[0], pickup=None), False)
                if (known[0][0], bare) == (label, section):
                    name = names[0]
                    sections[name] = replace(sections[name], pickup=Fraction(0))
            if not name:
                wanted = label or next(letters, f"Part{len(names) + 1}")
                number, name = 1, wanted
                while name in sections:
                    number += 1
                    name = f"{wanted}-{number}"
                sections[name] = replace(section, name=name)
                known.append((label, section, name))
            names.append(name)
        return names, sections

    def _label(self, group: BarGroup) -> str:
        """What the sheet calls a section that begins here: its mark, End1 or Coda; "" where it says nothing."""
        bar = self.bars[group[0]]
        if mark := self._mark_of(group):
            return mark
        if bar.endings or bar.steering.is_coda:
            return f"End{min(bar.endings)}" if bar.endings else "Coda"
        # A last bar that leads back in one way and on in another, by its pickups, is two endings.
        same = [stretch.groups[0] for stretch in self.stretches if stretch.groups[0][0] == group[0]]
        return f"End{same.index(group) + 1}" if len(same) > 1 else ""

    def _mark_of(self, group: BarGroup) -> str:
        return next((name for at in group if (name := _section_name(self.bars[at].mark))), "")

    def _remark_unplayed(self, order: list[int]) -> None:
        played = set(order)
        for at, bar in enumerate(self.bars):
            if at not in played:
                self.sheet.remark(bar.number, "no repeat or leap ever reaches it; left out")

    def _section(self, stretch: FormStretch, each_time: bool) -> Section:
        """The section without its name. each_time: whether its pickup is its own, or the song's."""
        pieces = [self.pieces[group] for group in stretch.groups]
        meter, key = pieces[0].meter, pieces[0].key
        section = Section("", tuple(piece.bar for piece in pieces), meter, key)
        stretches = [(piece.notes, piece.meter.bar_ticks) for piece in pieces]
        pickup_ticks = 0
        if stretch.pickup is not None:
            bar = self.bars[stretch.pickup]
            pickup = beats_of(bar, self.bars[stretch.groups[0][0]])
            pickup_ticks = meter.ticks(pickup)
            stretches.insert(0, (tuple(_ticked(bar, Fraction(0))), pickup_ticks))
            chords = self._pickup_chords(stretch.pickup, pickup)
            section = replace(section, pickup=pickup if each_time else Fraction(0), pickup_chords=chords)
        notes = _joined(stretches, -pickup_ticks)
        if not any(note.pitch for note in notes):
            return section
        return replace(section, melody=write_melody(notes, meter, key, len(pieces), pickup_ticks))

    def _pickup_chords(self, at: int, pickup: Fraction) -> tuple[PlacedChord, ...]:
        """The chords that the pickup shows, () where it shows none."""
        bar = self.bars[at]
        if not any(symbol for _, symbol in bar.chords):
            return ()
        placed = self._placed(bar.chords, self.bars[at + 1].meter, bar.number, self.carried[at])
        return tuple(replace(each, beats=min(each.beats, pickup - each.beat)) for each in placed if each.beat < pickup)

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


def _ticked(bar: SheetBar, start: Fraction) -> list[_Note]:
    """The notes of a bar in ticks. start: of the bar, in quarters."""
    return [
        (
            int((start + note.offset) * TICKS_PER_QUARTER),
            int(note.length * TICKS_PER_QUARTER),
            note.pitch,
            note.is_tied,
        )
        for note in bar.notes
    ]


def _joined(stretches: list[tuple[tuple[_Note, ...], int]], at: int) -> list[MelodyNote]:
    """The notes of bars end to end, tied ones joined; a tie that leads out of the section stays with its last note.

    stretches: the notes of each bar and its length in ticks. at: where the first one starts.
    """
    notes: list[MelodyNote] = []
    is_held = False
    for written, ticks in stretches:
        for start, length, pitch, tied in written:
            length = min(length, ticks - start)
            if length <= 0:
                continue
            last = notes[-1] if notes else None
            if is_held and last and last.pitch == pitch and last.end_tick == at + start:
                notes[-1] = replace(last, ticks=last.ticks + length)
            else:
                notes.append(MelodyNote(at + start, length, pitch))
            is_held = tied
        at += ticks
    if is_held and notes and notes[-1].end_tick == at:
        notes[-1] = replace(notes[-1], is_tied=True)
    return notes


def _section_name(mark: str) -> str:
    """A rehearsal mark as the name of a section: "[A]" -> "A", "12" -> "Part12", "Verse 2" -> "Verse-2"."""
    name = re.sub(r"[^\w'-]+", "-", mark).strip("-_'")[: LONGEST_NAME - 4].strip("-_'")
    if name and SECTION_NAME.fullmatch(name) is None:
        name = "Part" + name
    return name if SECTION_NAME.fullmatch(name) else ""
