"""Saving a song into the student's own folder. A file that is there keeps its comments and whatever of it did not change."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from dataclasses import replace
from pathlib import Path
from typing import Any

from companion.base.files import is_device_name, write_text
from companion.chart.model import Song
from companion.chart.reader import parse_chart
from companion.chart.writer import write_chart
from companion.errors import ChartError, Fault
from companion.store.library import song_folders
from companion.store.paths import Paths
from companion.store.settings import Settings


def save_song(song: Song, paths: Paths, settings: Settings) -> Path:
    """Write the song under its id into the student's folder, where it replaces a shipped one of that id; a song without an id
    gets one from its title that no other has. Raises ChartError where it cannot be written or would not be read again."""
    own, shipped = song_folders(paths, settings)
    id = song.id or id_for(song.title, {path.stem for folder in (own, shipped) for path in folder.glob("*.toml")})
    path = own / f"{id}.toml"
    text = write_chart(song)
    parse_chart(text, id=id)
    try:
        if path.is_file():
            text = with_comments(path.read_text(encoding="utf-8-sig"), text)
        write_text(path, text)
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not plain text"
        raise ChartError([Fault(str(path), 0, f"the song was not saved ({reason})")]) from None
    return path


def id_for(title: str, taken: set[str]) -> str:
    """A file's stem: "Ferry at Half Past Six" -> "ferry-at-half-past-six", with a number behind it where that is taken, also by
    one in capitals, which on macOS and Windows is the same file."""
    taken = {name.casefold() for name in taken}
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-") or "song"
    names = (stem, *(f"{stem}-{number}" for number in range(2, 10_000)))
    return next(name for name in names if name not in taken and not is_device_name(name))


def with_comments(old: str, new: str) -> str:
    """The new chart's text in the old file: what says the same stays as it stands there, with its comments. The new text alone
    where the old cannot be read, or where the two do not go together."""
    import tomlkit  # 60 ms, needed only here

    try:
        document, wanted = tomlkit.parse(old), tomlkit.parse(new)
        before, after = _song(old), _song(new)
        _update(document, wanted, tomllib.loads(old), tomllib.loads(new), before, after)
        text = tomlkit.dumps(document)
        return text if _song(text) == after else new
    except (ChartError, tomlkit.exceptions.TOMLKitError, ValueError, TypeError, KeyError, AttributeError):
        return new


def _song(text: str) -> Song:
    """The song of a text, the lines of its file apart."""
    song = parse_chart(text)
    sections = {
        name: replace(section, bars=tuple(replace(bar, line=0) for bar in section.bars))
        for name, section in song.sections.items()
    }
    return replace(song, sections=sections)


def _update(document: Any, wanted: Any, old: dict[str, Any], new: dict[str, Any], before: Song, after: Song) -> None:
    """Put into the old document what differs in the new one."""
    for name in [name for name in old if name not in new]:
        del document[name]
    for name, value in new.items():
        if name == "section" and name in old:
            _update_sections(document[name], wanted[name], old[name], value, before, after)
        elif old.get(name) != value:
            document[name] = wanted[name]


def _update_sections(
    tables: Any, wanted: Any, old: dict[str, Any], new: dict[str, Any], before: Song, after: Song
) -> None:
    """Bars that say the same stay as typed, so that signs for the same bar again and lengths are the student's."""
    for name in [name for name in old if name not in new]:
        del tables[name]
    for name, table in new.items():
        if name not in old:
            tables[name] = wanted[name]
            continue
        same_bars = before.sections[name].bars == after.sections[name].bars
        for key in [key for key in old[name] if key not in table]:
            del tables[name][key]
        for key, value in table.items():
            if old[name].get(key) != value and not (key == "bars" and same_bars):
                tables[name][key] = wanted[name][key]
    if list(tables) != list(new):  # a section that was renamed or put elsewhere
        for name in new:
            table = tables[name]
            del tables[name]
            tables[name] = table
