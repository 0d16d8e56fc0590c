"""Lead sheets in other formats -> songs: MusicXML (.musicxml, .xml, .mxl) and ABC (.abc).

`import_file` is all that other rooms need. A file from outside is looked through first (guard.py); MusicXML is then read
in a child process with a time-out and, where the system has it, a limit of memory, because the library that reads it
builds a large model of even a small file. The chart that comes back is text, read by the reader of charts like any other.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from companion.base.text import plain
from companion.chart.model import Song
from companion.chart.reader import parse_chart
from companion.chart.writer import write_chart
from companion.errors import ChartError, SheetError
from companion.importing.abc import read_abc
from companion.importing.compose import compose
from companion.importing.guard import decode_abc, read_file
from companion.importing.tune_book import Tune, tunes_of

# What else people have -> what to do instead; no reader of these gives chords and form.
_ELSEWHERE = {
    (".mid", ".midi", ".kar"): "a MIDI file has neither chord symbols nor form; open it in a program for notation, write the "
    "chords above it and save it as MusicXML",
    (".pdf",): "a PDF is a picture of a sheet; save the sheet as MusicXML in the program that it comes from, or write its chords by hand (F6 in the app's list of songs)",
    (".png", ".jpg", ".jpeg", ".gif", ".bmp", ".tif", ".tiff", ".webp", ".heic", ".svg"): "a picture cannot be read; save the sheet as MusicXML "
    "in the program that it comes from, or write its chords by hand (F6 in the app's list of songs)",
    (".mp3", ".wav", ".flac", ".ogg", ".m4a", ".aac"): "a recording holds no sheet; write its chords by hand (F6 in the app's list of songs), or look for the tune in MusicXML or ABC",
    (".zip",): "a song that was sent to you is taken in by: companion receive FILE",
    (".toml",): "this is a chart file already; put it into the folder of your songs, which `companion where` names",
}  # fmt: skip
XML_ENDINGS = (".musicxml", ".xml", ".mxl")
ABC_ENDINGS = (".abc",)
TIME_OUT_S = 60.0  # a lead sheet takes one to three seconds, most of them imports
# What the child says in one word -> what the person is told.
INSTALL = "MusicXML is read with the library music21, which is missing; install it with: pip install 'shell-companion[sheets]'"


@dataclass(frozen=True, slots=True)
class ImportResult:
    """song: readable by `parse_chart` once written. notes: what was not understood or had to be chosen, most of them by
    bar ("bar 3: ..."), in the order of the file."""

    song: Song
    notes: tuple[str, ...]


def why_not(path: Path) -> str:
    """Why a file of this ending cannot be read and what to do instead, "" for one that can."""
    ending = path.suffix.lower()
    if ending in XML_ENDINGS + ABC_ENDINGS:
        return ""
    instead = (words for endings, words in _ELSEWHERE.items() if ending in endings)
    return next(instead, "expected a file that ends in .musicxml, .xml, .mxl or .abc")


def tunes_in(path: Path) -> list[Tune]:
    """The tunes that a file offers to choose from: those of a tune book in ABC, else none. Raises SheetError."""
    if path.suffix.lower() not in ABC_ENDINGS:
        return []
    tunes = tunes_of(decode_abc(read_file(path)))
    return tunes if len(tunes) > 1 else []


def import_file(path: str | os.PathLike[str], time_out_s: float = TIME_OUT_S, tune: str = "") -> ImportResult:
    """The song in a lead sheet of another format. tune: number or title in a tune book, "" for its first.

    Raises SheetError, one sentence that names the file.
    """
    path = Path(path)
    try:
        kind = path.suffix.lower()
        if kind in ABC_ENDINGS:
            sheet = read_abc(decode_abc(read_file(path)), tune)
            song = compose(sheet, path.stem)
            return _checked(write_chart(song), song.id, tuple(sheet.remarks))
        if kind in XML_ENDINGS:
            return _from_child(read_file(path), path.stem, time_out_s)
        raise SheetError(why_not(path))
    except SheetError as error:
        raise SheetError(f"{plain(str(path))}: {error}") from None


def _from_child(data: bytes, stem: str, time_out_s: float) -> ImportResult:
    """Hand the bytes to a process of their own and take the chart it makes of them."""
    folder = str(Path(__file__).resolve().parents[3])
    environ = os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, (os.environ.get("PYTHONPATH", ""), folder)))}
    try:
        done = subprocess.run(
            # -P: a file called json.py in the folder one stands in must not be run.
            [sys.executable, "-P", "-m", "companion.importing.child", stem],
            input=data,
            capture_output=True,
            env=environ,
            timeout=time_out_s,
            check=False,
        )
        answer = json.loads(done.stdout.decode("utf-8").rpartition("\n")[2])
    except subprocess.TimeoutExpired:
        raise SheetError(
            f"reading it took longer than {time_out_s:g} seconds; expected the lead sheet of one tune"
        ) from None
    except OSError as error:
        raise SheetError(f"the program that reads it cannot be started ({error.strerror or error})") from None
    except ValueError:  # the child died before it answered
        raise SheetError("reading it took more memory or time than a lead sheet needs; expected one tune") from None
    if "fault" in answer:
        raise SheetError(INSTALL if answer["fault"] == "no music21" else answer["fault"])
    return _checked(answer["chart"], answer["id"], tuple(answer["notes"]))


def _checked(chart: str, id: str, notes: tuple[str, ...]) -> ImportResult:
    try:
        return ImportResult(parse_chart(chart, id=id), notes)
    except ChartError as error:
        raise SheetError(f"the tune does not fit into a chart: {error.faults[0].message}") from None
