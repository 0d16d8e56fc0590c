"""The values of a chart file, each checked against what a song may have.

Faults are collected, never raised: a value at fault counts as absent, so that one mistake is told once and all the
others are still found. The keys and their meaning stand at the head of reader.py.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import Any

from companion.base.text import is_printable, nearest, quoted
from companion.chart.bars import MOST_BARS, BarError, counted, is_countable, read_bars, read_beats
from companion.chart.lesson_fields import read_lesson
from companion.chart.melody import read_melody
from companion.chart.model import FEELS, Bar, PlacedChord, Section, Song
from companion.chart.pins import SECTION_NAME, parse_place
from companion.chart.values import ValueReader, show_value
from companion.errors import Fault
from companion.theory.key import Key
from companion.theory.meter import TICKS_PER_QUARTER, Meter
from companion.theory.shell_kinds import SHELL_KINDS, Pin

# The bars of every section as far as they could be read: a bar at fault is None and keeps its number.
RawBars = dict[str, list[Bar | None]]

SONG_KEYS = ("title", "key", "meter", "tempo", "feel", "form", "pickup", "section", "shells", "lesson")
SECTION_KEYS = ("bars", "meter", "key", "melody", "pickup", "pickup_chords")
LONGEST_TITLE = 120
LONGEST_NAME = 24  # of a section


class FieldReader(ValueReader):
    """Reads the song in one file's data."""

    def song(self, path: str, id: str) -> Song | None:
        """The song, None where too little of it could be read; the faults say why."""
        self.unknown_keys((), self.data, SONG_KEYS, "a chart")
        title = self.title()
        key = self.parsed(("key",), Key.parse, "a key such as Bb, F#m or G minor")
        meter = self.parsed(("meter",), Meter.parse, "a meter such as 4/4")
        tempo_bpm = self.tempo_bpm()
        feel = self.feel()
        sections, all_bars = self.sections(meter, key)
        form = self.form(sections, all_bars)
        pickup = self.pickup(("pickup",), sections[form[0]].meter if form else meter)
        pickup = self.section_pickups(sections, form, pickup)
        self.melodies(sections, all_bars, form, pickup)
        pins = self.pins(all_bars)
        may_swing = {
            name
            for name, section in sections.items()
            if section.melody and section.meter.pulse_ticks == TICKS_PER_QUARTER
        }
        lesson = read_lesson(self, all_bars, tempo_bpm, may_swing)
        if self.faults or title is None or key is None or meter is None:
            return None
        return Song(id, title, key, meter, tempo_bpm, feel, form, sections, pins, pickup, path, lesson)

    def title(self) -> str | None:
        """The title, None where it is missing or at fault."""
        title: str | None = self.typed(("title",), str, "the song's name, in quotes", needed=True)
        if title is None:
            return None
        if not title.strip():
            self.fault(("title",), "title is empty; expected the song's name")
        elif len(title) > LONGEST_TITLE:
            self.fault(("title",), f"title has {len(title)} characters; expected at most {LONGEST_TITLE}")
        elif not all(map(is_printable, title)):
            self.fault(("title",), f"title has a sign that cannot be printed: {quoted(title)}; expected plain text")
        else:
            return title.strip()
        return None

    def feel(self) -> str:
        """The feel; swing where it is not given or at fault."""
        expected = " or ".join(f'"{feel}"' for feel in FEELS)
        feel = self.typed(("feel",), str, expected)
        if feel is not None and feel not in FEELS:
            self.fault(("feel",), f"{quoted(feel)} is not a feel; {nearest(feel, FEELS)}")
        return feel if feel in FEELS else FEELS[0]

    def pickup(self, at: tuple[str, ...], meter: Meter | None) -> Fraction:
        """The beats before the song's first bar, or a section's."""
        expected = 'beats before the first bar, such as 1, 1.5 or "3/2"'
        value = self.typed(at, (int, float, str), expected)
        if value is None or value == 0:
            return Fraction(0)
        if isinstance(value, float) and not math.isfinite(value):
            self.fault(at, f"pickup is {value}; expected {expected}")
            return Fraction(0)
        try:
            beats = read_beats(value.strip() if isinstance(value, str) else str(value))
        except BarError:
            self.fault(at, f"pickup is {show_value(value)}; expected {expected}")
            return Fraction(0)
        if meter and not (beats < meter.beats and is_countable(beats, meter)):
            self.fault(
                at,
                f"pickup is {show_value(value)} beats; expected less than the {meter.beats} of a bar of "
                f"{meter}, in simple fractions such as 1/2 or 1/3",
            )
        return beats

    # --- sections and form

    def sections(self, meter: Meter | None, key: Key | None) -> tuple[dict[str, Section], RawBars]:
        """The sections without a fault, and the bars, None where faulty, of every section that has any."""
        tables = self.typed(("section",), dict, "tables such as [section.A]")
        sections: dict[str, Section] = {}
        all_bars: RawBars = {}
        if not tables:
            if tables is not None or "section" not in self.data:
                self.fault((), "there is no section; expected a table such as [section.A] with bars")
            return sections, all_bars
        for name, table in tables.items():
            at = ("section", name)
            if SECTION_NAME.fullmatch(name) is None or len(name) > LONGEST_NAME:
                self.fault(
                    at,
                    f"{quoted(name)} cannot name a section; expected a letter, then letters, digits, ', - or _, "
                    f"at most {LONGEST_NAME} signs",
                )
            elif not isinstance(table, dict):
                self.fault(at, f"section {name} is {show_value(table)}; expected a table [section.{name}] with bars")
            else:
                section, all_bars[name] = self.section(name, table, meter, key)
                if section is not None:
                    sections[name] = section
        return sections, all_bars

    def section(
        self, name: str, table: dict[str, Any], meter: Meter | None, key: Key | None
    ) -> tuple[Section | None, list[Bar | None]]:
        """The section of that table and its bars; None, and bars of None, where they are at fault. meter, key: the song's."""
        at = ("section", name)
        self.unknown_keys(at, table, SECTION_KEYS, "a section")
        key = self.parsed((*at, "key"), Key.parse, "a key such as Bb, F#m or G minor") or key
        own_meter = self.parsed((*at, "meter"), Meter.parse, "a meter such as 4/4")
        meter = own_meter if "meter" in table else meter
        melody = self.typed((*at, "melody"), str, 'a text in quotes """')
        if melody and not all(sign in "\n\t" or is_printable(sign) for sign in melody):
            self.fault((*at, "melody"), "melody has signs that cannot be printed; expected plain text")
            melody = None
        text = self.typed((*at, "bars"), str, "bars such as Dm7 G7 | Cmaj7 A7, in quotes", needed=True)
        if text is None:
            return None, []
        bars, faults = read_bars(text, self.sources.text_lines((*at, "bars"), text), meter)
        self.faults += [Fault(self.path, line, message, name, bar) for line, bar, message in faults]
        if not bars:
            self.fault((*at, "bars"), "bars is empty; expected bars such as Dm7 G7 | Cmaj7 A7")
        whole = tuple(bar for bar in bars if bar is not None)
        if not whole or len(whole) < len(bars) or meter is None or key is None:
            return None, bars
        return Section(name, whole, meter, key, melody), bars

    def form(self, sections: dict[str, Section], all_bars: RawBars) -> tuple[str, ...]:
        """The form; empty where it names a section that could not be read."""
        text = self.typed(("form",), str, 'section names in playing order, such as "A A B A"')
        names = tuple(all_bars) if text is None else tuple(text.split())
        if not names and text is not None:
            self.fault(("form",), 'form is empty; expected section names in playing order, such as "A A B A"')
        for name in dict.fromkeys(names):
            if name not in all_bars and all_bars:
                self.fault(
                    ("form",),
                    f"form names section {quoted(name)}, which the file does not have; {nearest(name, all_bars)}",
                )
        count = sum(len(all_bars.get(name, ())) for name in names)
        if count > MOST_BARS:
            self.fault(("form",), f"the form has {count} bars; expected at most {MOST_BARS}")
        return names if all(name in sections for name in names) else ()

    def section_pickups(self, sections: dict[str, Section], form: tuple[str, ...], pickup: Fraction) -> Fraction:
        """Give the sections their own pickups with the chords in them. Returns the pickup that the song opens with."""
        first = form[0] if form else ""
        for name, section in sections.items():
            at = ("section", name, "pickup")
            own = self.pickup(at, section.meter)
            if own and name == first:
                if pickup not in (0, own):
                    self.fault(at, f"pickup is not the song's, which opens with section {name}; expected it once")
                pickup = own
            chords = self.pickup_chords(name, own or (pickup if name == first else Fraction(0)))
            sections[name] = replace(section, pickup=own, pickup_chords=chords)
        return pickup

    def pickup_chords(self, name: str, pickup: Fraction) -> tuple[PlacedChord, ...]:
        """The chords in a section's pickup; without lengths they share it evenly."""
        at = ("section", name, "pickup_chords")
        text = self.typed(at, str, "the chords of the pickup such as D7, in quotes")
        if not text:
            return ()
        if not pickup:
            self.fault(at, "pickup_chords stand without a pickup; expected its beats, such as pickup = 1")
            return ()
        bars, faults = read_bars(f"| {text} |", (), None)
        if faults or len(bars) != 1 or bars[0] is None:
            message = faults[0][2] if faults else "expected one bar"
            self.fault(at, f"pickup_chords: {message}")
            return ()
        beats = [placed.beats for placed in bars[0].chords]
        if ":" not in text:
            beats = [pickup / len(beats)] * len(beats)
        if sum(beats) != pickup:
            self.fault(at, f"pickup_chords make {counted(sum(beats), 'beat')}, but the pickup has {pickup}")
        return tuple(
            PlacedChord(placed.chord, sum(beats[:number], Fraction(0)), length)
            for number, (placed, length) in enumerate(zip(bars[0].chords, beats))
        )

    def melodies(
        self, sections: dict[str, Section], all_bars: RawBars, form: tuple[str, ...], pickup: Fraction
    ) -> None:
        """Check the melody of every section whose bars could be read; it is kept as it was written."""
        for name, section in sections.items():
            if section.melody:
                at = ("section", name, "melody")
                lines = self.sources.text_lines(at, section.melody)
                own = pickup if form[:1] == (name,) else section.pickup
                pickup_ticks = section.meter.ticks(own)
                _, faults = read_melody(
                    section.melody, lines, section.meter, section.key, len(all_bars[name]), pickup_ticks
                )
                self.faults += [Fault(self.path, line, f"melody: {text}", name, bar) for line, bar, text in faults]

    # --- pins

    def pins(self, all_bars: RawBars) -> dict[tuple[str, int, int], Pin]:
        """The pinned shells by (section, bar, chord), bars and chords from 1. all_bars: by the name of the section."""
        pins: dict[tuple[str, int, int], Pin] = {}
        for at, value in self.leaves(("shells",), "a table of pins"):
            name = ".".join(at[1:])
            place = parse_place(name)
            if place is None:
                self.fault(at, f'{quoted(name)} is not a place; expected section, bar and chord, such as "A.1.1"')
            elif (pin := self.pin(at, name, value)) is None:
                continue
            elif message := self.pin_fault(place, pin, all_bars):
                self.fault(at, f"pin {name}: {message}")
            else:
                pins[place] = pin
        return pins

    def pin(self, at: tuple[str, ...], name: str, value: object) -> Pin | None:
        """A pin as it is written, None where it cannot be read, which is a fault."""
        text = value if isinstance(value, str) else ""
        kind = (text.partition(":")[0].split() or [""])[0]
        if kind not in SHELL_KINDS:
            shown = quoted(text) if isinstance(value, str) else show_value(value)
            self.fault(at, f"pin {name}: {shown} is not a shell; {nearest(kind or text, SHELL_KINDS)}")
            return None
        try:
            return Pin.parse(text)
        except ValueError as error:
            self.fault(at, f"pin {name}: {error}")
            return None

    def pin_fault(self, place: tuple[str, int, int], pin: Pin, all_bars: RawBars) -> str:
        """Why that shell cannot be pinned there; "" where it can."""
        section, number, index = place
        if section not in all_bars:
            return f"there is no section {section}; {nearest(section, all_bars)}" if all_bars else "there is no section"
        bars = all_bars[section]
        if number > len(bars):
            return f"section {section} ends with bar {len(bars)}; expected a bar up to that one"
        bar = bars[number - 1]
        if bar is None:
            return ""  # the bar has a fault of its own
        if index > len(bar.chords):
            return f"bar {number} ends with chord {len(bar.chords)}; expected a chord up to that one"
        chord = bar.chords[index - 1].chord
        if chord is None:
            return "no chord is played there; expected the place of a chord"
        lower = chord.bass or chord.root
        if pin.lower is not None and pin.lower.tone.pc != lower.pc:
            return f"{pin.lower} is not the lower note of {chord}; expected an octave of {lower}, such as {lower}3"
        return ""
