"""From screen to screen: each is opened by its name, and a song gets to the stand and comes back to it as it was set."""

from __future__ import annotations

import contextlib
import importlib
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from textual.app import App

from companion.errors import CompanionError

if TYPE_CHECKING:
    from companion.chart.model import Song
    from companion.practice.planning.plan import PlanItem
    from companion.session.stand import Stand
    from companion.session.student_settings import StudentSettings
    from companion.store.listing import SongEntry
    from companion.store.paths import Paths
    from companion.theory.key import Key
    from companion.tui.practice_log_access import PracticeLogAccess

# Name -> module and what makes the screen; loaded when it is first opened.
SCREENS = {
    "ask": ("ask", "AskScreen"),
    "chords": ("chords", "ChordsScreen"),
    "first": ("first_pages", "FirstScreen"),
    "help": ("read", "help_page"),
    "cautions": ("read", "cautions_page"),
    "progress": ("read", "progress_page"),
    "keyboards": ("keyboards", "KeyboardsScreen"),
    "microphone": ("microphone", "MicrophoneScreen"),
    "palette": ("palette", "Palette"),
    "performance": ("performance", "PerformanceScreen"),
    "pick": ("pick", "PickScreen"),
    "read": ("read", "ReadScreen"),
    "songs": ("songs", "SongsScreen"),
    "stand": ("stand", "StandScreen"),
    "tempo": ("tempo", "TempoScreen"),
    "today": ("today", "TodayScreen"),
    "writing": ("writing", "WritingScreen"),
}


class Navigation:
    """stand_screen: of the song that is on the stand or was last, None before the first. chosen: called when the student takes a song from the list."""

    def __init__(
        self,
        app: App[Any],
        paths: Paths,
        student: StudentSettings,
        log: PracticeLogAccess,
        complain: Callable[[str], None],
    ) -> None:
        self.stand_screen: Any = None
        self.chosen: Callable[[], None] = lambda: None
        self._left: dict[str, Any] = {}  # stands of this evening by the song's id, to go back to
        self._app, self._paths, self._student, self._log, self._complain = app, paths, student, log, complain

    @property
    def place(self) -> str:
        """Where one is, as the table of actions names it, "" on a page to read."""
        return getattr(self._app.screen, "place", "")

    @property
    def performance(self) -> Any:
        """The performance, also while another screen lies on it; None where there is none."""
        return next((each for each in self._app.screen_stack if getattr(each, "place", "") == "performance"), None)

    @property
    def playing(self) -> bool:
        """Whether something is played, or waits."""
        if self.performance is not None and self.performance.playing:
            return True
        if self.place == "chords":
            return self._app.screen.playing  # type: ignore[attr-defined,no-any-return]
        return self.stand_screen is not None and self.stand_screen.view.playing

    def open(self, name: str, *arguments: Any, taken: Callable[[Any], None] | None = None, **options: Any) -> None:
        """Lay a screen over the present one. taken: told what it was closed with."""
        self._app.push_screen(self._make(name, *arguments, **options), taken)

    @staticmethod
    def _make(name: str, *arguments: Any, **options: Any) -> Any:
        module, maker = SCREENS[name]
        return getattr(importlib.import_module(f"companion.tui.screens.{module}"), maker)(*arguments, **options)

    # --- songs and stand

    def put(self, entry: SongEntry) -> None:
        """Read a song and put it on the stand, as it was left if it was there this evening; what is wrong with it becomes a page to read."""
        song = self._read(entry)
        if song is None:
            return
        self.chosen()
        last = self._left.get(song.id)
        if last is not None and last.stand.original == song:  # not if the file was changed since
            self._go_back(last)
        else:
            self.put_song(song)

    def _read(self, entry: SongEntry) -> Song | None:
        from companion.chart.reader import read_chart

        try:
            return read_chart(entry.path)
        except (CompanionError, OSError) as error:
            self.open("read", f"{entry.id} cannot be read", str(error))
            return None

    def learn_chords(self, entry: SongEntry) -> None:
        """Open the chords of a song in root position, before it is on the stand."""
        song = self._read(entry)
        if song is not None:
            self._open_chords(song)

    def learn_chords_of(self, song_id: str) -> None:
        """The same from today's plan."""
        from companion.store.library import find_song

        try:
            song = find_song(song_id, self._paths, self._student.now)
        except (CompanionError, OSError) as error:
            self._complain(str(error))
            return
        self._open_chords(song)

    def _open_chords(self, song: Song) -> None:
        try:
            stand, faults = self._stand_of(song)
        except CompanionError as error:
            self.open("read", error.title, str(error))
            return
        self.open("chords", stand, from_stand=self.stand_screen in self._app.screen_stack)
        if faults:
            self._complain("\n".join(faults))

    def put_song(self, song: Song, item: PlanItem | None = None, key: Key | None = None) -> None:
        """Put a song on the stand with the student's own pins, or without them where their file cannot be read.
        item: of today's plan, to be played at once. key: another than the song's."""
        try:
            stand, faults = self._stand_of(song)
        except CompanionError as error:
            self.open("read", error.title, str(error))
            return
        self._with_shells_learnt(stand, faults, lambda stand: self._put(stand, faults, item, key))

    def open_what_is_due(self) -> None:
        """From the list: today's plan where anything of it is left, else the song that was on the stand last. Who never played stays there, or comes
        back to the song that was set up."""
        is_new, plan = self._log.is_new, self._log.plan
        if self.place != "songs" or (plan is None and not is_new):
            return
        if plan is not None and not is_new and any(not item.done and item.kind != "rest" for item in plan.items):
            self.open("today", plan)
        elif song_id := self._student.now.last_song:
            from companion.store.library import find_song

            with contextlib.suppress(CompanionError, OSError):  # it may be gone, or damaged: the list says so
                self.put_song(find_song(song_id, self._paths, self._student.now))

    def _put(self, stand: Stand, faults: list[str], item: PlanItem | None, key: Key | None) -> None:
        if item is None:  # which sets all of it itself
            try:
                stand = self._student.take_up(stand)
            except (CompanionError, OSError) as error:
                if str(error) not in "\n".join(faults):
                    faults.append(str(error))
        if key is not None:
            try:
                stand = stand.with_key(key)
            except CompanionError as error:
                faults.append(str(error))
        self._show(self._make("stand", stand, stand.loop[0], item=item))
        if stand.dropped_pins:
            places = ", ".join(f"{section}.{bar}.{chord}" for section, bar, chord in stand.dropped_pins)
            faults.append(f"Your own shell at {places} does not fit here and waits; another was chosen.")
        if faults:
            self._complain("\n".join(faults))

    def _stand_of(self, song: Song) -> tuple[Stand, list[str]]:
        """The stand, and what is wrong with what the student keeps of the song."""
        from companion.session.own import keys_learned, own_stand
        from companion.session.stand import Stand

        faults: list[str] = []
        learned: frozenset[int] = frozenset()
        try:
            learned = keys_learned(self._log.log, song)
        except CompanionError as error:
            faults.append(str(error))
        damaged: list[str] = []
        try:
            stand = own_stand(song, self._student.now, self._paths, learned, damaged)
        except (CompanionError, OSError) as error:
            damaged.append(str(error))
            stand = Stand.put(song, self._student.now, left_learned=learned)
        left_out = "What you chose there is left out; a new choice takes its place."
        return stand, [*faults, *damaged, *([left_out] if damaged else [])]

    def _with_shells_learnt(self, stand: Stand, faults: list[str], then: Callable[[Stand], None]) -> None:
        """Where the song was learnt with other shells than those of today, ask once which it shall be. faults: gets what went wrong."""
        from companion.session import former

        try:
            learnt = former.learnt(stand, self._log.log, sixths=self._student.now.sixth_shells)
        except CompanionError as error:  # what is remembered cannot be read now: another day
            faults.append(str(error))
            learnt = None
        if learnt is None:
            then(stand)
            return

        def taken(item: Any) -> None:
            kept = learnt if item is not None and item.value else None
            if item is not None:  # else it is asked again when the song is put on the stand again
                try:
                    former.answer(stand, kept, self._paths, self._log.log)
                except (CompanionError, OSError) as error:
                    faults.append(str(error))
            then(kept or stand)

        self.open("pick", former.question(stand, learnt), former.ANSWERS, taken=taken)

    def start_item(self, item: PlanItem) -> None:
        """Put the song of an item of today's plan on the stand, set as the item wants it, and play."""
        from companion.store.library import find_song

        try:
            song = find_song(item.song_id, self._paths, self._student.now)
        except (CompanionError, OSError) as error:
            self._complain(str(error))
            return
        while self.place != "songs":
            if self.place == "stand":
                self.stand_screen.stop()
            self._app.pop_screen()
        self.put_song(song, item)

    def back_to_songs(self) -> None:
        """Leave the stand for the song list."""
        if self.place == "stand":
            self._app.pop_screen()

    def back_to_stand(self) -> None:
        """To the song that was on the stand last, as it was set."""
        if self.stand_screen is not None:
            self._go_back(self.stand_screen)

    def _go_back(self, left: Any) -> None:
        if left not in self._app.screen_stack:
            self._show(left.again())

    def _show(self, screen: Any) -> None:
        song_id = screen.stand.original.id
        self.stand_screen = self._left[song_id] = screen
        if self._student.now.last_song != song_id:
            self._student.keep_screen("last_song", song_id)
        self._app.push_screen(screen)

    def show_progress(self, song: Song) -> None:
        """Open the page of a song's progress."""
        try:
            self.open("progress", self._log.log, song)
        except CompanionError as error:
            self._complain(str(error))
