"""Whatever a file holds, reading it ends soon, in a song or in a ChartError whose text can be shown."""

from __future__ import annotations

import time
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.chart.reader import MOST_BYTES, parse_chart, parse_line, read_chart, song_from_line
from companion.chart.words import is_printable
from companion.errors import ChartError

CHARTS = [path.read_text(encoding="utf-8") for path in sorted((Path(__file__).parents[2] / "songs").glob("*.toml"))]
LONGEST_S = 5.0  # of the processor, for a file of the largest size; measured below 2 s

soon = settings(deadline=timedelta(seconds=2), max_examples=200)


def reads(read, text) -> None:
    try:
        read(text)
    except ChartError as error:
        assert error.faults
        shown = str(error)
        assert all(sign == "\n" or is_printable(sign) for sign in shown)
        assert [fault.line for fault in error.faults] == sorted(fault.line for fault in error.faults)


@soon
@given(st.text())
def test_any_text(text):
    reads(parse_chart, text)


@soon
@given(st.text(st.one_of(st.sampled_from("ABCDEFGm7b#|%/:.() \n123N"), st.characters()), max_size=200))
def test_any_bars(text):
    reads(parse_line, text)
    reads(song_from_line, text)


@soon
@given(st.sampled_from(CHARTS), st.data())
def test_charts_with_pieces_cut_out_and_put_in(chart, data):
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(chart)))
        end = min(len(chart), start + data.draw(st.integers(0, 12)))
        piece = data.draw(
            st.one_of(
                st.text(max_size=6), st.sampled_from(['"', '"""', "[", "]", "=", "\\", "\n", "|", "%", "/", ":", "\r"])
            )
        )
        chart = chart[:start] + piece + chart[end:]
    reads(parse_chart, chart)


@soon
@given(
    st.dictionaries(
        st.sampled_from(
            ["title", "key", "meter", "tempo", "feel", "form", "pickup", "section", "shells", "lesson", "x"]
        ),
        st.sampled_from(
            [
                "1",
                "-1.5",
                "nan",
                "true",
                '""',
                '"C"',
                "[]",
                "[[1]]",
                "{}",
                "{ A = 1 }",
                "{ A = { bars = 2 } }",
                '{ A = { bars = "C" } }',
                "1979-05-27",
                "{ A.1.1 = {} }",
                '{ A.1.1 = "root-third" }',
                '"\\u0000"',
                '"4/4"',
                "9" * 900,
                "1e400",
            ]
        ),
    )
)
def test_values_of_any_type(table):
    reads(parse_chart, "\n".join(f"{name} = {value}" for name, value in table.items()))


@given(st.binary(max_size=200))
def test_any_bytes(tmp_path_factory, data):
    path = tmp_path_factory.getbasetemp() / "any.toml"
    path.write_bytes(data)
    reads(read_chart, path)


HEAD = 'title = "T"\nkey = "C"\nmeter = "4/4"\n'
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


@pytest.mark.parametrize("name", LARGE)
def test_large_files_are_answered_soon(name):
    text = LARGE[name]
    assert len(text) < MOST_BYTES
    started = time.process_time()
    reads(parse_chart, text)
    assert time.process_time() - started < LONGEST_S


@pytest.mark.parametrize(
    "text", ["a" + ".a" * 400_000 + " = 1", "a = " + "1" * 900_000, "a = " + "[" * 2_000, "#\n" * 1_000_000]
)
def test_what_no_chart_looks_like_is_not_even_tried(text):
    started = time.process_time()
    reads(parse_chart, text)
    assert time.process_time() - started < 1.0
