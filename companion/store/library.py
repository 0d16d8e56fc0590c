"""The songs there are: the student's own folder beside the shipped one. An own song replaces a shipped one of its id."""

from __future__ import annotations

import contextlib
import difflib
import os
import time
from collections.abc import Callable, Collection, Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from companion.errors import ChartError, SongNotFound
from companion.practice.planning.difficulty import bits_a_minute, changes_a_minute, different_shells
from companion.store.listing import KeptList, SongEntry

if TYPE_CHECKING:
    from companion.chart.model import Song
    from companion.hands.hand import Hand
    from companion.store.paths import Paths
    from companion.store.settings import Settings

_TELL_EVERY_S = 0.3
_LATEST_OWN = 40  # of the student's songs that were never played, how many a plan may choose from


def song_folders(paths: Paths, settings: Settings) -> tuple[Path, Path]:
    """The student's folder, then the shipped one."""
    return settings.songs_folder or paths.songs, paths.shipped_songs


def list_songs(
    paths: Paths, settings: Settings, so_far: Callable[[list[SongEntry]], None] | None = None
) -> list[SongEntry]:
    """Every song in the order of the settings, then those with faults. One bad file stops nothing.

    What a file said is kept beside the log, so that only new and changed files are read again. so_far: called with the list as it
    grows, about three times a second, while many files are read for the first time.
    """
    kept = KeptList(paths.data / "songs-seen.json", settings.hand)
    entries = [SongEntry(folder.name, folder, True, fault=words) for folder, words in _closed_folders(paths, settings)]
    told_s = time.monotonic()
    for path, own in _song_files(paths, settings).values():
        entries.append(kept.entry(path, own) or kept.keep(_describe(path, own, settings.hand)))
        if so_far is not None and time.monotonic() - told_s > _TELL_EVERY_S:
            so_far(in_order(entries, settings.song_order))
            told_s = time.monotonic()
    kept.save(entries)
    return in_order(entries, settings.song_order)


def count_files(paths: Paths, settings: Settings) -> int:
    """How many song files there are, without opening one."""
    return len(_song_files(paths, settings))


def in_order(entries: Iterable[SongEntry], order: str) -> list[SongEntry]:
    """The songs in an order, one of SONG_ORDERS, then those with faults."""
    first = SONG_ORDERS[order]
    return sorted(entries, key=lambda entry: (bool(entry.fault), first(entry), entry.title.casefold(), entry.id))


def start_here(entries: Iterable[SongEntry]) -> SongEntry | None:
    """The song for a student who has played none yet: the easiest with a lesson."""
    return min(
        (entry for entry in entries if not entry.fault),
        key=lambda entry: (not entry.lesson, _difficulty(entry), entry.id),
        default=None,
    )


def _difficulty(entry: SongEntry) -> float:
    return bits_a_minute(entry.changes, entry.shells)


# order -> what it goes by, the least first; the title where that is the same
SONG_ORDERS: dict[str, Callable[[SongEntry], float]] = {
    "difficulty": _difficulty,
    "title": lambda _: 0,
    "tempo": lambda entry: entry.tempo_bpm,
}


def read_songs(paths: Paths, settings: Settings, played: Collection[str] = ()) -> list[Song]:
    """The songs that a day's plan may come from, by title, without those whose files have faults.

    That is every shipped one, those `played` (by id), and of the student's others the latest changed, so that a folder of
    thousands need not be read for a plan.
    """
    files = _song_files(paths, settings)
    unplayed = [path for song_id, (path, own) in files.items() if own and song_id not in played]
    latest = set(sorted(unplayed, key=_changed_s, reverse=True)[:_LATEST_OWN])
    songs = []
    for song_id, (path, own) in files.items():
        if not own or song_id in played or path in latest:
            with contextlib.suppress(ChartError):
                songs.append(_read(path))
    return sorted(songs, key=lambda song: (song.title.casefold(), song.id))


def _changed_s(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0


def find_song(text: str, paths: Paths, settings: Settings) -> Song:
    """The song of that id, title or path.

    Raises ChartError where its file has faults and SongNotFound, with the nearest names, where there is none.
    """
    if text.endswith(".toml") or os.sep in text or "/" in text:
        if not os.path.exists(os.path.expanduser(text)):
            raise SongNotFound(
                f"{text}: there is no such file; expected a song's id, its title or the path of a chart file"
            )
        return _read(Path(os.path.expanduser(text)))
    files = _song_files(paths, settings)
    if text in files:
        return _read(files[text][0])
    entries = list_songs(paths, settings)
    for entry in entries:
        if entry.title.casefold() == text.strip().casefold() or entry.id == text.casefold():
            return _read(entry.path)
    names = {name.casefold(): name for entry in entries for name in (entry.id, entry.title) if name}
    near = difflib.get_close_matches(text.casefold(), names, n=3, cutoff=0.4)
    hint = (
        "did you mean " + " or ".join(names[name] for name in near) + "?" if near else "`companion songs` lists them."
    )
    raise SongNotFound(f"There is no song {text!r}: {hint}")


def _song_files(paths: Paths, settings: Settings) -> dict[str, tuple[Path, bool]]:
    """id -> (path, own)."""
    own_folder, shipped_folder = song_folders(paths, settings)
    files: dict[str, tuple[Path, bool]] = {}
    for folder, own in ((shipped_folder, False), (own_folder, True)):
        if os.path.isdir(folder):
            files.update((path.stem, (path, own)) for path in sorted(folder.glob("*.toml")))
    return files


def _closed_folders(paths: Paths, settings: Settings) -> Iterator[tuple[Path, str]]:
    """The student's folder where it is there and cannot be read, and why: silence would look as if all songs were lost."""
    folder = song_folders(paths, settings)[0]
    try:
        os.scandir(folder).close()
    except FileNotFoundError:
        return
    except OSError as error:
        yield folder, f"{folder}: your songs cannot be read ({error.strerror}); expected a folder that you may read"


def _read(path: Path) -> Song:
    from companion.chart.reader import read_chart  # not needed where every file is known from the last time

    return read_chart(path)


def _describe(path: Path, own: bool, hand: Hand) -> SongEntry:
    try:
        song = _read(path)
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
        changes=float(changes_a_minute(song)),
        shells=different_shells(song, hand),
        lesson=song.lesson is not None and bool(song.lesson.steps),
    )
