"""What the student made their own about a song, its pinned shells apart (pins.py): one small TOML file a song, one table for each thing.

    # own/ferry-at-half-past-six.toml
    [swing]
    version = 2
    [swing.bars]
    "A.5" = "straight"

A table is read by rules, one a key. Tables and keys without a rule are of newer companions: they are neither read nor touched. A
file is read and written whole, and keeps its comments.
"""

from __future__ import annotations

import reprlib
import threading
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from companion.base.files import read_text, unfit, write_text
from companion.base.rules import Rule
from companion.base.text import plain
from companion.chart.melody import NotePlace
from companion.chart.pins import SECTION_NAME
from companion.chart.source_map import SourceMap
from companion.errors import SettingsError
from companion.store.paths import Paths
from companion.store.toml_lines import put_line


@dataclass(frozen=True, slots=True)
class Lines:
    """A table within a table, its keys free: what each key and each value may be."""

    key: Rule
    value: Rule


_ONE_WRITER = threading.Lock()  # a file is read and written whole, from the app's thread and from the keeper's
Rules = Mapping[str, Rule | Lines]


def own_path(paths: Paths, song_id: str) -> Path:
    """The file of a song."""
    return paths.own / f"{song_id}.toml"


def read_table(paths: Paths, song_id: str, name: str, rules: Rules) -> dict[str, Any]:
    """What the table of that name says, by key, as its rules read it; {} where there is no file or no such table. A song without an
    id, as a line of chords, has nothing. Raises SettingsError, one sentence, for the first thing that no rule can read."""
    if not song_id:
        return {}
    text, document = _read(own_path(paths, song_id))
    table = document.get(name, {})
    fault = _Fault(own_path(paths, song_id), text)
    if not isinstance(table, dict):
        raise fault.error((name,), table, f"a table [{name}]")
    values: dict[str, Any] = {}
    for key, rule in rules.items():
        if key not in table:
            continue
        if isinstance(rule, Rule):
            values[key] = fault.read((name, key), rule, table[key])
        elif isinstance(table[key], dict):
            values[key] = {
                fault.read((name, key, line), rule.key, line): fault.read((name, key, line), rule.value, value)
                for line, value in table[key].items()
            }
        else:
            raise fault.error((name, key), table[key], f"a table [{name}.{key}]")
    return values


def write_table(paths: Paths, song_id: str, name: str, values: Mapping[str, Any]) -> None:
    """Keep these values in the table of that name: None takes the key away, a mapping becomes the whole of a table within. Keys that
    are not named, other tables and comments stay as they are; without any value left the table goes. Raises SettingsError."""
    with _ONE_WRITER:
        _write_table(paths, song_id, name, values)


def _write_table(paths: Paths, song_id: str, name: str, values: Mapping[str, Any]) -> None:
    import tomlkit  # 60 ms, needed only here

    path = own_path(paths, song_id)
    _read(path)
    try:
        if not song_id or (reason := unfit(path.name)):
            raise ValueError("a song without a name" if not song_id else reason)
        document = tomlkit.parse(read_text(path) or "")
        table: Any = document.setdefault(name, tomlkit.table())
        if not isinstance(table, tomlkit.items.AbstractTable):
            raise SettingsError(f"{path}: your choice was not saved: {name} is no table there")
        for key, value in values.items():
            if isinstance(value, Mapping):
                _put_lines(table, key, value)
            elif value is not None:
                put_line(table, key, value)
            elif key in table:
                del table[key]
        if not table.as_string().strip() and not table.trivia.comment:
            del document[name]
        text = tomlkit.dumps(document)
        if text.strip():
            write_text(path, text, follow=True)
        else:
            path.unlink(missing_ok=True)  # nothing is the student's own any more
    except (OSError, tomlkit.exceptions.TOMLKitError, ValueError) as error:
        raise SettingsError(f"{path}: your choice was not saved: {plain(str(error))}") from error


def _put_lines(table: Any, key: str, wanted: Mapping[str, Any]) -> None:
    import tomlkit

    if not isinstance(table.get(key), dict):
        table[key] = tomlkit.table()
    within = table[key]
    for line in [line for line in within if line not in wanted]:
        del within[line]
    for line, value in wanted.items():
        if within.get(line) != value:
            put_line(within, line, _inline(value))
    if not within.as_string().strip() and not within.trivia.comment:
        del table[key]


def _inline(value: Any) -> Any:
    """A table within a line stays in that line."""
    import tomlkit

    if not isinstance(value, Mapping):
        return value
    inline = tomlkit.inline_table()
    inline.update(value)
    return inline


def _read(path: Path) -> tuple[str, dict[str, Any]]:
    try:
        text = read_text(path) or ""
        return text, tomllib.loads(text)
    except (
        OSError,
        ValueError,
        RecursionError,
    ) as error:  # ValueError: no UTF-8, no TOML, a number of thousands of digits
        raise SettingsError(f"{path}: what you keep of this song cannot be read: {plain(str(error))}") from error


@dataclass(frozen=True, slots=True)
class _Fault:
    """Says where in the file something is wrong."""

    path: Path
    text: str

    def read(self, keys: tuple[str, ...], rule: Rule, value: Any) -> Any:
        try:
            return rule.read(value)
        except (ValueError, TypeError, OverflowError):
            raise self.error(keys, value, rule.expected) from None

    def error(self, keys: tuple[str, ...], value: Any, expected: str) -> SettingsError:
        line = SourceMap(self.text).line(keys)
        where = f"{self.path}:{line}" if line else f"{self.path}"
        *tables, key = (plain(key) for key in keys)
        shown = f"[{'.'.join(tables)}] {key}" if tables else key
        return SettingsError(f"{where}: {shown} is {reprlib.repr(value)}; expected {expected}")


def _read_bar(text: str) -> tuple[str, int]:
    section, _, bar = text.rpartition(".")
    if not SECTION_NAME.fullmatch(section) or not bar.isdecimal() or not 1 <= int(bar) <= 9999:
        raise ValueError
    return section, int(bar)


# A bar of a section wherever the section comes, as "A.5".
BAR = Rule(_read_bar, 'a bar such as "A.5": a section and a bar of it, from 1')


def show_bar(section: str, bar: int) -> str:
    """As `BAR` reads it."""
    return f"{section}.{bar}"


def _read_note(text: str) -> NotePlace:
    section, bar, note = text.rsplit(".", 2)
    if not SECTION_NAME.fullmatch(section) or not (bar.isdecimal() and note.isdecimal()):
        raise ValueError
    if int(bar) > 9999 or not 1 <= int(note) <= 9999:
        raise ValueError
    return section, int(bar), int(note)


NOTE = Rule(_read_note, 'a note such as "A.3.2": a section, a bar of it and a note that begins there, from 1')


def show_note(place: NotePlace) -> str:
    """As `NOTE` reads it."""
    return "{}.{}.{}".format(*place)
