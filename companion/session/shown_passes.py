"""What the chart shows of the passes of a song: how each chord went, the bars marked as slips, and which result was told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from companion.practice.marking.worst import bars_around
from companion.practice.model import PassMarks
from companion.session.changes import ChordIndex, Sign, signs_of
from companion.session.outcome import PassResult
from companion.session.stand import Stand


@dataclass(frozen=True, slots=True)
class OneChange:
    """One change practised by itself. loop: the bars of the change. What was before: stand, and how it was practised, see the conductor."""

    loop: tuple[int, ...]
    stand: Stand
    kind: str
    asks: bool


class ShownPasses:
    """signs: of this pass as far as it is heard, over those of the one before it. before: those. slips: indices of bars that the student
    marked, while asked. told: the result that was told last, None before the first of a practice. one_change: what the student came from to
    practise one change by itself, None where that was never wanted."""

    def __init__(self) -> None:
        self.signs: Mapping[ChordIndex, Sign] = {}
        self.slips: frozenset[int] = frozenset()
        self.before: Mapping[ChordIndex, Sign] = {}
        self.told: PassResult | None = None
        self.one_change: OneChange | None = None

    @property
    def slip_signs(self) -> Mapping[ChordIndex, Sign]:
        """The slips, as signs."""
        return {(index, 0): Sign("wrong") for index in self.slips}

    def clear(self) -> None:
        """No signs: other notes are due."""
        self.signs = self.before = {}

    def begin(self) -> None:
        """A first pass: none before it."""
        self.before = {}

    def follow(self, live: PassMarks | None) -> None:
        """Show what is heard of the pass that sounds."""
        self.signs = {**self.before, **signs_of(live)}

    def over(self, marks: PassMarks | None) -> None:
        """Show a whole pass, and after it as the one before."""
        self.before, self.signs = signs_of(marks, fresh=False), signs_of(marks)

    def loop_alone(self, stand: Stand) -> tuple[int, ...]:
        """The bars of the change that slipped and may be practised by itself, empty for none."""
        place = self.told.advice.alone if self.told is not None and self.came_from(stand) is None else None
        return bars_around(stand.loop, place[0]) if place is not None else ()

    def came_from(self, stand: Stand) -> OneChange | None:
        """What was practised before one change was by itself, while that is on the stand."""
        return self.one_change if self.one_change is not None and self.one_change.loop == stand.loop else None

    def offers(self, stand: Stand) -> dict[str, Any]:
        """Both, as fields of session.changes.State."""
        before = self.came_from(stand)
        alone = self.told.advice.alone if self.told is not None and self.loop_alone(stand) else None
        return {"alone": alone, "came_from": before.stand.loop_name if before is not None else ""}

    def is_news(self, result: PassResult | None) -> bool:
        """Whether a result was not told yet; from now on it was."""
        is_news, self.told = result is not self.told, result
        return is_news
