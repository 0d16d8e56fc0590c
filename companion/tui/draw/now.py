"""The large part of the stand: the chord and shell of now, and beside it those to prepare."""

from __future__ import annotations

from companion.hands.left.model import Choice
from companion.tui.draw.big import big_notes, big_symbol
from companion.tui.draw.cues import ShownShell, note_words, shown_coming, shown_now
from companion.tui.draw.keyboard import Mark, Row
from companion.tui.draw.lines import cut
from companion.tui.draw.view import View
from companion.tui.draw.words import shell_degrees, shorten

_LABEL = 6  # columns for degree and finger beside a note


def fingers_of(choice: Choice) -> tuple[str, str]:
    """The fingers for the lower and upper note: ("5", "1")."""
    lower, _, upper = choice.fingers.partition("-")
    return lower, upper


def key_marks(choice: Choice) -> dict[int, Mark]:
    """The keys of a shell as the keyboard marks them."""
    if choice.shell is None:
        return {}
    names, fingers, degrees = note_words(choice), fingers_of(choice), shell_degrees(choice.shell.kind)
    roles = ("root", "upper")
    return {
        midi: Mark(name, finger, degree, role)
        for midi, name, finger, degree, role in zip(choice.shell.midi, names, fingers, degrees, roles, strict=True)
    }


def draw_now(view: View, width: int, height: int) -> list[Row]:
    """The large part in exactly `height` rows."""
    if width <= 0 or height <= 0:
        return []
    now, coming = shown_now(view), shown_coming(view)
    if height == 1:
        return [[(shorten(f"{now.sentence}  then {coming.sentence}", width), "now-big")]]
    if width < 56:
        return _narrow(now, coming, width, height)
    right = min(44, width // 3)
    left = width - right
    here = _panel(now, left, height - 1, "now-big")
    after = _panel(coming, right - 1, height - 1, "next-big")
    whose = "left hand " if view.hands == "right" else ""  # else the hand that plays
    head = _head(f"{whose}now", now, left)
    head += _head(f"next, on {coming.beat}" if coming.symbol else "next", coming, right)
    return [cut(head, width)] + [[*a, *b] for a, b in zip(here, after, strict=True)]


def _head(words: str, shown: ShownShell, width: int) -> Row:
    said = f" {shown.place} " if not shown.symbol else " " if shown.choice is None else _shell_word(shown.choice)
    used = len(words) + len(said) + 2
    if used > width:
        return [(shorten(f"─ {words} ", width).ljust(width, "─"), "dim")]
    return [("─ ", "dim"), (words, "strong"), (said, "plain"), ("─" * (width - used), "dim")]


def _shell_word(choice: Choice) -> str:
    return f" {choice.shell.kind} " if choice.shell else " rest "


def _panel(shown: ShownShell, width: int, height: int, role: str) -> list[Row]:
    """One chord with its shell: the symbol, then the notes, the upper above the lower. A hidden bar has its number."""
    if not shown.symbol:
        return [[(f" {row}", "hidden-big")] for row in big_symbol(str(shown.bar), width - 1, height)]
    lower, upper = note_words(shown.choice) if shown.choice else ("", "")
    notes_width = 22 if width >= 70 and height >= 14 else 11
    label = _LABEL if width >= 50 else 0
    chord_width = width - notes_width - label - 1
    chord = big_symbol(shown.symbol, chord_width - 1, height)
    notes = big_notes(upper, lower, notes_width, height)
    labels = _labels(shown.choice, height) if label and shown.choice else [""] * height
    return [
        [(" " + a, role), (b, role), (" " + c.ljust(label), "plain")]
        for a, b, c in zip(chord, notes, labels, strict=True)
    ]


def _labels(choice: Choice, height: int) -> list[str]:
    """Degree and finger beside each note."""
    rows = [""] * height
    if choice.shell is None or height < 4:
        return rows
    lower, upper = shell_degrees(choice.shell.kind)
    low_finger, high_finger = fingers_of(choice)
    rows[0], rows[1] = upper, f"with {high_finger}"
    rows[height - 2], rows[height - 1] = lower, f"with {low_finger}"
    return [row[:_LABEL] for row in rows]


def _narrow(now: ShownShell, coming: ShownShell, width: int, height: int) -> list[Row]:
    """Small windows: the chord as large as it goes, the notes and the chord to come in words."""
    after = (shorten(f"then {coming.sentence}", width), "next-big")
    if height < 5:
        rows: list[Row] = [[(shorten(now.sentence, width), "now-big")], [after]]
        return rows + [[] for _ in range(height - 2)]
    role = "now-big" if now.symbol else "hidden-big"
    big: list[Row] = [[(row, role)] for row in big_symbol(now.symbol or str(now.bar), width, height - 2)]
    return [*big, [(shorten(now.sentence, width), "plain")], [after]]
