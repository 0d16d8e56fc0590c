"""The large part of the stand: the chord and shell of now, and beside it those to prepare."""

from __future__ import annotations

from companion.chart.model import PlacedChord
from companion.shells.model import Choice
from companion.tui.draw.big import big_notes, big_symbol
from companion.tui.draw.keyboard import Mark, Row
from companion.tui.draw.lines import cut
from companion.tui.draw.view import View
from companion.tui.draw.words import shell_degrees, shorten, signs

NO_CHORD = "N.C."
_LABEL = 6  # columns for degree and finger beside a note


def symbol_of(placed: PlacedChord) -> str:
    return placed.chord.symbol if placed.chord else NO_CHORD


def note_words(choice: Choice) -> tuple[str, str]:
    """The names of lower and upper note without octaves, empty where nothing is played."""
    if choice.shell is None:
        return "", ""
    return signs(choice.shell.lower.tone.name), signs(choice.shell.upper.tone.name)


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


def shell_sentence(placed: PlacedChord, choice: Choice) -> str:
    """ "B♭maj7  B♭2 A3  root-seventh  5-1"."""
    if choice.shell is None:
        return f"{signs(symbol_of(placed))}  rest"
    names = " ".join(signs(name) for name in choice.shell.names)
    return f"{signs(symbol_of(placed))}  {names}  {choice.shell.kind}  {choice.fingers}"


def draw_now(view: View, width: int, height: int) -> list[Row]:
    """The large part in exactly `height` rows."""
    if width <= 0 or height <= 0:
        return []
    placed, choice = view.now
    next_placed, next_choice, beat = view.coming
    if height == 1:
        text = f"{shell_sentence(placed, choice)}  then {shell_sentence(next_placed, next_choice)}"
        return [[(shorten(text, width), "now-big")]]
    if width < 56:
        return _narrow(view, width, height)
    right = min(44, width // 3)
    left = width - right
    now = _panel(placed, choice, left, height - 1, "now-big")
    coming = _panel(next_placed, next_choice, right - 1, height - 1, "next-big")
    head = _head("now", choice, left) + _head(f"next, on {beat}", next_choice, right)
    return [cut(head, width)] + [[*a, *b] for a, b in zip(now, coming, strict=True)]


def _head(words: str, choice: Choice, width: int) -> Row:
    shell = f" {choice.shell.kind} " if choice.shell else " rest "
    used = len(words) + len(shell) + 2
    if used > width:
        return [(shorten(f"─ {words} ", width).ljust(width, "─"), "dim")]
    return [("─ ", "dim"), (words, "strong"), (shell, "plain"), ("─" * (width - used), "dim")]


def _panel(placed: PlacedChord, choice: Choice, width: int, height: int, role: str) -> list[Row]:
    """One chord with its shell: the symbol, then the notes, the upper above the lower."""
    lower, upper = note_words(choice)
    notes_width = 22 if width >= 70 and height >= 14 else 11
    label = _LABEL if width >= 50 else 0
    chord_width = width - notes_width - label - 1
    chord = big_symbol(symbol_of(placed), chord_width - 1, height)
    notes = big_notes(upper, lower, notes_width, height)
    labels = _labels(choice, height) if label else [""] * height
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


def _narrow(view: View, width: int, height: int) -> list[Row]:
    """Small windows: the chord as large as it goes, the notes and the chord to come in words."""
    placed, choice = view.now
    next_placed, next_choice, _ = view.coming
    after = (shorten(f"then {shell_sentence(next_placed, next_choice)}", width), "next-big")
    if height < 5:
        rows: list[Row] = [[(shorten(shell_sentence(placed, choice), width), "now-big")], [after]]
        return rows + [[] for _ in range(height - 2)]
    words = (shorten(shell_sentence(placed, choice), width), "plain")
    big: list[Row] = [[(row, "now-big")] for row in big_symbol(symbol_of(placed), width, height - 2)]
    return [*big, [words], [after]]
