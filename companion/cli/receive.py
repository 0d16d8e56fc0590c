"""`companion receive FILE`: a song that `companion send` wrote comes in as a new one, with all that came along."""

from __future__ import annotations

import argparse
from pathlib import Path

from companion.base.text import plural
from companion.errors import ExitCode
from companion.store.paths import find_paths
from companion.store.settings import load_settings


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = (
        "Nothing of yours is replaced: a song whose name is taken is numbered. The report and the reasons for the shells stay in the "
        "file, which any computer opens."
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="a file that `companion send` wrote")


def run(options: argparse.Namespace) -> int:
    """Print the path of the new chart and what came along. Raises SheetError and ChartError."""
    from companion.reports.envelope import receive

    paths = find_paths()
    got = receive(options.file.expanduser(), paths, load_settings(paths))
    print(got.path)
    steps = len(got.song.lesson.steps) if got.song.lesson else 0
    parts = [
        plural(steps, "step") + " of a lesson" if steps else "",
        plural(got.pins, "shell") + " of their own choice" if got.pins else "",
        "their swing, fingers and the like" if got.own else "",
    ]
    if any(parts):
        print(f"  with {', '.join(filter(None, parts))}")
    return ExitCode.OK
