"""The songs there are: the student's own folder beside the shipped one. An own song replaces a shipped one of its id."""

from __future__ import annotations

import contextlib
import difflib
import os
from dataclasses import dataclass
from pathlib import Path

from companion.chart.model import Song
from companion.chart.reader import read_chart
from companion.errors import ChartError, SongNotFound
from companion.log.paths import Paths
from companion.log.settings import Settings


@dataclass(frozen=True, slots=True)
class SongEntry:
    """One line of the list of songs. bars: in one chorus. own: from the student's folder. fault: "" or why the file
    could not be read; then only id, path and own are filled."""

    id: str
    path: Path
    own: bool
    title: str = ""
    key: str = ""
    meter: str = ""
    tempo_bpm: float = 0
    feel: str = ""
    form: tuple[str, ...] = ()
    bars: int = 0
    fault: str = ""


def song_folders(paths: Paths, settings: Settings) -> tuple[Path, Path]:
    """The student's folder, then the shipped one."""
    return settings.songs_folder or paths.songs, paths.shipped_songs


def list_songs(paths: Paths, settings: Settings) -> list[SongEntry]:
    """Every song by title, then those with faults. One bad file stops nothing."""
    entries = [_describe(path, own) for path, own in _song_files(paths, settings).values()]
    return sorted(entries, key=lambda entry: (bool(entry.fault), entry.title.casefold(), entry.id))


def read_songs(paths: Paths, settings: Settings) -> list[Song]:
    """Every song whose file has no fault, by title; `list_songs` names the faults of the others."""
    songs = []
    for path, _ in _song_files(paths, settings).values():
        with contextlib.suppress(ChartError):
            songs.append(read_chart(path))
    return sorted(songs, key=lambda song: (song.title.casefold(), song.id))


def find_song(text: str, paths: Paths, settings: Settings) -> Song:
    """The song of that id, title or path.

    Raises ChartError where its file has faults and SongNotFound, with the nearest names, where there is none.
    """
    if text.endswith(".toml") or os.sep in text or "/" in text:
        if not Path(text).expanduser().exists():
            raise SongNotFound(f"{text}: there is no such file; expected a song's id, its title or the path of a chart file")
        return read_chart(Path(text).expanduser())
    files = _song_files(paths, settings)
    if text in files:
        return read_chart(files[text][0])
    entries = list_songs(paths, settings)
    for entry in entries:
        if entry.title.casefold() == text.strip().casefold() or entry.id == text.casefold():
            return read_chart(entry.path)
    names = {name.casefold(): name for entry in entries for name in (entry.id, entry.title) if name}
    near = difflib.get_close_matches(text.casefold(), names, n=3, cutoff=0.4)
    hint = "did you mean " + " or ".join(names[name] for name in near) + "?" if near else "`companion songs` lists them."
    raise SongNotFound(f"There is no song {text!r}: {hint}")


def _song_files(paths: Paths, settings: Settings) -> dict[str, tuple[Path, bool]]:
    """id -> (path, own)."""
    own_folder, shipped_folder = song_folders(paths, settings)
    files: dict[str, tuple[Path, bool]] = {}
    for folder, own in ((shipped_folder, False), (own_folder, True)):
        if folder.is_dir():
            files.update((path.stem, (path, own)) for path in sorted(folder.glob("*.toml")))
    return files


def _describe(path: Path, own: bool) -> SongEntry:
    try:
        song = read_chart(path)
    except ChartError as error:
        more = f" (and {len(error.faults) - 1} more)" if len(error.faults) > 1 else ""
        return SongEntry(path.stem, path, own, fault=f"{error.faults[0]}{more}")
    return SongEntry(
        id=song.id,
        path=path,
        own=own,
        title=song.title,
        key=song.key.name,
        meter=song.meter.name,
        tempo_bpm=song.tempo_bpm,
        feel=song.feel,
        form=song.form,
        bars=sum(len(song.sections[name].bars) for name in song.form),
    )
