"""`companion report`: what was practised of a song, how, and where it stands; for the teacher."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from companion.base.text_files import write_text
from companion.cli import arguments
from companion.errors import ExitCode, LogError
from companion.reports.report import make_report, report_text
from companion.session.overview import now_here
from companion.store.library import find_song
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import find_paths
from companion.store.settings import load_settings


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("song", metavar="SONG", help=arguments.SONG_HELP)
    parser.add_argument(
        "--html", type=Path, metavar="FILE", help="write one HTML page with plots instead, to send or print"
    )


def run(options: argparse.Namespace) -> int:
    paths = find_paths()
    song = find_song(options.song, paths, load_settings(paths))
    with PracticeLog.open(paths) as log:
        report = make_report(log, song, now_here())
    for message in log.messages:
        print(message, file=sys.stderr)
    if options.html is None:
        print(report_text(report), end="")
        return ExitCode.OK
    from companion.reports.html import report_html

    try:
        write_text(Path(os.path.expanduser(options.html)), report_html(report))
    except OSError as error:
        raise LogError(f"{options.html}: the report cannot be written: {error.strerror}.") from error
    print(f"Written to {options.html}")
    return ExitCode.OK
