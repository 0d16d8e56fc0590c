"""`companion import FILE...`: lead sheets from other programs become chart files in the student's folder."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from companion.errors import CompanionError, ExitCode
from companion.importing import import_file
from companion.store.paths import find_paths
from companion.store.settings import load_settings
from companion.store.song_file import add_song


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.add_argument(
        "files", nargs="+", metavar="FILE", help="a lead sheet in MusicXML (.musicxml, .xml, .mxl) or ABC (.abc)"
    )
    parser.add_argument("--tune", default="", metavar="N", help="which tune of a book in ABC: its number or its title")
    parser.add_argument("--to", type=Path, metavar="DIR", help="the folder for the chart; else that of your songs")


def run(options: argparse.Namespace) -> int:
    """Print the path of each chart, and what is to know of it below; FAULT where a sheet could not be read."""
    paths = find_paths()
    settings = load_settings(paths)
    faulty = False
    for name in options.files:
        try:
            result = import_file(name, tune=options.tune)
            path = add_song(result.song, paths, settings, options.to)
        except CompanionError as error:
            faulty = True
            print(error, file=sys.stderr)
            continue
        print(path)
        for note in result.notes:
            print(f"  {note}")
    return ExitCode.FAULT if faulty else ExitCode.OK
