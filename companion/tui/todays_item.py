"""The item of today's plan that is being practised: begun from Today, ticked off while one plays, and one key goes on with the next."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Protocol

from companion.base.text import plural
from companion.tui.actions import BY_ID
from companion.tui.draw.words import signs
from companion.tui.keymap import Keymap
from companion.tui.practice_log_access import PracticeLogAccess

if TYPE_CHECKING:  # the first paint knows no plan
    from companion.practice.planning.plan import Plan, PlanItem


class Screens(Protocol):
    """What is asked of the way from screen to screen."""

    def open(self, name: str, *arguments: Any) -> None:
        """Lay a screen over the present one."""

    def start_item(self, item: PlanItem) -> None:
        """Put an item on the stand and play."""

    def learn_chords_of(self, song_id: str) -> None:
        """Open the chords of a song in root position."""


class TodaysItem:
    """done: whether what was begun from Today is done. leads_on: so that one may go on, as something is left. say: shows a sentence; shown: told when `done` has changed; rested:
    told that a rest is taken."""

    def __init__(
        self,
        log: PracticeLogAccess,
        screens: Screens,
        keymap: Keymap,
        say: Callable[[str], None],
        shown: Callable[[], None],
        rested: Callable[[], None],
        is_playing: Callable[[], bool],
    ) -> None:
        self.done = self.leads_on = False
        self._log, self._screens, self._keymap = log, screens, keymap
        self._say, self._shown, self._rested, self._is_playing = say, shown, rested, is_playing
        self._item: PlanItem | None = None

    def start(self, item: PlanItem) -> None:
        """Begin an item; a rest is a page to read."""
        from companion.practice.planning.plan import CHORDS

        self._item, self.done, self.leads_on = item, item.done, item.done
        if item.kind == "rest":
            from companion.tui.cautions import REST_TITLE, rest_text

            self._rested()
            self._screens.open("read", REST_TITLE, rest_text())
        elif item.kind == CHORDS:
            self._screens.learn_chords_of(item.song_id)
        else:
            self._screens.start_item(item)

    def leave(self) -> None:
        """Something else than Today's is being practised."""
        self._item, self.done, self.leads_on = None, False, False

    def played(self) -> None:
        """A pass or a round is over: look whether that was the item's work, and say so, once."""
        if self._item is not None and not self.done:
            from companion.practice.planning.plan import CHORDS

            self._log.tick(self._ticked, chords=self._item.kind == CHORDS)

    def _ticked(self, plan: Plan, better: str) -> None:
        number = self._number(plan)
        if self.done or number is None or not plan.items[number].done:
            return
        self.done = True
        following = self._next(plan, number)
        self.leads_on = following is not None
        key = self._keymap.key_list(BY_ID["next-item"], "stand")
        if following is None:
            self._say(f"Done, and with it all of today. {better}".rstrip())
        else:
            self._say(f"Done. {key} goes on: {signs(following.head)}, {plural(following.minutes, 'minute')}.")
        self._shown()

    def _number(self, plan: Plan) -> int | None:
        """Where the item stands in a plan, from 0; None where it is no longer in it."""
        if self._item is None:
            return None
        marks = [(item.kind, item.song_id, item.loop, item.hands, item.key, item.words) for item in plan.items]
        item = self._item
        mine = item.kind, item.song_id, item.loop, item.hands, item.key, item.words
        return marks.index(mine) if mine in marks else None

    @staticmethod
    def _next(plan: Plan, number: int) -> PlanItem | None:
        from companion.session.plan_items import next_item

        following = next_item(plan, number + 1)
        return plan.items[following - 1] if following is not None else None

    def go_on(self) -> None:
        """Begin what comes next today; while one plays only where the item is done."""
        plan = self._log.plan
        number = self._number(plan) if plan is not None else None
        if plan is None or number is None:
            self._screens.open("today")
        elif self._is_playing() and not self.done:
            self._say("This one is not done yet. Space stops it, and then the same key goes on.")
        elif (following := self._next(plan, number)) is None:
            self._screens.open("today")
        else:
            self.start(following)
