"""Writing a file so that a crash leaves either the old one or the new one, never half of each."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from companion.chart.files import replace


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
