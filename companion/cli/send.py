"""`companion send SONG FILE`: a song with its lesson, pins, reasons and report in one file, for the teacher or back."""

from __future__ import annotations

import argparse
from pathlib import Path

from companion.base.files import check_target, write_target
from companion.cli import arguments
from companion.cli.printing import print_aside, print_result
from companion.errors import ExitCode, WriteError


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = (
        "In the file, which any computer opens: the chart with its lesson, your own shells and whatever else you made your own "
        'of it, the left hand with the reason for each shell, and the report. `companion receive FILE` takes it in. JSON: {"file"}.'
    )
    arguments.add_song(parser)
    parser.add_argument("file", type=Path, metavar="FILE", help="the file to write; its name ends in .zip")
    arguments.add_json(parser)
    parser.add_argument("--force", action="store_true", help="replace a file that is there")


def run(options: argparse.Namespace) -> int:
    """Write the file. Raises WriteError, LogError, SettingsError and what reading the song raises."""
    from companion.reports.sending import ENDING, song_to_send
    from companion.session.overview import now_here
    from companion.store.log.practice_log import PracticeLog

    target: Path = options.file.expanduser()
    if target.suffix.lower() != ENDING:
        raise WriteError(f"{target}: expected a name that ends in {ENDING}")
    check_target(target, options.force)
    paths, settings = arguments.paths_and_settings(options)
    song = arguments.wanted_song(options, paths, settings)
    with PracticeLog.open(paths) as log:
        data = song_to_send(song, paths, settings, log, now_here())
    print_aside(log.messages)
    write_target(target, data, options.force)
    print_result(options, lambda: {"file": str(target)}, lambda: str(target))
    return ExitCode.OK
