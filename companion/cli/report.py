"""`companion report`: what was practised of a song, how, and where it stands; for the teacher."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from companion.base.files import check_target, write_target
from companion.cli import arguments
from companion.cli.printing import print_aside, print_result
from companion.errors import ExitCode
from companion.practice.planning.lessons import step_words
from companion.reports.report import HandReport, Report, make_report, report_text
from companion.session.overview import now_here
from companion.store.log.practice_log import PracticeLog

NOTES = """\
JSON: {"song", "title", "made_at", "hands", "chords", "names", "has_lesson", "steps"}; with --html {"file"}. hands: for each pair "hands", "standing" in a
sentence, "best", "target" and "settled" in beats a minute (null where there is none), "minutes", "news", "how" and "changes" in words,
"bars" and "days". bars: "section", "bar", "symbols", "memory" and "tempo": shares right of late without cues and at the target, null where
it was not played so, "slips" of so many "tries", "costly": the chord from 0 that ends the change that costs most, or null. days: "day",
"minutes", "passes", "clean", "best". chords: what is known of them in root position, names: of their shells when a name is seen for a moment, in sentences. steps: "number", "words", "done", "clean".
"""


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = NOTES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    arguments.add_song(parser)
    parser.add_argument(
        "--html", type=Path, metavar="FILE", help="write one HTML page with plots instead, to send or print"
    )
    arguments.add_json(parser)
    parser.add_argument("--force", action="store_true", help="with --html: replace a file that is there")


def run(options: argparse.Namespace) -> int:
    """Print the report, or write it as a page. Raises LogError, WriteError."""
    if options.html is not None:
        options.html = options.html.expanduser()
        check_target(options.html, options.force)
    paths, settings = arguments.paths_and_settings(options)
    song = arguments.wanted_song(options, paths, settings)
    with PracticeLog.open(paths) as log:
        report = make_report(log, song, now_here())
    print_aside(log.messages)
    if options.html is None:
        print_result(options, lambda: as_json(report), lambda: report_text(report).rstrip("\n"))
        return ExitCode.OK
    from companion.reports.html import report_html

    write_target(options.html, report_html(report).encode(), options.force)
    print_result(options, lambda: {"file": str(options.html)}, lambda: f"Written to {options.html}")
    return ExitCode.OK


def as_json(report: Report) -> dict[str, Any]:
    """As NOTES says."""
    return {
        "song": report.song.id,
        "title": report.song.title,
        "made_at": report.made_at.isoformat(timespec="seconds"),
        "hands": [_hand_json(hand) for hand in report.hands],
        "chords": list(report.chords),
        "names": list(report.names),
        "has_lesson": report.has_lesson,
        "steps": [
            {
                "number": state.number,
                "words": step_words(state.step, report.song),
                "done": state.done,
                "clean": state.clean,
            }
            for state in report.steps
        ],
    }


def _hand_json(hand: HandReport) -> dict[str, Any]:
    progress = hand.progress
    return {
        "hands": progress.hands,
        "standing": hand.standing,
        "best": progress.best_bpm,
        "target": progress.target_bpm,
        "settled": progress.working_bpm,
        "minutes": round(progress.minutes, 1),
        "news": list(progress.news),
        "bars": [
            {
                "section": bar.section,
                "bar": bar.bar,
                "symbols": list(bar.symbols),
                "memory": _share(bar.memory),
                "tempo": _share(bar.tempo),
                "slips": bar.slips,
                "tries": bar.tries,
                "costly": bar.costly,
            }
            for bar in progress.chart
        ],
        "changes": [change.words for change in progress.changes],
        "how": list(hand.how),
        "days": [
            {
                "day": day.day,
                "minutes": round(day.seconds / 60, 1),
                "passes": day.passes,
                "clean": day.clean,
                "best": day.best_bpm,
            }
            for day in progress.days
        ],
    }


def _share(share: float | None) -> float | None:
    return None if share is None else round(share, 4)
