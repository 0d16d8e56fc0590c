"""The student's own choices of shells, kept apart from the song files: song id -> place -> shell.

The file is TOML in the notation of a chart's [shells]: under ["ferry-at-half-past-six"], "A.1.2" = "root-third". There too stands where
the song's sixth chords and major triads rest on root and fifth, if that is otherwise than in the settings: rest_on_fifth = "endings".
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from typing import Any

from companion.base.files import read_text, write_text
from companion.base.text import plain
from companion.chart.pins import parse_place, show_place
from companion.errors import SettingsError
from companion.hands.hand import RESTS
from companion.store.paths import Paths
from companion.store.toml_lines import put_line
from companion.theory.shell_kinds import Pin

Pins = dict[tuple[str, int, int], Pin]
_REST = "rest_on_fifth"


def load_pins(paths: Paths, song_id: str) -> Pins:
    """The student's pins for a song, keyed (section, bar, chord) from 1. Raises SettingsError where the file is damaged."""
    pins: Pins = {}
    for text, kind in _read(paths).get(song_id, {}).items():
        if text == _REST:
            continue
        where = f'{paths.pins}: [{song_id}] "{plain(text)}" = {kind!r}'
        place = parse_place(text)
        if place is None or not isinstance(kind, str):
            raise SettingsError(f'{where}: expected a line such as "A.1.2" = "root-third"')
        try:
            pins[place] = Pin.parse(kind)
        except ValueError as error:
            raise SettingsError(f"{where}: {plain(str(error))}") from None
    return pins


def pinned_songs(paths: Paths) -> set[str]:
    """Ids of the songs of which anything stands in the file. Raises SettingsError where it is damaged."""
    return set(_read(paths))


def load_rest(paths: Paths, song_id: str) -> str | None:
    """Where the song's chords rest on root and fifth, one of RESTS; None for as the settings say. Raises SettingsError."""
    rest = _read(paths).get(song_id, {}).get(_REST)
    if rest is not None and rest not in RESTS:
        raise SettingsError(f"{paths.pins}: [{song_id}] {_REST} = {rest!r}: expected one of {', '.join(RESTS)}")
    return rest


def save_pins(paths: Paths, song_id: str, pins: Pins) -> None:
    """Keep exactly these pins for a song; those of other songs, comments and order stay as they are. Raises SettingsError."""
    wanted = {show_place(place): str(pins[place]) for place in sorted(pins)}

    def put(table: Any) -> None:
        for place in [place for place in table if place not in wanted and place != _REST]:
            del table[place]
        for place, kind in wanted.items():
            if table.get(place) != kind:
                put_line(table, place, kind)

    _rewrite(paths, song_id, put)


def save_rest(paths: Paths, song_id: str, rest: str | None) -> None:
    """Keep where the song's chords rest on root and fifth; None for as the settings say. Raises SettingsError."""

    def put(table: Any) -> None:
        if rest is not None:
            put_line(table, _REST, rest)
        elif _REST in table:
            del table[_REST]

    _rewrite(paths, song_id, put)


def _rewrite(paths: Paths, song_id: str, put: Callable[[Any], None]) -> None:
    """Change a song's table, and nothing else in the file."""
    import tomlkit  # 60 ms, needed only here

    _read(paths)
    try:
        document = tomlkit.parse(read_text(paths.pins) or "")
        table: Any = document.setdefault(song_id, tomlkit.table())
        put(table)
        if not table.as_string().strip() and not table.trivia.comment:
            del document[song_id]
        write_text(paths.pins, tomlkit.dumps(document), follow=True)
    except (OSError, tomlkit.exceptions.TOMLKitError, ValueError) as error:
        raise SettingsError(f"{paths.pins}: your choice of shell was not saved: {plain(str(error))}") from error


def _read(paths: Paths) -> dict[str, dict[str, str]]:
    try:
        document = tomllib.loads(read_text(paths.pins) or "")
    except (
        OSError,
        ValueError,
        RecursionError,
    ) as error:  # ValueError: not UTF-8, not TOML, a number of thousands of digits
        raise SettingsError(f"{paths.pins}: your choices of shells cannot be read: {plain(str(error))}") from error
    for song_id, table in document.items():
        if not isinstance(table, dict):
            raise SettingsError(f"{paths.pins}: {song_id!r} is {table!r}: expected a table of pins for a song")
    return document
