"""Every bar is found on the line where it was typed, whatever stands around it and however the text is quoted."""

from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from companion.chart.reader import parse_chart
from companion.chart.source_map import SourceMap

HEAD = 'title = "T"\nkey = "C"\nmeter = "4/4"\n'


def lines_of_bars(text: str) -> list[int]:
    return [bar.line for section in parse_chart(text).sections.values() for bar in section.bars]


def test_ways_to_write_the_bars():
    assert lines_of_bars(HEAD + '[section.A]\nbars = "C | F"') == [5, 5]
    assert lines_of_bars(HEAD + "[section.A]\nbars = 'C | F'") == [5, 5]
    assert lines_of_bars(HEAD + '[section.A]\nbars = """C\nF\n"""') == [5, 6]
    assert lines_of_bars(HEAD + '[section.A]\nbars = """\nC |\n\nF | G\n"""') == [6, 8, 8]
    assert lines_of_bars(HEAD + "[section.A]\nbars = '''\nC\nF'''") == [6, 7]
    assert lines_of_bars(HEAD + '[section.A]\nbars = """\nC | \\\n   F | \\\n\n G\n"""') == [6, 7, 9], (
        "lines joined by a backslash"
    )
    assert lines_of_bars(HEAD + '[section.A]\nbars = "C\\nF\\u0020\\n\\u0047"') == [5, 5, 5], "ends of lines as escapes"
    assert lines_of_bars(HEAD + '[section.A]\nbars = """\nC\\u0020\\t|\\\\\n""" # x'.replace("|\\\\", "|")) == [6]
    assert lines_of_bars((HEAD + '[section.A]\nbars = """\nC\nF\n"""\n').replace("\n", "\r\n")) == [6, 7]
    assert lines_of_bars(HEAD + 'section.A.bars = """\nC\nF"""') == [5, 6], "a dotted key"
    assert lines_of_bars(HEAD + '[section]\nA.bars = "C"\nB.bars = "F"') == [5, 6]
    assert lines_of_bars(HEAD + '["section" . \'A\']\n"bars" = "C"') == [5], "quoted names"
    assert lines_of_bars(HEAD + 'section = { A = { bars = "C | F" } }') == [4, 4], "a table in a line"


# Whole TOML statements with all that could mislead a search for keys and quotes (TOML 1.0: comments, strings, arrays).
NOISE = (
    "",
    "# a comment with \"quotes\" and '''",
    "# [section.A]",
    'x{} = """\n[section.A]\nbars = \'\n"""',
    "x{} = '''\n# \\''' # end",
    'x{} = "\\"[section.A]\\\\"',
    "x{} = [\n  1, # ]\n  '[',\n\n]",
    'x{} = {{ bars = "]", y = [ "}}" ] }}',
    'x{} = """a""""',
    "x{} = ''''a'''''",
    'x{}."]".y = 1979-05-27T07:32:00Z',
    "x{} = -1.5e3",
    '  "x{} # =" = true',
    "[lesson.x{}]",
    "[[lesson.y]]",
)


@given(st.lists(st.sampled_from(NOISE), max_size=8), st.lists(st.sampled_from(NOISE[:9]), max_size=4))
def test_places_among_all_sorts_of_statements(before, after):
    """The place of a key is the line that the text was put together with."""
    parts = [noise.format(number) for number, noise in enumerate(before)]
    text = "\n".join([*parts, "[section.A]", "title = 'x' # here", "bars = '''", "C |", "F'''"])
    line = "\n".join([*parts, ""]).count("\n") + 1
    text += "\n" + "\n".join(noise.format(number + 100) for number, noise in enumerate(after))
    places = SourceMap(text)
    assert tomllib.loads(text)["section"]["A"]["bars"] == "C |\nF"
    assert places.line(("section", "A")) == line
    assert places.line(("section", "A", "title")) == line + 1
    assert places.line(("section", "A", "missing")) == line, "the table that should hold it"
    assert places.text_lines(("section", "A", "bars"), "C |\nF") == [line + 3] * 4 + [line + 4]
    assert places.line(("nothing",)) == 0


@given(st.text("ab\\\"'\n\t é♭{}[]#=", max_size=40))
def test_every_character_has_a_line(text):
    """One line for each character, rising by one at each line end of the text (checked on tomllib's own reading)."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    written = f'k = """\n{escaped}"""'
    value = tomllib.loads(written)["k"]
    assert value == text
    assert SourceMap(written).text_lines(("k",), value) == [2 + value.count("\n", 0, at) for at in range(len(value))]
