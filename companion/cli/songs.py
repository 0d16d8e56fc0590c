"""`companion songs`: the list of songs."""

from __future__ import annotations

import argparse
import json
import sys

from companion.errors import ExitCode
from companion.store.library import list_songs
from companion.store.paths import find_paths
from companion.store.settings import load_settings


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")


def run(options: argparse.Namespace) -> int:
    """Print a line a song; files with faults are named on stderr."""
    paths = find_paths()
    entries = list_songs(paths, load_settings(paths))
    good = [entry for entry in entries if not entry.fault]
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
            }
            for entry in good
        ]
        print(json.dumps(rows, ensure_ascii=False, indent=1))
    else:
        width = max((len(entry.title) for entry in good), default=0)
        ids = max((len(entry.id) for entry in good), default=0)
        for entry in good:
            print(
                f"{entry.title:<{width}}  {entry.key:<4} {entry.meter:<5} {entry.tempo_bpm:>4g}  {entry.feel:<8}"
                f" {entry.bars:>3} bars  {entry.id:<{ids}}  {' '.join(entry.form)}{'  (yours)' if entry.own else ''}"
            )
    for entry in entries:
        if entry.fault:
            print(entry.fault, file=sys.stderr)
    return ExitCode.OK
