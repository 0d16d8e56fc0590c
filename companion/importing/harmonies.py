"""The chord symbols of a MusicXML file, as the file itself has them.

music21 builds the tones of every chord it reads, and gives a whole file up over one that takes away a degree which is
not there. So the chord symbols are read here, and music21 gets a plain one in the place of each, which carries its
number: what it says of them is where they stand.

Source: MusicXML 4.0, elements <harmony>, <root>, <kind>, <inversion>, <bass>, <degree>.
"""

from __future__ import annotations

from dataclasses import dataclass
from xml.etree import ElementTree

from companion.importing.symbols import ReadDegree, symbol_of
from companion.theory.pitch import Tone, degree_interval
from companion.theory.symbols import parse_chord

_NUMBER = "chord-"


@dataclass(frozen=True, slots=True)
class Harmony:
    """symbol: ours, None where no chord is played or none can be written. said: what was not understood, or ""."""

    symbol: str | None
    said: str


def take_harmonies(xml: str) -> tuple[str, list[Harmony]]:
    """The text with a numbered plain chord in the place of each chord symbol, and what the symbols were.

    The text must have been looked through by `guard.scan`.
    """
    root = ElementTree.fromstring(xml)
    harmonies: list[Harmony] = []
    for element in root.iter("harmony"):
        harmonies.append(_harmony(element))
        kept = [child for child in element if child.tag in ("offset", "staff")]
        element[:] = [_plain("root", _plain("root-step", text="C")), _plain("kind", text="major")] + kept
        element[1].set("text", f"{_NUMBER}{len(harmonies) - 1}")
    return ElementTree.tostring(root, encoding="unicode"), harmonies


def number_of(text: str) -> int | None:
    """The number of a chord symbol from the text that music21 keeps of it."""
    number = text.removeprefix(_NUMBER)
    return int(number) if text.startswith(_NUMBER) and number.isdigit() else None


def _plain(tag: str, *children: ElementTree.Element, text: str = "") -> ElementTree.Element:
    element = ElementTree.Element(tag)
    element.text = text
    element.extend(children)
    return element


def _harmony(element: ElementTree.Element) -> Harmony:
    kinds = element.findall("kind")
    kind = _text(kinds[0]) if kinds else ""
    if kind == "none":
        return Harmony(None, "")
    root = _tone(element.find("root"), "root")
    if root is None:
        return Harmony(
            None, "a chord without a root, or on one between the keys, has no symbol; N.C. stands in its place"
        )
    bass = element.find("bass")
    low = _tone(bass, "bass") if bass is not None else None
    degrees, odd = _degrees(element)
    symbol, said = symbol_of(root, kind or "major", degrees, low, kinds[0].get("text", "") if kinds else "")
    if symbol is not None and bass is None:
        symbol = _inverted(symbol, element.find("inversion"))
    remarks = [said] if said else []
    if odd:
        remarks.append(f"a degree of {symbol} cannot be read; left out")
    if bass is not None and low is None:
        remarks.append(f"the bass of {symbol} cannot be read; left out")
    if len(kinds) > 1:
        remarks.append(f"of two chords one above the other only {symbol} is taken")
    return Harmony(symbol, "; ".join(remarks))


def _degrees(element: ElementTree.Element) -> tuple[list[ReadDegree], bool]:
    """The degrees of a chord symbol, and whether any could not be read."""
    degrees: list[ReadDegree] = []
    odd = False
    for degree in element.findall("degree"):
        how = _text(degree.find("degree-type"))
        try:
            value, alter = int(_text(degree.find("degree-value"))), float(_text(degree.find("degree-alter")) or 0)
        except ValueError:
            how, value, alter = "", 0, 0.0
        if how in ("add", "alter", "subtract") and 1 <= value <= 13 and alter in (-2, -1, 0, 1, 2):
            degrees.append((how, value, int(alter)))
        else:
            odd = True
    return degrees, odd


def _inverted(symbol: str, inversion: ElementTree.Element | None) -> str:
    """The symbol with the bass that an inversion stands for: the third in the first, the fifth in the second."""
    number = _text(inversion)
    if not number.isdigit():
        return symbol
    chord = parse_chord(symbol)
    stacked = [degree for degree in chord.degrees if degree_interval(degree)[0] <= 7]
    if not 0 < int(number[:2]) < len(stacked):
        return symbol
    return f"{symbol}/{chord.root.degree(stacked[int(number[:2])]).name}"


def _tone(element: ElementTree.Element | None, name: str) -> Tone | None:
    """A root or a bass, None where it is missing, or no tone of a keyboard."""
    if element is None:
        return None
    step = _text(element.find(f"{name}-step"))
    try:
        alter = float(_text(element.find(f"{name}-alter")) or 0)
    except ValueError:
        return None
    is_tone = len(step) == 1 and step in "ABCDEFG" and alter in (-2, -1, 0, 1, 2)
    return Tone(step, int(alter)) if is_tone else None


def _text(element: ElementTree.Element | None) -> str:
    return (element.text or "").strip() if element is not None else ""
