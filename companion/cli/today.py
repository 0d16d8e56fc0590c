"""`companion today`: what to practise in the minutes there are."""

from __future__ import annotations

import argparse
import json
import sys
import textwrap

from companion.cli import arguments
from companion.errors import ExitCode
from companion.practice.planning.plan import Plan, plan_to_dict
from companion.practice.planning.today import LEAST_MINUTES, MOST_MINUTES
from companion.session.overview import now_here, open_log, todays_plan
from companion.store.library import read_songs
from companion.store.paths import find_paths
from companion.store.settings import load_settings

_WIDTH = 78


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    minutes = arguments.whole(LEAST_MINUTES, MOST_MINUTES)
    parser.add_argument(
        "--minutes",
        type=minutes,
        metavar="N",
        help="the minutes you have; else those of this day's plan, or of your settings",
    )
    parser.add_argument("--afresh", action="store_true", help="make a new plan in the place of this day's")
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")


def run(options: argparse.Namespace) -> int:
    """Print the plan of the day."""
    paths = find_paths()
    log, messages = open_log(paths)
    with log:
        settings = load_settings(paths)
        songs = read_songs(paths, settings, log.song_ids())
        usual, share = settings.practice.minutes, settings.practice.start_share
        plan = todays_plan(log, songs, options.minutes, now_here(), options.afresh, usual, share, settings.hand)
    for message in dict.fromkeys([*messages, *log.messages]):
        print(message, file=sys.stderr)
    print(json.dumps(plan_to_dict(plan), ensure_ascii=False, indent=1) if options.json else as_text(plan))
    return ExitCode.OK


def as_text(plan: Plan) -> str:
    """A line a thing to do with its minutes and its tick, and why below it."""
    if not plan.items:
        return "There is no song to practise; `companion songs` lists those with faults."
    lines = [f"{plan.minutes} minutes on {plan.day}"]
    for number, item in enumerate(plan.items, 1):
        lines += ["", f"{number} [{'x' if item.done else ' '}] {item.minutes:>2} min  {item.head}"]
        lines.append(textwrap.fill(item.words, _WIDTH, initial_indent=" " * 14, subsequent_indent=" " * 14))
    return "\n".join(lines)
