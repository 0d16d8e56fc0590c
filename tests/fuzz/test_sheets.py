"""Lead sheets from outside, MusicXML and ABC: whatever a file holds, a song or a SheetError, soon.

MusicXML is read by music21 in a child process (chart/importing). Here the same is done in this process, a hundred times as fast, and
stricter: what music21 itself raises is let pass, as the child turns it into a sentence; what our own reading raises is not.
"""

from __future__ import annotations

import io
import traceback
import warnings
import zipfile
from pathlib import Path
from random import Random
from xml.etree import ElementTree

import music21
import pytest
from abc_tune import TUNE
from fuzz.fuzzing import DEEP, ODD, any_bytes, any_text, as_bytes, edited, fuzz, inputs, joined, one_of, then
from musicxml_made import (
    BACKWARD,
    DIVISIONS,
    FORWARD,
    HEAD,
    Measure,
    Score,
    attributes,
    ending,
    harmony,
    note,
    sign,
    words,
)

import companion
from companion.base.text import is_printable
from companion.chart.writer import write_chart
from companion.errors import CompanionError, SheetError
from companion.importing import _checked
from companion.importing.abc import read_abc
from companion.importing.compose import compose
from companion.importing.guard import decode_abc, scan, xml_of
from companion.importing.musicxml import read_musicxml

WHOLE, HALF = 4 * DIVISIONS, 2 * DIVISIONS
OURS, LIBRARY = (str(Path(module.__file__).parent) for module in (companion, music21))

# --- MusicXML: small scores that have between them all that is read (MusicXML 4.0)

SCORES = [
    Score([Measure(harmony("C", "major") + note("C5", WHOLE), attributes=attributes())]),
    Score([
        Measure(note("E4", DIVISIONS), 1, attributes=attributes("3/4", -3, "minor")),
        Measure(harmony("C", "minor-seventh", bass="Eb") + note("C5", HALF, '<tie type="start"/>') + note("", DIVISIONS), 3),
        Measure(harmony("F", "dominant", [("add", 9, -1), ("alter", 5, 1)]) + note("C5", 3 * DIVISIONS, '<tie type="stop"/>'), 3),
    ]),
    Score([
        Measure(words("Swing", '<sound tempo="132"/>') + harmony("Bb", "major-sixth") + note("Bb4", WHOLE), left=FORWARD, attributes=attributes("4/4", -2)),
        Measure(harmony("G", "half-diminished", text="ø") + note("D5", WHOLE), left=ending("1", "start"), right=ending("1", "stop") + BACKWARD),
        Measure(harmony("G", "none") + words("N.C.") + note("", WHOLE), left=ending("2", "start"), right=ending("2", "stop")),
    ]),
    Score([
        Measure(sign("segno", '<sound segno="s"/>') + harmony("D", "suspended-fourth") + note("D5", HALF) + note("F#5", HALF), attributes=attributes("2/2", 2)),
        Measure(words("To Coda", '<sound tocoda="c"/>') + harmony("A", "dominant", offset=DIVISIONS) + note("A4", WHOLE)),
        Measure(words("D.S. al Coda", '<sound dalsegno="s"/>') + note("G4", WHOLE)),
        Measure(sign("coda", '<sound coda="c"/>') + "<direction><direction-type><rehearsal>B</rehearsal></direction-type></direction>" + note("D4", WHOLE)),
    ]),
    Score([
        Measure(
            note("C5", 8, "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>") * 3
            + note("E5", DIVISIONS) + note("G5", DIVISIONS).replace("<note>", "<note><chord/>") + note("C4", 0).replace("<note>", "<note><grace/>")
            + f"<backup><duration>{HALF}</duration></backup><forward><duration>{DIVISIONS}</duration></forward>" + note("E4", DIVISIONS)
            + "<note><unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched>"
            f"<duration>{HALF}</duration><notehead>slash</notehead><lyric><text>la</text></lyric></note>",
            attributes=attributes("4/4", 0, "dorian", "<staves>2</staves><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"),
        ),
        Measure("<direction><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>96</per-minute></metronome></direction-type>"
                '<sound><swing><first>2</first><second>1</second></swing></sound></direction>' + note("A4", WHOLE), right="<bar-style>light-heavy</bar-style>"),
    ]),
]  # fmt: skip
XMLS = [score.xml() for score in SCORES]
XMLS.append(XMLS[1].replace("</part-list>", '<score-part id="P2"><part-name>Bass</part-name></score-part></part-list>').replace(
    "</score-partwise>", f'<part id="P2">{SCORES[1].measures[1].xml(1)}</part></score-partwise>'
))  # fmt: skip
VALUES = (
    *ODD, "0", "1", "2", "3", "4", "7", "-2", "1.5", "24", "96", "1000000", "A", "C", "H", "start", "stop", "continue", "forward", "backward",
    "minor", "major", "dominant", "none", "other", "quarter", "P1", "P2", "3+2", "1, 2", "yes", "D.C. al Fine", "N.C.", "straight", "1/0",
)  # fmt: skip
# Elements that steer what is read, with and without what they should hold.
ELEMENTS = (
    "<note/>", "<note><rest/></note>", "<note><chord/><rest/><duration>24</duration></note>", "<harmony/>", "<harmony><function>V</function></harmony>",
    "<harmony><root><root-step>C</root-step></root><kind>other</kind></harmony>", "<backup><duration>999</duration></backup>", "<time/>",
    "<forward><duration>48</duration></forward>", "<barline><repeat direction='backward' times='9'/></barline>", "<time><senza-misura/></time>",
    "<key><key-step>C</key-step><key-alter>1</key-alter></key>", "<attributes><divisions>0</divisions></attributes>", "<measure/>", "<part/>",
    "<measure number='1'/>", "<part id='P1'><measure/></part>", "<direction><sound fine='yes' dacapo='yes'/></direction>", "<note><cue/><rest/></note>",
    "<attributes><measure-style><multiple-rest>9</multiple-rest></measure-style></attributes>", "<rest measure='yes'/>", "<a/>", "<print new-page='yes'/>",
    "<barline><ending number='1' type='start'/></barline>", "<barline><ending number='1' type='discontinue'/></barline>", "<staff>2</staff>",
    "<attributes><key><fifths>9</fifths></key><time><beats>6</beats><beat-type>8</beat-type></time></attributes>", "<dot/>", "<type>whole</type>",
    "<link href='file:///etc/passwd'/>", "<direction><direction-type><metronome/></direction-type></direction>", "<tie type='start'/>",
)  # fmt: skip


def grown(random: Random) -> str:
    """A good score whose tree is changed: elements taken away, doubled, moved, put in; texts, attributes and names exchanged."""
    root = ElementTree.fromstring(random.choice(XMLS))
    for _ in range(random.randint(1, 4)):
        spots = [(parent, at) for parent in root.iter() for at in range(len(parent))] or [(ElementTree.Element("a"), 0)]
        parent, at = random.choice(spots)
        element = parent[at] if len(parent) else root
        how = random.choice(("text", "text", "attribute", "put", "put", "away", "double", "move", "name"))
        value = random.choice(VALUES)
        if how == "text":
            element.text = _legal(value)
        elif how == "attribute":
            names = (
                *element.attrib,
                *element.attrib,
                "number",
                "type",
                "direction",
                "times",
                "text",
                "id",
                "tempo",
                "fine",
            )
            element.set(random.choice(names), _legal(value))
        elif how == "put":
            parent.insert(at, ElementTree.fromstring(random.choice(ELEMENTS)))
        elif how == "name":
            element.tag = random.choice(spots)[0].tag
        elif how == "double":
            parent.insert(at, element)
        elif element is not root:
            other, place = random.choice(spots)
            parent.remove(element)
            if how == "move" and other not in element.iter():
                other.insert(place, element)
    return HEAD + ElementTree.tostring(root, encoding="unicode")


def _legal(text: str) -> str:
    """Without the signs that no XML may hold, for those never come as far as a tree (XML 1.0, 2.2 Characters)."""
    return "".join(sign for sign in text if (sign >= " " and not "\ud800" <= sign <= "\udfff") or sign in "\t\n")


def packed(xml: str, container: bool) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        if container:
            archive.writestr(
                "META-INF/container.xml", '<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>'
            )
        archive.writestr("a.xml", xml)
    return buffer.getvalue()


MXLS = [packed(xml, container) for xml in XMLS[:3] for container in (True, False)]
ODD_BYTES = [
    b"\xff\xfe",
    b"\xc3",
    b"\0",
    b"PK",
    b"\xed\xa0\x80",
    b"\x01\x02",
    *(text.encode("utf-8", "surrogatepass") for text in ODD),
]
TEXTS = edited(
    XMLS, (*VALUES, *ELEMENTS, "<", ">", "&", "&#0;", "&amp;", "<!--", "<![CDATA[", "<?php ?>", 'encoding="EBCDIC"')
)
QUICK = one_of(
    as_bytes(TEXTS), as_bytes(grown), as_bytes(joined((*ELEMENTS, "<score-partwise>", "</score-partwise>", "<part>", "</part>", HEAD))),
    edited(MXLS, ODD_BYTES), edited([xml.encode() for xml in XMLS], ODD_BYTES), any_bytes(), as_bytes(any_text()),
)  # fmt: skip
WHOLE_WAY = one_of(as_bytes(grown), as_bytes(grown), as_bytes(grown), as_bytes(TEXTS))


def read_musicxml_file(data: bytes) -> None:
    """As the child process does it, but that a fault of our own is not told as one of the library's."""
    xml = xml_of(data)
    scanned = scan(xml)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            sheet = read_musicxml(xml, scanned)
    except CompanionError:
        raise
    except Exception as error:
        if not raised_by_library(error):
            raise
        raise SheetError("the library that reads MusicXML cannot follow it") from None
    finish(sheet)


def raised_by_library(error: Exception) -> bool:
    """Whether music21 was at work below the last line of ours that was."""
    files = [frame.filename for frame in traceback.extract_tb(error.__traceback__)]
    ours = max((at for at, name in enumerate(files) if name.startswith(OURS)), default=-1)
    return any(name.startswith(LIBRARY) for name in files[ours + 1 :])


def finish(sheet) -> None:
    """Sheet -> song -> chart -> song; the remarks are printed as they are."""
    song = compose(sheet, "a-file_name")
    read_again = _checked(write_chart(song), song.id, tuple(sheet.remarks)).song
    assert read_again.form == song.form
    for remark in sheet.remarks:
        assert all(map(is_printable, remark)), remark


def look_through(data: bytes) -> None:
    scan(xml_of(data))


def test_any_musicxml_before_the_library(deep, tell):
    tally = fuzz("MusicXML, looked through", look_through, inputs(QUICK), DEEP if deep else 120, fixed=deep)
    tell(tally)
    assert tally.good


def test_any_musicxml(deep, tell):
    tally = fuzz("MusicXML", read_musicxml_file, inputs(WHOLE_WAY), DEEP if deep else 30, fixed=deep)
    tell(tally)
    assert tally.good


# --- ABC (ABC 2.1)

TUNES = (
    TUNE,
    'X:1\nT:T\nM:6/8\nL:1/8\nP:AAB\nK:Am\nP:A\n"Am"A3 c>B<A|[V:2]"E7/G#"^G6:|\nP:B\n"Dm7"(d3 d3)|!D.C.!"N.C."z6|]\n',
)
FIELDS = ("X:1\n", "T:T\n", "M:6/8\n", "M:C|\n", "M:none\n", "L:1/16\n", "L:0/0\n", "Q:1/4=900\n", "Q:0=0\n", "K:F#m\n", "K:HP\n", "P:A2(BC)3\n", "P:A\n", "V:2\n", "w:la\n", "I:x\n", "+:x\n", "%%score 1\n", "m:x\n")  # fmt: skip
NOTES = (
    *"ABCDEFGabcdefgzxyZX|:[](){}<>^_=',-/1234567890&~.!+\"\\ \n", *ODD, "|:", ":|", "::", "|1", "[2", "|]", '"Dm7"', '"^up"', "(3", "(5:4:6", "[M:3/4]",
    "[K:Eb]", "[L:1/4]", "[CEG]4", "{/c}", "!segno!", "!D.S.alcoda!", "!coda!", "z8", "Z9", "a'''''''''", "C,,,,,,,,", "c9999/1", "c/9999", "////", ">>>",
)  # fmt: skip
ABCS = one_of(
    as_bytes(edited(TUNES, (*NOTES, *FIELDS))),
    as_bytes(edited(TUNES, (*NOTES, *FIELDS))),
    as_bytes(then(joined(NOTES), "X:1\nT:T\nM:4/4\nL:1/8\nK:C\n".__add__)),
    as_bytes(joined((*FIELDS, *NOTES))),
    as_bytes(then(joined(FIELDS, 12), lambda head: f"{head}K:C\nC8|c8|]\n")),
    edited([tune.encode() for tune in TUNES], ODD_BYTES),
    any_bytes(),
    as_bytes(any_text(200)),
)


def read_abc_file(data: bytes) -> None:
    finish(read_abc(decode_abc(data)))


def test_any_abc(deep, tell):
    tally = fuzz("ABC", read_abc_file, inputs(ABCS), DEEP if deep else 120, fixed=deep)
    tell(tally)
    assert tally.good


@pytest.mark.parametrize("where", ["ours", "below ours", "library"])
def test_a_fault_of_ours_is_told_from_one_of_the_library(where):
    def raised() -> Exception:
        try:
            if where == "ours":
                exec(compile("raise ValueError", OURS + "/x.py", "exec"))
            elif where == "below ours":
                exec(compile("int('x')", OURS + "/x.py", "exec"))
            else:
                music21.pitch.Pitch("zzz")
        except Exception as error:
            return error

    assert raised_by_library(raised()) == (where == "library")
