"""Reading the student's small files without being led astray by what lies in their place; writing one so that a crash leaves
either the old one or the new one, never half of each."""

from __future__ import annotations

import errno
import os
import stat
import tempfile
from pathlib import Path

from companion.base.files import replace

MOST_BYTES = 1_000_000  # no file of settings or pins comes near


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


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 text beside `path` and rename it into place; folders are made. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        replace(beside, path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise
