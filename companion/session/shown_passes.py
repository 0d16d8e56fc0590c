"""What the chart shows of the passes of a song: how each chord went, the bars marked as slips, and which result was told."""

from __future__ import annotations

from collections.abc import Mapping

from companion.practice.model import PassMarks
from companion.session.changes import ChordIndex, Sign, signs_of


class ShownPasses:
    """signs: of this pass as far as it is heard, over those of the one before it. before: those. slips: indices of bars that the student marked, while asked.
    told: the result that was told last, None before the first of a practice."""

    def __init__(self) -> None:
        self.signs: Mapping[ChordIndex, Sign] = {}
        self.slips: frozenset[int] = frozenset()
        self.before: Mapping[ChordIndex, Sign] = {}
        self.told: object = None

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

    def is_news(self, result: object) -> bool:
        """Whether a result was not told yet; from now on it was."""
        is_news, self.told = result is not self.told, result
        return is_news
