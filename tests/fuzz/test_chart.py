"""Whatever a file holds, reading it ends soon, in a song or in a ChartError whose text can be shown."""

from __future__ import annotations

import contextlib
import dataclasses
import time
from collections.abc import Mapping

import pytest
from fuzz.fuzzing import (
    DEEP,
    ODD,
    any_bytes,
    any_text,
    as_bytes,
    edited,
    fuzz,
    inputs,
    joined,
    one_of,
    table,
    then,
)
from shipped import PATHS

from companion.base.text import is_printable
from companion.chart.model import Song
from companion.chart.reader import MOST_BYTES, parse_chart, parse_line, read_chart, song_from_line
from companion.chart.writer import write_chart
from companion.errors import ChartError
from companion.hands.hand import Hand
from companion.hands.left.solver import solve
from companion.practice.slots import slots_of

CHARTS = [path.read_text(encoding="utf-8") for path in PATHS]
CHART_FILES = [text.encode() for text in CHARTS]
ODD_BYTES = [
    b"\xff",
    b"\xc3",
    b"\0",
    b"\xed\xa0\x80",
    b"\x1b[2J",
    *(text.encode("utf-8", "surrogatepass") for text in ODD),
]
LONGEST_S = 5.0  # of the processor, for a file of the largest size; measured below 2 s
HEAD = 'title = "T"\nkey = "C"\nmeter = "4/4"\n'
KEYS = (
    "title", "key", "meter", "tempo", "feel", "form", "pickup", "section", "shells", "lesson", "section.A", "section.A.bars",
    "section.A.melody", "section.A.key", "section.A.meter", "lesson.note", "lesson.notes", "lesson.step", "x",
)  # fmt: skip
VALUES = (
    "1", "-1.5", "nan", "true", '""', '"C"', "[]", "[[1]]", "{}", "{ A = 1 }", "{ A = { bars = 2 } }", '{ A = { bars = "C" } }',
    "1979-05-27", "{ A.1.1 = {} }", '{ A.1.1 = "root-third" }', '"\\u0000"', '"4/4"', "9" * 900, "1e400", '"C | F7 | % | N.C."',
    '"C8 | z8 |"', '[{ section = "A", tempo = "free" }]', '"\\u001B]52;c;aGk=\\u0007"', '"\\u202E"', '"A A B A"', '"3/2"', "126",
)  # fmt: skip
BARS = (
    *"ABCDEFGm7b#|%/:.() \n123N",
    *ODD,
    "N.C.",
    "Dm7:3 G7:1",
    "C / / F",
    " | ",
    "%%",
    "maj7",
    "m7b5",
    ":1/3",
    "E♭ø7",
)
MELODY = (*"ABCDEFGabcdefgz|-,'^_=/1238() \n", *ODD, "(3", "^^", "C4", " | ", "z8")
LINES = (
    'title = "T"\n', 'key = "Bb"\n', 'meter = "6/8"\n', "tempo = 90\n", 'form = "A A"\n', "pickup = 1\n", "[section.A]\n", "[section.B]\n",
    'bars = "C | F7"\n', 'melody = "c8 | z8"\n', "[shells]\n", '"A.1.1" = "root-third"\n', "[lesson]\n", "[[lesson.step]]\n", "passes = 3\n",
    "[lesson.notes]\n", '"A.1" = "note"\n', "# comment\n", 'feel = "straight"\n', 'key = "F#m"\n',
)  # fmt: skip


def chart(bars: str, melody: str = "") -> str:
    return f'{HEAD}[section.A]\nbars = """\n{bars}"""\n' + (f'melody = """\n{melody}"""\n' if melody else "")


TEXTS = one_of(
    any_text(),
    edited(CHARTS, (*BARS, '"""', *LINES)),
    edited(CHARTS, (*BARS, '"""', *LINES)),
    table(KEYS, VALUES),
    then(table(KEYS, VALUES), f"{HEAD}[section.A]\n".__add__),
    then(joined(BARS), chart),
    then(joined(MELODY), lambda melody: chart("C | F7 | G7 | C", melody)),
    joined(LINES, 20),
    then(joined(LINES, 20), HEAD.__add__),
)
FILES = one_of(
    as_bytes(TEXTS), as_bytes(TEXTS), as_bytes(TEXTS), as_bytes(TEXTS), any_bytes(), edited(CHART_FILES, ODD_BYTES)
)
LINES_OF_BARS = one_of(joined(BARS), joined(BARS, 200), any_text(200))


def strings(value) -> list[str]:
    """Every text in a song."""
    if isinstance(value, str):
        return [value]
    if dataclasses.is_dataclass(value):
        return [text for field in dataclasses.fields(value) for text in strings(getattr(value, field.name))]
    if isinstance(value, Mapping):
        return [text for item in value.items() for text in strings(item)]
    return [text for item in value for text in strings(item)] if isinstance(value, tuple | list) else []


def check_song(song: Song) -> None:
    """What was read can be shown, written, read again as the same, and has a left hand or a sentence why not."""
    for text in strings(dataclasses.replace(song, id="", path="")):
        assert all(sign in "\n\t" or is_printable(sign) for sign in text), text
    written = write_chart(song)
    assert write_chart(parse_chart(written)) == written
    solve(slots_of(song, song.unroll()), Hand())


def reads(read, text) -> None:
    """Read it. Raises the ChartError it raises, once that has proved fit to be shown."""
    try:
        song = read(text)
    except ChartError as error:
        assert error.faults
        assert all(sign == "\n" or is_printable(sign) for sign in str(error))
        assert [fault.line for fault in error.faults] == sorted(fault.line for fault in error.faults)
        raise
    if isinstance(song, Song):
        check_song(song)


def test_any_chart_file(tmp_path, deep, tell):
    path = tmp_path / "any.toml"

    def read(data: bytes) -> None:
        path.write_bytes(data)
        reads(read_chart, path)

    tally = fuzz("chart file", read, inputs(FILES), DEEP if deep else 150, fixed=deep)
    tell(tally)
    assert tally.good


def test_any_line_of_bars(deep, tell):
    def read(text: str) -> None:
        assert parse_line(text)
        reads(song_from_line, text)

    tally = fuzz("line of bars", read, inputs(LINES_OF_BARS), DEEP if deep else 120, fixed=deep)
    tell(tally)


ROW = 'bars = """\n' + "C | F7 | Dm7 G7 | N.C. |\n" * 9000 + '"""\n'
# Each repeats to about the largest size that is read at all.
LARGE = {
    "deep keys": "\n".join("a" + ".b" * 490 + f".k{number} = 1" for number in range(240)),
    "brackets": "a = " + "[\n" * 120_000,
    "tables in tables": "a = " + "{a = " * 190,
    "many tables": "\n".join(f"[section.A{number}]\nbars = 'C'" for number in range(8_000)),
    "many unknown keys": "\n".join(f"key{number} = 1" for number in range(18_000)),
    "bars without end": HEAD + "[section.A]\n" + ROW,
    "faults without end": HEAD + "[section.A]\n" + ROW.replace("F7", "Fq7").replace("G7", "H7"),
    "barlines": HEAD + "[section.A]\nbars = '''\n" + ("|" * 900 + "\n") * 270 + "'''",
    "open parentheses": HEAD + "[section.A]\nbars = '''\n" + ("C(" * 450 + "\n") * 270 + "'''",
    "quotes": HEAD + 'x = """' + ('"" ' * 300 + "\n") * 270 + '"""',
    "joined lines": HEAD + '[section.A]\nbars = """' + ("C \\\n" * 60_000) + '"""',
    "pins": HEAD
    + "[section.A]\nbars = 'C'\n[shells]\n"
    + "\n".join(f'"A.1.{number}" = "root-fith"' for number in range(9_000)),
    "a long form": HEAD + 'form = """' + "A B C\n" * 40_000 + '"""\n[section.A]\nbars = "C"',
    "strange names": HEAD + "\n".join(f'[section."{number}"]' for number in range(11_000)),
}


# Brackets and tables in tables are nested too.
@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[pytest.mark.deep] * (name == "deep keys")) for name in LARGE]
)
def test_large_files_are_answered_soon(name):
    text = LARGE[name]
    assert len(text) < MOST_BYTES
    started = time.process_time()
    with contextlib.suppress(ChartError):
        reads(parse_chart, text)
    assert time.process_time() - started < LONGEST_S


@pytest.mark.parametrize(
    "text",
    ["a" + ".a" * 400_000 + " = 1", "a = " + "1" * 900_000, "a = " + "[" * 2_000, "#\n" * 1_000_000],
)
def test_what_no_chart_looks_like_is_not_even_tried(text):
    started = time.process_time()
    with contextlib.suppress(ChartError):
        reads(parse_chart, text)
    assert time.process_time() - started < 1.0


@pytest.mark.parametrize("steps", ["[[1]]", "[[]]", '[["section"]]', "[1, [2]]", "[[[{}]]]"])
def test_steps_of_a_lesson_that_are_lists(steps):
    with pytest.raises(ChartError, match="step 1 is not a table"):
        parse_chart(f'{HEAD}[section.A]\nbars = "C"\n[lesson]\nstep = {steps}\n')
