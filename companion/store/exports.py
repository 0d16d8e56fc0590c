"""Where exports land: where the student says, else the folder the companion was started in, else among their music or documents."""

from __future__ import annotations

import os
from pathlib import Path

from companion.store.paths import Paths
from companion.store.settings import Settings


def started_in() -> Path | None:
    """The folder the program was started in; None where it is gone."""
    try:
        return Path.cwd()
    except OSError:
        return None


def export_folder(paths: Paths, settings: Settings, started: Path | None) -> Path:
    """The folder of exports; it may not be there yet. started: the folder the companion was started in. Who starts it from a menu is in the home folder or at
    the top of the disk, and in the program's own folders nobody looks: none of these is taken."""
    if settings.exports_folder is not None:
        return settings.exports_folder
    if started is not None and _is_a_place(started, paths):
        return started
    return paths.exports


def _is_a_place(folder: Path, paths: Paths) -> bool:
    ours = (paths.data, paths.settings.parent, paths.shipped_songs, paths.shipped_settings.parent)
    if folder in (Path(folder.anchor), Path(os.path.expanduser("~"))):
        return False
    return os.access(folder, os.W_OK | os.X_OK) and not any(folder.is_relative_to(each) for each in ours)
