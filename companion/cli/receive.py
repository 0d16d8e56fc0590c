"""`companion receive FILE`: a song that `companion send` wrote comes in as a new one, with all that came along."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli import arguments
from companion.cli.printing import print_result
from companion.errors import ExitCode

if TYPE_CHECKING:
    from companion.reports.envelope import Received


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = (
        "Nothing of yours is replaced: a song whose name is taken is numbered. The report and the reasons for the shells stay in the "
        'file, which any computer opens. JSON: {"chart", "id", "title", "steps", "pins", "own"}; pins: how many shells came along; own: whether swing, '
        "fingers and the like did."
    )
    arguments.add_json(parser)
    parser.add_argument("file", type=Path, metavar="FILE", help="a file that `companion send` wrote")


def run(options: argparse.Namespace) -> int:
    """Print the path of the new chart and what came along. Raises SheetError and ChartError."""
    from companion.reports.envelope import receive

    paths, settings = arguments.paths_and_settings(options)
    got = receive(options.file.expanduser(), paths, settings)
    print_result(
        options,
        lambda: as_json(got),
        lambda: "\n".join(filter(None, (str(got.path), got.came_along and f"  {got.came_along}"))),
    )
    return ExitCode.OK


def as_json(got: Received) -> dict[str, Any]:
    """As `--help` says."""
    lesson = got.song.lesson
    return {
        "chart": str(got.path),
        "id": got.path.stem,
        "title": got.song.title,
        "steps": len(lesson.steps) if lesson else 0,
        "pins": got.pins,
        "own": got.own,
    }
