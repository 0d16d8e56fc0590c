"""`companion songs`: the list of songs."""

from __future__ import annotations

import argparse

from companion.cli import arguments
from companion.cli.printing import print_aside, print_json
from companion.errors import ExitCode
from companion.practice.planning.difficulty import difficulty_words
from companion.store.library import SONG_ORDERS, in_order, list_songs, start_here
from companion.store.paths import Paths

NOTES = """\
JSON: [{"id", "title", "key", "meter", "tempo", "feel", "form", "bars", "changes_a_minute", "shells", "start_here"}]; shells: how many different
ones there are.
"""


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = NOTES
    parser.add_argument("--order", choices=SONG_ORDERS, help="which songs come first; else as your settings say")
    arguments.add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Print a line a song; files with faults are named on stderr."""
    paths, settings = arguments.paths_and_settings(options)
    entries = list_songs(paths, settings)
    if options.order:
        entries = in_order(entries, options.order)
    good = [entry for entry in entries if not entry.fault]
    first = start_here(good) if _is_new(paths) else None
    if options.json:
        rows = [
            {
                "id": entry.id,
                "title": entry.title,
                "key": entry.key,
                "meter": entry.meter,
                "tempo": entry.tempo_bpm,
                "feel": entry.feel,
                "form": " ".join(entry.form),
                "bars": entry.bars,
                "changes_a_minute": round(entry.changes, 3),
                "shells": entry.shells,
                "start_here": entry is first,
            }
            for entry in good
        ]
        print_json(rows)
    else:
        width = max((len(entry.title) for entry in good), default=0)
        ids = max((len(entry.id) for entry in good), default=0)
        words = {entry.id: difficulty_words(entry.changes, entry.shells) for entry in good}
        hard = max(map(len, words.values()), default=0)
        for entry in good:
            print(
                f"{entry.title:<{width}}  {words[entry.id]:<{hard}}  {entry.key:<4} {entry.meter:<5} {entry.tempo_bpm:>4g}  "
                f"{entry.feel:<8} {entry.bars:>3} {'bar' if entry.bars == 1 else 'bars':<4}  {entry.id:<{ids}}  {' '.join(entry.form)}"
                f"{'  (yours)' if entry.own else ''}{'  start here' if entry is first else ''}"
            )
    print_aside(entry.fault for entry in entries if entry.fault)
    return ExitCode.OK


def _is_new(paths: Paths) -> bool:
    """Whether nothing was ever played."""
    return arguments.from_log(paths, lambda log: not log.count(), True)
