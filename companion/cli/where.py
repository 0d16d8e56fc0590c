"""`companion where`: every path in use."""

from __future__ import annotations

import argparse
import os

from companion.errors import ExitCode
from companion.store.library import song_folders
from companion.store.paths import find_paths
from companion.store.settings import load_settings


def configure(parser: argparse.ArgumentParser) -> None:
    """The command takes nothing."""


def run(options: argparse.Namespace) -> int:
    """Print a line a path, and which are not there yet."""
    paths = find_paths()
    rows = [
        ("settings", paths.settings),
        ("pins", paths.pins),
        ("your songs", song_folders(paths, load_settings(paths))[0]),
        ("remembered", paths.data),
        ("practice log", paths.log),
        ("made your own", paths.own),
        ("drafts", paths.drafts),
        ("exports", paths.exports),
        ("spoken names", paths.speech),
        ("sound faults", paths.sound_faults),
        ("shipped songs", paths.shipped_songs),
        ("shipped settings", paths.shipped_settings),
    ]
    for words, path in rows:
        print(f"{words:<17} {path}{'' if os.path.exists(path) else '  (not there yet)'}")
    return ExitCode.OK
