"""Our own colours: a dark theme, a light one, and the terminal's own. Colour never says anything that a sign does not say too."""

from __future__ import annotations

from dataclasses import replace

from textual.theme import BUILTIN_THEMES, Theme

DARK = Theme(
    name="evening",
    primary="#e8b04a",
    secondary="#56bcc9",
    accent="#56bcc9",
    warning="#e07a4f",
    error="#e0564f",
    success="#8fb573",
    foreground="#ece7db",
    background="#14161a",
    surface="#1c1f25",
    panel="#262a32",
    dark=True,
)
LIGHT = Theme(
    name="morning",
    primary="#8a4b08",
    secondary="#0b5563",
    accent="#0b5563",
    warning="#a03c10",
    error="#a01818",
    success="#3c6b20",
    foreground="#1c1a16",
    background="#f6f2e9",
    surface="#ece6d8",
    panel="#dfd7c5",
    dark=False,
)
TERMINAL = replace(BUILTIN_THEMES["ansi-dark"], name="terminal")
THEMES = (DARK, LIGHT, TERMINAL)


def theme_words(theme: Theme) -> str:
    """Such as "evening: dark"."""
    kind = "your terminal's own colours, dark or light" if theme is TERMINAL else "dark" if theme.dark else "light"
    return f"{theme.name}: {kind}"
