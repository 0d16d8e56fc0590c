"""What is changed in Verovio's own format between our MusicXML and the page: sizes of words, fingers in stacks, and where lines and pages begin.

Source: Music Encoding Initiative, MEI Guidelines 5.0 ("rend", "fing", "sb", "pb").
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection
from xml.etree import ElementTree

from companion.export.sizes import MM_A_POINT, SheetSize

Element = ElementTree.Element
TEXT_UNITS = 4.5  # Verovio's size of text, in its units
_NAMESPACE = ' xmlns="http://www.music-encoding.org/ns/mei"'
_GAP = "\u00a0\u00a0"
_ID = "{http://www.w3.org/XML/1998/namespace}id"


def read_mei(text: str, size: SheetSize) -> Element:
    """Verovio's text, with symbols, marks and words as large as they are to be, fingers in stacks and without breaks."""
    mei = ElementTree.fromstring(re.sub(r"<\?.*?\?>", "", text).replace(_NAMESPACE, "", 1))
    _size_words(mei, size)
    _stack_fingers(mei)
    _without_breaks(mei)
    return mei


def mei_text(mei: Element) -> str:
    """As Verovio reads it."""
    return ElementTree.tostring(mei, encoding="unicode").replace("<mei", f"<mei{_NAMESPACE}", 1)


def _size_words(mei: Element, size: SheetSize) -> None:
    """Symbols, marks and words as large as they are to be."""
    for tag, points in (
        ("harm", size.symbols_pt),
        ("reh", size.marks_pt),
        ("dir", size.words_pt),
        ("tempo", size.words_pt),
    ):
        percent = f"{100 * points * MM_A_POINT / (TEXT_UNITS * size.unit_mm):.2f}%"
        for element in mei.iter(tag):
            inner = element.find("rend")
            if inner is None:
                inner = ElementTree.Element("rend")
                inner.text, element.text = element.text, None
                inner.extend(list(element))
                for child in list(element):
                    element.remove(child)
                element.append(inner)
            if tag == "harm":  # else Verovio sets one symbol right behind another
                inner.text = (inner.text or "") + _GAP
            inner.set("fontsize", percent)
            inner.set("fontstyle", "normal")


def _stack_fingers(mei: Element) -> None:
    """The fingers of a chord one over the other, wherever its heads lie."""
    chord_of = {
        "#" + (note.get(_ID) or ""): "#" + (chord.get(_ID) or "")
        for chord in mei.iter("chord")
        for note in chord.iter("note")
    }
    below: dict[str, list[Element]] = defaultdict(list)
    for finger in mei.iter("fing"):
        note = finger.get("startid") or ""
        finger.set("startid", chord_of.get(note, note))
        if finger.get("place") == "below":
            below[finger.get("startid") or ""].append(finger)
    for fingers in below.values():  # Verovio begins at the staff, we with the lowest note
        for finger, words in zip(fingers, [finger.text for finger in reversed(fingers)]):
            finger.text = words


def set_breaks(mei: Element, lines: list[int], pages: Collection[int] = ()) -> None:
    """Begin a line before these bars, counted from 0, and a page before those that begin one; before the first there is nothing to say."""
    _without_breaks(mei)
    parents = {child: parent for parent in mei.iter() for child in parent}
    measures = list(mei.iter("measure"))
    for bar in lines:
        if bar:
            first = measures[bar]
            parent = parents[first]
            while parent.tag == "ending" and next(parent.iter("measure")) is first:
                first, parent = parent, parents[parent]  # else it is drawn as one that goes on
            parent.insert(list(parent).index(first), ElementTree.Element("pb" if bar in pages else "sb"))


def _without_breaks(mei: Element) -> None:
    for parent in list(mei.iter()):
        for child in [child for child in parent if child.tag in ("sb", "pb")]:
            parent.remove(child)
