"""How chords in root position are practised, as one list: each line is changed by the arrows, all of it taken by enter."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from companion.hands.root_position import HAND_CHOICES, INVERSION_WORDS
from companion.practice.drills.root_position import CYCLE_ORDERS, ORDERS, WAYS
from companion.session.chords.in_song import chords_of
from companion.session.chords.rounds import Setup
from companion.session.stand import TEMPO_LIMITS, Stand
from companion.tui.draw.words import signs, tempo_words
from companion.tui.screens.pick import Item

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion

_TEMPO_STEP = 5.0
_LINES = ("hand", "inversion", "way", "order", "quality", "in_time", "tempo_bpm", "hear_first")


class ChordChoices:
    """setup: as it is now. taken: told what was chosen."""

    def __init__(self, companion: Companion, stand: Stand, setup: Setup, taken: Callable[[Setup], None]) -> None:
        self._companion, self._setup, self._taken = companion, setup, taken
        self._qualities = [each.symbol for each in chords_of(stand)]

    def show(self) -> None:
        """Open the list."""
        items = [Item(self.words(name), name) for name in _LINES]

        def changed(name: str, step: int) -> str:
            self.change(name, step)
            return self.words(name)

        def closed(item: Item | None) -> None:
            if item is not None:
                self._taken(self._setup)

        title = "How do you want to practise the chords? ← → change a line"
        self._companion.open("pick", title, items, 0, None, changed, taken=closed)

    def change(self, name: str, step: int) -> None:
        """The value before or after in a line."""
        setup = self._setup
        if name == "tempo_bpm":
            low, high = TEMPO_LIMITS
            self._set(tempo_bpm=min(high, max(low, setup.tempo_bpm + step * _TEMPO_STEP)))
            return
        values = self._values(name)
        if values:
            present = getattr(setup, name)
            place = values.index(present) if present in values else 0
            self._set(**{name: values[(place + step) % len(values)]})

    def _set(self, **fields: Any) -> None:
        self._setup = replace(self._setup, **fields)

    def _values(self, name: str) -> Sequence[Any]:
        values: dict[str, Sequence[Any]] = {
            "hand": HAND_CHOICES,
            "inversion": range(len(INVERSION_WORDS)),
            "way": tuple(WAYS),
            "order": tuple(ORDERS),
            "quality": self._qualities,
            "in_time": (False, True),
            "hear_first": (False, True),
        }
        return values[name]

    def words(self, name: str) -> str:
        """A line with its value."""
        setup = self._setup
        quality = setup.quality or (self._qualities[0] if self._qualities else "none")
        word, value = {
            "hand": ("hand", setup.hand),
            "inversion": ("position", INVERSION_WORDS[setup.inversion]),
            "way": ("play", WAYS[setup.way]),
            "order": ("which", ORDERS[setup.order]),
            "quality": (
                "quality",
                f"as {signs(quality)}, for "
                + " and ".join(ORDERS[o].removeprefix("one quality ") for o in CYCLE_ORDERS),
            ),
            "in_time": ("time", "with the click" if setup.in_time else "the companion waits for you"),
            "tempo_bpm": ("tempo", f"{tempo_words(setup.tempo_bpm)}, with the click"),
            "hear_first": ("listen", "each chord first, where it waits" if setup.hear_first else "when you press d"),
        }[name]
        return f"{word:<10}{value}"
