"""The practice log as the app uses it: opened when it is first needed, so that no start waits for it; and today's plan, made of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from textual.app import App

from companion.errors import CompanionError
from companion.tui.background import in_background

if TYPE_CHECKING:
    from companion.chart.model import Song
    from companion.practice.planning.plan import Plan
    from companion.session.student_settings import StudentSettings
    from companion.store.log.patient_log import PatientLog
    from companion.store.paths import Paths


class PracticeLogAccess:
    """A log that cannot be opened is said, and one that forgets takes its place. log: one that is open already and closed elsewhere.
    plan: today's, None before it was read.
    is_new: whether the log was looked at and nothing was ever played. parting: what is to be said after the end: passes that could not
    be written."""

    def __init__(
        self,
        app: App[Any],
        paths: Paths,
        student: StudentSettings,
        complain: Callable[[str], None],
        log: PatientLog | None = None,
    ) -> None:
        self.plan: Plan | None = None
        self.is_new = False
        self.parting = ""
        self._app, self._paths, self._student, self._complain = app, paths, student, complain
        self._log = log
        self._is_own = log is None
        self._told = 0  # how many of its messages were said

    @property
    def log(self) -> PatientLog:
        """The log, opened when it is first asked for; what its opening had to say is said."""
        if self._log is None:
            from companion.session.overview import open_log  # sqlite3
            from companion.session.untold import take_back

            self._log, sentences = open_log(self._paths)
            take_back(self._log)
            self._told = len(sentences)
            self._log.on_message = self._tell_news_soon
            if sentences:
                self._complain("\n".join(sentences))
        return self._log

    def tell_news(self) -> None:
        """Say what came of the log meanwhile: it cannot be written, or can again, or was damaged and set aside."""
        if sentences := self._news():
            self._complain("\n".join(sentences))

    def _tell_news_soon(self) -> None:
        """From any thread."""
        self._app.call_later(self.tell_news)

    def close(self) -> None:
        """Write what waits, and keep what is to be said in `parting`."""
        if self._log is not None and self._is_own:
            self._log.close()
            self.parting = "\n".join(self._news())

    def _news(self) -> list[str]:
        if self._log is None:
            return []
        before, self._told = self._told, len(self._log.messages)
        return self._log.messages[before:]

    # --- today's plan

    def make_plan(self, minutes: int | None, afresh: bool = False) -> Plan | None:
        """Today's plan with its ticks. minutes: None for those of the plan there is, else of the settings. None where the log or
        the songs cannot be read, which is said."""
        try:
            self.plan = self._todays_plan(minutes, afresh)
        except (CompanionError, OSError) as error:
            self._complain(str(error))
            return None
        return self.plan

    def first_plan(self, then: Callable[[], None]) -> None:
        """Once the songs are shown: open the log, and read what is left to do today where anything was ever played. then: told when
        the plan is there, or that nothing was."""

        def have(plan: Plan) -> None:
            self.plan = plan
            then()

        try:
            self.is_new = not self.log.song_ids()
            if self.is_new:
                then()
                return
        except CompanionError as error:
            self._complain(str(error))
            return
        # Reading every song takes a third of a second, too long for one who types a title.
        in_background(self._app, "Reading what to practise today", self._todays_plan, have, self._complain)

    def tick(self, then: Callable[[Plan, str], None], *, chords: bool = False) -> None:
        """Look at what was played since today's plan was made, in the background, and keep the plan with its ticks. then: told the plan, and once all of it is
        done what got better, in a sentence, else "". chords: whether chords in root position were practised."""
        before = self.plan
        if before is None:
            return

        def work() -> tuple[Plan, str]:
            from companion.session.overview import better_words, keep_plan, now_here, ticked

            plan = ticked(self.log, before, now_here(), self._songs() if chords else ())
            if plan == before:
                return plan, ""
            keep_plan(self.log, plan)
            all_done = all(item.done for item in plan.items)
            return plan, better_words(self.log, plan, self._songs(), now_here()) if all_done else ""

        def have(found: tuple[Plan, str]) -> None:
            plan, better = found
            if self.plan is before:  # another was made meanwhile
                self.plan = plan
                then(plan, better)

        in_background(self._app, "Looking at what was played", work, have, self._complain)

    def better(self, then: Callable[[str], None]) -> None:
        """What got better today, in a sentence, "" where nothing was played; in the background. then: told it."""
        plan = self.plan
        if plan is None:
            return

        def work() -> str:
            from companion.session.overview import better_words, now_here

            return better_words(self.log, plan, self._songs(), now_here())

        in_background(self._app, "Looking at what got better", work, then, self._complain)

    def _todays_plan(self, minutes: int | None = None, afresh: bool = False) -> Plan:
        from companion.session.overview import now_here, todays_plan

        practice = self._student.now.practice
        usual, share = practice.minutes, practice.start_share
        return todays_plan(
            self.log,
            self._songs(),
            minutes,
            now_here(),
            afresh,
            usual,
            share,
            self._student.now.hand,
            self._student.now.practice.most_loss,
        )

    def _songs(self) -> list[Song]:
        from companion.store.library import read_songs

        return read_songs(self._paths, self._student.now, self.log.song_ids())
