"""What is wrong with a draft, and the song it makes: bars are read as in a chart file, all else as well."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any

from companion.authoring.draft import DraftBar, DraftSection, Page, Spot
from companion.authoring.draft_melody import filled
from companion.chart.bars import SAME_BAR, read_bars, show_beats
from companion.chart.fields import FieldReader
from companion.chart.lesson import Lesson, Step
from companion.chart.melody import read_melody
from companion.chart.model import Bar, Section, Song
from companion.chart.source_map import SourceMap
from companion.chart.transpose import transpose
from companion.errors import ChartError, ChordError, Fault
from companion.theory.key import Key
from companion.theory.meter import Meter
from companion.theory.pitch import Tone
from companion.theory.shell_kinds import Pin
from companion.theory.symbols import is_no_chord, move_chord, parse_chord

_TOKEN = re.compile(r"(?:\([^()]*\)|\S)+")


# --- what is wrong


@lru_cache(maxsize=4096)
def _read_bar(text: str, meter: str) -> tuple[Bar | None, str]:
    """One bar by itself, and the first thing that is wrong with it."""
    try:
        known: Meter | None = Meter.parse(meter)
    except ValueError:
        known = None
    bars, faults = read_bars(f"| {text} |", (), known)
    return (bars[0] if bars else None), (faults[0][2] if faults else "")


def read_section(page: Page, number: int) -> list[tuple[Bar | None, str]]:
    """Each bar of a section, None where it cannot be read, with the sentence that says why; empty ones at the end left out."""
    meter = page.meter_of(number)
    read: list[tuple[Bar | None, str]] = []
    for bar in page.sections[number].bars[: _length(page.sections[number])]:
        if bar.text.strip() in SAME_BAR and read:
            before = read[-1][0]
            read.append((before, "" if before else "this repeats the bar before, which cannot be read yet"))
        else:
            read.append(_read_bar(bar.text, meter))
    return read


def _length(section: DraftSection) -> int:
    """Bars up to the last that is not empty."""
    return max((number for number, bar in enumerate(section.bars, 1) if bar.text.strip()), default=0)


def bar_faults(page: Page) -> dict[Spot, str]:
    """Why a bar cannot be read, in a sentence, for every bar that is not."""
    return {
        (number, at): why
        for number in range(len(page.sections))
        for at, (_, why) in enumerate(read_section(page, number))
        if why
    }


def melody_faults(page: Page) -> dict[Spot, str]:
    """Why the notes of a bar cannot be read, in a sentence, for every bar where they cannot. Those of a pickup count as the first bar's."""
    found: dict[Spot, str] = {}
    for number, section in enumerate(page.sections):
        if not section.melody.strip():
            continue
        meter, key = meter_of(page, number), key_of(page, number)
        own = section.pickup or (page.pickup if section.name == page.opening_section else "")
        pickup = meter.ticks(_pickup(own, meter)) if page.opens_with_pickup(number) else 0
        text = filled(section.melody, len(section.bars), page.opens_with_pickup(number))
        for _, bar, why in read_melody(text, (), meter, key, None, pickup)[1]:
            found.setdefault((number, max(0, bar - 1)), why)
    return found


def meter_of(page: Page, number: int) -> Meter:
    """The meter of a section, 4/4 where none can be read."""
    return _meter(page.meter_of(number))


def key_of(page: Page, number: int) -> Key:
    """The key of a section, C where none can be read."""
    return _key(page.key_of(number))


# --- to a song


def song_of(page: Page) -> Song:
    """The song that is written. Raises ChartError with every fault; a fault's path is "" and its line 0."""
    reader = FieldReader("", _data(page), SourceMap(""))
    song = reader.song("", page.song_id)
    faults = [*reader.faults, *_lesson_faults(page)]
    if faults or song is None:
        raise ChartError(faults)
    lesson = page.lesson or Lesson()
    notes = {
        (section.name, number): bar.note
        for section in page.sections
        for number, bar in enumerate(section.bars[: _length(section)], 1)
        if bar.note
    }
    whole = replace(lesson, bar_notes=notes)
    return replace(song, lesson=whole if page.lesson or notes else None)


def _data(page: Page) -> dict[str, Any]:
    """The page as a chart file would hold it."""
    data: dict[str, Any] = {"title": page.title, "key": page.key, "meter": page.meter, "feel": page.feel}
    data["tempo"] = _number(page.tempo)
    if page.form.strip():
        data["form"] = page.form
    if page.pickup.strip():
        data["pickup"] = page.pickup.strip()
    data["section"] = {section.name: _section_data(page, number) for number, section in enumerate(page.sections)}
    data["shells"] = _pins(page)
    return data


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def _section_data(page: Page, number: int) -> dict[str, str]:
    section = page.sections[number]
    count = _length(section)
    table = {"bars": "|" + "|".join(f" {bar.text} " for bar in section.bars[:count]) + "|" if count else ""}
    if section.meter:
        table["meter"] = section.meter
    if section.key:
        table["key"] = section.key
    if section.pickup:
        table["pickup"] = section.pickup
    if section.pickup_chords:
        table["pickup_chords"] = section.pickup_chords
    if section.melody.strip():
        table["melody"] = filled(section.melody, count, page.opens_with_pickup(number))
    return table


def _pins(page: Page) -> dict[str, str]:
    """The pins whose chord is still there."""
    pins = {}
    for index, section in enumerate(page.sections):
        for at, (bar, _) in enumerate(read_section(page, index)):
            for number, symbol, pin in section.bars[at].pins:
                chord = bar.chords[number - 1].chord if bar and number <= len(bar.chords) else None
                if chord is not None and chord.symbol == symbol:
                    pins[f"{section.name}.{at + 1}.{number}"] = str(Pin.parse(pin).on(chord))
    return pins


def _lesson_faults(page: Page) -> list[Fault]:
    names = {section.name for section in page.sections}
    lesson = page.lesson or Lesson()
    places = [("a step", step.section) for step in lesson.steps if step.section]
    places += [("a note", name) for name in lesson.section_notes]
    return [
        Fault("", 0, f"the lesson has {what} for section {name}, which is not there; expected a section of that name")
        for what, name in dict.fromkeys(places)
        if name not in names
    ]


@dataclass(frozen=True, slots=True)
class PartialSong:
    """The bars that can be read, as a song. index: where a bar stands in its chorus, by section and bar."""

    song: Song
    index: Mapping[Spot, int]


def so_far(page: Page) -> PartialSong | None:
    """The song as far as it can be read, whatever else is wrong: None while no bar can. A whole song keeps its form, one with
    faults has its sections in a row."""
    try:
        song = song_of(page)
    except ChartError:
        return _good_bars(page)
    numbers = {section.name: number for number, section in enumerate(page.sections)}
    index = {
        (numbers[bar.section], bar.bar - 1): bar.index for bar in reversed(song.unroll())
    }  # reversed, so that the first time a section comes stays
    return PartialSong(song, index)


def _good_bars(page: Page) -> PartialSong | None:
    meter, key = _meter(page.meter), _key(page.key)
    sections: dict[str, Section] = {}
    index: dict[Spot, int] = {}
    for number, section in enumerate(page.sections):
        good = [(at, bar) for at, (bar, _) in enumerate(read_section(page, number)) if bar]
        for at, _ in good:
            index[number, at] = len(index)
        if good:
            own = _meter(page.meter_of(number)), _key(page.key_of(number))
            sections[section.name] = Section(section.name, tuple(bar for _, bar in good), *own)
    if not sections:
        return None
    tempo = _number(page.tempo)
    tempo_bpm = tempo if isinstance(tempo, float) and 20 <= tempo <= 400 else 120.0
    song = Song(page.song_id, page.title, key, meter, tempo_bpm, page.feel, tuple(sections), sections)
    return PartialSong(song, index)


def _meter(text: str) -> Meter:
    try:
        return Meter.parse(text)
    except ValueError:
        return Meter(4, 4)


def _key(text: str) -> Key:
    try:
        return Key.parse(text)
    except ValueError:
        return Key(Tone("C"))


# --- from a song


def page_of(song: Song) -> Page:
    """A song to be changed. `song_of` gives it back, its path and the lines of its file apart."""
    lesson = song.lesson
    return Page(
        song_id=song.id,
        title=song.title,
        key=song.key.name,
        meter=song.meter.name,
        tempo=repr(song.tempo_bpm).removesuffix(".0"),
        feel=song.feel,
        form=" ".join(song.form),
        pickup=_beats(Fraction(0) if song.sections[song.form[0]].pickup else song.pickup),
        sections=tuple(_draft_section(section, song) for section in song.sections.values()),
        lesson=replace(lesson, bar_notes={}) if lesson else None,
    )


def _draft_section(section: Section, song: Song) -> DraftSection:
    bars = []
    for number, bar in enumerate(section.bars, 1):
        pins = tuple(
            (chord, str(placed.chord), str(song.pins[section.name, number, chord]))
            for chord, placed in enumerate(bar.chords, 1)
            if (section.name, number, chord) in song.pins
        )
        note = song.lesson.bar_notes.get((section.name, number), "") if song.lesson else ""
        bars.append(DraftBar(bar_text(bar), pins, note))
    meter = "" if section.meter == song.meter else section.meter.name
    key = "" if section.key == song.key else section.key.name
    pickup, chords = _beats(section.pickup), bar_text(Bar(section.pickup_chords))
    return DraftSection(section.name, tuple(bars), meter, key, section.melody or "", pickup, chords)


def _beats(beats: Fraction) -> str:
    return show_beats(beats) if beats else ""


def bar_text(bar: Bar) -> str:
    """A bar as one types it."""
    symbols = [placed.symbol for placed in bar.chords]
    if len({placed.beats for placed in bar.chords}) == 1:
        return " ".join(symbols)
    return " ".join(f"{symbol}:{show_beats(placed.beats)}" for symbol, placed in zip(symbols, bar.chords, strict=True))


# --- another key


def moved(page: Page, key: Key) -> Page:
    """The page with its tonic on that of `key`, the mode staying. What cannot be read stays as it was typed."""
    old = _key(page.key)
    new = Key(key.tonic, old.mode)
    # Keys and melodies move as those of a song do: a song without bars takes them along.
    numbered = {}
    for number, section in enumerate(page.sections):
        meter = _meter(page.meter_of(number))
        pickup = _pickup(section.pickup, meter)
        key_before = _key(page.key_of(number))
        numbered[str(number)] = Section(str(number), (), meter, key_before, section.melody or None, pickup)
    opening = page.opening_section
    first = next((str(number) for number, section in enumerate(page.sections) if section.name == opening), "0")
    pickup = numbered[first].pickup or _pickup(page.pickup, numbered[first].meter)
    song = Song("", "", old, _meter(page.meter), 120.0, "swing", (first,), numbered, pickup=pickup)
    song = transpose(song, new)
    sections = []
    for number, section in enumerate(page.sections):
        there = song.sections[str(number)]
        own_old = _key(page.key_of(number))
        bars = tuple(_moved_bar(bar, own_old, there.key) for bar in section.bars)
        own_key = "" if not section.key else there.key.name
        chords = _moved_bar(DraftBar(section.pickup_chords), own_old, there.key).text
        melody = there.melody or section.melody
        sections.append(replace(section, bars=bars, key=own_key, melody=melody, pickup_chords=chords))
    return replace(page, key=new.name, sections=tuple(sections))


def _pickup(text: str, meter: Meter) -> Fraction:
    return FieldReader("", {"pickup": text.strip() or 0}, SourceMap("")).pickup(("pickup",), meter)


def _moved_bar(bar: DraftBar, old: Key, new: Key) -> DraftBar:
    def move(symbol: str) -> str:
        if is_no_chord(symbol):
            return symbol
        try:
            return move_chord(parse_chord(symbol), old.tonic, new.tonic, new).symbol
        except ChordError:
            return symbol

    def token(match: re.Match[str]) -> str:
        symbol, sign, length = match[0].rpartition(":") if ":" in match[0][1:-1] else (match[0], "", "")
        return move(symbol) + sign + length

    pins = tuple((chord, move(symbol), kind) for chord, symbol, kind in bar.pins)
    return replace(bar, text=_TOKEN.sub(token, bar.text), pins=pins)


# --- as plain data, for the journal


def to_data(page: Page) -> dict[str, Any]:
    """Everything of the page in dicts, lists and texts."""
    return asdict(page)


def from_data(data: dict[str, Any]) -> Page:
    """The page again. Raises ValueError, TypeError or KeyError where it is none."""
    sections = tuple(
        DraftSection(
            **{
                **section,
                "bars": tuple(
                    DraftBar(bar["text"], tuple((int(n), str(s), str(k)) for n, s, k in bar["pins"]), bar["note"])
                    for bar in section["bars"]
                ),
            }
        )
        for section in data["sections"]
    )
    lesson = data["lesson"]
    if lesson is not None:
        lesson = Lesson(**{**lesson, "bar_notes": {}, "steps": tuple(Step(**step) for step in lesson["steps"])})
    if not sections or not all(section.bars for section in sections):
        raise ValueError("a draft has sections with bars")
    return Page(**{**data, "sections": sections, "lesson": lesson})
