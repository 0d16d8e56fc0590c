"""`companion report`: what was practised of a song, how, and where it stands; for the teacher."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from companion.base.files import check_target, write_target
from companion.cli import arguments
from companion.errors import ExitCode
from companion.reports.report import make_report, report_text
from companion.session.overview import now_here
from companion.store.library import find_song
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import find_paths
from companion.store.settings import load_settings


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.add_argument("song", metavar="SONG", help=arguments.SONG_HELP)
    parser.add_argument(
        "--html", type=Path, metavar="FILE", help="write one HTML page with plots instead, to send or print"
    )
    parser.add_argument("--force", action="store_true", help="with --html: replace a file that is there")


def run(options: argparse.Namespace) -> int:
    """Print the report, or write it as a page. Raises LogError, WriteError."""
    if options.html is not None:
        options.html = options.html.expanduser()
        check_target(options.html, options.force)
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

    write_target(options.html, report_html(report).encode(), options.force)
    print(f"Written to {options.html}")
    return ExitCode.OK
