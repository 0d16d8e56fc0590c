"""What a chart file may say, and what is said about one that says something else."""

from __future__ import annotations

import os
from fractions import Fraction

import pytest

from companion.chart.model import PlacedChord
from companion.chart.reader import parse_chart, parse_line, read_chart, song_from_line
from companion.errors import ChartError, Fault
from companion.theory.key import Key
from companion.theory.meter import Meter
from companion.theory.pitch import Tone
from companion.theory.shell_kinds import Pin

GOOD = '''title = "A Tune"
key = "Bb"
meter = "4/4"
tempo = 126
feel = "straight"
form = "A B A"
pickup = 1.5

[section.A]
bars = """
Bb6 | G7 |
Cm7 F7 | % |
"""

[section.B]
key = "Eb"
meter = "3/4"
bars = "Ebmaj7 | N.C."
melody = """
e4 g2 | b6 |"""

[shells]
"A.1.1" = "root-fifth"
A.3.2 = "root-third"
'''


def placed(bar):
    return [(chord.chord.symbol if chord.chord else None, chord.beat, chord.beats) for chord in bar.chords]


def faults_of(text: str) -> tuple[Fault, ...]:
    with pytest.raises(ChartError) as caught:
        parse_chart(text, path="tune.toml")
    return caught.value.faults


def test_a_whole_chart():
    song = parse_chart(GOOD, path="songs/a-tune.toml", id="a-tune")
    assert (song.id, song.title, song.key, song.meter) == ("a-tune", "A Tune", Key(Tone("B", -1)), Meter(4, 4))
    assert (song.tempo_bpm, song.feel, song.form, song.pickup) == (126.0, "straight", ("A", "B", "A"), Fraction(3, 2))
    assert song.pins == {("A", 1, 1): Pin("root-fifth"), ("A", 3, 2): Pin("root-third")}
    a, b = song.sections["A"], song.sections["B"]
    assert [bar.line for bar in a.bars] == [11, 11, 12, 12]
    assert placed(a.bars[2]) == placed(a.bars[3]) == [("Cm7", 0, 2), ("F7", 2, 2)]
    assert (b.key.name, b.meter.name, b.melody) == ("Eb", "3/4", "e4 g2 | b6 |")
    assert placed(b.bars[1]) == [(None, 0, 3)]
    assert (a.key, a.meter, a.melody) == (song.key, song.meter, None)


def test_what_may_be_left_out():
    song = parse_chart('title = "T"\nkey = "C"\nmeter = "4/4"\n[section.B]\nbars = "C"\n[section.A]\nbars = "F"')
    assert song.form == ("B", "A"), "the sections in the order of the file"
    assert (song.tempo_bpm, song.feel, song.pickup, song.pins) == (120.0, "swing", 0, {})


@pytest.mark.parametrize(
    ("line", "meter", "expected"),
    [
        ("F6", "4/4", [[("F6", 0, 4)]]),
        ("| Dm7 | G7 |", "4/4", [[("Dm7", 0, 4)], [("G7", 0, 4)]]),
        ("|| Dm7 | G7 ||", "4/4", [[("Dm7", 0, 4)], [("G7", 0, 4)]]),
        ("F6 || Bb7", "4/4", [[("F6", 0, 4)], [("Bb7", 0, 4)]]),
        ("Dm7\n\n  G7 |\n|", "4/4", [[("Dm7", 0, 4)], [("G7", 0, 4)]]),
        ("F6|Bb7", "4/4", [[("F6", 0, 4)], [("Bb7", 0, 4)]]),
        ("Dm7 G7 | %", "4/4", [[("Dm7", 0, 2), ("G7", 2, 2)]] * 2),
        ("Am7 | 𝄎", "3/4", [[("Am7", 0, 3)]] * 2),
        (
            "C D E",
            "4/4",
            [[("C", 0, Fraction(4, 3)), ("D", Fraction(4, 3), Fraction(4, 3)), ("E", Fraction(8, 3), Fraction(4, 3))]],
        ),
        ("Dm7:3 G7:1", "4/4", [[("Dm7", 0, 3), ("G7", 3, 1)]]),
        ("Dm7:3 G7", "4/4", [[("Dm7", 0, 3), ("G7", 3, 1)]]),
        ("C D:2 E", "4/4", [[("C", 0, 1), ("D", 1, 2), ("E", 3, 1)]]),
        ("C:1.5 D:5/2", "4/4", [[("C", 0, Fraction(3, 2)), ("D", Fraction(3, 2), Fraction(5, 2))]]),
        ("C:4/3 D:8/3", "4/4", [[("C", 0, Fraction(4, 3)), ("D", Fraction(4, 3), Fraction(8, 3))]]),
        ("Dm7 / / G7", "4/4", [[("Dm7", 0, 3), ("G7", 3, 1)]]),
        ("F6/9 / C/E /", "4/4", [[("F6/9", 0, 2), ("C/E", 2, 2)]]),
        ("F6/9 C/E", "4/4", [[("F6/9", 0, 2), ("C/E", 2, 2)]]),
        ("Am7 / / D7 /", "5/4", [[("Am7", 0, 3), ("D7", 3, 2)]]),
        ("Em7 A7", "6/8", [[("Em7", 0, 3), ("A7", 3, 3)]]),
        ("Em7 / / A7 / /", "6/8", [[("Em7", 0, 3), ("A7", 3, 3)]]),
        ("A7 / / E7", "12/8", [[("A7", 0, 9), ("E7", 9, 3)]]),
        ("C7(b9, #11) F", "4/4", [[("C7(b9, #11)", 0, 2), ("F", 2, 2)]]),
        ("N.C.:3 G7:1", "4/4", [[(None, 0, 3), ("G7", 3, 1)]]),
        ("NC / / G7", "4/4", [[(None, 0, 3), ("G7", 3, 1)]]),
    ],
)
def test_bars(line, meter, expected):
    assert [placed(bar) for bar in parse_line(line, Meter.parse(meter))] == expected


# One change to the good chart -> (line, section, bar, words of the message).
FAULTS = [
    # what is missing
    (('title = "A Tune"\n', ""), (0, "", 0, "title is missing; expected the song's name")),
    (('key = "Bb"\n', ""), (0, "", 0, "key is missing; expected a key such as Bb")),
    (('meter = "4/4"\n', ""), (0, "", 0, "meter is missing; expected a meter such as 4/4")),
    (('bars = "Ebmaj7 | N.C."\n', ""), (15, "B", 0, "bars is missing")),
    # names
    (("tempo = 126", "tmepo = 126"), (4, "", 0, "'tmepo' is not a key of a chart; did you mean tempo?")),
    (("tempo = 126", "zzz = 126"), (4, "", 0, "expected one of title, key, meter")),
    (("melody = ", "melodie = "), (19, "B", 0, "'melodie' is not a key of a section; did you mean melody?")),
    (("[shells]", "[shelles]"), (22, "", 0, "'shelles' is not a key of a chart; did you mean shells?")),
    (("[section.B]", '[section."2B"]'), (15, "", 0, "'2B' cannot name a section")),
    (("[section.B]", '[section."B C"]'), (15, "", 0, "'B C' cannot name a section")),
    (("[section.B]", "[section." + "B" * 25 + "]"), (15, "", 0, "cannot name a section")),
    # types
    (('"A Tune"', "3"), (1, "", 0, "title is 3; expected the song's name, in quotes")),
    (('key = "Bb"', 'key = ["Bb"]'), (2, "", 0, "key is a list; expected a key")),
    (('meter = "4/4"', "meter = 4"), (3, "", 0, "meter is 4; expected a meter")),
    (("tempo = 126", 'tempo = "fast"'), (4, "", 0, "tempo is 'fast'; expected a number from 20 to 400")),
    (("tempo = 126", "tempo = true"), (4, "", 0, "tempo is true; expected a number")),
    (('feel = "straight"', "feel = 1"), (5, "", 0, 'feel is 1; expected "swing" or "straight"')),
    (('form = "A B A"', 'form = ["A", "B"]'), (6, "", 0, "form is a list; expected section names")),
    (("pickup = 1.5", "pickup = 1979-05-27"), (7, "", 0, "pickup is 1979-05-27; expected beats")),
    (('bars = "Ebmaj7 | N.C."', 'bars = ["Ebmaj7"]'), (18, "B", 0, "bars is a list; expected bars")),
    (('"root-fifth"', "5"), (23, "", 0, "pin A.1.1: 5 is not a shell")),
    (
        ('[section.B]\nkey = "Eb"\nmeter = "3/4"\nbars = "Ebmaj7 | N.C."', "[section]\nB = 2\n[x]\n"),
        (16, "", 0, "section B is 2; expected a table [section.B] with bars"),
    ),
    # values
    (('"A Tune"', '"  "'), (1, "", 0, "title is empty")),
    (('"A Tune"', '"' + "x" * 121 + '"'), (1, "", 0, "title has 121 characters; expected at most 120")),
    (('"A Tune"', r'"A\u001b[31mTune"'), (1, "", 0, r"title has a sign that cannot be printed: 'A\x1b[31mTune'")),
    (('"A Tune"', r'"A\u202eTune"'), (1, "", 0, "title has a sign that cannot be printed")),
    (('key = "Bb"', 'key = "H"'), (2, "", 0, "'H' is not a key; expected a key such as Bb")),
    (('key = "Eb"', 'key = "Eb dorian"'), (16, "B", 0, "'Eb dorian' is not a key")),
    (('meter = "4/4"', 'meter = "4/5"'), (3, "", 0, "'4/5' is not a meter; expected a meter such as 4/4")),
    (('meter = "3/4"', 'meter = "waltz"'), (17, "B", 0, "'waltz' is not a meter")),
    (("tempo = 126", "tempo = 19"), (4, "", 0, "tempo is 19; expected a number from 20 to 400")),
    (("tempo = 126", "tempo = 400.5"), (4, "", 0, "tempo is 400.5")),
    (("tempo = 126", "tempo = nan"), (4, "", 0, "tempo is nan")),
    (("tempo = 126", "tempo = inf"), (4, "", 0, "tempo is inf")),
    (('feel = "straight"', 'feel = "strait"'), (5, "", 0, "'strait' is not a feel; did you mean straight?")),
    (("pickup = 1.5", "pickup = 4"), (7, "", 0, "pickup is 4 beats; expected less than the 4 of a bar of 4/4")),
    (("pickup = 1.5", "pickup = -1"), (7, "", 0, "pickup is -1; expected beats before the first bar")),
    (("pickup = 1.5", 'pickup = "1/7"'), (7, "", 0, "in simple fractions such as 1/2")),
    (("pickup = 1.5", 'pickup = "1/0"'), (7, "", 0, "pickup is '1/0'; expected beats")),
    (("pickup = 1.5", 'pickup = "a bit"'), (7, "", 0, "pickup is 'a bit'; expected beats")),
    (("pickup = 1.5", "pickup = inf"), (7, "", 0, "pickup is inf")),
    (("pickup = 1.5", "pickup = 1e300"), (7, "", 0, "pickup is 1e+300")),
    (("e4 g2", r"e4 g2 \u001b[2J"), (19, "B", 0, "melody has signs that cannot be printed")),
    # the form
    (('"A B A"', '""'), (6, "", 0, "form is empty")),
    (('"A B A"', '"A b A"'), (6, "", 0, "form names section 'b', which the file does not have; did you mean B?")),
    (
        ('"A B A"', '"A Solo B"'),
        (6, "", 0, "form names section 'Solo', which the file does not have; expected one of A, B"),
    ),
    # bars
    (("G7 |\n", "H7 |\n"), (11, "A", 2, "expected a root from A to G")),
    (("G7 |\n", "|\n"), (11, "A", 2, "the bar is empty; expected a chord")),
    (("Cm7 F7 |", "| | Cm7 F7 |"), (12, "A", 3, "the bar is empty")),
    (("Bb6 |", "% |"), (11, "A", 1, "% repeats the bar before, but this is the first bar of its section")),
    (("| % |", "| % F7 |"), (12, "A", 4, "'% F7' mixes % with chords")),
    (("Cm7 F7", "Cm7:3 F7:2"), (12, "A", 3, "the lengths make 5 beats, but a bar of 4/4 has 4")),
    (("Cm7 F7", "Cm7:2 F7:1.5"), (12, "A", 3, "the lengths make 3.5 beats, but a bar of 4/4 has 4")),
    (("Cm7 F7", "Cm7:4 F7"), (12, "A", 3, "the lengths fill the bar of 4/4, but 1 chord stands there without one")),
    (("Cm7 F7", "Cm7:two F7"), (12, "A", 3, "'two' is not a length in beats")),
    (("Cm7 F7", "Cm7:0 F7:4"), (12, "A", 3, "'0' is not a length in beats")),
    (("Cm7 F7", "Cm7:1/0 F7"), (12, "A", 3, "'1/0' is not a length in beats")),
    (("Cm7 F7", "Cm7:1e9 F7"), (12, "A", 3, "'1e9' is not a length in beats")),
    (("Cm7 F7", "Cm7:1/7 F7"), (12, "A", 3, "a length of 1/7 beats cannot be counted exactly")),
    (("Cm7 F7", "Cm7 / F7"), (12, "A", 3, "chords and slashes make 3 beats, but a bar of 4/4 has 4 beats")),
    (("Cm7 F7", "/ / F7 /"), (12, "A", 3, "the bar starts with a slash")),
    (("Cm7 F7", "Cm7:2 / F7"), (12, "A", 3, "both slashes and written lengths")),
    (("Cm7 F7", "C " * 17), (12, "A", 3, "the bar has 17 chords; expected at most 16")),
    (("| % |", "| % :|"), (12, "A", 4, "'% :' mixes % with chords")),
    (("Cm7 F7", "Cm7 F7 :"), (12, "A", 3, "repeat signs are not read: name the section again in the form")),
    (('"Ebmaj7 | N.C."', '""'), (18, "B", 0, "bars is empty")),
    (("N.C.", "n.q."), (18, "B", 2, "expected a root from A to G")),
    # pins
    (('"root-fifth"', '"root-fith"'), (23, "", 0, "pin A.1.1: 'root-fith' is not a shell; did you mean root-fifth?")),
    (('"A.1.1"', '"A.1"'), (23, "", 0, "'A.1' is not a place; expected section, bar and chord")),
    (('"A.1.1"', r'"\u001b[2J.1.1"'), (23, "", 0, r"'\x1b[2J.1.1' is not a place")),
    (('"A.1.1"', '"A.0.1"'), (23, "", 0, "'A.0.1' is not a place")),
    (('"A.1.1"', '"C.1.1"'), (23, "", 0, "pin C.1.1: there is no section C; expected one of A, B")),
    (('"A.1.1"', '"A.5.1"'), (23, "", 0, "pin A.5.1: section A ends with bar 4")),
    (('"A.1.1"', '"A.1.2"'), (23, "", 0, "pin A.1.2: bar 1 ends with chord 1")),
    (('"A.1.1"', '"B.2.1"'), (23, "", 0, "pin B.2.1: no chord is played there")),
    (("A.3.2 =", "A.3.3 ="), (24, "", 0, "pin A.3.3: bar 3 ends with chord 2")),
    # TOML itself
    (('key = "Bb"', "key = Bb"), (2, "", 0, 'words stand in quotes, as in key = "Bb"')),
    (('key = "Bb"', 'key "Bb"'), (2, "", 0, "expected = and a value after the name")),
    (('key = "Bb"', 'key = "Bb" flat'), (2, "", 0, "something stands behind the value")),
    (('key = "Bb"', 'title = "Bb"'), (2, "", 0, "this name was given a value before")),
    (("[section.B]", "[section.A]"), (15, "", 0, "this table was opened before")),
    (('"root-third"\n', '"root-third\n'), (24, "", 0, "a text is not closed on its line")),
    (('b6 |"""', "b3 |"), (24, "", 0, "a text is not closed")),
]


@pytest.mark.parametrize(
    ("change", "expected"), FAULTS, ids=[f"{row[1][3][:40]}-{number}" for number, row in enumerate(FAULTS)]
)
def test_every_fault_is_told_with_its_place(change, expected):
    assert change[0] in GOOD
    line, section, bar, words = expected
    found = [
        (fault.line, fault.section, fault.bar)
        for fault in faults_of(GOOD.replace(*change, 1))
        if words in fault.message
    ]
    assert (line, section, bar) in found


def test_one_mistake_is_told_once():
    for change in (
        ('meter = "4/4"', 'meter = "4/5"'),
        ('key = "Bb"', 'key = "H"'),
        ("G7 |\n", "H7 |\n"),
        ("tempo = 126", "tempo = 1"),
    ):
        assert len(faults_of(GOOD.replace(*change, 1))) == 1, change


def test_all_faults_of_a_file_are_told_at_once_in_the_order_of_its_lines():
    text = (
        GOOD.replace('"A Tune"', '""')
        .replace('"Bb"', '"H"')
        .replace("126", "9")
        .replace("A B A", "A C A")
        .replace("G7 |", "G7 / |")
        .replace("Cm7 F7", "Xm7 Yb7")
        .replace("N.C.", "")
        .replace("root-fifth", "root")
        .replace("pickup", "pick")
    )
    found = faults_of(text)
    assert [(fault.line, fault.section, fault.bar) for fault in found] == [
        (1, "", 0),
        (2, "", 0),
        (4, "", 0),
        (6, "", 0),
        (7, "", 0),
        (11, "A", 2),
        (12, "A", 3),
        (12, "A", 3),
        (20, "B", 0),  # one bar is gone, so the melody has one too many
        (23, "", 0),
    ]
    assert str(ChartError(found)).count("\n") == len(found) - 1
    assert all(str(fault).startswith(f"tune.toml:{fault.line}: ") for fault in found)


def test_how_a_fault_is_shown():
    assert str(Fault("a.toml", 3, "no", "A", 2)) == "a.toml:3: section A, bar 2: no"
    assert str(Fault("a.toml", 3, "no", "A")) == "a.toml:3: section A: no"
    assert str(Fault("chords", 0, "no", bar=2)) == "chords: bar 2: no"
    assert str(Fault("a.toml", 0, "no")) == "a.toml: no"


def test_a_chorus_of_too_many_bars():
    text = 'title = "T"\nkey = "C"\nmeter = "4/4"\nform = "{}"\n[section.A]\nbars = "' + "C | " * 100 + '"'
    assert len(parse_chart(text.format("A " * 20)).unroll()) == 2000
    [fault] = faults_of(text.format("A " * 21))
    assert (fault.line, fault.message) == (4, "the form has 2100 bars; expected at most 2000")


def test_without_a_section():
    head = 'title = "T"\nkey = "C"\nmeter = "4/4"\n'
    for tail in ("", "[section]\n"):
        [fault] = faults_of(head + tail)
        assert "there is no section; expected a table such as [section.A] with bars" in fault.message
    [fault] = faults_of(head + "section = 3")
    assert (fault.line, fault.message) == (4, "section is 3; expected tables such as [section.A]")


def test_an_empty_file_says_what_a_chart_needs():
    assert [fault.message.split()[0] for fault in faults_of("")] == ["title", "key", "meter", "there"]


# --- files


def one_fault(path) -> Fault:
    with pytest.raises(ChartError) as caught:
        read_chart(path)
    [fault] = caught.value.faults
    return fault


def test_a_file_is_read_with_its_stem_as_id(tmp_path):
    path = tmp_path / "my-tune.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())  # as Notepad writes: a mark and CR LF
    song = read_chart(str(path))
    assert (song.id, song.path) == ("my-tune", str(path))
    assert [bar.line for bar in song.sections["A"].bars] == [11, 11, 12, 12]


def test_files_that_cannot_be_read(tmp_path):
    assert "there is no such file" in one_fault(tmp_path / "none.toml").message
    assert "this is a folder" in one_fault(tmp_path).message
    assert "not an ordinary file" in one_fault(os.devnull).message
    assert "cannot be read" in one_fault("a\0b.toml").message
    big = tmp_path / "big.toml"
    big.write_bytes(b"# \n" * 100_000)
    assert "larger than 250 kB" in one_fault(big).message
    latin = tmp_path / "latin.toml"
    latin.write_bytes(b'title = "T"\nkey = "B\xe9"\n')
    assert (one_fault(latin).line, "not plain UTF-8" in one_fault(latin).message) == (2, True)
    wide = tmp_path / "wide.toml"
    wide.write_bytes(GOOD.encode("utf-16"))
    assert "UTF-8" in one_fault(wide).message


def test_a_file_name_cannot_write_to_the_terminal(tmp_path):
    assert "\x1b" not in str(one_fault(tmp_path / "a\x1b[31m.toml"))


# --- a line of chords


def test_a_line_becomes_a_song():
    song = song_from_line("Dm7 G7 |  Cmaj7 A7")
    assert (song.title, song.key.name, song.meter.name, song.form) == ("Dm7 G7 | Cmaj7 A7", "Dm", "4/4", ("A",))
    assert len(song.unroll()) == 2
    assert song_from_line("N.C. | Dm7").key.name == "Dm"
    assert song_from_line("N.C.").key.name == "C"
    assert (
        song_from_line("Dm7", key=Key.parse("C"), meter=Meter(3, 4), tempo_bpm=90, feel="straight")
        .sections["A"]
        .meter.beats
        == 3
    )
    assert len(song_from_line("C | " * 100).title) <= 120


@pytest.mark.parametrize(
    ("line", "shown"),
    [
        ("", "chords: there is no chord; expected bars such as Dm7 G7 | Cmaj7 A7"),
        ("|", "chords: there is no chord; expected bars such as Dm7 G7 | Cmaj7 A7"),
        (
            "F6 | | C",
            "chords: bar 2: the bar is empty; expected a chord, % for the same bar again, or N.C. for no chord",
        ),
        ("F6 | C:5", "chords: bar 2: the lengths make 5 beats, but a bar of 4/4 has 4"),
    ],
)
def test_faults_of_a_line(line, shown):
    with pytest.raises(ChartError) as caught:
        parse_line(line)
    assert str(caught.value) == shown


def test_all_faults_of_a_line():
    with pytest.raises(ChartError) as caught:
        song_from_line("Xx | C | % % | Y Z")
    assert [fault.bar for fault in caught.value.faults] == [1, 3, 4, 4]
    with pytest.raises(ChartError, match="more than 2000 bars"):
        parse_line("C|" * 2001)


def test_a_bar_keeps_its_chords_end_to_end():
    for bar in parse_line("C:1.5 D | E F G A B | C / D /", Meter(4, 4)):
        ends = [chord.beat + chord.beats for chord in bar.chords]
        assert [chord.beat for chord in bar.chords] == [0, *ends[:-1]] and ends[-1] == 4
        assert all(isinstance(chord, PlacedChord) and isinstance(chord.beat, Fraction) for chord in bar.chords)
