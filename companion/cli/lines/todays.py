"""Today's plan without the app: its items told with their numbers, started, and ticked off by what was played."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from companion.base.text import plural
from companion.chart.model import Song
from companion.cli.lines.telling import REST, Teller
from companion.errors import SettingsError
from companion.practice.planning.plan import CHORDS, Plan, PlanItem, by_hand
from companion.session.changes import Change
from companion.session.conductor import Conductor
from companion.session.overview import better_words, keep_plan, now_here, ticked, todays_plan
from companion.session.plan_items import next_item, numbered_item, start_item
from companion.session.student_settings import StudentSettings
from companion.store.library import find_song, read_songs
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import Paths

ALL_DONE = "Nothing is due any more: all of today's plan is done. Enough for today."

NO_SONG = "There is no song to practise; `companion songs` lists those with faults."


def item_words(number: int, item: PlanItem) -> str:
    """ "Item 2, 5 minutes: Two Spoons, A, at 66. Section A from memory: due today."."""
    done = ", done" if item.done else ""
    return f"Item {number}, {plural(item.minutes, 'minute')}{done}: {item.head}. {item.words}"


class Todays:
    """Items of the day. put: puts a song on the stand as it is written. did: told what came of a call to the conductor.

    number: of the item that is practised, 0 for none.
    """

    def __init__(
        self,
        paths: Paths,
        log: PracticeLog,
        student: StudentSettings,
        conductor: Conductor,
        teller: Teller,
        put: Callable[[Song], None],
        did: Callable[[list[Change]], None],
    ) -> None:
        self.number = 0
        self._last = 0  # the item before
        self._plan: Plan | None = None
        self._songs: list[Song] = []  # those that it was made of
        self._paths, self._log, self._student, self._conductor = paths, log, student, conductor
        self._teller, self._put, self._did = teller, put, did

    def plan(self) -> Plan:
        """With the ticks of what was played. Raises LogError."""
        settings = self._student.now
        practice = settings.practice
        self._songs = read_songs(self._paths, settings, self._log.song_ids())
        about = practice.minutes, practice.start_share, settings.hand, practice.most_loss
        self._plan = todays_plan(self._log, self._songs, None, now_here(), False, *about)
        return self._plan

    def tell(self) -> None:
        """All of it, an item a line."""
        plan = self.plan()
        for number, item in enumerate(plan.items, 1):
            self._tell_item(number, item)
        if next_item(plan) is None:
            self._say(ALL_DONE if plan.items else NO_SONG)

    def start(self, number: int | None = None) -> None:
        """The item of that number, None for the next one that is not done. Raises SettingsError where there is none."""
        plan = self.plan()
        if number is None:
            number = next_item(plan, self._last)
            if number is None:
                raise SettingsError(ALL_DONE if plan.items else NO_SONG)
        item = numbered_item(plan, number)
        self._last = number
        if item.kind == "rest":
            self._rest(number)
        elif item.kind == CHORDS:
            self._put(find_song(item.song_id, self._paths, self._student.now))
            self.number = number
            self._teller.whole_chords(self._conductor.stand, item.hands)
            self._say(f'{item.words} Play each of them whole, then its shell; "done" ticks it off.')
        else:
            self._put(find_song(item.song_id, self._paths, self._student.now))
            self.number = number
            self._did(start_item(self._conductor, item))

    def left(self) -> None:
        """Something else is practised."""
        self.number = 0

    def look(self) -> None:
        """Once something was played: whether the item that is practised is done."""
        before = self._plan
        if not self.number or before is None:
            return
        self._plan = plan = ticked(self._log, before, now_here())
        if plan != before:
            keep_plan(self._log, plan)
        if self.number <= len(plan.items) and plan.items[self.number - 1].done:
            self._say(f"Item {self.number} is done.")
            self._tell_next(plan)
            self.number = 0

    def tick(self, number: int = 0) -> None:
        """The item of that number is done, 0 for the one that is practised. Raises SettingsError."""
        number = number or self.number
        if not number:
            raise SettingsError('Which item is done? Expected its number, such as "done 2".')
        plan = self.plan()
        done = numbered_item(plan, number)
        items = tuple(by_hand(item, True, now_here()) if item is done else item for item in plan.items)
        plan = replace(plan, items=items)
        keep_plan(self._log, plan)
        self._plan = plan
        self.number, self._last = 0, number
        self._tell_next(plan)

    def _rest(self, number: int) -> None:
        if self._conductor.playing:
            self._did(self._conductor.stop())
        self._conductor.minutes.rested()
        self._teller.tell("rest", REST)
        self.tick(number)

    def _tell_next(self, plan: Plan) -> None:
        number = next_item(plan, self._last)
        if number is None:
            self._say(ALL_DONE)
            self._say(better_words(self._log, plan, self._songs, now_here()))
        else:
            self._say(f'"next" goes on. {item_words(number, plan.items[number - 1])}')

    def _say(self, sentence: str) -> None:
        self._teller.tell("said", sentence)

    def _tell_item(self, number: int, item: PlanItem) -> None:
        self._teller.tell(
            "item",
            item_words(number, item),
            number=number,
            minutes=item.minutes,
            done=item.done,
            kind=item.kind,
            song=item.song_id,
            head=item.head,
        )
