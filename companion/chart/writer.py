"""Writing a song as a chart file, the way a person would: four bars a line, their barlines under one another."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

from companion.base.files import is_device_name, write_whole
from companion.base.text import is_printable, plain
from companion.chart.bars import SAME_BAR, show_beats
from companion.chart.grid import grid
from companion.chart.lesson import FREE_TIME, SYMBOLS, Lesson, Step, StepCues
from companion.chart.model import Bar, Section, Song
from companion.chart.pins import show_place
from companion.errors import ChartError, Fault
from companion.theory.shell_kinds import Pin

_MOST_OF_A_NAME = 1000
_BARE_NAME = re.compile(r"[A-Za-z0-9_-]+")


def write_chart(song: Song) -> str:
    """The text of a chart file; `parse_chart` reads the same song from it, line numbers and path apart."""
    head = {
        "title": _text(song.title),
        "key": _text(song.key.name),
        "meter": _text(song.meter.name),
        "tempo": _number(song.tempo_bpm),
        "feel": _text(song.feel),
        "form": _text(" ".join(song.form)),
    }
    if song.pickup and not song.sections[song.form[0]].pickup:
        head["pickup"] = _beats(song.pickup)
    parts = [_lines(head)] + [_section(section, song) for section in song.sections.values()]
    if song.pins:
        pins = {_text(show_place(place)): _text(str(_pin(song, place))) for place in song.pins}
        parts.append("[shells]\n" + _lines(pins))
    if song.lesson is not None:
        parts += _lesson(song.lesson)
    return "\n".join(parts)


def _pin(song: Song, place: tuple[str, int, int]) -> Pin:
    """A pin as it is in the key that the song is in."""
    section, bar, number = place
    chord = song.sections[section].bars[bar - 1].chords[number - 1].chord
    return song.pins[place].on(chord) if chord else song.pins[place]


def save_chart(song: Song, path: str | os.PathLike[str]) -> None:
    """Write a chart file whole or not at all: beside its place first, then renamed into it.

    The file says what the song holds; comments of a file that stood there before are not kept. Raises ChartError
    where the place cannot be written.
    """
    try:
        write_whole(Path(path), write_chart(song).encode())
    except (OSError, ValueError) as error:  # ValueError: a path with a null character
        reason = getattr(error, "strerror", None) or str(error)
        message = f"the file cannot be written ({reason}); expected a folder that may be written to"
        raise ChartError([Fault(plain(str(path)), 0, message)]) from None


def create_chart(song: Song, folder: str | os.PathLike[str]) -> Path:
    """Write a song as a new chart file in a folder, made where it is missing; its name is the song's id, with a number
    behind it where that name is taken. Never replaces a file. Raises ChartError where the place cannot be written."""
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for number in range(2 if is_device_name(song.id) else 1, _MOST_OF_A_NAME):
            path = folder / (f"{song.id}.toml" if number == 1 else f"{song.id}-{number}.toml")
            try:
                path.open("x").close()  # takes the name, so that no other program can between here and the writing
            except FileExistsError:
                continue
            try:
                save_chart(song, path)
            except BaseException:
                path.unlink(missing_ok=True)
                raise
            return path
        reason = f"there are {_MOST_OF_A_NAME - 1} of that name"
    except OSError as error:
        reason = error.strerror or str(error)
    message = f"the chart cannot be written there ({reason}); expected a folder that may be written to"
    raise ChartError([Fault(plain(str(folder)), 0, message)]) from None


def _lines(values: dict[str, str]) -> str:
    return "".join(f"{name} = {value}\n" for name, value in values.items())


def _section(section: Section, song: Song) -> str:
    name = section.name if _BARE_NAME.fullmatch(section.name) else _text(section.name)
    own = {}
    if section.meter != song.meter:
        own["meter"] = _text(section.meter.name)
    if section.key != song.key:
        own["key"] = _text(section.key.name)
    if section.pickup:
        own["pickup"] = _beats(section.pickup)
    if section.pickup_chords:
        own["pickup_chords"] = _text(_cell(Bar(section.pickup_chords)))
    bars = grid(len(section.bars), lambda start, columns: _row(section.bars, start, columns))
    text = f'[section.{name}]\n{_lines(own)}bars = """\n{_escaped(bars)}"""\n'
    if section.melody is not None:
        text += f'melody = """\n{_escaped(section.melody)}"""\n'
    return text


def _lesson(lesson: Lesson) -> list[str]:
    """The tables of the lesson; what a step would be anyway is left out."""
    own = {"note": _note(lesson.note) if lesson.note else "", "climb": _text(lesson.climb) if lesson.climb else ""}
    parts = ["[lesson]\n" + _lines({name: value for name, value in own.items() if value})]
    notes = {_text(section): _note(text) for section, text in lesson.section_notes.items()}
    notes |= {_text(f"{section}.{bar}"): _note(text) for (section, bar), text in lesson.bar_notes.items()}
    if notes:
        parts.append("[lesson.notes]\n" + _lines(notes))
    return parts + ["[[lesson.step]]\n" + _lines(_step(step)) for step in lesson.steps]


_CUES: dict[StepCues, str] = {True: "", SYMBOLS: f'"{SYMBOLS}"', False: "false"}


def _step(step: Step) -> dict[str, str]:
    values = {
        "listen": "true" if step.listen else "",
        "swing": "true" if step.swing else "",
        "section": _text(step.section) if step.section else "",
        "pattern": "" if step.swing else _text(step.pattern),
        "tempo": _text(FREE_TIME) if step.tempo_bpm is None else _number(step.tempo_bpm),
        "hands": "" if step.listen else _text(step.hands),
        "cues": "" if step.listen or step.swing else _CUES[step.cues],
        "passes": "" if step.listen or step.swing else str(step.passes),
        "note": _note(step.note) if step.note else "",
    }
    return {name: value for name, value in values.items() if value}


def _note(text: str) -> str:
    """A text of several lines keeps them."""
    return f'"""\n{_escaped(text)}"""' if "\n" in text else _text(text)


def _number(number: float) -> str:
    return str(int(number)) if number == int(number) else repr(number)


def _beats(beats: Fraction) -> str:
    return str(beats) if beats.denominator == 1 else _text(show_beats(beats))


def _row(bars: Sequence[Bar], start: int, columns: int) -> list[str]:
    """The bars of one line; a repeated bar is a sign, but never the first of its line, where the eye comes back to."""
    return [
        SAME_BAR[0] if at > start and bars[at].chords == bars[at - 1].chords else _cell(bars[at])
        for at in range(start, min(start + columns, len(bars)))
    ]


def _cell(bar: Bar) -> str:
    symbols = [placed.symbol for placed in bar.chords]
    lengths: list[Fraction] = [placed.beats for placed in bar.chords]
    if len(set(lengths)) == 1:
        return " ".join(symbols)
    return " ".join(f"{symbol}:{show_beats(length)}" for symbol, length in zip(symbols, lengths))


def _text(text: str) -> str:
    return f'"{_escaped(text)}"'


def _escaped(text: str) -> str:
    """The text between TOML's double quotes, single or triple (TOML 1.0, String)."""
    signs = {"\\": "\\\\", '"': '\\"'}
    return "".join(
        signs.get(sign) or (sign if sign in "\n\t" or is_printable(sign) else f"\\U{ord(sign):08X}") for sign in text
    )
