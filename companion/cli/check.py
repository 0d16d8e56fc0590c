"""`companion check FILE...`: every fault of every file at once."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from companion.chart.reader import read_chart
from companion.errors import ChartError, CompanionError, ExitCode
from companion.hands.left.solver import solve
from companion.practice.slots import slots_of
from companion.store.paths import find_paths
from companion.store.settings import load_settings


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="a chart file, or a folder of them")


def run(options: argparse.Namespace) -> int:
    """Name every fault on stderr; FAULT where there is one."""
    hand = load_settings(find_paths()).hand
    files, empty = _files(options.files)
    for folder in empty:
        print(f"{folder}: there is no chart file in this folder; expected files that end in .toml", file=sys.stderr)
    faulty = len(empty)
    for path in files:
        try:
            song = read_chart(path)
            solve(slots_of(song, song.unroll()), hand)
        except ChartError as error:
            faulty += 1
            print(error, file=sys.stderr)
        except CompanionError as error:
            faulty += 1
            print(f"{path}: {error}", file=sys.stderr)
        else:
            bars = sum(len(song.sections[name].bars) for name in song.form)
            print(f"{path}: good: {song.title}, {song.key}, {song.meter}, {' '.join(song.form)}, {bars} bars")
    return ExitCode.FAULT if faulty else ExitCode.OK


def _files(names: list[str]) -> tuple[list[Path], list[Path]]:
    """The files to check, folders standing for the chart files in them; and the folders without any."""
    files: list[Path] = []
    empty: list[Path] = []
    for path in map(Path, names):
        found = sorted(path.glob("*.toml")) if path.is_dir() else [path]
        files += found
        if not found:
            empty.append(path)
    return files, empty
