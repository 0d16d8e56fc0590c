"""A printed sheet: the loop on staves with chord symbols, shells and fingering, on A4 pages as SVG or PDF.

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
from companion.export.engraving import SVG, Frame, engraved, missing
from companion.export.folded import folded
from companion.export.musicxml import FEEL_WORDS
from companion.export.score import Score
from companion.export.sizes import A4_MM, MM_A_POINT, SIZES, SheetSize
from companion.theory.key import Key

Element = ElementTree.Element
_UNITS_PER_MM = 10
# The face that Typst brings first, for sheets that look alike as PDF; then what any viewer has.
FACE = "Libertinus Serif, Linux Libertine, Times New Roman, Times, serif"
# Verovio writes signs inside text in its own music face, which a viewer need not have (SMuFL 1.4: "Figured bass" and
# "Chord symbols", whose signs it takes for the roots and basses of chords).
_SIGNS = {
    "\uea63": "♭♭", "\uea64": "♭", "\uea65": "♮", "\uea66": "♯", "\uea67": "♯♯",
    "\ued60": "♭", "\ued61": "♮", "\ued62": "♯", "\ued63": "♯♯", "\ued64": "♭♭",
}  # fmt: skip
_TEXTS = ("harm", "fing", "dir", "mNum", "reh", "tempo", "ending")  # Verovio's classes that hold words
_BOLD = ("fing", "reh", "ending")
_FINEST_TITLE_PT = 12  # of a title that is long
_LINE = 1.4  # from one line of words to the next, times their size


@dataclass(frozen=True, slots=True)
class PrintedSheet:
    """One run of pages. heading: the title; below: what stands under it, left and right; note: in a line of its own below that, "" for none."""

    heading: str
    below: tuple[str, str]
    score: Score
    note: str = ""


def sheet_of(score: Score, note: str = "", *, fold: bool = True) -> PrintedSheet:
    """note: said under key and meter, such as which round of a drill this is. fold: whether repeats are printed as signs."""
    bars = [bar for bar in score.bars if bar.length is None]
    meters = list(dict.fromkeys(bar.meter.name for bar in bars))
    pulse = "♩." if bars[0].meter.is_compound else {2: "half note", 4: "♩", 8: "♪"}.get(bars[0].meter.unit, "beat")
    times = f", the form {score.choruses} times" if score.choruses > 1 else ""
    left = f"{key_words(score.key)}, {' and '.join(meters)}{times}"
    right = f"{FEEL_WORDS[score.feel]}, {pulse} = {score.tempo_bpm:g}"
    return PrintedSheet(plain(score.title), (left, right), folded(score) if fold else score, note)


def key_words(key: Key) -> str:
    """ "B♭ major"."""
    return f"{key.tonic.letter}{key.tonic.name[1:].replace('b', '♭').replace('#', '♯')} {key.mode}"


def pages_of(sheets: Sequence[PrintedSheet], size: SheetSize = SIZES["stand"]) -> list[str]:
    """Every page as SVG. Raises ExportError where the engraving library is not installed."""
    drawn = [(sheet, page) for sheet in sheets for page in engraved(sheet.score, size, _frame(sheet, size))]
    pages = []
    for number, (sheet, page) in enumerate(drawn, 1):
        first = number == 1 or drawn[number - 2][0] is not sheet
        pages.append(_finished(page, sheet, size, first, f"{number} / {len(drawn)}" if len(drawn) > 1 else ""))
    return pages


def _frame(sheet: PrintedSheet, size: SheetSize) -> Frame:
    """What head and foot take."""
    lines = 2 if sheet.note else 1
    first_pt = 1.2 * size.title_pt + (1.0 + _LINE * lines) * size.head_pt
    next_pt = 2.5 * size.foot_pt
    return Frame(
        size.margin_mm + first_pt * MM_A_POINT, size.margin_mm + next_pt * MM_A_POINT, size.foot_pt * MM_A_POINT
    )


def pdf_of(pages: Sequence[str], title: str) -> bytes:
    """The pages as one PDF with its text as text. Raises ExportError where the PDF library is not installed."""
    try:
        import typst
    except ImportError as error:
        raise missing("a PDF") from error
    width, height = A4_MM
    source = "\n#pagebreak()\n".join(
        f'#image(bytes(sys.inputs.at("page{number}")), format: "svg", width: {width}mm, height: {height}mm)'
        for number in range(len(pages))
    )
    setup = f"#set page(width: {width}mm, height: {height}mm, margin: 0mm)\n#set document(title: sys.inputs.title)\n"
    inputs = {f"page{number}": page for number, page in enumerate(pages)} | {"title": title}
    return typst.compile((setup + source).encode(), sys_inputs=inputs, ignore_system_fonts=True)


def _finished(page: Element, sheet: PrintedSheet, size: SheetSize, first: bool, foot: str) -> str:
    """The page with its head and foot, and text that any viewer can show."""
    for prefix, address in (("", SVG), ("xlink", "http://www.w3.org/1999/xlink")):
        ElementTree.register_namespace(prefix, address)
    width, height = A4_MM
    page.set("width", f"{width:g}mm")
    page.set("height", f"{height:g}mm")
    page.set("font-family", FACE)
    _mend_text(page, size)
    left, right, top = size.margin_mm, width - size.margin_mm, size.margin_mm
    if first:
        title_pt = max(
            _FINEST_TITLE_PT, min(size.title_pt, 2 * (right - left) / MM_A_POINT / max(1, len(sheet.heading)))
        )
        below = top + (1.2 * size.title_pt + size.head_pt) * MM_A_POINT
        _text(page, sheet.heading, width / 2, top + 0.8 * size.title_pt * MM_A_POINT, title_pt, "middle", "bold")
        _text(page, sheet.below[0], left, below, size.head_pt, "start")
        _text(page, sheet.below[1], right, below, size.head_pt, "end")
        if sheet.note:
            _text(page, sheet.note, left, below + _LINE * size.head_pt * MM_A_POINT, size.head_pt, "start")
    else:
        _text(page, sheet.heading, left, top + 0.8 * size.foot_pt * MM_A_POINT, size.foot_pt, "start")
    if foot:
        _text(page, foot, width / 2, height - size.margin_mm, size.foot_pt, "middle")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(page, encoding="unicode") + "\n"


def _text(
    page: Element, words: str, x_mm: float, y_mm: float, points: float, anchor: str, weight: str = "normal"
) -> None:
    attributes = {
        "x": f"{x_mm * _UNITS_PER_MM:g}", "y": f"{y_mm * _UNITS_PER_MM:g}",
        "font-size": f"{points * MM_A_POINT * _UNITS_PER_MM:.4g}", "text-anchor": anchor, "font-weight": weight,
        "fill": "black",
    }  # fmt: skip
    ElementTree.SubElement(page, f"{{{SVG}}}text", attributes).text = words


def _mend_text(page: Element, size: SheetSize) -> None:
    """Signs in the text's own face, no blanks of the file's layout; the numbers of bars as large as they are to be."""
    for group in page.iter(f"{{{SVG}}}g"):
        kind = (group.get("class") or "").split(" ")[0]
        if kind in _TEXTS:
            for text in group.findall(f"{{{SVG}}}text"):
                _mend_one(text, size.numbers_pt * MM_A_POINT * 100 if kind in ("mNum", "ending") else None)
                text.set("font-weight", "bold" if kind in _BOLD else "normal")
    for style in page.iter(f"{{{SVG}}}style"):
        style.text = re.sub(r"@font-face\s*{[^}]*}", "", style.text or "")


def _mend_one(text: Element, wanted: float | None) -> None:
    words, size = (text.text or "").strip(), 0.0
    for span in text.iter(f"{{{SVG}}}tspan"):
        if span.text and span.text.strip():
            music = span.get("font-family") == "Leipzig"
            words += "".join(_SIGNS.get(sign, sign) for sign in span.text) if music else span.text
            if not music or not size:
                size = float((span.get("font-size") or "405px").removesuffix("px"))
    for child in list(text):
        text.remove(child)
    text.text = words.strip()
    text.set("font-style", "normal")
    text.set("font-size", f"{wanted or size:g}px")
