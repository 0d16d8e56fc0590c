"""`companion today`: what to practise in the minutes there are."""

from __future__ import annotations

import argparse
import textwrap
from typing import Any

from companion.cli import arguments
from companion.cli.printing import print_aside, print_result
from companion.errors import ExitCode
from companion.practice.planning.plan import Plan, plan_to_dict
from companion.practice.planning.today import LEAST_MINUTES, MOST_MINUTES
from companion.session.overview import better_words, now_here, open_log, todays_plan
from companion.session.plan_items import next_item
from companion.store.library import read_songs

_WIDTH = 78

NOTES = """\
JSON: {"day", "made_at", "minutes", "items", "better"}. items: "number" from 1, "head", "kind", "minutes", "words", "song_id", "title", "loop_name", "loop" (bars
of the chorus from 0), "drill", "pattern", "hands", "tempo_bpm" (0 in free time), "passes" that tick it off, "done", "key" ("" for the song's), "layer" (what the right hand lays on top, "" for nothing new),
"listens_first" (it was not heard yet), "since" and "done_at": passes count for it that began between these moments ("": the plan's making; not yet).
"better": what got better, once all is done, in a sentence; else "".
"""


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = NOTES
    minutes = arguments.whole(LEAST_MINUTES, MOST_MINUTES)
    parser.add_argument(
        "--minutes",
        type=minutes,
        metavar="N",
        help="the minutes you have; else those of this day's plan, or of your settings",
    )
    parser.add_argument("--afresh", action="store_true", help="make a new plan in the place of this day's")
    arguments.add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Print the plan of the day."""
    paths, settings = arguments.paths_and_settings(options)
    log, messages = open_log(paths)
    with log:
        songs = read_songs(paths, settings, log.song_ids())
        usual, share = settings.practice.minutes, settings.practice.start_share
        plan = todays_plan(
            log,
            songs,
            options.minutes,
            now_here(),
            options.afresh,
            usual,
            share,
            settings.hand,
            settings.practice.most_loss,
        )
        all_done = bool(plan.items) and all(item.done for item in plan.items)
        better = better_words(log, plan, songs, now_here()) if all_done else ""
    print_aside([*messages, *log.messages])
    print_result(options, lambda: as_json(plan) | {"better": better}, lambda: as_text(plan, better))
    return ExitCode.OK


def as_json(plan: Plan) -> dict[str, Any]:
    """The plan, each item with its number and head."""
    found = plan_to_dict(plan)
    items = [{"number": number, "head": item.head} for number, item in enumerate(plan.items, 1)]
    return found | {"items": [head | item for head, item in zip(items, found["items"], strict=True)]}


def as_text(plan: Plan, better: str = "") -> str:
    """A line a thing to do with its minutes and its tick, and why below it. better: what got better, once all is done."""
    if not plan.items:
        return "There is no song to practise; `companion songs` lists those with faults."
    lines = [f"{plan.minutes} minutes on {plan.day}"]
    for number, item in enumerate(plan.items, 1):
        lines += ["", f"{number} [{'x' if item.done else ' '}] {item.minutes:>2} min  {item.head}"]
        lines.append(textwrap.fill(item.words, _WIDTH, initial_indent=" " * 14, subsequent_indent=" " * 14))
    if (coming := next_item(plan)) is not None:
        lines += ["", f"Begin one: companion practise --today {coming}"]
    elif better:
        lines += ["", f"All done. {better}"]
    return "\n".join(lines)
