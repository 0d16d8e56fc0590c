"""Files from outside, taken with care: nothing large, nothing that unpacks into something large, no entities.

A MusicXML file is text that names its document type and nothing more. Entities, which a small file can blow up into
gigabytes, appear in no lead sheet: a file that defines any is refused before a parser sees it. Sizes are counted while
unpacking, whatever a zip file says about itself.

Sources: MusicXML 4.0, "Compressed .MXL files"; XML 1.0, 4.2 Entity Declarations and 2.8 Prolog.
"""

from __future__ import annotations

import codecs
import io
import os
import re
import stat
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from xml.parsers import expat

from companion.base.text import quoted
from companion.errors import SheetError

MOST_FILE_BYTES = 10_000_000  # a lead sheet has 20,000 to 500,000
MOST_XML_BYTES = 20_000_000
_MOST_ZIP_ENTRIES = 1000
_MOST_ELEMENTS = 400_000
_MOST_MEASURES = 2000
_MOST_DEPTH = 60
# Elements that hold a number -> how many figures any lead sheet needs (MusicXML 4.0; lengths count in divisions of a quarter).
_MOST_FIGURES = {
    **dict.fromkeys(
        (
            "beats",
            "beat-type",
            "fifths",
            "cancel",
            "octave",
            "octave-change",
            "display-octave",
            "chromatic",
            "diatonic",
        ),
        2,
    ),
    **dict.fromkeys(
        (
            "key-octave",
            "key-alter",
            "staves",
            "staff",
            "staff-lines",
            "double",
            "instruments",
            "inversion",
            "degree-value",
        ),
        2,
    ),
    **dict.fromkeys(("actual-notes", "normal-notes", "multiple-rest", "measure-repeat", "beat-repeat", "slash"), 3),
    **dict.fromkeys(("divisions", "duration", "offset"), 7),
}
_CONTAINER = "META-INF/container.xml"
_MOST_CONTAINER_BYTES = 100_000
_ENCODINGS = ("utf-8", "utf-16", "iso8859-1", "ascii", "cp1252")
_DECLARED = re.compile(r"""\s*<\?xml[^>]*?encoding\s*=\s*["']([A-Za-z0-9._-]{1,40})["']""")


@dataclass(slots=True)
class Scanned:
    """What a look at the raw XML finds that a reader of scores may pass over.

    sounds: number of the measure, from 0, in the first part -> the attributes of its <sound> elements that steer
    playing. swing: whether MusicXML 4.0's <swing> asks for it. transposes: id of a part and number of a measure -> what
    its <transpose> says from there on: chromatic, diatonic and octave-change, as text. is_timewise: whether the score is
    written measure after measure instead of part after part.
    """

    sounds: dict[int, dict[str, str]] = field(default_factory=dict)
    swing: bool | None = None
    transposes: dict[tuple[str, int], dict[str, str]] = field(default_factory=dict)
    is_timewise: bool = False


def read_file(path: Path, most_bytes: int = MOST_FILE_BYTES) -> bytes:
    """The bytes of an ordinary file of a sensible size. Raises SheetError."""
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise SheetError("this is a folder; expected a file such as tune.musicxml, tune.mxl or tune.abc")
        if not stat.S_ISREG(mode):
            raise SheetError("this is not an ordinary file; expected one such as tune.musicxml, tune.mxl or tune.abc")
        with path.open("rb") as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                raise SheetError("this is not an ordinary file; expected one such as tune.musicxml")
            data = file.read(most_bytes + 1)
    except FileNotFoundError:
        raise SheetError("there is no such file; expected one such as tune.musicxml, tune.mxl or tune.abc") from None
    except (OSError, ValueError) as error:  # ValueError: a path with a null character
        reason = getattr(error, "strerror", None) or str(error)
        raise SheetError(f"the file cannot be read ({reason}); expected a lead sheet") from None
    if len(data) > most_bytes:
        raise SheetError(f"the file is larger than {most_bytes // 1_000_000} MB; expected the lead sheet of one tune")
    if not data.strip():
        raise SheetError("the file is empty; expected a lead sheet")
    return data


def xml_of(data: bytes) -> str:
    """The MusicXML text in the bytes of a .musicxml, .xml or .mxl file. Raises SheetError."""
    return decode(unpack(data) if data[:2] == b"PK" else data)


def unpack(data: bytes) -> bytes:
    """The score in a compressed MusicXML file: the first root file that its container names."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = archive.infolist()
            if len(entries) > _MOST_ZIP_ENTRIES:
                raise SheetError(f"the packed file holds {len(entries)} files; expected one score")
            names = {entry.filename: entry for entry in entries}
            name = _root_file(_entry(archive, names[_CONTAINER], _MOST_CONTAINER_BYTES)) if _CONTAINER in names else ""
            if name not in names:
                scores = [other for other in names if other.endswith((".xml", ".musicxml")) and "META-INF" not in other]
                if not scores:
                    raise SheetError("the packed file holds no score; expected compressed MusicXML")
                name = scores[0]
            return _entry(archive, names[name], MOST_XML_BYTES)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, NotImplementedError, RuntimeError) as error:
        raise SheetError(f"the packed file is damaged or locked ({error}); expected compressed MusicXML") from None


def _entry(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, most_bytes: int) -> bytes:
    too_large = SheetError(
        f"the packed file unpacks to more than {most_bytes / 1_000_000:g} MB; expected one lead sheet"
    )
    if entry.file_size > most_bytes:
        raise too_large
    with archive.open(entry) as file:
        data = file.read(most_bytes + 1)  # what it really unpacks to; the entry may lie about its size
    if len(data) > most_bytes:
        raise too_large
    return data


def _root_file(container: bytes) -> str:
    """The path of the first score that the container names, "" where it names none."""
    found: list[str] = []

    def start(name: str, attributes: dict[str, str]) -> None:
        if name.rpartition(":")[2] == "rootfile" and not found:
            found.append(attributes.get("full-path", ""))

    _parse(decode(container), start, lambda name: None)
    return found[0] if found else ""


def decode(data: bytes) -> str:
    """The text of an XML file in the encoding it declares. Raises SheetError."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16"
    else:
        declared = _DECLARED.match(data[:200].decode("latin-1").removeprefix("ï»¿"))
        name = declared[1] if declared else "utf-8"
        try:
            encoding = codecs.lookup(name).name
        except LookupError:
            encoding = ""
        if encoding not in _ENCODINGS:
            raise SheetError(f"the file says its encoding is {quoted(name)}; expected UTF-8")
        encoding = "utf-8-sig" if encoding == "utf-8" else encoding
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise SheetError(
            f"line {line} is not {encoding.removesuffix('-sig').upper()} text; save the file as UTF-8"
        ) from None


def decode_abc(data: bytes) -> str:
    """The text of an ABC file, in UTF-8 as the standard asks for (ABC 2.1, 2.2.1), or in the UTF-16 of some editors."""
    is_utf16 = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    try:
        text = data.decode("utf-16" if is_utf16 else "utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise SheetError(f"line {line} is not UTF-8 text; save the file as UTF-8") from None
    if "\0" in text:
        raise SheetError("the file is not text; expected a tune in ABC notation")
    return text


def scan(xml: str) -> Scanned:
    """Look through a MusicXML text without building anything. Raises SheetError where it is no score, or a trap.

    A bar of a million beats is one, or a key of a million sharps: they take music21 gigabytes and minutes.
    """
    found = Scanned()
    path: list[str] = []
    part = measure = elements = -1
    part_id = ""

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal part, part_id, measure, elements
        elements += 1
        if not path:
            found.is_timewise = name == "score-timewise"
        if not path and name not in ("score-partwise", "score-timewise"):
            raise SheetError(f"the file holds {quoted(name)}; expected a MusicXML score (score-partwise)")
        if len(path) >= _MOST_DEPTH or elements > _MOST_ELEMENTS:
            raise SheetError("the score has more parts and signs than any lead sheet; expected one tune")
        path.append(name)
        if path == ["score-partwise", "part"]:
            part, part_id, measure = part + 1, attributes.get("id", ""), -1
        elif name == "transpose":
            found.transposes[part_id, measure] = {}
        elif path in (["score-partwise", "part", "measure"], ["score-timewise", "measure"]):
            measure += 1
            if measure >= _MOST_MEASURES:
                raise SheetError(f"the score has more than {_MOST_MEASURES} bars; expected one tune")
        elif name == "sound" and part == 0:
            steering = ("dacapo", "dalsegno", "fine", "tocoda", "segno", "coda")
            wanted = {key: value for key, value in attributes.items() if key in steering}
            if wanted:
                found.sounds.setdefault(measure, {}).update(wanted)
        elif name == "straight" and "swing" in path:
            found.swing = False
        elif name in ("first", "second") and "swing" in path and found.swing is None:
            found.swing = True

    def end(name: str) -> None:
        path.pop()

    def text(words: str) -> None:
        if path[-2:-1] == ["transpose"] and words.strip():
            found.transposes[part_id, measure][path[-1]] = words.strip()
        most = _MOST_FIGURES.get(path[-1])
        if most and any(len(number) > most for number in re.findall(r"\d+", words)):
            raise SheetError(
                f"bar {measure + 1}: {path[-1]} is {quoted(words)}; expected a number of at most {most} figures"
            )

    _parse(xml, start, end, text)
    if measure < 0:
        raise SheetError("the score has no bar; expected a lead sheet")
    return found


def _parse(
    xml: str,
    start: Callable[[str, dict[str, str]], None],
    end: Callable[[str], None],
    text: Callable[[str], None] | None = None,
) -> None:
    parser = expat.ParserCreate("utf-8")  # the text is encoded here, whatever its declaration says
    parser.buffer_text = True
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = text  # comes whole, up to 8 kB, because of buffer_text
    parser.StartDoctypeDeclHandler = _no_internal_subset
    parser.EntityDeclHandler = _no_entity
    try:
        parser.Parse(xml.encode("utf-8", "surrogatepass"), True)
    except expat.ExpatError as error:
        raise SheetError(
            f"the file breaks off or is damaged at line {error.lineno} ({expat.ErrorString(error.code)}); expected MusicXML"
        ) from None


def _no_internal_subset(name: str, system: str | None, public: str | None, has_internal_subset: int) -> None:
    if has_internal_subset:
        raise SheetError("the file defines a document type of its own; expected plain MusicXML")


def _no_entity(*_: object) -> None:
    raise SheetError("the file defines entities; expected plain MusicXML")
