"""`companion where`: every path in use."""

from __future__ import annotations

import argparse
import os

from companion.cli import arguments
from companion.cli.printing import print_result
from companion.errors import ExitCode
from companion.store.exports import export_folder, started_in
from companion.store.library import song_folders


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = 'JSON: [{"what", "path", "there"}].'
    arguments.add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Print a line a path, and which are not there yet."""
    paths, settings = arguments.paths_and_settings(options)
    rows = [
        ("settings", paths.settings),
        ("pins", paths.pins),
        ("your songs", song_folders(paths, settings)[0]),
        ("remembered", paths.data),
        ("practice log", paths.log),
        ("made your own", paths.own),
        ("drafts", paths.drafts),
        ("performances", paths.performances),
        ("exports", export_folder(paths, settings, started_in())),
        ("spoken names", paths.speech),
        ("notes made", paths.notes),
        ("learned pianos", paths.pianos),
        ("sound faults", paths.sound_faults),
        ("shipped songs", paths.shipped_songs),
        ("shipped settings", paths.shipped_settings),
    ]
    there = [os.path.exists(path) for _, path in rows]
    print_result(
        options,
        lambda: [{"what": words, "path": str(path), "there": is_there} for (words, path), is_there in zip(rows, there)],
        lambda: "\n".join(
            f"{words:<17} {path}{'' if is_there else '  (not there yet)'}"
            for (words, path), is_there in zip(rows, there)
        ),
    )
    return ExitCode.OK
