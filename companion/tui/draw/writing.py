"""The page that is written on: sections in lines of four bars, the bar being written with its cursor, and below what it says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from companion.authoring.draft import CHORDS, MELODY, Draft, Page, Spot
from companion.authoring.draft_song import key_of, meter_of
from companion.authoring.melody_input import notes_in
from companion.base.text import plural
from companion.chart.bars import counted
from companion.chart.grid import BARS_A_LINE
from companion.export.notation import Span, filled, quarters
from companion.export.score import ScoreBar, Sung
from companion.hands.hand import Hand
from companion.hands.left.model import Choice
from companion.tui.draw.keyboard import Keys, centred_keyboard
from companion.tui.draw.left_keys import shell_notes
from companion.tui.draw.row import Row, cut, sides
from companion.tui.draw.staff import StaffBar, draw_staff, staff_range
from companion.tui.draw.words import notice_role, shorten, signs, whole_words

CURSOR = "▏"
FAULT = "!"
MARKED = "+"
_KEYBOARD_ROWS = 6
_STAFF_COLUMNS = 60
_NOTES_HINT = "type notes: C to B, c to b above them, 2 for a beat of two eighths, z for a rest"
_NUMBER = 4  # columns for the number of a line's first bar


@dataclass(frozen=True, slots=True)
class WritingView:
    """What the writing screen shows. faults: why a bar cannot be read, on the line that is typed. shells: of the bar being written, None while they are not
    worked out; no_shell: why there are none. saved: whether the song's file says the same. notice: one sentence for a while."""

    draft: Draft
    faults: Mapping[Spot, str] = field(default_factory=dict)
    shells: Sequence[tuple[str, Choice]] | None = None
    no_shell: str = ""
    hand: Hand = field(default_factory=Hand)
    saved: bool = False
    notice: str = ""


def draw_written(shown: WritingView, width: int, height: int) -> list[Row]:
    """Head, page and what is said, in exactly `height` rows."""
    if width <= 0 or height < 5:
        return [cut(_bar_line(shown, max(1, width)), width)][:height]
    head, foot = _head(shown, width), _foot(shown, width)
    room = height - len(head) - len(foot)
    rows, here = _lines(shown, width)
    first = max(0, min(here - room // 2, len(rows) - room))
    seen = rows[first : first + room]
    left = room - len(seen)
    below = _staff(shown, width) if shown.draft.line == MELODY else _keyboard(shown, width)
    below = below if left > len(below) else []
    return [*head, *seen, *([] for _ in range(left - len(below))), *below, *foot]


def _staff(shown: WritingView, width: int) -> list[Row]:
    """The notes of the bar being written, on a staff; nothing where they cannot be read."""
    draft = shown.draft
    meter, key = meter_of(draft.page, draft.at[0]), key_of(draft.page, draft.at[0])
    notes = notes_in(draft.text, meter, key)
    if not notes:
        return []
    spans: list[Span] = []
    at, bar = Fraction(0), quarters(meter.bar_ticks)
    for note in notes:
        length = min(quarters(int(note.ticks)), bar - at)
        if length > 0:
            spans.append(Span(at, length, Sung(note.pitch) if note.pitch else None))
        at += length
    score = ScoreBar(draft.at[1] + 1, meter, key, "", False, (), (), filled(spans, bar))
    lines = staff_range([note.pitch for note in notes if note.pitch], "right")
    return draw_staff([StaffBar(score)], min(width, _STAFF_COLUMNS), lines, "right")


def _keyboard(shown: WritingView, width: int) -> list[Row]:
    """The bar's first shell on the keys, and outlined the second."""
    shells = [shell_notes(choice) for _, choice in shown.shells or ()]
    now, coming = [*shells, (), ()][:2]
    window = shown.hand.lowest_root, shown.hand.highest_top
    return centred_keyboard(Keys(window, now, coming), width, _KEYBOARD_ROWS)


def _head(shown: WritingView, width: int) -> list[Row]:
    page = shown.draft.page
    title = page.title.strip() or "a song without a title yet"
    state = "saved " if shown.saved else "not saved yet "
    facts = f"{signs(page.key)}   {page.meter}   {page.feel}   tempo {page.tempo}"
    form = page.form or " ".join(section.name for section in page.sections)
    missing = missing_from_form(page)
    words = f"   not in the form: {' '.join(missing)}" if missing else ""
    return [
        sides([(f" {title}", "strong")], [(facts + " ", "dim")], width),
        sides([(" form ", "dim"), (form, "plain"), (words, "notice")], [(state, "dim")], width),
    ]


def missing_from_form(page: Page) -> list[str]:
    """Sections that the form does not come to."""
    names = page.form.split()
    return [section.name for section in page.sections if names and section.name not in names]


def _lines(shown: WritingView, width: int) -> tuple[list[Row], int]:
    """Every section with its lines of bars; and which row has the bar being written."""
    draft, rows, here = shown.draft, [], 0
    for number, section in enumerate(draft.page.sections):
        rows.append(_section_line(draft.page, number))
        for start in range(0, len(section.bars), BARS_A_LINE):
            rows.append(_bars(shown, number, start, width, CHORDS))
            if draft.line == MELODY:
                rows.append(_bars(shown, number, start, width, MELODY))
            if number == draft.at[0] and start <= draft.at[1] < start + BARS_A_LINE:
                here = len(rows) - 1
    return rows, here


def _section_line(page: Page, number: int) -> Row:
    section = page.sections[number]
    count = sum(bool(bar.text.strip()) for bar in section.bars)
    own = "".join(f"   {signs(text)}" for text in (section.key, section.meter) if text)
    melody = "   with a melody" if section.melody.strip() else ""
    return [(f" {section.name}", "strong"), (f"   {plural(count, 'bar')}{own}{melody}", "dim")]


def _bars(shown: WritingView, number: int, start: int, width: int, line: str) -> Row:
    """A line of bars: their chords, or the notes below them."""
    draft, bars = shown.draft, shown.draft.page.sections[number].bars
    cell = max(3, (width - _NUMBER - 1) // BARS_A_LINE)
    row: Row = [(f"{start + 1:>{_NUMBER - 1}} " if line == CHORDS else " " * _NUMBER, "dim")]
    is_typed = line == draft.line
    for at in range(start, min(start + BARS_A_LINE, len(bars))):
        here = draft.at == (number, at) and is_typed
        marked = draft.mark is not None and number == draft.at[0] and at in draft.marked
        text = signs(bars[at].text) if line == CHORDS else draft.melody_at(number, at)
        sign, role = " ", "plain" if is_typed else "dim"
        if marked:
            sign, role = MARKED, "strong"
        if (number, at) in shown.faults and not here and is_typed:
            sign, role = FAULT, "notice"
        room = cell - 2
        if here:
            text, role = (text if len(text) < room else "…" + text[-room + 2 :]) + CURSOR, "now"
        row += [("│", "dim"), (sign + shorten(text, room).ljust(room), role)]
    return cut([*row, ("│", "dim")], width)


def _foot(shown: WritingView, width: int) -> list[Row]:
    """The bar being written: what is wrong with it or its shells; then a notice, or how many bars cannot be read."""
    draft = shown.draft
    others = [spot for spot in shown.faults if spot != draft.at]
    if shown.notice:
        last: Row = [(whole_words(f" {shown.notice}", width), notice_role(shown.notice))]
    elif draft.mark is not None:
        last = [(f" {plural(len(draft.marked), 'bar')} marked: F8 copies, del takes away", "strong")]
    elif others:
        names = ", ".join(_name(draft.page, spot) for spot in others[:4]) + (" ..." if len(others) > 4 else "")
        last = [(f" {FAULT} also not understood yet: {names}", "dim")]
    else:
        last = []
    rows = _wrapped(shown, width)
    return [[("─" * width, "dim")], *rows, cut(last, width)]


def _wrapped(shown: WritingView, width: int) -> list[Row]:
    """Two rows, so that a fault or the shells of four chords can be read whole."""
    row = _bar_line(shown, 2 * width - 2)
    if sum(len(text) for text, _ in row) <= width:
        return [row, []]
    words, role = "".join(text for text, _ in row), row[-1][1]
    edge = words.rfind(" ", 0, width)
    edge = edge if edge > width // 2 else width
    return [[(words[:edge], role)], [(whole_words("   " + words[edge:].lstrip(), width), role)]]


def _bar_line(shown: WritingView, width: int) -> Row:
    """ "A 3   Dm7 D3 F3 root-third" or why the bar is not understood."""
    draft = shown.draft
    name: Row = [(f" {_name(draft.page, draft.at)}   ", "strong")]
    if not draft.text.strip():
        what = "type chords" if draft.line == CHORDS else _NOTES_HINT
        return [*name, (f"{what}; enter or | goes to the next bar", "dim")]
    if draft.at in shown.faults:
        return cut([*name, (f"{FAULT} {signs_in_fault(shown.faults[draft.at])}", "notice")], width)
    if draft.line == MELODY:
        return cut([*name, (note_words(draft), "plain")], width)
    if shown.no_shell:
        return cut([*name, (f"{FAULT} {shown.no_shell}", "notice")], width)
    if shown.shells is None:
        return name
    return cut([*name, ("   ".join(_shell_words(symbol, choice) for symbol, choice in shown.shells), "plain")], width)


def note_words(draft: Draft) -> str:
    """The notes of the bar by name, each with its beats where they are not one: "C5  E5  G5 2 beats"; "" where they cannot be read."""
    meter = meter_of(draft.page, draft.at[0])
    notes = notes_in(draft.text, meter, key_of(draft.page, draft.at[0]))
    words = []
    for note in notes or ():
        beats = Fraction(note.ticks) / meter.beat_ticks
        name = signs(note.pitch.name) if note.pitch else "rest"
        words.append(name if beats == 1 else f"{name} {counted(beats, 'beat')}")
    return "   ".join(words)


def signs_in_fault(sentence: str) -> str:
    """A sentence about a bar as it is said: what was typed stays in it as typed."""
    return sentence[:1].upper() + sentence[1:]


def _shell_words(symbol: str, choice: Choice) -> str:
    if choice.shell is None:
        return f"{signs(symbol)} rest"
    return f"{signs(symbol)}  {' '.join(signs(name) for name in choice.shell.names)}  {choice.shell.kind}"


def _name(page: Page, spot: Spot) -> str:
    return f"{page.sections[spot[0]].name} {spot[1] + 1}"
