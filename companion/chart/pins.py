"""Pins as a chart file writes them: "section.bar.chord" = "name of a shell"."""

from __future__ import annotations

import re

SECTION_NAME = re.compile(r"[^\W\d_][\w'-]*")  # a letter, then letters, digits, ', - and _
_PLACE = re.compile(rf"({SECTION_NAME.pattern})\.([1-9][0-9]{{0,3}})\.([1-9][0-9]{{0,3}})")


def parse_place(text: str) -> tuple[str, int, int] | None:
    """Read "A.2.1" as (section, bar, chord), both counted from 1; None for anything else."""
    match = _PLACE.fullmatch(text)
    return (match[1], int(match[2]), int(match[3])) if match else None


def show_place(place: tuple[str, int, int]) -> str:
    """A place as a chart file writes it: "A.2.1"."""
    return "{}.{}.{}".format(*place)
