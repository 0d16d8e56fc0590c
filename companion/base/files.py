"""Names and places of files that hold on every system."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

# Names that Windows keeps for devices, with any ending (Microsoft, "Naming Files, Paths, and Namespaces").
_PORTS = tuple(f"{port}{digit}" for port in ("com", "lpt") for digit in "123456789¹²³")
_DEVICES = frozenset(("con", "prn", "aux", "nul", "conin$", "conout$", *_PORTS))
_BARRED = frozenset('<>:"|?*')  # the same source; slashes part folders
_TRIES, _WAIT_S = 20, 0.025


def replace(beside: Path | str, target: Path | str) -> None:
    """Rename a finished file into its place, where it replaces what stood there. Raises OSError.

    Windows refuses while another program has the target open, as a virus scanner or a second companion has for a
    moment: it is tried again for half a second.
    """
    for _ in range(_TRIES if sys.platform == "win32" else 1):
        try:
            os.replace(beside, target)
            return
        except PermissionError as error:
            refused = error
            if sys.platform == "win32":
                time.sleep(_WAIT_S)
    raise refused


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
