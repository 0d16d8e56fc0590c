"""A piano keyboard in characters.

White keys stand between lines; black keys are solid blocks on the line between two white keys. A key of the sounding
shell carries its note name and finger, a key of the shell to come a ring, a key that is held down an arrow. Signs tell them apart;
colour only helps.
"""

from __future__ import annotations

from dataclasses import dataclass

Row = list[tuple[str, str]]
"""One line of the picture: (text, role) pairs; roles: see widgets.drawing."""

_WHITE_PCS = (0, 2, 4, 5, 7, 9, 11)
RING, DOWN = "○", "▼"


@dataclass(frozen=True, slots=True)
class Mark:
    """What a key carries. name: letter and sign; finger: "5"; label: "root" or "7th", set below; role: its colour."""

    name: str
    finger: str
    label: str
    role: str


def is_white(midi: int) -> bool:
    """Whether it is a white key."""
    return midi % 12 in _WHITE_PCS


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


def draw_keyboard(
    low: int,
    high: int,
    width: int,
    height: int,
    marks: dict[int, Mark],
    rings: frozenset[int] = frozenset(),
    octaves: bool = True,
    down: frozenset[int] = frozenset(),
) -> list[Row]:
    """The keyboard from about `low` to `high` (MIDI) in at most `height` rows of at most `width` columns.

    marks: by MIDI number; they widen the range where they lie outside. octaves: whether each C has its name below. down: keys that are
    held; one that lies outside shows as an arrow at that edge. One line of words where no keys fit.
    """
    if width <= 0 or height <= 0:
        return []
    wanted = [low, high, *marks, *rings]
    keys, size = fit_range(min(wanted), max(wanted), width, 7 if height >= 9 else 5)
    if not keys or height < 4:
        return [[(_words(marks)[:width], "plain")]]
    return _Picture(keys, size, height, marks, rings, octaves, down).rows()


def _words(marks: dict[int, Mark]) -> str:
    return "  ".join(f"{mark.label} {mark.name} {mark.finger}".strip() for _, mark in sorted(marks.items()))


class _Picture:
    """The grid of characters and roles while it is being drawn."""

    def __init__(
        self,
        keys: list[int],
        size: int,
        height: int,
        marks: dict[int, Mark],
        rings: frozenset[int],
        octaves: bool,
        down: frozenset[int],
    ) -> None:
        self.keys, self.size, self.marks, self.rings, self.octaves, self.down = keys, size, marks, rings, octaves, down
        self.width = len(keys) * size + 1
        self.depth = height - 1
        self.black_depth = max(2, -(-self.depth * 3 // 5))
        self.chars = [[" "] * self.width for _ in range(height)]
        self.roles = [["white"] * self.width for _ in range(self.depth)] + [["dim"] * self.width]
        self.black_width = 1 if size < 4 else 3 if size < 7 else 5

    def rows(self) -> list[Row]:
        for number, midi in enumerate(self.keys):
            self._white(number * self.size, midi)
        self._line(self.width - 1)
        for number, midi in enumerate(self.keys[1:], 1):
            if not is_white(midi - 1):
                self._black(number * self.size, midi - 1)
        self._labels()
        return [_merge(chars, roles) for chars, roles in zip(self.chars, self.roles, strict=True)]

    def _line(self, x: int) -> None:
        for y in range(self.depth):
            self.chars[y][x] = "│"

    def _put(self, x: int, y: int, text: str) -> None:
        for offset, char in enumerate(text):
            if 0 <= x + offset < self.width:
                self.chars[y][x + offset] = char

    def _centre(self, left: int, span: int, y: int, text: str) -> None:
        text = text[:span]
        self._put(left + (span - len(text)) // 2, y, text)

    def _white(self, x: int, midi: int) -> None:
        self._line(x)
        span, foot = self.size - 1, self.depth - 1
        mark = self.marks.get(midi)
        if mark:
            for y in range(self.depth):
                self.roles[y][x + 1 : x + self.size] = [mark.role] * span
            tight = self.depth - self.black_depth < 2
            self._centre(x + 1, span, foot, self._signs(midi, mark, span, RING if not tight else ""))
            self._centre(x + 1, span, foot - 1, "" if tight else mark.name)
            return
        if midi in self.down:
            for y in range(self.depth):
                self.roles[y][x + 1 : x + self.size] = ["astray"] * span
        self._centre(x + 1, span, foot, self._signs(midi, None, span))

    def _signs(self, midi: int, mark: Mark | None, span: int, ring: str = RING) -> str:
        """What stands at the front of a key: whether it is down, its finger, whether it comes next. Where room is short the first is kept."""
        down = DOWN if midi in self.down else ""
        signs = down + (mark.finger if mark else "") + (ring if midi in self.rings else "")
        return signs[:span]

    def _black(self, x: int, midi: int) -> None:
        left = x - self.black_width // 2
        mark = self.marks.get(midi)
        role = mark.role if mark else "astray" if midi in self.down else "black"
        for y in range(self.black_depth):
            self._put(left, y, ("█" if role == "black" else " ") * self.black_width)
            self.roles[y][left : left + self.black_width] = [role] * self.black_width
        for y in range(self.black_depth, self.depth):
            self.chars[y][x] = "│"
        foot = self.black_depth - 1
        self._centre(left, self.black_width, foot, self._signs(midi, mark, self.black_width))
        if mark:
            self._centre(left, self.black_width, foot - 1, mark.name)

    def _place(self, midi: int) -> int:
        """The middle column of a key."""
        if is_white(midi):
            return self.keys.index(midi) * self.size + self.size // 2
        return self.keys.index(midi + 1) * self.size

    def _labels(self) -> None:
        """Below the keys: what each marked note is, and the octaves where nothing stands there."""
        y = self.depth
        taken: set[int] = set()
        for midi, mark in sorted(self.marks.items()):
            left = max(0, min(self._place(midi) - len(mark.label) // 2, self.width - len(mark.label)))
            while taken & set(range(left - 1, left + len(mark.label))) and left + len(mark.label) < self.width:
                left += 1
            span = range(left, left + len(mark.label))
            taken.update(span)
            self._put(left, y, mark.label)
            self.roles[y][span.start : span.stop] = ["strong"] * len(span)
        for midi in self.keys if self.octaves else ():
            text = f"C{midi // 12 - 1}"
            left = self._place(midi) - 1
            if midi % 12 == 0 and not taken & set(range(left - 1, left + 3)) and left + 2 <= self.width:
                self._put(left, y, text)
        if any(midi < self.keys[0] for midi in self.down):
            self._put(0, y, f"←{DOWN}")
        if any(midi > self.keys[-1] for midi in self.down):
            self._put(self.width - 2, y, f"{DOWN}→")


def _merge(chars: list[str], roles: list[str]) -> Row:
    row: Row = []
    for char, role in zip(chars, roles, strict=True):
        if row and row[-1][1] == role:
            row[-1] = (row[-1][0] + char, role)
        else:
            row.append((char, role))
    return row
