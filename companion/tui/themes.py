"""Our own colours: a dark theme, a light one, and the terminal's own. Colour never says anything that a sign does not say too."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from textual.theme import BUILTIN_THEMES, Theme

# A piano's keys, in every theme. A key that is due, or held astray, lies between white and black, at least 3:1 from either (WCAG 2.1, 1.4.11).
_KEYS = {
    "key-white": "#f2efe8",
    "key-black": "#111317",
    "key-octave": "#5c5a55",
    "key-lit": "#a05a00",
    "key-astray": "#be2842",
    "key-lit-text": "#ffffff",
    "key-astray-text": "#ffffff",
}
# The same in the sixteen colours of a terminal, whose own table of them differs: bright red is the one that lies so in every usual table, on
# dark and on light ground alike. So nothing else is red there: a key astray is blue.
_NOW = "ansi_bright_red"
_TERMINAL_KEYS = {
    "key-white": "ansi_bright_white",
    "key-black": "ansi_black",
    "key-octave": "ansi_black",
    "key-lit": _NOW,
    "key-astray": "ansi_blue",
    "key-lit-text": "ansi_black",
    "key-astray-text": "ansi_bright_white",
    "now-text": "ansi_black",
}

DARK = Theme(
    name="evening",
    primary="#e8b04a",
    secondary="#56bcc9",
    accent="#56bcc9",
    warning="#ef6f7f",
    error="#e0564f",
    success="#8fb573",
    foreground="#ece7db",
    background="#14161a",
    surface="#1c1f25",
    panel="#262a32",
    dark=True,
    variables={**_KEYS, "now-text": "#14161a"},
)
LIGHT = Theme(
    name="morning",
    primary="#8a4b08",
    secondary="#0b5563",
    accent="#0b5563",
    warning="#b0124f",
    error="#a01818",
    success="#3c6b20",
    foreground="#1c1a16",
    background="#f6f2e9",
    surface="#ece6d8",
    panel="#dfd7c5",
    dark=False,
    variables={**_KEYS, "now-text": "#f6f2e9"},
)
_ANSI = BUILTIN_THEMES["ansi-dark"]
_PLAIN = (
    _ANSI.foreground
)  # what is said has a sign: no other of the sixteen is read on dark and on light ground in every usual table
TERMINAL = replace(
    _ANSI,
    name="terminal",
    primary=_NOW,
    warning=_PLAIN,
    success=_PLAIN,
    variables={**_ANSI.variables, **_TERMINAL_KEYS},
)
THEMES = (DARK, LIGHT, TERMINAL)


def theme_for(colours: str, color_system: str | None) -> str:
    """The name of the theme that a terminal can show. color_system: as rich names it; "standard" and "windows" have sixteen colours,
    of which ours would become whatever is near: there the terminal's own are taken, which are known to differ enough."""
    return TERMINAL.name if color_system in ("standard", "windows") else colours


def theme_words(theme: Theme) -> str:
    """Such as "evening: dark"."""
    kind = "your terminal's own colours, dark or light" if theme is TERMINAL else "dark" if theme.dark else "light"
    return f"{theme.name}: {kind}"


def choose_colours(app: Any) -> None:
    """Open a list of them; those that are marked are tried on at once. app: the CompanionApp."""
    before, names = app.theme, [theme.name for theme in THEMES]

    def mark(name: str) -> None:
        app.theme = name

    def taken(item: Any) -> None:
        app.theme = item.value if item is not None else before
        if item is not None:
            app.student.keep_colours(item.value)

    items = [(theme_words(theme), theme.name) for theme in THEMES]
    app.open("pick", "Which colours?", items, names.index(before), mark, taken=taken)
