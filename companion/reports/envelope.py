"""A song on its way to the teacher and back: one zip file with plain files in it, whatever of them there is.

    song.toml     the chart with its lesson
    pins.toml     the student's own shells, as in their file of pins, under [song]
    own.toml      what else the student made their own of it (store/own_song.py)
    shells.txt    the left hand, shell by shell, with the reason for each
    report.html   what was practised and where it stands

Taking one in overwrites nothing: the song comes as a new one, numbered where its name is taken, as any lead sheet that comes in. What comes
from outside is taken with care: only these names, no folders, sizes counted while unpacking whatever the file says of itself (CWE-22, CWE-409).
"""

from __future__ import annotations

import contextlib
import io
import stat
import tempfile
import zipfile
import zlib
from dataclasses import dataclass, replace
from pathlib import Path

from companion.arranging.choice import ArrangementChoice
from companion.base.files import read_text, write_text
from companion.base.text import plain, plural, quoted
from companion.chart.model import Song
from companion.chart.reader import read_chart
from companion.chart.writer import write_chart
from companion.errors import CompanionError, SheetError
from companion.groove.swung_choice import SwungChoice
from companion.store.library import find_song
from companion.store.own_arrangement import load_arrangement
from companion.store.own_melody import OwnMelody, load_melody
from companion.store.own_song import own_path
from companion.store.own_stand import load_stand
from companion.store.own_swing import load_swing
from companion.store.paths import Paths
from companion.store.pins import Pins, load_pins, load_rest, pinned_songs, save_pins, save_rest
from companion.store.settings import Settings
from companion.store.song_file import add_song

CHART, PINS, OWN, SHELLS, REPORT = "song.toml", "pins.toml", "own.toml", "shells.txt", "report.html"
MOST_BYTES = 5_000_000  # of the zip file, and of each file in it
_MOST_FILES = 20
_ID = "song"  # what the song is called within
_EXPECTED = "expected a file that `companion send` wrote"
_DAY = (1980, 1, 1, 0, 0, 0)  # the first that a zip file knows: the same song gives the same bytes


@dataclass(frozen=True, slots=True)
class Received:
    """path: of the new chart. pins: how many shells came along. own: whether swing, fingers or an arrangement of the student's did."""

    song: Song
    path: Path
    pins: int
    own: bool

    @property
    def came_along(self) -> str:
        """What came with the chart: "with 8 steps of a lesson, 2 shells of their own choice", "" for nothing."""
        steps = len(self.song.lesson.steps) if self.song.lesson else 0
        parts = (
            plural(steps, "step") + " of a lesson" if steps else "",
            plural(self.pins, "shell") + " of their own choice" if self.pins else "",
            "their swing, fingers and the like" if self.own else "",
        )
        return f"with {', '.join(filter(None, parts))}" if any(parts) else ""


def pack(song: Song, paths: Paths, shells: str, report: str) -> bytes:
    """The zip file. shells: a text of the left hand with its reasons; report: a page. Raises SettingsError where what the student keeps
    of the song is damaged."""
    files = {CHART: write_chart(song), SHELLS: shells, REPORT: report}
    pins, rest = load_pins(paths, song.id), load_rest(paths, song.id)
    _has_own(paths, song.id)
    with tempfile.TemporaryDirectory() as folder:
        there = _within(paths, Path(folder))
        save_pins(there, _ID, pins)
        save_rest(there, _ID, rest)
        files[PINS] = read_text(there.pins) or ""
    files[OWN] = read_text(own_path(paths, song.id)) or ""
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in files.items():
            if text:
                archive.writestr(zipfile.ZipInfo(name, _DAY), text.encode(), zipfile.ZIP_DEFLATED)
    return written.getvalue()


def receive(path: Path, paths: Paths, settings: Settings) -> Received:
    """Take in the song of such a file, whole or not at all. Raises SheetError for what is no such file, CompanionError for faults within it and
    where it cannot be written."""
    files = unpack(path)
    with tempfile.TemporaryDirectory() as folder:
        there = _within(paths, Path(folder))
        places = {CHART: Path(folder) / f"{_ID}.toml", PINS: there.pins, OWN: own_path(there, _ID)}
        try:
            for name in places.keys() & files.keys():
                write_text(places[name], files[name], firmly=False)
            song = read_chart(places[CHART])
            pins, rest = load_pins(there, _ID), load_rest(there, _ID)
            has_own = _has_own(there, _ID)
        except CompanionError as error:
            raise SheetError(_named_as_within(str(error), path, places)) from None
    new = add_song(song, paths, settings, taken=pinned_songs(paths) | _owned(paths))
    try:
        if files.get(OWN):
            write_text(own_path(paths, new.stem), files[OWN])
        _keep_pins(paths, new.stem, pins, rest)
    except (CompanionError, OSError) as error:
        new.unlink(missing_ok=True)
        own_path(paths, new.stem).unlink(missing_ok=True)
        with contextlib.suppress(CompanionError, OSError):
            save_pins(paths, new.stem, {})
            save_rest(paths, new.stem, None)
        reason = getattr(error, "strerror", None) or error
        raise SheetError(f"{path}: nothing was taken in, as not all of it can be kept: {reason}") from None
    return Received(find_song(str(new), paths, settings), new, len(pins), has_own)


def _has_own(paths: Paths, song_id: str) -> bool:
    """Whether the own file of a song holds more than how it was left on the stand. Raises SettingsError where any of it is damaged."""
    load_stand(paths, song_id)
    chosen = load_melody(paths, song_id), load_swing(paths, song_id), load_arrangement(paths, song_id)
    return chosen != (OwnMelody(), SwungChoice(), ArrangementChoice())


def _keep_pins(paths: Paths, song_id: str, pins: Pins, rest: str | None) -> None:
    if pins:
        save_pins(paths, song_id, pins)
    if rest is not None:
        save_rest(paths, song_id, rest)


def _owned(paths: Paths) -> set[str]:
    return {path.stem for path in paths.own.glob("*.toml")}


def _within(paths: Paths, folder: Path) -> Paths:
    """Paths of a student's who has this song and nothing else."""
    return replace(paths, pins=folder / PINS, data=folder / "data")


def _named_as_within(words: str, path: Path, places: dict[str, Path]) -> str:
    """A fault's words with the names that the files have in the zip file."""
    for name, place in places.items():
        words = words.replace(plain(str(place)), f"{plain(str(path))}, {name}")
    return words


# --- what comes from outside


def unpack(path: Path) -> dict[str, str]:
    """The files that we know in a zip file, as text, by name. Raises SheetError, one sentence, for whatever else it is."""
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise _refused(path, "it is not a file")
        if status.st_size > MOST_BYTES:
            raise _refused(path, f"it is longer than {MOST_BYTES // 1_000_000} MB")
        with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as archive:
            return _files_of(archive, path)
    except FileNotFoundError:
        raise SheetError(f"{path}: there is no such file; {_EXPECTED}") from None
    except UnicodeDecodeError:
        raise _refused(path, "a file in it is not plain text") from None
    except RuntimeError as error:  # NotImplementedError among them
        is_method = isinstance(error, NotImplementedError)
        raise _refused(path, "it is packed in an unknown way" if is_method else "it wants a password") from None
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError):
        raise _refused(path, "it is no zip file, or a damaged one") from None
    except OSError as error:
        raise _refused(path, f"it cannot be read ({error.strerror})") from None


def _files_of(archive: zipfile.ZipFile, path: Path) -> dict[str, str]:
    members = archive.infolist()
    if len(members) > _MOST_FILES:
        raise _refused(path, f"there are more than {_MOST_FILES} files in it")
    names = [member.orig_filename for member in members]
    for name in names:
        if any(sign in name for sign in "/\\:\0") or name in (".", ".."):
            raise _refused(path, f"there is {quoted(name)} in it, and folders are not taken in")
    if len(set(names)) < len(names):
        raise _refused(path, "two files in it have one name")
    if CHART not in names:
        raise _refused(path, f"there is no {CHART} in it")
    return {
        member.filename: _text_of(archive, member, path) for member in members if member.filename in (CHART, PINS, OWN)
    }


def _text_of(archive: zipfile.ZipFile, member: zipfile.ZipInfo, path: Path) -> str:
    with archive.open(member) as file:
        data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise _refused(path, f"{member.filename} in it is longer than {MOST_BYTES // 1_000_000} MB")
    return data.decode("utf-8-sig")


def _refused(path: Path, why: str) -> SheetError:
    return SheetError(f"{path}: {why}; {_EXPECTED}")
