"""What the chart shows of the passes of a song: how each chord went, the bars marked as slips, and which result was told."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from companion.practice.marking.worst import bars_around
from companion.practice.model import PassMarks
from companion.session.changes import Change, ChordIndex, Ended, PassOver, PassWaits, Sign, signs_of
from companion.session.outcome import PassResult
from companion.session.practice import Practice
from companion.session.stand import Stand


@dataclass(frozen=True, slots=True)
class OneChange:
    """One change practised by itself. loop: the bars of the change. What was before: stand, and how it was practised, see the conductor."""

    loop: tuple[int, ...]
    stand: Stand
    kind: str
    asks: bool


def slip_signs(slips: Collection[int]) -> dict[ChordIndex, Sign]:
    """Bars told as slips, as signs."""
    return {(index, 0): Sign("wrong") for index in slips}


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
        self._waited = 0

    def words(self, practice: Practice | None) -> dict[str, Any]:
        """What waits for the student's word, and the bars told as slips, as fields of session.changes.State."""
        if practice is None:
            return {"signs": self.signs}
        slips = self.slips if practice.asking else practice.waiting.slips
        signs = {**self.signs, **slip_signs(slips)} if slips else self.signs
        return {
            "signs": signs,
            "slips": slips,
            "asking": practice.asking,
            "waits": len(practice.waiting.passes),
        }

    def waits_anew(self, practice: Practice) -> int:
        """How many passes wait for the student's word, where that are more than when it was asked last; else 0."""
        before, self._waited = self._waited, len(practice.waiting.passes)
        return self._waited if self._waited > before else 0

    def ask(self, practice: Practice) -> int | None:
        """Nothing sounds any more: the index of the first bar of the pass that is asked about, whose slips are those told of it. None for no
        question."""
        waits = practice.waiting.passes
        self.slips = waits[-1].slipped if waits else frozenset()
        return waits[-1].drill.next_pass.loop[0] if waits else None

    def news(self, practice: Practice) -> list[Change]:
        """What was not told yet of its passes: that one waits, that one is over, which is shown from now on."""
        news: list[Change] = []
        if waits := self.waits_anew(practice):
            news.append(PassWaits(waits))
        result = practice.result
        if result is not None and self.is_news(result):
            self.over(result.marks)
            news.append(PassOver(result, practice.drill))
        return news

    def ended(self, practice: Practice) -> Ended:
        """Nothing sounds any more: the question, or what was played and what is next."""
        last = PassOver(practice.result, practice.drill) if practice.result is not None else None
        return Ended(last, practice.broken is not None, self.ask(practice))

    def mark(self, practice: Practice | None, index: int) -> None:
        """While it is asked: a bar slipped, or did not after all. While it sounds: it slipped in the last pass that waits, or where none does
        in this one."""
        if practice is None:
            return
        if not practice.asking:
            practice.waiting.mark(index)
            practice.keep_waiting()
        elif index in practice.waiting.passes[-1].drill.next_pass.loop:
            self.slips ^= {index}

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
