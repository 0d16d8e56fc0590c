"""`companion songs`: the list of songs."""

from __future__ import annotations

import argparse
import json
import sys

from companion.errors import ExitCode
from companion.practice.planning.difficulty import difficulty_words
from companion.store.library import SONG_ORDERS, in_order, list_songs, start_here
from companion.store.paths import Paths, find_paths
from companion.store.settings import load_settings


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.add_argument("--order", choices=SONG_ORDERS, help="which songs come first; else as your settings say")
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")


def run(options: argparse.Namespace) -> int:
    """Print a line a song; files with faults are named on stderr."""
    paths = find_paths()
    entries = list_songs(paths, load_settings(paths))
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
        print(json.dumps(rows, ensure_ascii=False, indent=1))
    else:
        width = max((len(entry.title) for entry in good), default=0)
        ids = max((len(entry.id) for entry in good), default=0)
        words = {entry.id: difficulty_words(entry.changes, entry.shells) for entry in good}
        hard = max(map(len, words.values()), default=0)
        for entry in good:
            print(
                f"{entry.title:<{width}}  {words[entry.id]:<{hard}}  {entry.key:<4} {entry.meter:<5} {entry.tempo_bpm:>4g}  "
                f"{entry.feel:<8} {entry.bars:>3} bars  {entry.id:<{ids}}  {' '.join(entry.form)}"
                f"{'  (yours)' if entry.own else ''}{'  start here' if entry is first else ''}"
            )
    for entry in entries:
        if entry.fault:
            print(entry.fault, file=sys.stderr)
    return ExitCode.OK


def _is_new(paths: Paths) -> bool:
    """Whether nothing was ever played. Looking makes no log."""
    if not paths.log.exists():
        return True
    from companion.session.overview import open_log  # sqlite3

    log, messages = open_log(paths)
    with log:
        is_new = not log.count()
    for message in dict.fromkeys([*messages, *log.messages]):
        print(message, file=sys.stderr)
    return is_new
