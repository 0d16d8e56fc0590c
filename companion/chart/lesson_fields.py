"""The [lesson] of a chart file, checked as the rest of the file is: faults are collected with their lines."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sized
from typing import Any

from companion.base.text import is_printable, nearest, quoted
from companion.chart.lesson import (
    CLIMB_RULES,
    DEFAULT_PASSES,
    FREE_TIME,
    HANDS,
    STEP_PATTERNS,
    SWINGING_HANDS,
    SYMBOLS,
    Lesson,
    Step,
    StepCues,
)
from companion.chart.pins import SECTION_NAME
from companion.chart.values import ValueReader, show_value

LESSON_KEYS = ("note", "notes", "climb", "step")
STEP_KEYS = ("listen", "swing", "section", "hands", "pattern", "tempo", "cues", "passes", "note")
NOT_HEARD = ("hands", "cues", "passes")  # keys of a step that say nothing of one that is listened to
NOT_SWUNG = ("pattern", "cues", "passes")  # and of one to swing
LONGEST_NOTE = 2000
MOST_STEPS = 100
MOST_PASSES = 100

_BAR_PLACE = re.compile(rf"({SECTION_NAME.pattern})(?:\.([1-9][0-9]{{0,3}}))?")
_TEMPO = f'pulses a minute, such as 60, or "{FREE_TIME}"'


def read_lesson(
    reader: ValueReader, all_bars: Mapping[str, Sized], tempo_bpm: float, may_swing: Collection[str] = ()
) -> Lesson | None:
    """The lesson, None where the file has none. all_bars: section -> its bars. tempo_bpm: the song's own. may_swing: the sections that
    have a melody in quarters."""
    table = reader.typed(("lesson",), dict, "a table [lesson]")
    if table is None:
        return None
    return _LessonReader(reader, all_bars, tempo_bpm, may_swing).lesson(table)


class _LessonReader:
    def __init__(
        self, reader: ValueReader, all_bars: Mapping[str, Sized], tempo_bpm: float, may_swing: Collection[str]
    ) -> None:
        self.reader, self.may_swing = reader, may_swing
        self.all_bars = all_bars
        self.tempo_bpm = tempo_bpm

    def lesson(self, table: dict[str, Any]) -> Lesson:
        self.reader.unknown_keys(("lesson",), table, LESSON_KEYS, "a lesson")
        section_notes, bar_notes = self.notes()
        climb = self.one_of(("lesson", "climb"), CLIMB_RULES, default="")
        return Lesson(self.text(("lesson", "note")), section_notes, bar_notes, self.steps(), climb)

    def text(self, at: tuple[str, ...]) -> str:
        """A note to the student, "" without one."""
        text: str | None = self.reader.typed(at, str, "a text in quotes")
        if text is None:
            return ""
        if not all(sign in "\n\t" or is_printable(sign) for sign in text):
            self.reader.fault(at, "the note has signs that cannot be printed; expected plain text")
        elif len(text) > LONGEST_NOTE:
            self.reader.fault(at, f"the note has {len(text)} characters; expected at most {LONGEST_NOTE}")
        return text.strip()

    def notes(self) -> tuple[dict[str, str], dict[tuple[str, int], str]]:
        sections: dict[str, str] = {}
        bars: dict[tuple[str, int], str] = {}
        for at, _ in self.reader.leaves(("lesson", "notes"), "a table [lesson.notes]"):
            place = ".".join(at[2:])
            match = _BAR_PLACE.fullmatch(place)
            if match is None:
                self.reader.fault(
                    at, f'{quoted(place)} is not a place; expected a section or a bar of one, such as "A.3"'
                )
                continue
            section, bar = match[1], int(match[2] or 0)
            if section not in self.all_bars:
                self.no_section(at, section)
            elif bar > len(self.all_bars[section]):
                last = len(self.all_bars[section])
                self.reader.fault(at, f"section {section} ends with bar {last}; expected a bar up to that one")
            elif text := self.text(at):
                if bar:
                    bars[section, bar] = text
                else:
                    sections[section] = text
        return sections, bars

    def no_section(self, at: tuple[str, ...], section: str) -> None:
        if self.all_bars:  # a file without any has been told so
            self.reader.fault(at, f"there is no section {quoted(section)}; {nearest(section, self.all_bars)}")

    def steps(self) -> tuple[Step, ...]:
        at = ("lesson", "step")
        tables = self.reader.typed(at, list, "tables [[lesson.step]]")
        if tables is None:
            return ()
        if len(tables) > MOST_STEPS:
            self.reader.fault(at, f"the lesson has {len(tables)} steps; expected at most {MOST_STEPS}")
            return ()
        return tuple(self.step((*at, str(number)), table) for number, table in enumerate(tables))

    def step(self, at: tuple[str, ...], table: Any) -> Step:
        if not isinstance(table, dict):
            self.reader.fault(
                at, f"step {int(at[-1]) + 1} is not a table; expected [[lesson.step]] and its lines below"
            )
            table = {}
        self.reader.unknown_keys(at, table, STEP_KEYS, "a step")
        section = self.reader.typed((*at, "section"), str, "the name of a section, in quotes") or ""
        if section and section not in self.all_bars:
            self.no_section((*at, "section"), section)
        listen, swing = self.yes_no((*at, "listen")), self.yes_no((*at, "swing"))
        tempo_bpm = self.tempo((*at, "tempo"))
        if listen:
            for key in NOT_HEARD:
                if key in table:
                    self.reader.fault(
                        (*at, key), f"a step to listen to has no {key}; expected section, pattern, tempo or note"
                    )
            if tempo_bpm is None:
                self.reader.fault(
                    (*at, "tempo"), "a step to listen to has a tempo; expected pulses a minute, such as 60"
                )
        if swing:
            self.swung_step(at, table, section, listen, tempo_bpm)
        return Step(
            section=section,
            hands=self.one_of((*at, "hands"), SWINGING_HANDS if swing else HANDS),
            pattern=self.one_of((*at, "pattern"), STEP_PATTERNS),
            tempo_bpm=tempo_bpm,
            cues=self.cues((*at, "cues")),
            passes=1 if listen or swing else self.passes((*at, "passes")),
            note=self.text((*at, "note")),
            listen=listen,
            swing=swing,
            line=self.reader.sources.line(at),
        )

    def swung_step(
        self, at: tuple[str, ...], table: dict[str, Any], section: str, listen: bool, tempo_bpm: float | None
    ) -> None:
        """What a step to swing a phrase cannot have, and what its song must."""
        for key in NOT_SWUNG:
            if key in table:
                self.reader.fault((*at, key), f"a step to swing has no {key}; expected section, hands, tempo or note")
        if not self.may_swing or (section in self.all_bars and section not in self.may_swing):
            where = f"section {section}" if section else "the song"
            self.reader.fault(
                (*at, "swing"), f"{where} has no melody to swing; expected one in a meter of quarters, such as 4/4"
            )
        if listen:
            self.reader.fault((*at, "swing"), "a step is to listen or to swing; expected one of them")
        if tempo_bpm is None:
            self.reader.fault((*at, "tempo"), "a step to swing has a tempo; expected pulses a minute, such as 90")

    def one_of(self, at: tuple[str, ...], words: tuple[str, ...], default: str | None = None) -> str:
        """One of the words; where none is given the default, else the first."""
        word = self.reader.typed(at, str, " or ".join(f'"{word}"' for word in words))
        if word is not None and word not in words:
            self.reader.fault(at, f"{quoted(word)} does not fit here; {nearest(word, words)}")
        return word if word in words else words[0] if default is None else default

    def tempo(self, at: tuple[str, ...]) -> float | None:
        value = self.reader.typed(at, (int, float, str), _TEMPO)
        if value is None:
            return self.tempo_bpm
        if value == FREE_TIME:
            return None
        if isinstance(value, str):
            self.reader.fault(at, f"tempo is {quoted(value)}; expected {_TEMPO}")
            return None
        return self.reader.tempo_bpm(at, self.tempo_bpm, _TEMPO)

    def yes_no(self, at: tuple[str, ...]) -> bool:
        value = self.reader.value(at)
        if value is not None and not isinstance(value, bool):
            self.reader.fault(at, f"{at[-1]} is {show_value(value)}; expected true or false")
        return value is True

    def cues(self, at: tuple[str, ...]) -> StepCues:
        value = self.reader.value(at)
        if value is None or isinstance(value, bool):
            return value is not False
        if value != SYMBOLS:
            self.reader.fault(at, f'{at[-1]} is {show_value(value)}; expected true, false or "{SYMBOLS}"')
        return SYMBOLS

    def passes(self, at: tuple[str, ...]) -> int:
        expected = f"a whole number from 1 to {MOST_PASSES}"
        passes = self.reader.typed(at, int, expected)
        if passes is not None and not 1 <= passes <= MOST_PASSES:
            self.reader.fault(at, f"passes is {show_value(passes)}; expected {expected}")
            return DEFAULT_PASSES
        return DEFAULT_PASSES if passes is None else passes
