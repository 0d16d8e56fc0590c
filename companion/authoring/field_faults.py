"""What is wrong with a line typed for a song being written: a sentence that says what was expected, "" where it can be taken."""

from __future__ import annotations

from companion.authoring.draft import Page
from companion.chart.fields import LONGEST_NAME, LONGEST_TITLE
from companion.chart.pins import SECTION_NAME
from companion.chart.values import FASTEST_BPM, SLOWEST_BPM
from companion.theory.key import Key
from companion.theory.meter import Meter


def key_fault(text: str) -> str:
    """Of a key such as "F#m"."""
    try:
        Key.parse(text)
    except ValueError as error:
        return _sentence(error)
    return ""


def meter_fault(text: str) -> str:
    """Of a meter such as "6/8"."""
    try:
        Meter.parse(text)
    except ValueError as error:
        return _sentence(error)
    return ""


def _sentence(error: ValueError) -> str:
    words = str(error)
    return words[:1].upper() + words[1:] + "."


def tempo_fault(text: str) -> str:
    """Of a tempo in pulses a minute."""
    try:
        fits = SLOWEST_BPM <= float(text) <= FASTEST_BPM
    except ValueError:
        fits = False
    return "" if fits else f"Expected a number from {SLOWEST_BPM} to {FASTEST_BPM}, such as 126."


def title_fault(text: str) -> str:
    """Of a title, which may be empty."""
    return "" if len(text) <= LONGEST_TITLE else f"Expected at most {LONGEST_TITLE} signs."


def name_fault(text: str) -> str:
    """Of a section's name."""
    if SECTION_NAME.fullmatch(text) and len(text) <= LONGEST_NAME:
        return ""
    return f"Expected a letter, then letters, digits, ', - or _, at most {LONGEST_NAME} signs."


def form_fault(page: Page, text: str) -> str:
    """Every name must be a section's; an empty form is the sections as they stand."""
    names = [section.name for section in page.sections]
    unknown = next((word for word in text.split() if word not in names), None)
    return f"There is no section {unknown}; there are {', '.join(names)}." if unknown else ""
