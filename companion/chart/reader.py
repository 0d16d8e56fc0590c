"""Reading a chart file: TOML, one song a file.

    title = "Ferry at Half Past Six"
    key = "Bb"                     # Bb, F#m, G minor
    meter = "4/4"
    tempo = 126                    # the target, in pulses a minute; 120 where it is not given
    feel = "swing"                 # or "straight"; swing where it is not given
    form = "A A B A"               # section names in playing order; left out: the sections as they stand in the file
    pickup = 1                     # beats before the first bar, such as 1, 1.5 or "3/2"

    [section.A]                    # a name starts with a letter; then letters, digits, ', - and _
    bars = \"\"\" ... \"\"\"             # the grammar of the bars stands at the head of bars.py
    meter = "3/4"                  # its own, where it differs from the song's
    key = "Eb"                     # likewise
    melody = \"\"\" ... \"\"\"           # its grammar, ABC's notes and lengths, stands at the head of melody.py
    pickup = 1                     # its own: beats in the bar before it that belong to it, each time it comes
    pickup_chords = "D7"           # the chords in its pickup, or in the song's

    [shells]                       # pins: section.bar.chord, counted from 1
    "A.1.1" = "root-fifth"

First and second endings are sections of their own: form = "A End1 A End2 B A End2". A [lesson] may follow: notes and
steps of a teacher; its grammar stands at the head of lesson.py.

A file is read to its end whatever is wrong with it: the ChartError carries every fault, in the order of the lines.
Only a file that is not TOML at all stops at its first fault.
"""

from __future__ import annotations

import os
import re
import stat
import tomllib
from functools import lru_cache
from pathlib import Path

from companion.base.text import is_printable, plain
from companion.chart.bars import read_bars
from companion.chart.fields import LONGEST_TITLE, FieldReader
from companion.chart.model import Bar, Section, Song
from companion.chart.source_map import SourceMap
from companion.chart.values import DEFAULT_METER, DEFAULT_TEMPO_BPM
from companion.errors import ChartError, Fault
from companion.theory.key import Key
from companion.theory.meter import Meter
from companion.theory.pitch import Tone

MOST_BYTES = 250_000  # a long song with its melody has 10,000
# tomllib takes time that grows with the square of a dotted key's length; no line of a chart is this long.
LONGEST_LINE = 1000

_TOO_LARGE = f"the file is larger than {MOST_BYTES // 1000} kB; expected the chart of one song"
_TOML_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
# What tomllib says, by its first words -> the same for someone who never heard of TOML.
_TOML_HINTS = {
    "Invalid value": 'the value is not understood; words stand in quotes, as in key = "Bb"',
    "Expected '=' after a key": 'expected = and a value after the name, as in key = "Bb"',
    "Expected newline or end of document": "something stands behind the value; expected one name and one value a line",
    "Cannot overwrite a value": "this name was given a value before; expected every name once",
    "Cannot declare": "this table was opened before; expected every section once",
    "Illegal character '\\n'": "a text is not closed on its line; expected the same quotes at its end as at its start",
    "Unterminated string": "a text is not closed; expected the same quotes at its end as at its start",
    "Expected \"'''\"": "a text is not closed; expected ''' at its end",
    'Expected \'"""\'': 'a text is not closed; expected """ at its end',
}


def read_chart(path: str | os.PathLike[str]) -> Song:
    """The song in a chart file; its id is the file's stem. Raises ChartError, also where the file cannot be read."""
    path = Path(path)
    shown = plain(str(path))
    try:
        mode = path.stat().st_mode
        if not stat.S_ISREG(mode):
            what = "a folder" if stat.S_ISDIR(mode) else "not an ordinary file"
            raise _one_fault(shown, f"this is {what}; expected a chart file such as my-tune.toml")
        if not all(map(is_printable, path.stem)):  # it is the song's id, which goes onto the screen and into the log
            raise _one_fault(shown, "the file's name has signs that cannot be printed; rename it, such as my-tune.toml")
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise _one_fault(shown, "there is no such file; expected a chart file such as my-tune.toml") from None
    except (OSError, ValueError) as error:  # ValueError: a path with a null character
        reason = getattr(error, "strerror", None) or str(error)
        raise _one_fault(shown, f"the file cannot be read ({reason}); expected a chart file") from None
    if len(data) > MOST_BYTES:
        raise _one_fault(shown, _TOO_LARGE)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise _one_fault(shown, "the file is not plain UTF-8 text; save it as UTF-8", line) from None
    return _read_before(text, str(path), path.stem)


@lru_cache(maxsize=128)
def _read_before(text: str, path: str, id: str) -> Song:
    """Of a text that was read before the same song, which is never changed: each plan and page of progress asks for all of them."""
    return parse_chart(text, path=path, id=id)


def parse_chart(text: str, path: str = "", id: str = "") -> Song:
    """The song in the text of a chart file. Raises ChartError with every fault found."""
    shown = plain(path) or "chart"
    if len(text) > MOST_BYTES:
        raise _one_fault(shown, _TOO_LARGE)
    text = text.replace("\r\n", "\n")
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > LONGEST_LINE:
            message = f"the line has {len(line)} characters; expected at most {LONGEST_LINE}, say four bars a line"
            raise _one_fault(shown, message, number)
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise _toml_fault(shown, text, error) from None
    reader = FieldReader(shown, data, SourceMap(text))
    song = reader.song(path, id)
    if reader.faults or song is None:
        raise ChartError(sorted(reader.faults, key=lambda fault: fault.line))
    return song


def parse_line(text: str, meter: Meter = DEFAULT_METER) -> tuple[Bar, ...]:
    """The bars of a line such as "Dm7 G7 | Cmaj7 A7". Raises ChartError with every fault found."""
    bars, faults = read_bars(text, (), meter)
    if faults:
        raise ChartError([Fault("chords", 0, message, bar=bar) for _, bar, message in faults])
    if not bars:
        raise _one_fault("chords", "there is no chord; expected bars such as Dm7 G7 | Cmaj7 A7")
    return tuple(bar for bar in bars if bar is not None)


def song_from_line(
    text: str,
    meter: Meter = DEFAULT_METER,
    key: Key | None = None,
    tempo_bpm: float = DEFAULT_TEMPO_BPM,
    feel: str = "swing",
) -> Song:
    """A song of one section, A, from a line of bars; its title is the line. key: the first chord's root without one."""
    bars = parse_line(text, meter)
    if key is None:
        chords = [placed.chord for bar in bars for placed in bar.chords if placed.chord is not None]
        key = Key(chords[0].root, "minor" if chords[0].degree(3) == "b3" else "major") if chords else Key(Tone("C"))
    title = plain(" ".join(text.split()))
    title = title if len(title) <= LONGEST_TITLE else title[: LONGEST_TITLE - 3] + "..."
    return Song(
        id="chords",
        title=title,
        key=key,
        meter=meter,
        tempo_bpm=float(tempo_bpm),
        feel=feel,
        form=("A",),
        sections={"A": Section("A", bars, meter, key)},
    )


def _one_fault(path: str, message: str, line: int = 0) -> ChartError:
    return ChartError([Fault(path, line, message)])


def _toml_fault(path: str, text: str, error: Exception) -> ChartError:
    if isinstance(error, RecursionError):
        return _one_fault(path, "brackets are nested too deeply; expected the chart of a song")
    message = str(error)
    place = _TOML_PLACE.search(message)
    line = 0
    if place:
        message = message[: place.start()]
        line = int(place[1]) if place[1] else text.rstrip().count("\n") + 1
    hint = next((hint for start, hint in _TOML_HINTS.items() if message.startswith(start)), None)
    return _one_fault(path, hint or f"this is not written as a chart file is: {plain(message)}", line)
