"""A folder shown by the system's own file manager. It may take seconds: not for the screen's thread."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

_WAIT_S = 5.0  # an opener that goes on longer has found something to open with


def open_folder(folder: Path, environ: Mapping[str, str] = os.environ, platform: str = sys.platform) -> str:
    """Show a folder. A sentence where that cannot be, else ""."""
    cannot = f"No file manager opens here. The folder is {folder}"
    if not folder.is_dir():
        return f"{folder} is not there yet: nothing was exported into it."
    if platform == "win32":
        try:
            os.startfile(folder)  # type: ignore[attr-defined,unused-ignore]
        except OSError:
            return cannot
        return ""
    if platform == "darwin":
        opener = "open"
    elif environ.get("DISPLAY") or environ.get("WAYLAND_DISPLAY"):
        opener = "xdg-open"
    else:  # without a desktop xdg-open starts a browser for the terminal, on top of what is there
        return cannot
    silent = subprocess.DEVNULL
    try:
        process = subprocess.Popen(
            [opener, str(folder)], stdin=silent, stdout=silent, stderr=silent, start_new_session=True, env=dict(environ)
        )
    except OSError:
        return cannot
    try:
        return cannot if process.wait(_WAIT_S) else ""
    except subprocess.TimeoutExpired:
        return ""
