"""Writing a target: whole or not at all, and never over a file that is there unless that is wanted."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from pathlib import Path

from companion.base.files import replace, unfit
from companion.errors import CompanionError
from companion.export.options import ExportError


def check_place(path: Path, force: bool) -> None:
    """Raises ExportError where a file cannot be written there, before any work is done for it."""
    if reason := unfit(path.name):
        raise ExportError(f"{path} cannot be written: {reason}")
    try:
        if path.is_dir():
            raise ExportError(f"{path} is a folder; expected the name of a file in it")
        if path.exists() and not path.is_file():
            raise ExportError(f"{path} is not an ordinary file; expected the name of one")
        if path.exists() and not force:
            raise ExportError(f"{path} is there already; give another name, or --force to replace it")
        if not path.parent.is_dir():
            raise ExportError(f"the folder {path.parent} is not there; make it first, or name another")
        if not os.access(path.parent, os.W_OK):
            raise ExportError(f"the folder {path.parent} may not be written to; name another")
    except (OSError, ValueError) as error:  # ValueError: a null character in the name
        raise _failed(path, error) from None


def write_whole(path: Path, write: Callable[[Path], None], force: bool) -> None:
    """Let `write` make the file beside its place, then rename it into it. Raises ExportError."""
    check_place(path, force)
    beside = None
    try:
        target = Path(os.path.realpath(path))
        # Writers of sound go by the ending, so it stays.
        beside = target.with_name(f".{target.stem[:40]}.{os.getpid()}.new{target.suffix}")
        beside.touch(exist_ok=False)
        write(beside)
        with open(beside, "rb+") as file:
            os.fsync(file.fileno())
        if path.exists() and not force:  # it came while we worked
            raise ExportError(f"{path} is there already; give another name, or --force to replace it")
        replace(beside, target)
    except CompanionError:
        raise
    except (OSError, ValueError) as error:
        raise _failed(path, error) from None
    finally:
        if beside is not None:
            with contextlib.suppress(OSError):  # Windows keeps a file that a writer that failed still has open
                beside.unlink(missing_ok=True)


def _failed(path: Path, error: Exception) -> ExportError:
    reason = getattr(error, "strerror", None) or str(error)
    return ExportError(f"{path} cannot be written: {reason}")
