"""`companion send SONG FILE`: a song with its lesson, pins, reasons and report in one file, for the teacher or back."""

from __future__ import annotations

import argparse
from pathlib import Path

from companion.base.files import check_target, write_target
from companion.cli import arguments
from companion.cli.printing import print_aside, print_result
from companion.cli.shells import as_text
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
    from companion.reports.envelope import pack
    from companion.reports.html import report_html
    from companion.reports.report import make_report
    from companion.session.overview import now_here
    from companion.session.own import keys_learned, own_stand
    from companion.store.log.practice_log import PracticeLog

    target: Path = options.file.expanduser()
    if target.suffix.lower() != ".zip":
        raise WriteError(f"{target}: expected a name that ends in .zip")
    check_target(target, options.force)
    paths, settings = arguments.paths_and_settings(options)
    song = arguments.wanted_song(options, paths, settings)
    with PracticeLog.open(paths) as log:
        report = make_report(log, song, now_here())
        stand = own_stand(song, settings, paths, keys_learned(log, song))
    print_aside(log.messages)
    write_target(target, pack(song, paths, as_text(stand) + "\n", report_html(report)), options.force)
    print_result(options, lambda: {"file": str(target)}, lambda: str(target))
    return ExitCode.OK
