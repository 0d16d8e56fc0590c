"""Every name a setting or an option may use here, with its words for screen and help."""

from __future__ import annotations

from companion.groove.patterns import PATTERN_NAMES

CLICK_MODES = {
    "every": "every beat",
    "offbeats": "2 and 4",
    "bar": "first beat of the bar",
    "off": "no click",
}
BASS_STYLES = {
    "roots": "the root of every chord",
    "two-feel": "two-feel: root and fifth",
    "walking": "walking",
    "off": "no bass",
}

__all__ = ["BASS_STYLES", "CLICK_MODES", "PATTERN_NAMES"]
