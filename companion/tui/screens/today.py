"""Today: what to practise in the minutes the student has. Enter starts an item on the stand; the log ticks it off."""

from __future__ import annotations

from dataclasses import replace

from textual import events
from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import OptionList, Static

from companion.errors import CompanionError
from companion.practice.planning.plan import CHORDS, MINUTES, Plan, PlanItem
from companion.tui.cautions import REST_TITLE, rest_text
from companion.tui.draw.today import item_text, plan_head
from companion.tui.screens.app_screen import AppScreen, bindings
from companion.tui.screens.read import ReadScreen
from companion.tui.widgets.foot import Foot
from companion.tui.widgets.option_list import ChangingList

_SIDES = 6


class TodayScreen(AppScreen):
    """The plan of the day: what to practise, how long, and what is done."""

    place = "today"
    BINDINGS = bindings("today")

    def __init__(self, plan: Plan | None = None) -> None:
        """plan: as it was made just now, where the screen opens by itself; None to make it."""
        super().__init__()
        self._made = plan
        self._opened_itself = plan is not None
        self.plan: Plan | None = None

    def compose(self) -> ComposeResult:
        """The title, the items and a line of words."""
        yield Static("", id="today-title", markup=False)
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
        """Where the screen came by itself, who just began to type a title goes on in the list."""
        if self._opened_itself and event.character and event.character.isalpha() and not self.is_left:
            event.stop()
            below = self.app.screen_stack[-2]
            self.leave()
            below.type_on(event.character)  # type: ignore[attr-defined]
        self._opened_itself = False

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
        self._list.add_options([Content(item_text(item, width)) for item in self.plan.items])
        if self.plan.items:
            open_items = [number for number, item in enumerate(self.plan.items) if not item.done]
            self._list.highlighted = (open_items[0] if open_items else 0) if to_next or marked is None else marked

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
            self.companion.minutes.rested()
            self._set_done(item, True)
            self.app.push_screen(ReadScreen(REST_TITLE, rest_text()))
            return
        if item.kind == CHORDS:
            self.companion.learn_chords_of(item.song_id)
        else:
            self.companion.start_item(item)

    def action_tick(self) -> None:
        """Tick the marked item off, or take its tick back."""
        if self.marked is not None:
            self._set_done(self.marked, not self.marked.done)

    def _set_done(self, item: PlanItem, done: bool) -> None:
        from companion.session.overview import keep_plan

        if self.plan is None:
            return
        items = tuple(replace(each, done=done) if each is item else each for each in self.plan.items)
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
