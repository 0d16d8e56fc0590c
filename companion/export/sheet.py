"""A printed sheet: the loop on a staff with chord symbols, shells and fingering, on A4 pages as SVG or PDF.

Verovio (LGPL) engraves our MusicXML. Typst (Apache 2.0) puts the pages into a PDF: of the PDF writers with wheels for
every system that were tried on Verovio's SVG only it kept all of it (fpdf2 leaves nested drawings out; svglib with
reportlab loses text behind a sign and thickens lines), and it brings a text face with flats and sharps along.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree

from companion.base.text import plain
from companion.export.musicxml import FEEL_WORDS, musicxml_text
from companion.export.options import ExportError
from companion.export.score import Score
from companion.theory.key import Key

A4_MM = (210, 297)
_UNITS_PER_MM = 10
_SVG = "http://www.w3.org/2000/svg"
# The face that Typst brings first, for sheets that look alike as PDF; then what any viewer has.
FACE = "Libertinus Serif, Linux Libertine, Times New Roman, Times, serif"
# Verovio writes signs inside text in its own music face, which a viewer need not have (SMuFL 1.4: "Figured bass" and
# "Chord symbols", whose signs it takes for the roots and basses of chords).
_SIGNS = {
    "\uea63": "♭♭", "\uea64": "♭", "\uea65": "♮", "\uea66": "♯", "\uea67": "♯♯",
    "\ued60": "♭", "\ued61": "♮", "\ued62": "♯", "\ued63": "♯♯", "\ued64": "♭♭",
}  # fmt: skip
_TEXT_SIZES = {"harm": 1.3, "fing": 1.0, "dir": 1.15, "mNum": 1.0}  # times Verovio's own
_MARK_RAISED = 110  # in Verovio's units, of which a space of the staff has 180
# In percent of Verovio's own staff of 7.2 mm: the largest that puts the tune on one page, else the largest.
_SCALES = (80, 74, 68, 66)
_HEAD, _MARGIN = 330, 150  # room above the first line and around, in tenths of a millimetre


@dataclass(frozen=True, slots=True)
class PrintedSheet:
    """One run of pages. heading: the title; below: what stands under it, left and right."""

    heading: str
    below: tuple[str, str]
    score: Score


def sheet_of(score: Score, note: str = "") -> PrintedSheet:
    """note: said under the title instead of the form, such as which round of a drill this is."""
    bars = [bar for bar in score.bars if bar.length is None]
    meters = list(dict.fromkeys(bar.meter.name for bar in bars))
    pulse = "♩." if bars[0].meter.is_compound else {2: "half note", 4: "♩", 8: "♪"}.get(bars[0].meter.unit, "beat")
    left = note or f"{key_words(score.key)}, {' and '.join(meters)}"
    return PrintedSheet(plain(score.title), (left, f"{FEEL_WORDS[score.feel]}, {pulse} = {score.tempo_bpm:g}"), score)


def key_words(key: Key) -> str:
    """ "B♭ major"."""
    return f"{key.tonic.letter}{key.tonic.name[1:].replace('b', '♭').replace('#', '♯')} {key.mode}"


def pages_of(sheets: Sequence[PrintedSheet]) -> list[str]:
    """Every page as SVG. Raises ExportError where the engraving library is not installed."""
    drawn = [(sheet, page) for sheet in sheets for page in _engraved(sheet)]
    pages = []
    for number, (sheet, page) in enumerate(drawn, 1):
        first = number == 1 or drawn[number - 2][0] is not sheet
        pages.append(_finished(page, sheet, first, f"{number} / {len(drawn)}" if len(drawn) > 1 else ""))
    return pages


def pdf_of(pages: Sequence[str], title: str) -> bytes:
    """The pages as one PDF with its text as text. Raises ExportError where the PDF library is not installed."""
    try:
        import typst
    except ImportError as error:
        raise _missing("a PDF") from error
    width, height = A4_MM
    source = "\n#pagebreak()\n".join(
        f'#image(bytes(sys.inputs.at("page{number}")), format: "svg", width: {width}mm, height: {height}mm)'
        for number in range(len(pages))
    )
    setup = f"#set page(width: {width}mm, height: {height}mm, margin: 0mm)\n#set document(title: sys.inputs.title)\n"
    inputs = {f"page{number}": page for number, page in enumerate(pages)} | {"title": title}
    return typst.compile((setup + source).encode(), sys_inputs=inputs, ignore_system_fonts=True)


def _missing(what: str) -> ExportError:
    return ExportError(f"{what} needs the extra part for sheets: pip install 'shell-companion[sheets]'")


def _engraved(sheet: PrintedSheet) -> list[str]:
    """Verovio's pages, without a head."""
    try:
        import verovio
    except ImportError as error:
        raise _missing("a sheet") from error
    verovio.enableLog(verovio.LOG_OFF)
    musicxml = musicxml_text(sheet.score, to_engrave=True)
    toolkit = verovio.toolkit()
    for scale in (*_SCALES, _SCALES[0]):
        toolkit.setOptions(_options(scale))
        if not toolkit.loadData(musicxml):
            raise ExportError("the sheet could not be engraved; its MusicXML can still be exported")
        if toolkit.getPageCount() == 1:
            break
    return [toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1)]


def _options(scale: int) -> dict[str, object]:
    """What Verovio is told; lengths in tenths of a millimetre, which it wants before scaling."""
    head, margin = _HEAD * 100 // scale, _MARGIN * 100 // scale
    return {
        "pageWidth": A4_MM[0] * _UNITS_PER_MM,
        "pageHeight": A4_MM[1] * _UNITS_PER_MM,
        "scale": scale,
        "scaleToPageSize": True,
        "svgViewBox": True,
        "breaks": "line",
        "header": "none",
        "footer": "none",
        "pageMarginTop": head,
        "pageMarginBottom": margin,
        "pageMarginLeft": margin,
        "pageMarginRight": margin,
        "spacingSystem": 8,
        "spacingStaff": 6,
        "justifyVertically": True,
        "justificationMaxVertical": 0.5,
        "minLastJustification": 0.0,
        "mnumInterval": 0,
        "xmlIdSeed": 1,  # the same sheet, the same file
    }


def _finished(svg: str, sheet: PrintedSheet, first: bool, foot: str) -> str:
    """The page with its head and foot, and text that any viewer can show."""
    for prefix, address in (("", _SVG), ("xlink", "http://www.w3.org/1999/xlink")):
        ElementTree.register_namespace(prefix, address)
    page = ElementTree.fromstring(svg)
    width, height = (mm * _UNITS_PER_MM for mm in A4_MM)
    page.set("width", f"{A4_MM[0]}mm")
    page.set("height", f"{A4_MM[1]}mm")
    page.set("font-family", FACE)
    _mend_text(page)
    if first:
        _text(page, sheet.heading, width / 2, 190, 74, "middle", "bold")
        _text(page, sheet.below[0], 150, 275, 42, "start")
        _text(page, sheet.below[1], width - 150, 275, 42, "end")
    else:
        _text(page, sheet.heading, 150, 130, 36, "start")
    if foot:
        _text(page, foot, width / 2, height - 70, 34, "middle")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(page, encoding="unicode") + "\n"


def _text(
    page: ElementTree.Element, words: str, x: float, y: float, size: int, anchor: str, weight: str = "normal"
) -> None:
    attributes = {
        "x": f"{x:g}", "y": f"{y:g}", "font-size": f"{size}", "text-anchor": anchor, "font-weight": weight,
        "fill": "black",
    }  # fmt: skip
    ElementTree.SubElement(page, f"{{{_SVG}}}text", attributes).text = words


def _mend_text(page: ElementTree.Element) -> None:
    """Signs in the text's own face, sizes as a reader at the keyboard needs them, no blanks of the file's layout."""
    for group in page.iter(f"{{{_SVG}}}g"):
        kind = (group.get("class") or "").split(" ")[0]
        if kind == "reh":  # clear of a chord symbol below it, now that those are larger
            group.set("transform", f"translate(0, -{_MARK_RAISED})")
        factor = _TEXT_SIZES.get(kind)
        if factor:
            for text in group.findall(f"{{{_SVG}}}text"):
                _mend_one(text, factor)
    for style in page.iter(f"{{{_SVG}}}style"):
        style.text = re.sub(r"@font-face\s*{[^}]*}", "", style.text or "")


def _mend_one(text: ElementTree.Element, factor: float) -> None:
    words, size = "", 0.0
    for span in text.iter(f"{{{_SVG}}}tspan"):
        if span.text and span.text.strip():
            music = span.get("font-family") == "Leipzig"
            words += "".join(_SIGNS.get(sign, sign) for sign in span.text) if music else span.text
            if not music or not size:
                size = float((span.get("font-size") or "405px").removesuffix("px"))
    for child in list(text):
        text.remove(child)
    text.text = words.strip()
    text.set("font-style", "normal")
    text.set("font-size", f"{size * factor:g}px")
