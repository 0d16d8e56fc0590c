"""Today's plan without the app: its items told with their numbers, started, and ticked off by what was played."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from companion.base.text import plural
from companion.cli.lines.telling import REST
from companion.errors import SettingsError
from companion.practice.planning.plan import Plan, PlanItem
from companion.session.overview import keep_plan, now_here, todays_plan
from companion.session.plan_items import next_item, numbered_item, start_item
from companion.store.library import find_song, read_songs

if TYPE_CHECKING:
    from companion.cli.lines.sitting import Sitting

ALL_DONE = "Nothing is due any more: all of today's plan is done. Enough for today."

NO_SONG = "There is no song to practise; `companion songs` lists those with faults."


def item_words(number: int, item: PlanItem) -> str:
    """ "Item 2, 5 minutes: Two Spoons, A, at 66. Section A from memory: due today."."""
    done = ", done" if item.done else ""
    return f"Item {number}, {plural(item.minutes, 'minute')}{done}: {item.head}. {item.words}"


class Todays:
    """sitting: where items are played."""

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self._number = 0  # of the item that is practised, 0 for none

    def plan(self, minutes: int | None = None) -> Plan:
        """With the ticks of what was played. minutes: None for those it has. Raises LogError."""
        sitting = self._sitting
        settings = sitting.student.now
        practice = settings.practice
        songs = read_songs(sitting.paths, settings, sitting.log.song_ids())
        about = practice.minutes, practice.start_share, settings.hand
        return todays_plan(sitting.log, songs, minutes, now_here(), False, *about)

    def tell(self) -> None:
        """All of it, an item a line."""
        plan = self.plan()
        for number, item in enumerate(plan.items, 1):
            self._tell_item(number, item)
        if next_item(plan) is None:
            self._sitting.say(ALL_DONE if plan.items else NO_SONG)

    def start(self, number: int | None = None) -> None:
        """The item of that number, None for the next one that is not done. Raises SettingsError where there is none."""
        plan = self.plan()
        if number is None:
            number = next_item(plan, self._number)
            if number is None:
                raise SettingsError(ALL_DONE if plan.items else NO_SONG)
        item = numbered_item(plan, number)
        self._number = number
        if item.kind == "rest":
            self._rest(plan, item)
            return
        self._put(item)
        self._sitting.did(start_item(self._sitting.conductor, item))

    def _put(self, item: PlanItem) -> None:
        song = find_song(item.song_id, self._sitting.paths, self._sitting.student.now)
        self._sitting.put(song, as_left=False, as_wanted=False)
        self._sitting.after_pass = self._look

    def _rest(self, plan: Plan, item: PlanItem) -> None:
        if self._sitting.is_set:
            self._sitting.did(self._sitting.conductor.stop())
        self._sitting.conductor.minutes.rested()
        items = tuple(replace(each, done=True) if each is item else each for each in plan.items)
        keep_plan(self._sitting.log, replace(plan, items=items))
        self._sitting.teller.tell("rest", REST)
        self._tell_next(replace(plan, items=items))

    def _look(self) -> None:
        """After a pass: whether the item is done."""
        plan = self.plan()
        item = plan.items[self._number - 1] if 0 < self._number <= len(plan.items) else None
        if item is None or not item.done:
            return
        self._sitting.after_pass = lambda: None
        self._sitting.say(f"Item {self._number} is done.")
        self._tell_next(plan)

    def _tell_next(self, plan: Plan) -> None:
        number = next_item(plan, self._number)
        if number is None:
            self._sitting.say(ALL_DONE)
        else:
            self._sitting.say(f'"next" goes on. {item_words(number, plan.items[number - 1])}')

    def _tell_item(self, number: int, item: PlanItem) -> None:
        self._sitting.teller.tell(
            "item",
            item_words(number, item),
            number=number,
            minutes=item.minutes,
            done=item.done,
            kind=item.kind,
            song=item.song_id,
            head=item.head,
        )
