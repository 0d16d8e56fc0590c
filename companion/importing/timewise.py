"""MusicXML that is written measure after measure, as the same score part after part.

Source: MusicXML 4.0, elements <score-timewise> and <score-partwise>: the same measures and parts, the one within the other.
"""

from __future__ import annotations

from xml.etree import ElementTree


def to_partwise(xml: str) -> str:
    """A timewise score as a partwise one. The text must have been looked through by `guard.scan`."""
    score = ElementTree.fromstring(xml)
    measures = score.findall("measure")
    parts: dict[str, ElementTree.Element] = {}
    for measure in measures:
        score.remove(measure)
        for inner in measure.findall("part"):
            part = parts.setdefault(inner.get("id", ""), ElementTree.Element("part", inner.attrib))
            ElementTree.SubElement(part, "measure", measure.attrib).extend(inner)
    score.tag = "score-partwise"
    score.extend(parts.values())
    return ElementTree.tostring(score, encoding="unicode")
