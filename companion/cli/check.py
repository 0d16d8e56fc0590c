"""`companion check FILE...`: every fault of every file at once."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from companion.base.text import plural
from companion.chart.reader import read_chart
from companion.cli import arguments
from companion.cli.printing import print_aside, print_json
from companion.errors import ChartError, CompanionError, ExitCode
from companion.hands.hand import Hand
from companion.hands.left.solver import solve
from companion.practice.slots import slots_of

NO_CHARTS = "there is no chart file in this folder; expected files that end in .toml"


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="a chart file, or a folder of them")
    parser.epilog = (
        'JSON: {"files": [{"path", "good", "title", "key", "meter", "form", "bars", "faults"}]}, all but the first two null where it is not good. '
        'faults: "line", "section" and "bar", null where the whole is meant, and "message".'
    )
    arguments.add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Name every fault on stderr; FAULT where there is one."""
    _, settings = arguments.paths_and_settings(options)
    files, empty = _files(options.files)
    found = [_row(folder, faults=[_fault(NO_CHARTS)]) for folder in empty]
    if not options.json:
        print_aside(f"{folder}: {NO_CHARTS}" for folder in empty)
    for path in files:
        row, words = _checked(path, settings.hand)
        found.append(row)
        if not options.json:
            print(words, file=sys.stderr if row["faults"] else sys.stdout)
    if options.json:
        print_json({"files": found})
    return ExitCode.FAULT if any(row["faults"] for row in found) else ExitCode.OK


def _checked(path: Path, hand: Hand) -> tuple[dict[str, Any], str]:
    """What there is to say of a file, for a program and for a person."""
    try:
        song = read_chart(path)
        solve(slots_of(song, song.unroll()), hand)
    except ChartError as error:
        faults = [_fault(fault.message, fault.line, fault.section, fault.bar) for fault in error.faults]
        return _row(path, faults=faults), str(error)
    except CompanionError as error:
        return _row(path, faults=[_fault(str(error))]), f"{path}: {error}"
    bars = sum(len(song.sections[name].bars) for name in song.form)
    row = _row(path, song.title, song.key.name, str(song.meter), " ".join(song.form), bars)
    return row, f"{path}: good: {song.title}, {song.key}, {song.meter}, {' '.join(song.form)}, {plural(bars, 'bar')}"


def _row(
    path: Path,
    title: str | None = None,
    key: str | None = None,
    meter: str | None = None,
    form: str | None = None,
    bars: int | None = None,
    *,
    faults: Sequence[dict[str, Any]] = (),
) -> dict[str, Any]:
    good = {"path": str(path), "good": not faults}
    return good | {"title": title, "key": key, "meter": meter, "form": form, "bars": bars, "faults": list(faults)}


def _fault(message: str, line: int = 0, section: str = "", bar: int = 0) -> dict[str, Any]:
    return {"line": line or None, "section": section or None, "bar": bar or None, "message": message}


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
