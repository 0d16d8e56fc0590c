"""Files that are broken, huge, or made to do harm: one clear sentence each, soon, and in little memory.

The traps are the known ones: a zip file that unpacks into gigabytes, entities that multiply ("billion laughs") or that
name a file of the reader's (CWE-409, CWE-776, CWE-611 of the Common Weakness Enumeration).
"""

from __future__ import annotations

import io
import os
import struct
import subprocess
import sys
import zipfile

import pytest
from musicxml_made import DIVISIONS, HEAD, Measure, Score, attributes, harmony, note

from companion import importing
from companion.base.text import is_printable
from companion.errors import SheetError
from companion.importing import import_file
from companion.importing.guard import MOST_FILE_BYTES, MOST_XML_BYTES, decode, scan, xml_of

SOON_S = 8.0  # of the processor; measured below 1 s where no child is started, 2 s where one is


def worked_s() -> float:
    """The processor's time of this process and of its children that have ended, which the neighbours' work does not count in."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


GOOD = Score([Measure(harmony("C", "major") + note("C5", 4 * DIVISIONS), attributes=attributes())]).xml()
CONTAINER = '<container><rootfiles><rootfile full-path="{}"/></rootfiles></container>'


def packed(entries: dict[str, bytes], how: int = zipfile.ZIP_DEFLATED) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", how) as archive:
        for name, data in entries.items():
            archive.writestr(name, data)
    return buffer.getvalue()


def bomb() -> bytes:
    """30 MB of blanks in 30 kB."""
    return packed({"META-INF/container.xml": CONTAINER.format("a.xml").encode(), "a.xml": b" " * 30_000_000})


def lying_bomb() -> bytes:
    """The same, but its sizes say 1000 bytes."""
    data = bomb()
    return data.replace(struct.pack("<I", 30_000_000), struct.pack("<I", 1000))


def laughs() -> str:
    entities = '<!ENTITY a0 "ha">' + "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10))
    return f"<!DOCTYPE score-partwise [{entities}]><score-partwise><part-list>&a9;</part-list></score-partwise>"


HOSTILE = {
    "bomb.mxl": (bomb(), "unpacks to more than 20 MB"),
    "lying.mxl": (lying_bomb(), "unpacks to more than|damaged or locked"),
    "laughs.xml": (laughs().encode(), "document type of its own|defines entities"),
    "laughs.musicxml": (laughs().encode("utf-16"), "document type of its own|defines entities"),
    "packed-laughs.mxl": (packed({"a.xml": laughs().encode()}), "document type of its own|defines entities"),
    "laughing-container.mxl": (packed({"META-INF/container.xml": laughs().encode()}), "document type of its own|entities"),
    "file.xml": (
        b'<!DOCTYPE s [<!ENTITY x SYSTEM "file:///etc/passwd">]><score-partwise>&x;</score-partwise>',
        "document type of its own|defines entities",
    ),
    "parameter.xml": (b'<!DOCTYPE s [<!ENTITY % x SYSTEM "http://127.0.0.1/x"> %x;]><score-partwise/>', "of its own|entities"),
    "many.mxl": (packed({f"{number}.xml": b"" for number in range(2000)}), "holds 2000 files"),
    "nothing.mxl": (packed({"readme.txt": b"hello"}), "holds no score"),
    "half.mxl": (packed({"a.xml": GOOD.encode()})[:200], "damaged or locked"),
    "half.xml": (GOOD.encode()[: len(GOOD) // 2], "breaks off or is damaged at line"),
    "deep.xml": (b"<score-partwise>" + b"<a>" * 100_000, "more parts and signs|breaks off"),
    "wide.xml": (b"<score-partwise>" + b"<a/>" * 500_000 + b"</score-partwise>", "more parts and signs"),
    "bars.xml": (Score([Measure() for _ in range(2100)]).xml().encode(), "more than 2000 bars"),
    "beats.xml": (GOOD.replace("<beats>4<", "<beats>1000000<").encode(), "bar 1: beats is '1000000'; expected a number of at most 2 figures"),
    "unit.xml": (GOOD.replace("<beat-type>4<", "<beat-type>0004<").encode(), "bar 1: beat-type is '0004'"),
    "sum.xml": (GOOD.replace("<beats>4<", "<beats>3+999<").encode(), "bar 1: beats is '3.999'"),
    "sharps.xml": (GOOD.replace("<fifths>0<", "<fifths>" + "9" * 400 + "<").encode(), "bar 1: fifths is '9{37}...'"),
    "length.xml": (GOOD.replace("<duration>", "<duration>" + "9" * 20).encode(), "bar 1: duration is '9{20}96'"),
    "timewise.xml": (b"<score-timewise/>", "has no bar"),
    "opus.xml": (b"<opus/>", "the file holds 'opus'"),
    "page.xml": (b"<!DOCTYPE html><html><body>404</body></html>", "the file holds 'html'"),
    "empty.xml": (b"", "the file is empty"),
    "blank.abc": (b" \n", "the file is empty"),
    "no-bars.xml": (HEAD.encode() + b"<score-partwise><part id='P1'/></score-partwise>", "the score has no bar"),
    "no-list.xml": (GOOD[: GOOD.index("<part-list>")].encode() + GOOD[GOOD.index("<part id") :].encode(), "expected a lead sheet with its part-list"),
    "latin.xml": (GOOD.replace("A Sheet", "Ein Stück").encode("latin-1"), "is not UTF-8 text"),
    "encoding.xml": (GOOD.replace('"UTF-8"', '"EBCDIC-CP-US"').encode(), "encoding is"),
    "unknown-encoding.xml": (GOOD.replace('"UTF-8"', '"klingon"').encode(), "encoding is 'klingon'; expected UTF-8"),
    "null.xml": (b"\0" * 5000, "breaks off or is damaged"),
    "noise.mxl": (bytes(range(256)) * 20, "is not UTF-8 text|damaged"),
    "latin.abc": ("X:1\nT:Stück\nK:C\nc|".encode("latin-1"), "line 2 is not UTF-8 text"),
    "binary.abc": (b"X:1\nK:C\n\0\0", "is not text"),
    "long.abc": (b"X:1\nT:T\nM:4/4\nK:C\n" + b"c8|" * 3000, "more than 2000 bars"),
    "noise.abc": (b"X:1\nT:T\nM:4/4\nK:C\n" + b'"q"c' * 30_000, "more than 200 chord symbols are not understood"),
    "braces.abc": (b"X:1\nT:T\nM:4/4\nK:C\n" + b"{" * 400_000, "more than 250000 signs"),
    "picture.png": (b"\x89PNG", "a picture cannot be read; save the sheet as MusicXML"),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_one_sentence_soon(name, tmp_path):
    data, expected = HOSTILE[name]
    path = tmp_path / name
    path.write_bytes(data)
    started_s = worked_s()
    with pytest.raises(SheetError, match=expected) as caught:
        import_file(path)
    assert worked_s() - started_s < SOON_S
    shown = str(caught.value)
    assert shown.startswith(str(path)) and "\n" not in shown and len(shown) < 400 + len(str(path))
    assert all(map(is_printable, shown))


def test_the_lying_bomb_lies():
    info = zipfile.ZipFile(io.BytesIO(lying_bomb())).getinfo("a.xml")
    assert info.file_size == 1000 and len(lying_bomb()) < 50_000


def test_a_huge_file_is_not_even_read(tmp_path):
    for name in ("huge.mxl", "huge.xml", "huge.abc"):
        with (tmp_path / name).open("wb") as file:
            file.truncate(MOST_FILE_BYTES * 100)  # takes no place on the disk
        with pytest.raises(SheetError, match="larger than 10 MB"):
            import_file(tmp_path / name)


def test_folders_devices_and_missing_files(tmp_path):
    (tmp_path / "folder.mxl").mkdir()
    os.mkfifo(tmp_path / "pipe.xml")
    (tmp_path / "zero.abc").symlink_to("/dev/zero")
    for name, expected in (
        ("folder.mxl", "this is a folder"),
        ("pipe.xml", "not an ordinary file"),
        ("zero.abc", "not an ordinary file"),
        ("none.xml", "there is no such file"),
        ("a\0b.xml", "cannot be read"),
    ):
        with pytest.raises(SheetError, match=expected):
            import_file(str(tmp_path / name))


def test_a_file_one_may_not_read(tmp_path):
    path = tmp_path / "locked.xml"
    path.write_text(GOOD)
    path.chmod(0)
    if os.access(path, os.R_OK):
        pytest.skip("this user may read everything")
    with pytest.raises(SheetError, match="cannot be read"):
        import_file(path)


def test_memory_stays_small_whatever_a_zip_unpacks_to():
    """The bomb in a process of its own that may have 400 MB in all."""
    pytest.importorskip("resource")
    code = (
        "import resource, sys; resource.setrlimit(resource.RLIMIT_AS, (400_000_000,) * 2)\n"
        "from companion.importing.guard import xml_of\nfrom companion.errors import SheetError\n"
        "try: xml_of(sys.stdin.buffer.read())\nexcept SheetError as error: print(error)"
    )
    data = packed({"a.xml": b" " * (MOST_XML_BYTES * 4)})
    done = subprocess.run([sys.executable, "-c", code], input=data, capture_output=True, timeout=300, check=False)
    assert b"unpacks to more than 20 MB" in done.stdout, done.stderr


def test_time_is_bounded(tmp_path):
    path = tmp_path / "tune.musicxml"
    path.write_text(GOOD)
    with pytest.raises(SheetError, match=r"took longer than 0\.01 seconds"):
        import_file(path, time_out_s=0.01)


def test_a_child_that_dies_is_a_sentence(tmp_path, monkeypatch):
    path = tmp_path / "tune.musicxml"
    path.write_text(GOOD)
    for program, expected in (("/bin/false", "more memory or time than a lead sheet"), ("/none", "cannot be started")):
        monkeypatch.setattr(importing.sys, "executable", program)
        with pytest.raises(SheetError, match=expected):
            import_file(path)


def test_no_code_runs_from_the_folder_one_stands_in(tmp_path, monkeypatch):
    (tmp_path / "json.py").write_text("open('ran', 'w').close()")
    (tmp_path / "music21.py").write_text("open('ran', 'w').close()")
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "tune.musicxml"
    path.write_text(GOOD)
    assert import_file(path).song.title
    assert not (tmp_path / "ran").exists()


def test_without_music21_it_says_how_to_get_it(tmp_path, monkeypatch):
    (tmp_path / "without").mkdir()
    (tmp_path / "without" / "music21.py").write_text("raise ModuleNotFoundError(name='music21')")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path / "without"))
    path = tmp_path / "tune.musicxml"
    path.write_text(GOOD)
    with pytest.raises(
        SheetError, match=r"music21, which is missing; install it with: pip install 'shell-companion\[sheets\]'"
    ):
        import_file(path)
    abc = tmp_path / "tune.abc"
    abc.write_text('X:1\nT:T\nM:4/4\nK:C\n"C"c8|\n')
    assert import_file(abc).song.title == "T"  # ABC needs no library


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_encodings_that_are_understood(encoding):
    text = GOOD.replace("A Sheet", "Ein Stück")
    assert "Stück" in decode(text.replace("UTF-8", encoding.removesuffix("-sig")).encode(encoding))
    latin = GOOD.replace("UTF-8", "ISO-8859-1").replace("A Sheet", "Ein Stück").encode("latin-1")
    assert "Stück" in decode(latin)


def test_a_plain_doctype_is_fine():
    assert "<!DOCTYPE" in GOOD and scan(GOOD).sounds == {}
    assert (
        xml_of(packed({"META-INF/container.xml": CONTAINER.format("x/a.xml").encode(), "x/a.xml": GOOD.encode()}))
        == GOOD
    )


def test_bars_and_parts_count_where_a_score_has_them_alone():
    """One found at random (`--deep`): a <measure> within <transpose> was taken for the next bar, and what followed belonged to none."""
    inside = "<transpose><measure>-1</measure><part>1</part><chromatic>-2</chromatic></transpose>"
    found = scan(GOOD.replace("</attributes>", inside + "</attributes>"))
    assert found.transposes == {("P1", 0): {"measure": "-1", "part": "1", "chromatic": "-2"}}
