"""Words in an SVG as drawn outlines, so that a sheet looks the same wherever it is opened: most programs that show SVG take no fonts from the file itself.

Typst (Apache 2.0) draws them in the face that it brings along, Libertinus Serif (SIL Open Font License 1.1). What the face lacks, such as a title in Chinese,
stays text. The words are kept beside their outlines (`aria-label`), to be found and read aloud.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree

from companion.export.engraving import SVG, missing

Element = ElementTree.Element
_XLINK = "http://www.w3.org/1999/xlink"
_SIZE = 100  # points at which words are drawn before they are scaled
_LACKED = "\U000f0000"  # for private use: no face has it
_DRAW = f"""
#set page(width: auto, height: auto, margin: 0mm)
#set text(font: "Libertinus Serif", size: {_SIZE}pt, top-edge: "ascender", bottom-edge: "descender", fallback: false)
#for (place, (words, weight)) in json(bytes(sys.inputs.words)).enumerate() {{
  if place > 0 {{ pagebreak() }}
  text(weight: weight, words)
}}
"""
Words = tuple[str, str]  # the words, and "regular" or "bold"


@dataclass(frozen=True, slots=True)
class _Outline:
    """glyphs: their names, each with its place from the start of the words; width: of all."""

    glyphs: tuple[tuple[str, float], ...]
    width: float


def outlined(pages: Sequence[str]) -> list[str]:
    """The pages with every text drawn. Raises ExportError where the library is not installed."""
    for prefix, address in (("", SVG), ("xlink", _XLINK)):
        ElementTree.register_namespace(prefix, address)
    roots = [ElementTree.fromstring(page) for page in pages]
    wanted = dict.fromkeys(_words(text) for root in roots for text in root.iter(f"{{{SVG}}}text"))
    outlines, glyphs = _drawn([words for words in wanted if words[0]])
    for root in roots:
        used: set[str] = set()
        for parent in list(root.iter()):
            for place, text in enumerate(list(parent)):
                outline = outlines.get(_words(text)) if text.tag == f"{{{SVG}}}text" else None
                if outline is not None:
                    parent[place] = _placed(text, outline)
                    used.update(name for name, _ in outline.glyphs)
        defs = ElementTree.SubElement(root, f"{{{SVG}}}defs")
        defs.extend(glyphs[name] for name in sorted(used))
    head = '<?xml version="1.0" encoding="UTF-8"?>\n'
    return [head + ElementTree.tostring(root, encoding="unicode") + "\n" for root in roots]


def _words(text: Element) -> Words:
    return ((text.text or "").strip(), "bold" if text.get("font-weight") == "bold" else "regular")


def _drawn(wanted: Sequence[Words]) -> tuple[dict[Words, _Outline], dict[str, Element]]:
    """Outlines of words that the face has, and the glyphs by their names."""
    try:
        import typst
    except ImportError as error:
        raise missing("a sheet") from error
    asked = [*wanted, (_LACKED, "regular"), (_LACKED, "bold")]
    drawn = typst.compile(
        _DRAW.encode(), format="svg", sys_inputs={"words": json.dumps(asked)}, ignore_system_fonts=True
    )
    pages = [ElementTree.fromstring(page) for page in (drawn if isinstance(drawn, list) else [drawn])]
    glyphs: dict[str, Element] = {}
    for page in pages:
        for symbol in page.iter(f"{{{SVG}}}symbol"):
            for path in symbol:
                path.set("style", "stroke:none")  # Verovio's sheet gives every path one
            glyphs[symbol.get("id") or ""] = symbol
    found = [_Outline(tuple(_glyphs_of(page)), float((page.get("width") or "0").removesuffix("pt"))) for page in pages]
    lacked = {name for outline in found[-2:] for name, _ in outline.glyphs}
    return {
        words: outline for words, outline in zip(wanted, found) if not any(name in lacked for name, _ in outline.glyphs)
    }, glyphs


def _glyphs_of(page: Element) -> Iterator[tuple[str, float]]:
    for run in page.iter(f"{{{SVG}}}g"):
        left = float((run.get("transform") or "").removeprefix("matrix(").split()[4])
        for use in run.findall(f"{{{SVG}}}use"):
            yield (use.get(f"{{{_XLINK}}}href") or "").removeprefix("#"), left + float(use.get("x") or 0)


def _placed(text: Element, outline: _Outline) -> Element:
    """The outlines where the text stood."""
    scale = float((text.get("font-size") or "0").removesuffix("px")) / _SIZE
    back = {"middle": 0.5, "end": 1.0}.get(text.get("text-anchor") or "", 0.0) * outline.width * scale
    x, y = float(text.get("x") or 0) - back, float(text.get("y") or 0)
    place = f"translate({x:.6g} {y:.6g}) scale({scale:.6g} {-scale:.6g})"
    group = Element(f"{{{SVG}}}g", {"role": "img", "aria-label": _words(text)[0], "transform": place})
    group.tail = text.tail
    for name, left in outline.glyphs:
        ElementTree.SubElement(group, f"{{{SVG}}}use", {f"{{{_XLINK}}}href": f"#{name}", "x": f"{left:g}"})
    return group
