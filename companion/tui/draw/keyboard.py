"""A piano keyboard in characters, with the notes of both hands.

White keys stand between lines; black keys are solid blocks on the line between two white keys. A key due now is filled, its whole length for
the left hand and its front half for the right one, and carries its note name; a key due next is an outline on its front; a key that is held
down has an arrow; one that the chord of now has, but not this beat, carries its name alone. A grace has an arrow towards the key that it slides into. Each C carries its octave. Below the keys stand what each note is to its chord and its finger. Nothing is told by colour
alone: a fill is a pattern of lines that the style sheet makes one surface of wherever there are colours.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from companion.tui.draw.row import Row, length

_WHITE_PCS = (0, 2, 4, 5, 7, 9, 11)
DOWN = "▼"
FILL = "▄"  # half of each cell, in lines: neither a white key's blank nor a black one's block
_FINGERS = "fingers"
TOP, SIDE, FOOT = "┏━┓", "┃", "┗━┛"  # the outline of a key due next


@dataclass(frozen=True, slots=True)
class KeyNote:
    """A note for a finger. name: letter and sign; finger: "5", "" where none is told; degree: to the chord, "7th"; hand: "left" or "right"."""

    midi: int
    name: str
    finger: str = ""
    degree: str = ""
    hand: str = "left"


@dataclass(frozen=True, slots=True)
class Keys:
    """What the keyboard shows. window: the lowest and the highest key to be seen, MIDI; it moves only where another one is given. now, next:
    the notes due. down: keys that are held. graces: key of a grace -> the key it slides into. named: keys of the chord of now that are not due at this beat."""

    window: tuple[int, int]
    now: Sequence[KeyNote] = ()
    next: Sequence[KeyNote] = ()
    down: Collection[int] = frozenset()
    graces: Mapping[int, int] = field(default_factory=dict)
    named: Sequence[KeyNote] = ()


def is_white(midi: int) -> bool:
    """Whether it is a white key."""
    return midi % 12 in _WHITE_PCS


def octave_name(midi: int) -> str:
    """ "C4" of middle C, MIDI 60 (common practice)."""
    return f"C{midi // 12 - 1}"


def white_keys(low: int, high: int) -> list[int]:
    """The white keys from the one at or below `low` to the one at or above `high`."""
    low -= not is_white(low)
    high += not is_white(high)
    return [midi for midi in range(low, high + 1) if is_white(midi)]


def fit_range(low: int, high: int, width: int, key_width: int = 5) -> tuple[list[int], int]:
    """The white keys to draw and their width in columns: at least low to high, more where there is room, at most
    `key_width` columns each. No keys where not even two columns a key fit."""
    keys = white_keys(low, high)
    size = min((width - 1) // len(keys), key_width)
    if size < 2:
        return [], 0
    below = True
    while (len(keys) + 1) * size + 1 <= width and keys[0] > 23 and keys[-1] < 96:
        keys = white_keys(keys[0] - 1, keys[-1]) if below else white_keys(keys[0], keys[-1] + 1)
        below = not below
    return keys, size


def draw_keyboard(keys: Keys, width: int, height: int) -> list[Row]:
    """The keyboard in at most `height` rows of at most `width` columns; one line of words where no keys fit. What lies outside its window
    shows as an arrow at that edge."""
    if width <= 0 or height <= 0:
        return []
    shown, size = fit_range(*keys.window, width, 7 if height >= 10 else 5)
    if not shown or height < 4:
        return [[(_words(keys.now)[:width], "plain")]]
    return _Picture(shown, size, height, keys).rows()


def centred_keyboard(keys: Keys, width: int, height: int) -> list[Row]:
    """The keyboard in the middle of so many columns."""
    rows = draw_keyboard(keys, width, height)
    margin = (width - length(rows[0])) // 2 if rows else 0
    return [[(" " * margin, "plain"), *row] for row in rows]


def _words(notes: Sequence[KeyNote]) -> str:
    return "  ".join(f"{note.degree} {note.name}{_finger(note, ' finger')}".strip() for note in notes)


def _finger(note: KeyNote, word: str) -> str:
    return f"{word} {note.finger}" if note.finger else ""


class _Picture:
    """The grid of characters and roles while it is being drawn."""

    def __init__(self, whites: list[int], size: int, height: int, keys: Keys) -> None:
        self.whites, self.size, self.keys = whites, size, keys
        self.now = {note.midi: note for note in keys.now}
        self.next = {note.midi for note in keys.next}
        self.named = {note.midi: note for note in keys.named}
        self.width = len(whites) * size + 1
        self.label_rows = 2 if height >= 6 else 1
        self.depth = height - self.label_rows
        self.black_depth = max(2, min(self.depth - 2, (self.depth * 6 + 5) // 10))
        self.black_width = 1 if size < 4 else 3 if size < 7 else 5
        self.chars = [[" "] * self.width for _ in range(height)]
        self.roles = [["white"] * self.width for _ in range(self.depth)]
        self.roles += [["dim"] * self.width for _ in range(self.label_rows)]

    def rows(self) -> list[Row]:
        for number, midi in enumerate(self.whites):
            self._line(number * self.size)
            self._key(midi, number * self.size + 1, self.size - 1, self.depth)
        self._line(self.width - 1)
        for number, midi in enumerate(self.whites[1:], 1):
            if not is_white(midi - 1):
                left = number * self.size - self.black_width // 2
                self._block(left)
                self._key(midi - 1, left, self.black_width, self.black_depth)
        self._labels()
        self._beyond()
        return [_merge(chars, roles) for chars, roles in zip(self.chars, self.roles, strict=True)]

    def _line(self, x: int) -> None:
        for y in range(self.depth):
            self._put(x, y, "│", "white")

    def _block(self, left: int) -> None:
        for y in range(self.black_depth):
            self._put(left, y, "█" * self.black_width, "black")

    def _put(self, x: int, y: int, text: str, role: str) -> None:
        for column, char in enumerate(text, x):
            if 0 <= column < self.width:
                self.chars[y][column], self.roles[y][column] = char, role

    def _centre(self, left: int, span: int, y: int, text: str, role: str) -> None:
        text = text[:span]
        self._put(left + (span - len(text)) // 2, y, text, role)

    def _key(self, midi: int, left: int, span: int, depth: int) -> None:
        """What stands on one key: its fill, its name, the outline of what comes next, the arrow of what is held, its octave."""
        note, held, comes = self.now.get(midi), midi in self.keys.down, midi in self.next
        if note:
            top = 0 if note.hand == "left" else depth // 2
            for y in range(top, depth):
                self._put(left, y, FILL * span, "lit-fill")
        elif held:
            for y in range(depth):
                self._put(left, y, " " * span, "astray")
        if comes:
            role = "lit" if note else "astray" if held else "white-next" if is_white(midi) else "black-next"
            self._outline(left, span, depth, role)
        name_row = depth - 1 - 2 * comes if is_white(midi) else depth - 2
        if note and len(note.name) <= span:
            row = max(0, name_row - held * (not comes))
            self._put(left, row, " " * span, "lit")
            self._centre(left, span, row, note.name, "lit")
        if held:
            row = depth - 1 if not comes else max(0, name_row - bool(note)) if is_white(midi) else 0
            self._centre(left, span, row, DOWN, "lit" if note else "astray")
        if midi in self.keys.graces:
            self._grace(midi, left, span, depth)
        named = self.named.get(midi) if not (note or held) else None
        if named and len(named.name) <= span:
            role = "white-next" if is_white(midi) else "black-next"
            self._put(left, name_row, " " * span, role)
            self._centre(left, span, name_row, named.name, role)
        if midi % 12 == 0 and not (note or held or comes or named) and span >= 2:
            self._centre(left, span, depth - 1, octave_name(midi), "octave")

    def _grace(self, midi: int, left: int, span: int, depth: int) -> None:
        """An arrow to the key beside it: on a white key below the black ones, on a black one above its name."""
        arrow = "→" if self.keys.graces[midi] > midi else "←"
        white = is_white(midi)
        self._centre(
            left, span, self.black_depth if white else max(0, depth - 3), arrow, "white-next" if white else "black-next"
        )

    def _outline(self, left: int, span: int, depth: int, role: str) -> None:
        """A hollow shape on the front of a key: two rows on a white one, the whole of a black one."""
        white = span != self.black_width or depth > self.black_depth
        top = max(depth - 2, self.black_depth) if white else 0
        if span == 1:
            for y in range(top, depth):
                self._put(left, y, "○", role)
            return
        for y in range(top, depth):
            ends = FOOT if y == depth - 1 else TOP if y == top else None
            if ends:
                self._put(left, y, ends[0] + ends[1] * (span - 2) + ends[2], role)
            elif role == "black-next":
                self._put(left, y, SIDE + " " * (span - 2) + SIDE, role)

    def _place(self, midi: int) -> int:
        """The middle column of a key."""
        if is_white(midi):
            return self.whites.index(midi) * self.size + self.size // 2
        return self.whites.index(midi + 1) * self.size

    def _labels(self) -> None:
        """Below the keys: what each note due now is to its chord, and its finger; whose it is where both hands play; in a count-in, of the
        notes due next. The octave of a C that carries something else stands there too."""
        due = [*self.keys.now, *self.keys.named] if self.keys.now else self.keys.next
        seen = [note for note in due if self.whites[0] <= note.midi <= self.whites[-1]]
        hands = [note.hand for note in seen]
        many = len(hands) > 2 * len(set(hands))  # then one word stands before all the figures
        word = "" if many else "finger"
        fingers = [(note, _finger(note, note.hand if len(set(hands)) > 1 else word).strip()) for note in seen]
        if self.label_rows > 1:  # a name that its key has no room for stands here
            names = [note.name if len(note.name) > self._span(note.midi) else "" for note in seen]
            self._label_row(self.depth, [(note, f"{name} {note.degree}".strip()) for note, name in zip(seen, names)])
        y = self.depth + self.label_rows - 1
        self._label_row(y, fingers)
        row = "".join(self.chars[y])
        first = len(row) - len(row.lstrip())
        if many and len(set(hands)) == 1 and first > len(_FINGERS) and row.strip():
            self._put(first - len(_FINGERS) - 1, y, _FINGERS, "dim")
        for midi in self.whites:
            left = self._place(midi) - 1
            if midi % 12 == 0 and octave_name(midi) not in self._on_key(midi) and not self._seen(left - 1, y, 4):
                self._put(left, y, octave_name(midi), "dim")

    def _on_key(self, midi: int) -> str:
        left = self._place(midi) - self.size // 2
        return "".join(self.chars[self.depth - 1][left : left + self.size])

    def _seen(self, left: int, y: int, span: int) -> str:
        return "".join(self.chars[y][max(0, left) : left + span]).strip()

    def _span(self, midi: int) -> int:
        return self.size - 1 if is_white(midi) else self.black_width

    def _label_row(self, y: int, words: list[tuple[KeyNote, str]]) -> None:
        taken = -1
        for note, text in sorted(words, key=lambda each: each[0].midi):
            left = max(taken + 1, min(self._place(note.midi) - (len(text) - 1) // 2, self.width - len(text)))
            self._put(left, y, text, "strong")
            taken = left + len(text)

    def _beyond(self) -> None:
        """Arrows at the edges for notes that are due, or keys that are held, outside the window."""
        low, high = self.whites[0], self.whites[-1]
        y = self.depth + self.label_rows - 1
        for midi, sign in [
            *((note.midi, note.name) for note in self.keys.now),
            *((midi, DOWN) for midi in self.keys.down),
        ]:
            if midi < low:
                self._put(0, y, f"←{sign}", "strong")
            elif midi > high + (not is_white(high + 1)):
                text = f"{sign}→"
                self._put(self.width - len(text), y, text, "strong")


def _merge(chars: list[str], roles: list[str]) -> Row:
    row: Row = []
    for char, role in zip(chars, roles, strict=True):
        if row and row[-1][1] == role:
            row[-1] = (row[-1][0] + char, role)
        else:
            row.append((char, role))
    return row
