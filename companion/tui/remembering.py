"""What the app remembers through the practice log: opened when it is first needed, so that no start waits for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from companion.errors import CompanionError

if TYPE_CHECKING:
    from companion.chart.model import Song
    from companion.practice.planning.plan import Plan, PlanItem
    from companion.store.log.practice_log import PracticeLog


class Remembering:
    """Mixed into the app. A log that cannot be opened is said, and one that forgets takes its place."""

    _practice_log: PracticeLog | None = None
    _own_log = False  # whether it was opened here, and so is closed here
    _log_told = 0  # how many of its messages were said
    parting = ""  # what is to be said after the end: passes that could not be written
    plan: Plan | None = None

    @property
    def practice_log(self) -> PracticeLog:
        if self._practice_log is None:
            from companion.session.overview import open_log  # sqlite3

            self._practice_log, sentences = open_log(self.paths)
            self._own_log, self._log_told = True, len(sentences)
            self._practice_log.on_message = lambda: self.call_later(self.tell_of_log)
            if sentences:
                self.complain("\n".join(sentences))
        return self._practice_log

    def tell_of_log(self) -> None:
        """Say what came of the log meanwhile: it cannot be written, or can again, or was damaged and set aside."""
        if sentences := self._new_of_log():
            self.complain("\n".join(sentences))

    def close_log(self) -> None:
        if self._practice_log is not None and self._own_log:
            self._practice_log.close()
            self.parting = "\n".join(self._new_of_log())

    def _new_of_log(self) -> list[str]:
        if self._practice_log is None:
            return []
        before, self._log_told = self._log_told, len(self._practice_log.messages)
        return self._practice_log.messages[before:]

    def make_plan(self, minutes: int | None, afresh: bool = False) -> Plan | None:
        """Today's plan with its ticks. minutes: None for those of the plan there is, else of the settings. None where the log or
        the songs cannot be read, which is said."""
        try:
            self.plan = self._todays_plan(minutes, afresh)
        except (CompanionError, OSError) as error:
            self.complain(str(error))
            return None
        return self.plan

    def _todays_plan(self, minutes: int | None = None, afresh: bool = False) -> Plan:
        from companion.session.overview import now_here, todays_plan

        usual = self.settings.practice.minutes
        return todays_plan(self.practice_log, self._songs_to_plan(), minutes, now_here(), afresh, usual)

    def _songs_to_plan(self) -> list[Song]:
        from companion.store.library import read_songs

        return read_songs(self.paths, self.settings, {total.song_id for total in self.practice_log.day_totals()})

    def first_plan(self) -> None:
        """Once the songs are shown: open the log, and say what is left to do today where anything was ever played."""
        try:
            if self.practice_log.count():
                # Reading every song takes a third of a second, too long for one who types a title.
                self.run_worker(self._read_plan, thread=True, exclusive=True, name="today", exit_on_error=False)
        except CompanionError as error:
            self.complain(str(error))

    def _read_plan(self) -> None:
        """In a thread of its own."""
        try:
            plan = self._todays_plan()
        except (CompanionError, OSError):
            return  # Today itself says what is wrong
        self.call_from_thread(self._have_plan, plan)

    def _have_plan(self, plan: Plan) -> None:
        self.plan = plan
        self._tell_screens()

    def start_item(self, item: PlanItem) -> None:
        """Put the song of an item on the stand, set as the item wants it, and play."""
        from companion.store.library import find_song

        try:
            song = find_song(item.song_id, self.paths, self.settings)
        except (CompanionError, OSError) as error:
            self.complain(str(error))
            return
        while self.place != "songs":
            if self.place == "stand":
                self.screen.stop()
            self.pop_screen()
        self.put_song(song, item)

    def show_progress(self, song: Song) -> None:
        from companion.tui.screens.read import progress_page

        try:
            self.push_screen(progress_page(self.practice_log, song))
        except CompanionError as error:
            self.complain(str(error))
