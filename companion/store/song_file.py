"""Saving a song into the student's own folder. A file that is there keeps its comments and whatever of it did not change."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

from companion.base.files import write_text
from companion.base.ids import song_id
from companion.chart.fields import LONGEST_TITLE
from companion.chart.model import Song
from companion.chart.reader import parse_chart
from companion.chart.writer import create_chart, write_chart
from companion.errors import ChartError, Fault
from companion.store.library import song_folders
from companion.store.paths import Paths
from companion.store.settings import Settings


def save_song(song: Song, paths: Paths, settings: Settings) -> Path:
    """Write the song under its id into the student's folder, where it replaces a shipped one of that id; a song without an id
    gets one from its title that no other has. Raises ChartError where it cannot be written or would not be read again."""
    own, shipped = song_folders(paths, settings)
    id = song.id or song_id(song.title, {path.stem for folder in (own, shipped) for path in folder.glob("*.toml")})
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


def add_song(
    song: Song, paths: Paths, settings: Settings, folder: Path | None = None, taken: Iterable[str] = ()
) -> Path:
    """Write a song that came in as a new file of the student's folder, or of another, under an id that neither a song there nor a
    shipped one has. taken: more ids that it must not get. Where its id had to be numbered its title is too, so that the two can be told apart.

    Raises ChartError where it cannot be written.
    """
    own, shipped = song_folders(paths, settings)
    folder = folder or own
    taken = {*taken, *(path.stem for each in {own, shipped, folder} for path in each.glob("*.toml"))}
    plain_id, id = song_id(song.title), song_id(song.title, taken)
    number = id.removeprefix(f"{plain_id}-") if id != plain_id else ""
    title = song.title
    if number.isdigit() and title.strip():
        title = f"{title[: LONGEST_TITLE - len(number) - 3]} ({number})"
    return create_chart(replace(song, id=id, title=title), folder)


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
