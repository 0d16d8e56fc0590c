"""Written music in characters: bars of a score on a staff of five lines for each hand.

A text row is a line of the staff together with the half spaces around it, so a note on a line is one row high, and a note in a space
lies across two rows. Filled heads are blocks, hollow ones rings (`draw.heads`). Rhythm is what `export.notation` writes: values,
dots, ties, beams. The clefs are the letters they come from, at the line they name. Common practice of engraving throughout: stems up below
the middle line, an accidental until the bar's end, ledger lines through and under what lies outside of the staff.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import groupby, pairwise

from companion.arranging.choice import TREMOLO
from companion.export.notation import NotatedNote, write_bar
from companion.export.score import Fingered, ScoreBar, Sung
from companion.export.written_out import Struck
from companion.theory.key import Key
from companion.theory.pitch import LETTERS, Pitch
from companion.tui.draw.heads import COLUMNS as HEAD
from companion.tui.draw.heads import NOW, Head, head_cells
from companion.tui.draw.row import Row
from companion.tui.draw.words import signs

# Steps count letters, C4 = 28. The lines of the staff for each hand, from the lowest; every line has an even number (28 would be middle C's).
_LINES = {"right": (30, 32, 34, 36, 38), "left": (18, 20, 22, 24, 26)}
_CLEFS = {"right": ("G", 32), "left": ("F", 24)}
_STEM, _SHORT_STEM = 3, 2  # rows; short where two staves lie close
_ACCIDENTALS = {-2: "𝄫", -1: "♭", 0: "♮", 1: "♯", 2: "𝄪"}
_CLEF_COLUMNS = 2
_FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4}
SLIDES, TREMBLES = "•", "≋"  # the grace before its note; beside a chord in tremolo
_HOLLOW, _STEMLESS = ("half", "whole", "breve"), ("whole", "breve", "")


@dataclass(frozen=True, slots=True)
class StaffBar:
    """A bar to draw. now: from and to, in quarters from the bar line, what is due now, None for nothing. fingers: the right hand's, one for
    each note that begins in the bar, in order, "1-4" for a chord; "" for none. marks: of the same notes, what is played of them besides:
    a Pitch that slides into it, TREMOLO, FILL where one begins, or None."""

    score: ScoreBar
    now: tuple[Fraction, Fraction] | None = None
    fingers: Sequence[str] = ()
    marks: Sequence[Pitch | str | None] = ()


@dataclass(slots=True)
class _Page:
    """Characters with roles. top: the step of the first row."""

    width: int
    top: int
    rows: int
    cells: dict[tuple[int, int], tuple[str, str]] = field(default_factory=dict)

    def row_of(self, step: int) -> int:
        """The row of a line, or of the line above a space."""
        return (self.top - step) // 2

    def put(self, row: int, column: int, text: str, role: str = "plain") -> None:
        """Text from a cell on; what lies outside is left out."""
        for place, sign in enumerate(text, column):
            if 0 <= row < self.rows and 0 <= place < self.width:
                self.cells[row, place] = (sign, role)

    def is_free(self, row: int, column: int) -> bool:
        """Whether nothing but lines stands there."""
        return self.cells.get((row, column), (" ", ""))[0] in " ─"

    def drawn(self) -> list[Row]:
        """Rows of runs of one role."""
        result = []
        for row in range(self.rows):
            cells = [self.cells.get((row, column), (" ", "plain")) for column in range(self.width)]
            runs = groupby(cells, key=lambda cell: cell[1])
            result.append([("".join(sign for sign, _ in run), role) for role, run in runs])
        return result


def step_of(pitch: Pitch) -> int:
    """Letters from C0: C4 is 28."""
    return 7 * pitch.octave + LETTERS.index(pitch.tone.letter)


def staff_range(pitches: Iterable[Pitch], hands: str) -> tuple[int, int]:
    """The lowest and the highest line to draw for some notes, even steps; at least the staves of these hands, one of chart.lesson.HANDS."""
    lines = [step for hand in hands_on_paper(hands) for step in _LINES[hand]]
    steps = [step_of(pitch) for pitch in pitches] + lines
    return min(steps) // 2 * 2, -(-max(steps) // 2) * 2


def hands_on_paper(hands: str) -> tuple[str, ...]:
    """Whose staves are drawn, from the upper."""
    return ("right", "left") if hands == "both" else (hands,)


def staff_rows(lines: tuple[int, int]) -> int:
    """Rows of a drawing with these lines (see staff_range): a row each, and one above for symbols and one for fingers."""
    return (lines[1] - lines[0]) // 2 + 1 + 2


def draw_staff(bars: Sequence[StaffBar], width: int, lines: tuple[int, int], hands: str) -> list[Row]:
    """The bars side by side in `width` columns and `staff_rows(lines)` rows."""
    page = _Page(width, lines[1] + 4, staff_rows(lines))
    staves = hands_on_paper(hands)
    for hand in staves:
        for step in _LINES[hand]:
            page.put(page.row_of(step), 0, "─" * width, "dim")
        clef, line = _CLEFS[hand]
        page.put(page.row_of(line), 0, clef, "strong")
    head = _CLEF_COLUMNS + _signature(page, bars[0].score.key, staves)
    room = width - head
    for number, bar in enumerate(bars):
        left, right = head + room * number // len(bars), head + room * (number + 1) // len(bars)
        _Bar(page, bar, left, right, staves).draw()
    return page.drawn()


def _signature(page: _Page, key: Key, staves: Sequence[str]) -> int:
    """The key signature after the clefs; returns its columns. Steps in the treble staff: the order of sharps and flats (common practice)."""
    places = (38, 35, 39, 36, 33, 37, 34) if key.fifths > 0 else (34, 37, 33, 36, 32, 35, 31)
    count = min(7, abs(key.fifths))
    sign = "♯" if key.fifths > 0 else "♭"
    for hand in staves:
        for column, step in enumerate(places[:count], _CLEF_COLUMNS):
            line = (
                step - step % 2
            )  # what lies in a space stands in the row of the line below it, so that none leaves the staff
            page.put(page.row_of(line - (14 if hand == "left" else 0)), column, sign)
    return count + (1 if count else 0)


class _Bar:
    """One bar between two columns of a page."""

    def __init__(self, page: _Page, bar: StaffBar, left: int, right: int, staves: Sequence[str]) -> None:
        self.page, self.bar, self.left, self.right, self.staves = page, bar, left, right, staves
        score = bar.score
        self.written: dict[str, list[NotatedNote]] = {
            hand: write_bar(score.melody if hand == "right" else score.left, score.meter) for hand in staves
        }
        self.signs = {hand: list(_accidentals(notes, score.key)) for hand, notes in self.written.items()}
        self.columns = self._spread()
        self.heads: list[Head] = []

    def draw(self) -> None:
        page, score = self.page, self.bar.score
        for hand in self.staves:
            for step in _LINES[hand]:
                page.put(page.row_of(step), self.right - 1, "┃" if score.ends_section else "│", "dim")
        for symbol in score.symbols:
            words = (
                "N.C." if symbol.chord is None else symbol.chord.root.name if symbol.root_only else symbol.chord.symbol
            )
            if symbol.root_only:
                words += "…"
            page.put(0, self._column(symbol.start), signs(words), "strong")
        self._fingers()
        self._now()
        for hand in self.staves:
            self._hand(hand)
        for row, column, text, role in head_cells(self.heads):
            page.put(row, column, text, role)

    # --- where things stand

    def _spread(self) -> dict[Fraction, int]:
        """Onset -> column: what a head, its accidental and its dot need at least, the rest shared out by length."""
        needs: dict[Fraction, int] = {}
        for hand in self.staves:
            for note, accidentals in zip(self.written[hand], self.signs[hand], strict=True):
                before = max((len(sign) for sign in accidentals), default=0)
                needs[note.start] = max(needs.get(note.start, 0), before)
        onsets = sorted(needs)
        length = self.bar.score.quarters
        room = self.right - self.left - 2
        least = [HEAD + needs[onset] + 1 for onset in onsets]
        spare = room - sum(least)
        if spare < 0:  # too much for the bar: by length alone
            return {onset: self.left + 1 + int(onset / length * room) for onset in onsets}
        columns, at = {}, Fraction(self.left + 1)
        for onset, wide, after in zip(onsets, least, [*onsets[1:], length], strict=True):
            columns[onset] = int(at) + needs[onset]
            at += wide + spare * (after - onset) / length
        return columns

    def _column(self, start: Fraction) -> int:
        """Of anything in the bar: with the last onset not after it."""
        before = [onset for onset in self.columns if onset <= start]
        return self.columns[max(before)] if before else self.left + 1

    # --- notes

    def _fingers(self) -> None:
        sung = [note for note in self.written.get("right", ()) if _pitches(note) and not _is_tied_back(note)]
        columns = [self.columns[note.start] for note in sung]
        for column, after, finger in zip(columns, [*columns[1:], self.right], self.bar.fingers, strict=False):
            self.page.put(1, column, finger if len(finger) < after - column else finger[-1:], "dim")
        for note, column, mark in zip(sung, columns, self.bar.marks, strict=False):
            if isinstance(mark, Pitch):
                step = step_of(mark)
                self.page.put(self.page.row_of(step + step % 2), column - 2, SLIDES, "strong")
            elif mark == TREMOLO:
                top, _ = self._reach(note)
                self.page.put(top, column + HEAD + note.dots, TREMBLES, "strong")

    def _hand(self, hand: str) -> None:
        notes, middle = self.written[hand], _LINES[hand][2]
        ups = [_goes_up(_steps(note), middle) for note in notes]
        for beamed in _beam_groups(notes):
            group = [number for number in beamed if _steps(notes[number])]  # what is hidden has no stem
            if len(group) > 1:
                up = _goes_up([step for number in group for step in _steps(notes[number])], middle)
                ends = [self._stem_end(notes[number], up) for number in group]
                row = min(ends) if up else max(ends)
                for number in group:
                    self._stem(notes[number], up, row)
                self._beam([notes[number] for number in group], up, row)
            elif group and notes[group[0]].type not in _STEMLESS:
                number = group[0]
                row = self._stem_end(notes[number], ups[number])
                self._stem(notes[number], ups[number], row)
                self._flags(notes[number], ups[number], row)
        for number, note in enumerate(notes):
            if note.what is None:
                self._rest(note, middle, self._role(hand, note))
            elif _steps(note):
                self._heads(note, self.signs[hand][number], self._role(hand, note))

    def _role(self, hand: str, note: NotatedNote) -> str:
        """Due now is what begins now, or is held where nothing of that hand does."""
        now = self.bar.now
        if now is None:
            return "plain"
        begins = [each for each in self.written[hand] if now[0] <= each.start < now[1] and not _is_tied_back(each)]
        return NOW if note in begins or (not begins and note.start <= now[0] < note.start + note.length) else "plain"

    def _now(self) -> None:
        """A sign above what is due now, which needs no colour, on the finger it has; none where it is hidden."""
        seen = ((hand, note) for hand in self.staves for note in self.written[hand] if not note.what or _steps(note))
        if self.bar.now is None or not any(self._role(hand, note) == NOW for hand, note in seen):
            return
        column = self._column(self.bar.now[0])
        self.page.put(1, column - 1, "▶", "now")
        for place in (column, column + 1):
            self.page.put(1, place, self.page.cells.get((1, place), (" ", ""))[0], "now")

    def _heads(self, note: NotatedNote, accidentals: Sequence[str], role: str) -> None:
        page, column = self.page, self.columns[note.start]
        hollow = note.type in _HOLLOW
        for step, sign in zip(_steps(note), accidentals, strict=True):
            row = page.row_of(step + step % 2)
            self._ledgers(step, column)
            self.heads.append(Head(page.top - step, column, hollow, role))
            if sign:
                page.put(row, column - len(sign), sign, "strong")
            page.put(row, column + HEAD, "•" * note.dots, "plain")
            if _is_tied_back(note) and note.start == 0:
                page.put(row + step % 2, column - 1, "‿", "plain")
            if _is_tied_on(note):
                self._tie(row + step % 2, column + HEAD + note.dots, note)

    def _tie(self, row: int, column: int, note: NotatedNote) -> None:
        after = [onset for onset in self.columns if onset > note.start]
        end = self.columns[min(after)] if after else self.right
        for place in range(column, end):
            if self.page.is_free(row, place):
                self.page.put(row, place, "‿", "plain")

    def _ledgers(self, step: int, column: int) -> None:
        page = self.page
        lines = [line for hand in self.staves for line in _LINES[hand]]
        nearest = min(lines, key=lambda line: abs(line - step))
        if any(min(own) <= step <= max(own) for hand in self.staves for own in [_LINES[hand]]):
            return
        away = 2 if step > nearest else -2
        for line in range(nearest + away, step + (1 if away > 0 else -1), away):
            page.put(page.row_of(line), column - 1, "─" * (HEAD + 2), "dim")

    def _stem_end(self, note: NotatedNote, up: bool) -> int:
        """The row in which a stem ends."""
        top, bottom = self._reach(note)
        length = _SHORT_STEM if len(self.staves) > 1 else _STEM
        return max(2, top - length) if up else min(self.page.rows - 1, bottom + length)

    def _reach(self, note: NotatedNote) -> tuple[int, int]:
        """The upper and the lower row of a chord's heads."""
        steps = _steps(note)
        return self.page.row_of(max(steps) + max(steps) % 2), self.page.row_of(min(steps) - min(steps) % 2)

    def _stem(self, note: NotatedNote, up: bool, end: int) -> None:
        top, bottom = self._reach(note)
        column = self.columns[note.start] + (HEAD - 1 if up else 0)
        for row in range(end, bottom) if up else range(top + 1, end + 1):
            self.page.put(row, column, "│", "plain")

    def _flags(self, note: NotatedNote, up: bool, end: int) -> None:
        column = self.columns[note.start] + (HEAD if up else 1)
        for flag in range(_FLAGS.get(note.type, 0)):
            self.page.put(end + (flag if up else -flag), column, "╲" if up else "╱", "plain")

    def _beam(self, notes: Sequence[NotatedNote], up: bool, row: int) -> None:
        """One stroke for eighths, a double one where two neighbours are sixteenths or shorter."""
        stems = [self.columns[note.start] + (HEAD - 1 if up else 0) for note in notes]
        for (column, end), pair in zip(pairwise(stems), pairwise(notes), strict=True):
            double = all(len(note.beams) > 1 for note in pair)
            self.page.put(row, column, ("═" if double else "━") * (end - column + 1), "plain")
        if notes[0].tuplet and notes[0].opens:
            self.page.put(row, (stems[0] + stems[-1]) // 2, str(notes[0].tuplet[0]), "strong")

    def _rest(self, note: NotatedNote, middle: int, role: str) -> None:
        page, column = self.page, self.columns[note.start]
        row = page.row_of(middle)
        whole = note.length == self.bar.score.quarters
        if whole or note.type in ("whole", "breve"):
            page.put(row - 1, column, "▄▄", role)
        elif note.type == "half":
            page.put(row, column, "▀▀", role)
        elif note.type == "quarter":
            for place, sign in enumerate("╲╱╲"):
                page.put(row - 1 + place, column, sign, role)
        else:
            for place in range(_FLAGS.get(note.type, 1)):
                page.put(row + place, column, "•╱", role)
            page.put(row + _FLAGS.get(note.type, 1), column, "╱", role)
        page.put(row, column + HEAD, "•" * note.dots, role)


def _goes_up(steps: Sequence[int], middle: int) -> bool:
    """Whether the stem goes up: where the note farthest from the middle line lies below it."""
    return not steps or max(steps) - middle < middle - min(steps)


def _beam_groups(notes: Sequence[NotatedNote]) -> Iterator[list[int]]:
    """Numbers of the notes that hang on one beam; a note without one alone."""
    group: list[int] = []
    for number, note in enumerate(notes):
        word = note.beams[0] if note.beams else ""
        if word in ("", "begin") and group:
            yield group
            group = []
        group.append(number)
        if word in ("", "end"):
            yield group
            group = []
    if group:
        yield group


def _pitches(note: NotatedNote) -> tuple[Pitch, ...]:
    """From the lower."""
    if isinstance(note.what, Fingered):
        return (note.what.lower.plain, note.what.upper.plain)
    if isinstance(note.what, Struck):
        return tuple(pitch.plain for pitch in note.what.pitches)
    return (*note.what.under, note.what.pitch) if isinstance(note.what, Sung) else ()


def _steps(note: NotatedNote) -> list[int]:
    return [step_of(pitch) for pitch in _pitches(note)]


def _is_tied_back(note: NotatedNote) -> bool:
    return note.tied_back or (isinstance(note.what, Sung | Struck) and note.what.from_before)


def _is_tied_on(note: NotatedNote) -> bool:
    return note.tied_on or (isinstance(note.what, Sung | Struck) and note.what.goes_on)


def _accidentals(notes: Sequence[NotatedNote], key: Key) -> Iterator[list[str]]:
    """For each written note the sign before each of its heads, "" where key or bar say it already."""
    said: dict[int, int] = {}
    for note in notes:
        own = []
        for pitch in _pitches(note):
            step, alter = step_of(pitch), pitch.tone.alter
            known = said.get(step, key.signature(pitch.tone.letter))
            own.append(_ACCIDENTALS[alter] if alter != known and not _is_tied_back(note) else "")
            if not _is_tied_back(note):
                said[step] = alter
        yield own
