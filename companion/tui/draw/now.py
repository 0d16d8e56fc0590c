"""The large part of the stand: the chord and shell of now, solid, at the left; the chord to prepare in an open frame at the right."""

from __future__ import annotations

from companion.hands.left.model import Choice
from companion.tui.draw.big import big_notes, big_symbol, is_large, open_frame
from companion.tui.draw.cues import ShownShell, note_words, shown_coming, shown_now
from companion.tui.draw.left_keys import fingers_of
from companion.tui.draw.row import Row, cut
from companion.tui.draw.view import View
from companion.tui.draw.words import shorten

_SYMBOL = 32  # columns in which seven-letter symbols such as F♯m7♭5 are as high as the part
_NOTES = 10  # columns of a note name four rows high
_GAP = 2  # at least, between a symbol and its notes
_FRAME = 2  # columns of the frame's side


def draw_now(view: View, width: int, height: int) -> list[Row]:
    """The large part in exactly `height` rows."""
    if width <= 0 or height <= 0:
        return []
    now, coming = shown_now(view), shown_coming(view)
    count = str(view.beat.pulse + 1) if view.counting_in and view.beat else ""
    if height == 1:
        return [[(shorten(f"{count or now.sentence}  then {coming.sentence}", width), "now-big")]]
    if width < 56:
        return _narrow(now, coming, f"{view.framing} {count}" if count else "", width, height)
    right = max(_SYMBOL + _FRAME, width * 2 // 5) if width >= 72 else width * 2 // 5
    left = width - right
    here = _counting(view.framing, count, left, height) if count else _here(view, now, left, height)
    return [cut([*a, *b], width) for a, b in zip(here, _coming(coming, right, height), strict=True)]


def _here(view: View, shown: ShownShell, width: int, height: int) -> list[Row]:
    """What is to be played now: a heading, the symbol, and at the right the notes, the upper above the lower."""
    whose = "left hand " if view.hands == "right" else ""  # else the hand that plays
    choice = shown.choice
    shell = shown.place if not shown.symbol else "" if choice is None else _shell_words(choice)
    head: Row = [(f" {whose}now", "strong"), (shorten(f"  {shell}", max(0, width - len(whose) - 4)), "plain")]
    upper, lower = reversed(note_words(choice)) if choice is not None else ("", "")
    notes_width = (2 * _NOTES if width >= 70 and height >= 16 else _NOTES) if upper else 0
    gap = _GAP if upper else 0
    rows = height - 1
    margin = min(2, max(0, width - 1 - _SYMBOL - gap - notes_width)) if upper else 0  # between the notes and the frame
    symbol = big_symbol(shown.symbol or shown.cue_words, max(0, width - 1 - gap - notes_width - margin), rows)
    role = "now-big" if shown.symbol else "hidden-big"
    notes = big_notes(upper, lower, notes_width, rows) if upper else [""] * rows
    drawn: list[Row] = [[(f" {a}{' ' * gap}{b}", role)] for a, b in zip(symbol, notes, strict=True)]
    return [_filled(row, width) for row in [head, *drawn]]


def _shell_words(choice: Choice) -> str:
    if choice.shell is None:
        return "rest"
    lower, upper = fingers_of(choice)
    return f"{choice.shell.kind}, fingers {lower} and {upper}" if lower and upper else choice.shell.kind


def _counting(what: str, count: str, width: int, height: int) -> list[Row]:
    """The beats before the first bar, as large as a chord."""
    rows = [f" {row}" for row in big_symbol(count, width - 1, height - 1)]
    return [_filled([(f" {what}", "strong")], width), *([(row, "now-big")] for row in rows)]


def _coming(shown: ShownShell, width: int, height: int) -> list[Row]:
    """What comes next, in an open frame: it is not to be played yet. Its foot says the shell in words."""
    if shown.symbol:
        words = f" next, on beat {shown.beat} "
        below = "" if shown.choice is None or shown.choice.shell is None else f" {'  '.join(note_words(shown.choice))} "
    else:
        words, below = f" next, {shown.place} ", ""
    text, across, rows = shown.symbol or shown.cue_words, width - _FRAME, height - 2
    foot: str | None = below
    if is_large(text, across, rows + 1) and not is_large(text, across, rows):
        # A long name in two lines takes the room of the frame's foot, whose words go beside the heading.
        words, foot, rows = f"{words.rstrip()}:{below}" if below else words, None, rows + 1
    role = "next-big" if shown.symbol else "hidden-big"
    drawn = big_symbol(text, across, rows, light=True)
    return open_frame(words, [(row, role) for row in drawn], foot, width)


def _filled(row: Row, width: int) -> Row:
    row = cut(row, width)
    return [*row, (" " * (width - sum(len(text) for text, _ in row)), "plain")]


def _narrow(now: ShownShell, coming: ShownShell, count: str, width: int, height: int) -> list[Row]:
    """Small windows: the chord as large as it goes, the notes and the chord to come in words."""
    after: Row = [(shorten(f"then {coming.sentence}", width), "strong")]
    said = count if count else now.sentence
    if height < 5:
        rows: list[Row] = [[(shorten(said, width), "now-big")], after]
        return rows + [[] for _ in range(height - 2)]
    role = "now-big" if count or now.symbol else "hidden-big"
    big = big_symbol(count or now.symbol or now.cue_words, width, height - 2)
    return [*([(row, role)] for row in big), [(shorten(said, width), "plain")], after]
