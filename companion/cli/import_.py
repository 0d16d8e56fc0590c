"""`companion import FILE...`: lead sheets from other programs become chart files in the student's folder."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from companion.cli import arguments
from companion.cli.printing import print_json
from companion.errors import CompanionError, ExitCode
from companion.importing import import_file
from companion.store.song_file import add_song


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.add_argument(
        "files", nargs="+", metavar="FILE", help="a lead sheet in MusicXML (.musicxml, .xml, .mxl) or ABC (.abc)"
    )
    parser.add_argument("--tune", default="", metavar="N", help="which tune of a book in ABC: its number or its title")
    parser.epilog = 'JSON: {"charts": [{"file", "chart", "title", "notes"}], "faults": [{"file", "message"}]}, faults of what could not be read.'
    arguments.add_json(parser)
    parser.add_argument("--to", type=Path, metavar="DIR", help="the folder for the chart; else that of your songs")


def run(options: argparse.Namespace) -> int:
    """Print the path of each chart, and what is to know of it below; FAULT where a sheet could not be read."""
    paths, settings = arguments.paths_and_settings(options)
    charts: list[dict[str, Any]] = []
    faults: list[dict[str, str]] = []
    for name in options.files:
        try:
            result = import_file(name, tune=options.tune)
            path = add_song(result.song, paths, settings, options.to)
        except CompanionError as error:
            faults.append({"file": name, "message": str(error)})
            if not options.json:
                print(error, file=sys.stderr)
            continue
        charts.append({"file": name, "chart": str(path), "title": result.song.title, "notes": list(result.notes)})
        if not options.json:
            print("\n".join([str(path), *(f"  {note}" for note in result.notes)]))
    if options.json:
        print_json({"charts": charts, "faults": faults})
    return ExitCode.FAULT if faults else ExitCode.OK
