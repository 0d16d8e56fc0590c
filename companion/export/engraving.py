"""A score engraved by Verovio (LGPL), page by page: our MusicXML, in lines and pages of our own choosing.

It is laid out three times: all bars in one line, for their widths; the lines on one long page, for their heights; then the pages. Verovio's lengths are a
hundredth of a millimetre in what it draws and a tenth in what it is told. Sizes of text are written into its MEI, where they are part of the layout.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

from companion.chart.grid import BARS_A_LINE
from companion.export.layout import PageOfLines, lines_of, pages_of_lines
from companion.export.mei import TEXT_UNITS, mei_text, read_mei, set_breaks
from companion.export.midi import signed_key
from companion.export.musicxml import musicxml_text
from companion.export.options import ExportError
from companion.export.score import Score
from companion.export.sizes import A4_MM, MM_A_POINT, SheetSize

if TYPE_CHECKING:
    import verovio

Element = ElementTree.Element
SVG = "http://www.w3.org/2000/svg"
_LONG_MM = 6000  # of a page that holds every line
_CLEF, _METER, _SIGN = 4.0, 2.5, 1.0  # how wide they are, in spaces of the staff, about
_STRETCHED = 3  # bars that the last line must have to go to the edge of the page
_FILLED = 0.5  # of a page that its lines are spread over; fewer lines stay together
_MOST_PAGES = 2  # without a page to turn, side by side on the stand
_BETWEEN_LINES, _FEW_LINES, _BETWEEN_STAVES = 3, 14, 6  # least room, in Verovio's units
_TIGHT_LINES, _TIGHT_STAVES = 0, 4


@dataclass(frozen=True, slots=True)
class Frame:
    """Room that the notes must leave, in millimetres: above them on the first page and on the others, and at the foot."""

    first_mm: float
    next_mm: float
    foot_mm: float


@dataclass(frozen=True, slots=True)
class _Work:
    """One sheet being laid out. tight: closer together, to save a page."""

    toolkit: verovio.toolkit
    mei: Element
    score: Score
    size: SheetSize
    frame: Frame
    tight: bool = False


def engraved(score: Score, size: SheetSize, frame: Frame) -> list[Element]:
    """The pages as SVG, without a head; closer together where that makes them two. Raises ExportError where the library is not there or cannot read the score."""
    toolkit = _toolkit()
    if not toolkit.loadData(musicxml_text(score, to_engrave=True)):
        raise ExportError("the sheet could not be engraved; its MusicXML can still be exported")
    work = _Work(toolkit, read_mei(toolkit.getMEI(), size), score, size, frame)
    lines, pages = _layout(work)
    if len(pages) > _MOST_PAGES:
        closer = replace(work, tight=True)
        tight_lines, tight_pages = _layout(closer)
        if len(tight_pages) < len(pages):
            work, lines, pages = closer, tight_lines, tight_pages
    set_breaks(work.mei, lines, {lines[page.first] for page in pages})
    drawn = _drawn(work, pages, is_last_short=len(score.bars) - lines[-1] < _STRETCHED)
    _number_marked(drawn, [score.bars[line].number for line in lines], size)
    return drawn


def _layout(work: _Work) -> tuple[list[int], list[PageOfLines]]:
    lines = _lines(work)
    set_breaks(work.mei, lines)
    return lines, _pages(work, lines)


def _toolkit() -> verovio.toolkit:
    try:
        import verovio
    except ImportError as error:
        raise missing("a sheet") from error
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"xmlIdSeed": 1})  # the same sheet, the same file
    return toolkit


def missing(what: str) -> ExportError:
    """What to say where a library of the extra part for sheets is not there."""
    return ExportError(f"{what} needs the extra part for sheets: pip install 'shell-companion[sheets]'")


def _options(work: _Work, **more: object) -> dict[str, object]:
    size = work.size
    margin = size.margin_mm * 10
    return {
        "unit": size.unit_mm * 10,
        "pageWidth": A4_MM[0] * 10,
        "pageHeight": A4_MM[1] * 10,
        "pageMarginTop": 0,
        "pageMarginBottom": 0,
        "pageMarginLeft": margin,
        "pageMarginRight": margin,
        "svgViewBox": True,
        "header": "none",
        "footer": "none",
        "fingeringScale": size.fingers_pt * MM_A_POINT / (TEXT_UNITS * size.unit_mm),
        "staffLineWidth": 0.2,
        "barLineWidth": 0.4,
        "spacingSystem": _TIGHT_LINES if work.tight else _BETWEEN_LINES,
        "spacingStaff": _TIGHT_STAVES if work.tight else _BETWEEN_STAVES,
        "mnumInterval": 0,
        # A toolkit remembers what it was told before.
        "noJustification": False,
        "adjustPageHeight": False,
        "justifyVertically": False,
        "topMarginHarm": 0.5 if work.tight else 1.0,
        "bottomMarginHarm": 0.5 if work.tight else 1.0,
        **more,
    }


def _render(work: _Work, page: int = 1, **options: object) -> Element:
    work.toolkit.setOptions(_options(work, **options))
    work.toolkit.loadData(mei_text(work.mei))
    return ElementTree.fromstring(work.toolkit.renderToSVG(page))


def _lines(work: _Work) -> list[int]:
    """The first bar of each line."""
    score, size = work.score, work.size
    set_breaks(work.mei, [])
    drawn = _render(work, breaks="none", noJustification=True, adjustPageHeight=True)
    widths = [float(width) for _, width, _ in map(_staff_place, of_class(drawn, "measure"))]
    space = 200 * size.unit_mm
    head = (_CLEF + _SIGN * abs(signed_key(score.key).fifths)) * space
    widths[0] -= head + _METER * space
    room = (A4_MM[0] - 2 * size.margin_mm) * 100
    # A short second ending goes on in its line, whatever its section is called.
    sections = [number for number, bar in enumerate(score.bars) if bar.section and not _short_ending(score, bar.ending)]
    together = [
        number
        for number, bar in enumerate(score.bars)
        if number and bar.ending == score.bars[number - 1].ending and _short_ending(score, bar.ending)
    ]
    has_pickup = score.bars[0].length is not None
    return lines_of(widths, head, room, sections, together, pickup=has_pickup, few=work.tight)


def _short_ending(score: Score, ending: int) -> bool:
    return ending > 0 and sum(bar.ending == ending for bar in score.bars) < BARS_A_LINE


def _pages(work: _Work, lines: list[int]) -> list[PageOfLines]:
    """What stands on each page."""
    frame = work.frame
    drawn = _render(work, breaks="encoded", adjustPageHeight=True, pageHeight=_LONG_MM * 10)
    tops = [_staff_place(next(of_class(system, "measure")))[2] for system in of_class(drawn, "system")]
    whole = float((drawn.get("viewBox") or "0 0 0 0").split()[3]) * 10
    sections = {number for number, bar in enumerate(lines) if work.score.bars[bar].section}
    below = frame.foot_mm + work.size.margin_mm
    rooms = tuple((A4_MM[1] - above - below) * 100 for above in (frame.first_mm, frame.next_mm))
    return pages_of_lines(tops, whole - (tops[-1] - tops[0]), (rooms[0], rooms[1]), sections)


def _drawn(work: _Work, of_lines: list[PageOfLines], *, is_last_short: bool) -> list[Element]:
    """Every page; its lines spread over it, but not apart where there are few."""
    pages = []
    for number, of in enumerate(of_lines, 1):
        above = work.frame.first_mm if number == 1 else work.frame.next_mm
        is_filled = of.full > _FILLED
        drawn = _render(
            work,
            number,
            breaks="encoded",
            pageMarginTop=above * 10,
            pageMarginBottom=(work.frame.foot_mm + work.size.margin_mm) * 10,
            justifyVertically=is_filled,
            justificationMaxVertical=0.3,
            justificationBraceGroup=0.2,  # both hands stay together
            minLastJustification=1.0 if is_last_short else 0.0,
            **({} if is_filled else {"spacingSystem": _FEW_LINES}),
        )
        pages.append(drawn)
    return pages


def _number_marked(pages: list[Element], numbers: list[int], size: SheetSize) -> None:
    """The bar's number over a section's mark at the start of a line, where Verovio has none. numbers: of the first bar of each line."""
    systems = [system for page in pages for system in of_class(page, "system")]
    for system, number in zip(systems, numbers, strict=True):
        measure = next(of_class(system, "measure"))
        mark = next(of_class(measure, "reh"), None)
        box = None if mark is None else mark.find(f"{{{SVG}}}rect")
        if mark is not None and box is not None and number > 1:
            place = {
                "x": box.get("x") or "0",
                "y": f"{float(box.get('y') or 0) - 90 * size.unit_mm:g}",
                "font-size": f"{size.numbers_pt * MM_A_POINT * 100:g}px",
            }
            group = ElementTree.SubElement(measure, f"{{{SVG}}}g", {"class": "mNum"})
            ElementTree.SubElement(group, f"{{{SVG}}}text", place).text = str(number)


def of_class(drawn: Element, name: str) -> Any:
    """The groups of one of Verovio's classes, in the order of the music."""
    return (group for group in drawn.iter(f"{{{SVG}}}g") if (group.get("class") or "").split(" ")[0] == name)


def _staff_place(measure: Element) -> tuple[float, float, float]:
    """Of a bar's upper staff: where it begins, how wide it is, where its upper line lies."""
    staff = next(of_class(measure, "staff"))
    line = next(staff.iter(f"{{{SVG}}}path")).get("d") or ""
    left, top, right = (float(number) for number in re.findall(r"-?[\d.]+", line)[:3])
    return left, right - left, top
