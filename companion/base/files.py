"""Files: names that hold on every system, reading what may be something else, and writing whole or not at all.

A file is written beside its place and renamed into it, so that a crash leaves either the old one or the new one.
"""

from __future__ import annotations

import contextlib
import errno
import os
import stat
import sys
import time
from pathlib import Path

from companion.errors import WriteError

MOST_BYTES = 1_000_000  # no file of settings or pins comes near
# Names that Windows keeps for devices, with any ending (Microsoft, "Naming Files, Paths, and Namespaces").
_PORTS = tuple(f"{port}{digit}" for port in ("com", "lpt") for digit in "123456789¹²³")
_DEVICES = frozenset(("con", "prn", "aux", "nul", "conin$", "conout$", *_PORTS))
_BARRED = frozenset('<>:"|?*')  # the same source; slashes part folders
_TRIES, _WAIT_S = 20, 0.025
_GROWS, _FORSAKEN_S = ".growing", 60.0


def is_device_name(name: str) -> bool:
    """Whether Windows takes a file's name for one of its devices; whoever gets the file may have Windows."""
    return name.partition(".")[0].rstrip(" ").casefold() in _DEVICES


def unfit(name: str) -> str:
    """Why this system will not have a file of that name, "" where it will. Windows takes some without a word and puts
    the contents where nobody finds them."""
    if sys.platform != "win32":
        return ""
    if is_device_name(name):
        return f"Windows keeps the name {name.partition('.')[0]} for itself; give another"
    barred = sorted({sign for sign in name if sign in _BARRED or sign < " "})
    if barred:
        return f"Windows has no {' '.join(map(repr, barred))} in the name of a file; give another name"
    if name.endswith((" ", ".")):
        return "the name of a file ends in neither a space nor a dot on Windows; give another"
    return ""


# --- the student's small files, in places of our own


def read_text(path: Path) -> str | None:
    """UTF-8 text without a byte order mark, None where there is no file. Raises UnicodeDecodeError, and OSError also for what is no
    file or has no end."""
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise OSError(errno.EINVAL, "it is not a file", str(path))
        if status.st_size > MOST_BYTES:
            raise OSError(errno.EFBIG, f"it is longer than {MOST_BYTES // 1_000_000} MB", str(path))
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return None


def write_text(path: Path, text: str, *, firmly: bool = True, follow: bool = False) -> None:
    """As `write_whole`, in UTF-8 with the line ends of `text`; folders are made. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(path, text.encode(), firmly=firmly, follow=follow)


def write_whole(path: Path, data: bytes, *, firmly: bool = True, follow: bool = True) -> None:
    """Write a file beside its place and rename it into it. firmly: flushed to the disk first, which a power cut would need and
    which may take tens of milliseconds. follow: of a link that lies there, what it names is replaced and the link stays; else
    the link is replaced, so that one which came in a folder from elsewhere leads no writing outside (CWE-59).
    Raises OSError, and ValueError for a path with a null character."""
    target = Path(os.path.realpath(path)) if follow else path
    beside = target.with_name(f".{target.name[:40]}.{os.urandom(4).hex()}.new")
    try:
        with open(beside, "xb") as file:
            file.write(data)
            file.flush()
            if firmly:
                os.fsync(file.fileno())
        _replace(beside, target)
    except BaseException:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)
        raise


def unfinished(path: Path) -> Path:
    """Where a file that takes minutes to be written grows, until `finish` renames it to `path`: hidden, and with an ending that no program takes for its own."""
    return path.with_name(f".{path.name}{_GROWS}")


def finish(path: Path) -> None:
    """What grew is whole now. Raises OSError."""
    _replace(unfinished(path), path)


def clear_unfinished(folder: Path) -> None:
    """Throw away what a crash left unfinished there; what still grows is younger than a minute. What cannot be thrown away stays."""
    with contextlib.suppress(OSError):
        for path in folder.glob(f".*{_GROWS}"):
            if time.time() - path.stat().st_mtime > _FORSAKEN_S:
                path.unlink(missing_ok=True)


def _replace(beside: Path, target: Path) -> None:
    """Rename a finished file into its place. Windows refuses while another program has the target open, as a virus
    scanner or a second companion has for a moment: it is tried again for half a second."""
    for left in reversed(range(_TRIES if sys.platform == "win32" else 1)):
        try:
            os.replace(beside, target)
            return
        except PermissionError:
            if not left:
                raise
            time.sleep(_WAIT_S)


# --- a place that the student names


def check_target(path: Path, force: bool) -> None:
    """Raises WriteError, one sentence, where a file cannot or must not be written there, before any work is done for it.

    force: whether an ordinary file that is there may be replaced. A folder, a device, a pipe and a link to nothing never are.
    """
    if reason := unfit(path.name):
        raise WriteError(f"{path} cannot be written: {reason}")
    try:
        if path.is_dir():
            raise WriteError(f"{path} is a folder; expected the name of a file in it")
        if path.is_symlink() and not path.exists():
            raise WriteError(f"{path} is a link to {os.readlink(path)}, which is not there; give another name")
        if path.exists() and not path.is_file():
            raise WriteError(f"{path} is not an ordinary file; expected the name of one")
        if path.exists() and not force:
            raise WriteError(f"{path} is there already; give another name, or --force to replace it")
        if not path.parent.is_dir():
            raise WriteError(f"the folder {path.parent} is not there; make it first, or name another")
        if not os.access(path.parent, os.W_OK):
            raise WriteError(f"the folder {path.parent} may not be written to; name another")
    except (OSError, ValueError) as error:  # ValueError: a null character in the name
        raise _unwritten(path, error) from None


def write_target(path: Path, data: bytes, force: bool) -> None:
    """Write what was made for a place that the student named, whole or not at all. Raises WriteError."""
    check_target(path, force)  # again: something may have come there while we worked
    try:
        write_whole(path, data)
    except (OSError, ValueError) as error:
        raise _unwritten(path, error) from None


def _unwritten(path: Path, error: Exception) -> WriteError:
    return WriteError(f"{path} cannot be written: {getattr(error, 'strerror', None) or error}")
