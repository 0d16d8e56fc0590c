"""Every name a setting or an option may use here, with its words for screen and help."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches

from companion.errors import GrooveError
from companion.groove.patterns import PATTERN_NAMES

CLICK_MODES = {
    "every": "every beat",
    "offbeats": "2 and 4",
    "bar": "first beat of the bar",
    "ride": "ride cymbal and hi-hat, but every beat while a pass is marked",
    "ride-always": "ride cymbal and hi-hat, also while a pass is marked",
    "off": "no click",
}
BASS_STYLES = {
    "roots": "the root of every chord",
    "two-feel": "two-feel: root and fifth",
    "walking": "walking",
    "off": "no bass",
}

__all__ = ["BASS_STYLES", "CLICK_MODES", "PATTERN_NAMES", "check_name"]


def check_name(what: str, name: str, known: Mapping[str, str]) -> None:
    """Raise GrooveError unless `name` is a key of `known`, with the nearest one suggested. what: such as "pattern"."""
    if name in known:
        return
    near = get_close_matches(name, known, n=1)
    hint = f"did you mean {near[0]}?" if near else f"expected one of {', '.join(known)}"
    raise GrooveError(f"There is no {what} {name!r}; {hint}")
