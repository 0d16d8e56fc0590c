"""Today: what to practise in the minutes the student has. Enter starts an item on the stand; the log ticks it off."""

from __future__ import annotations

from dataclasses import replace
from typing import Protocol, runtime_checkable

from textual import events
from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import OptionList, Static

from companion.errors import CompanionError
from companion.practice.planning.plan import MINUTES, Plan, PlanItem
from companion.tui.draw.today import item_texts, plan_head
from companion.tui.draw.words import signs
from companion.tui.screens.app_screen import AppScreen, bindings
from companion.tui.widgets.foot import Foot
from companion.tui.widgets.option_list import ChangingList

_SIDES, _OTHER_ROWS = 6, 6  # columns beside the items; rows of title, sentence, notice and keys


@runtime_checkable
class TakesTyping(Protocol):
    """The list below, where a title is typed."""

    def type_on(self, text: str) -> None:
        """What was typed before it was shown."""


class TodayScreen(AppScreen):
    """The plan of the day: what to practise, how long, and what is done."""

    place = "today"
    BINDINGS = bindings("today")

    def __init__(self, plan: Plan | None = None) -> None:
        """plan: as it was made just now, where the screen opens by itself; None to make it."""
        super().__init__()
        self._made = plan
        self.plan: Plan | None = None

    def compose(self) -> ComposeResult:
        """The title, the items and a line of words."""
        yield Static("", id="today-title", markup=False)
        yield Static("", id="today-better", markup=False)
        items = ChangingList(id="today-list")
        items.can_focus = False
        yield items
        yield Static("", id="notice", markup=False)
        yield Foot(self.keymap, "today", id="foot")

    def on_mount(self) -> None:
        """Read the plan once the screen is painted."""
        self.call_after_refresh(self._first)

    def _first(self) -> None:
        if self._made is None:
            self.read_plan(None)
        else:
            self.plan = self._made
            self._fill(to_next=True)

    def on_screen_resume(self) -> None:
        """Something may have been done meanwhile: read the plan again."""
        if self.plan is not None:
            self.read_plan(self.plan.minutes)

    def on_key(self, event: events.Key) -> None:
        """No letter is a key here: over the list, who begins to type a title goes on in it."""
        below = self.app.screen_stack[-2] if not self.is_left else None
        if event.character and event.character.isalnum() and isinstance(below, TakesTyping):
            event.stop()
            self.leave()
            below.type_on(event.character)

    def on_resize(self, event: events.Resize) -> None:
        """Lay the items out for the new width."""
        self._fill()

    @property
    def _list(self) -> OptionList:
        return self.query_one("#today-list", OptionList)

    @property
    def marked(self) -> PlanItem | None:
        """The marked item."""
        index = self._list.highlighted
        return self.plan.items[index] if self.plan and index is not None and index < len(self.plan.items) else None

    def read_plan(self, minutes: int | None, afresh: bool = False) -> None:
        """The kept plan with its ticks, or a new one."""
        if self.is_left:
            return
        plan = self.companion.make_plan(minutes, afresh)
        if plan is not None:
            self.plan = plan
            self._fill(to_next=True)

    def _fill(self, to_next: bool = False) -> None:
        if self.plan is None:
            return
        width = max(1, self.size.width - _SIDES)
        marked = self._list.highlighted
        self.query_one("#today-title", Static).update(plan_head(self.plan, width))
        self._list.clear_options()
        rows = max(1, self.size.height - _OTHER_ROWS)
        self._list.add_options([Content(text) for text in item_texts(self.plan, width, rows)])
        self.query_one("#today-better", Static).display = self._all_done
        if self._all_done:
            self.companion.tell_better(self._say_better)
        if self.plan.items:
            open_items = [number for number, item in enumerate(self.plan.items) if not item.done]
            self._list.highlighted = (open_items[0] if open_items else 0) if to_next or marked is None else marked

    @property
    def _all_done(self) -> bool:
        return self.plan is not None and bool(self.plan.items) and all(item.done for item in self.plan.items)

    def _say_better(self, words: str) -> None:
        if not self.is_left:
            self.query_one("#today-better", Static).update(signs(f"{words} Enough for today.".lstrip()))

    def action_up(self) -> None:
        """Mark the item above."""
        self._list.action_cursor_up()

    def action_down(self) -> None:
        """Mark the item below."""
        self._list.action_cursor_down()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """A click of the mouse."""
        self.action_start_item()

    def action_start_item(self) -> None:
        """Begin the marked item."""
        item = self.marked
        if item is None:
            return
        if item.kind == "rest":
            self._set_done(item, True)
        self.companion.todays_item.start(item)

    def action_tick(self) -> None:
        """Tick the marked item off, or take its tick back."""
        if self.marked is not None:
            self._set_done(self.marked, not self.marked.done)

    def _set_done(self, item: PlanItem, done: bool) -> None:
        from companion.practice.planning.plan import by_hand
        from companion.session.overview import keep_plan, now_here

        if self.plan is None:
            return
        items = tuple(by_hand(each, done, now_here()) if each is item else each for each in self.plan.items)
        self.plan = replace(self.plan, items=items)
        try:
            keep_plan(self.companion.practice_log, self.plan)
        except CompanionError as error:
            self.companion.complain(str(error))
        self._fill()

    def action_fewer_minutes(self) -> None:
        """Plan for fewer minutes."""
        self._minutes(-1)

    def action_more_minutes(self) -> None:
        """Plan for more minutes."""
        self._minutes(1)

    def _minutes(self, step: int) -> None:
        """Another plan for what is not done yet."""
        now = self.plan.minutes if self.plan else MINUTES[1]
        others = [minutes for minutes in MINUTES if (minutes - now) * step > 0]
        if others:
            self.read_plan(min(others, key=lambda minutes: abs(minutes - now)))

    def action_plan_afresh(self) -> None:
        """Plan the day anew."""
        if self.plan is not None:
            self.read_plan(self.plan.minutes, afresh=True)

    def action_leave(self) -> None:
        """Go back."""
        self.leave()
