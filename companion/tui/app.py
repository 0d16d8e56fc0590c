"""The app: its parts, and what they are told. Screens know it as `companion_app.Companion`."""

from __future__ import annotations

import gc
import importlib
import sys
from collections.abc import Iterable
from functools import cached_property, partial
from typing import TYPE_CHECKING, Any

from textual import constants, events
from textual.app import SystemCommand
from textual.command import CommandPalette
from textual.driver import Driver
from textual.filter import LineFilter
from textual.screen import Screen

from companion.base.opening import open_folder
from companion.session.called import Caller
from companion.session.leading import lead_in
from companion.session.minutes import Minutes
from companion.session.playback import Playback
from companion.session.student_settings import StudentSettings
from companion.sound.messages import Keyboards, NoteIn, Notice, Outputs, Ready
from companion.store.exports import export_folder
from companion.tui.actions import ACTIONS
from companion.tui.background import in_background
from companion.tui.commands import commands_of
from companion.tui.first_start import FirstStart
from companion.tui.keymap import Keymap, key_words
from companion.tui.microphone import Listening
from companion.tui.navigation import Navigation
from companion.tui.notices import FAULT, Notices
from companion.tui.practice_log_access import PracticeLogAccess
from companion.tui.screens.app_screen import AppScreen
from companion.tui.sound_report import SoundReport
from companion.tui.terminal_filter import TerminalFilter
from companion.tui.themed_app import ThemedApp
from companion.tui.themes import theme_for
from companion.tui.todays_item import TodaysItem
from companion.tui.typed_ahead import TypedAhead

if TYPE_CHECKING:
    from pathlib import Path

    from companion.chart.model import Song
    from companion.practice.planning.plan import Plan
    from companion.session.aloud import Aloud
    from companion.session.conductor import Conductor
    from companion.store.log.patient_log import PatientLog
    from companion.store.paths import Paths
    from companion.store.settings import Settings
    from companion.theory.key import Key
    from companion.tui.companion_app import Companion

_AWAY = ("songs", "today", "keyboards", "chords", "performance", "writing")  # from here nobody leads the stand
_LEAD_S = 0.010  # a beat is drawn this long before it is due: about what the way to the terminal takes

_LEAVE = (("n  no, play on", False, "n"), ("y  yes, stop and leave", True, "y"))  # words, value, key


class CompanionApp(ThemedApp):
    """link: a started SoundLink (or what behaves like one): the sound process must be started before the app takes the
    terminal. song: put on the stand at once, in `key` where one is given. fault: something to say first, such as settings
    that could not be read. started: the folder the program was started in. log: the practice log; without one the student's own is opened after the first paint."""

    TITLE = "companion"
    CSS_PATH = "app.tcss"

    def __init__(
        self,
        paths: Paths,
        settings: Settings,
        link: Any,
        song: Song | None = None,
        fault: str = "",
        log: PatientLog | None = None,
        key: Key | None = None,
        started: Path | None = None,
    ) -> None:
        super().__init__(settings.colours)
        self.paths, self.link = paths, link
        self._caller = caller = Caller(paths.speech, link.send, self._speech_failed)
        self.playback = Playback(link, _LEAD_S, caller.want, caller.hush)
        self.keymap = Keymap(settings.keys)
        self.leaving = False
        self.sound = ""
        self.sound_words = ""
        self.keyboards = Keyboards((), ())
        self.outputs = Outputs(())
        self.key_heard = False
        self.minutes = Minutes()
        self._asked = False  # whether to leave while it plays
        self._begun = False  # whether the student has touched a key
        self._typed_ahead = TypedAhead(self)
        self._song, self._key, self._fault, self._started = song, key, fault, started
        self._line_filter = TerminalFilter()
        self.notices = Notices(self, self.show_notice, lambda: self.navigation.playing, partial(self.open, "read"))
        self.student = StudentSettings(paths, settings, self.playback, self.notices.complain, self._say_soon)
        self.log_access = PracticeLogAccess(self, paths, self.student, self.notices.complain, log)
        self.navigation = Navigation(self, paths, self.student, self.log_access, self.notices.complain)

        self.listening = Listening(self, paths, self.student, link, self.notices.say, partial(self.open, "microphone"))
        self.playback.microphone = self.listening.send

        # What screens may ask, answered by the part that knows.
        self.say, self.complain, self.unsay = self.notices.say, self.notices.complain, self.notices.unsay
        student, navigation = self.student, self.navigation
        self.volumes, self.set_volume = student.volumes, student.set_volume
        self.keep_stand, self.keep_latency = student.keep_stand, student.keep_latency
        self.keep_leading, self.keep_reach, self.keep_aloud = (
            student.keep_leading,
            student.keep_reach,
            student.keep_aloud,
        )
        self.keep_listening = student.keep_listening
        self.keep_song_order, self.keep_screen = student.keep_song_order, student.keep_screen
        self.listen_to, self.play_on, self.play_soundfont = student.listen_to, student.play_on, student.play_soundfont
        self.tell_of_log, self.make_plan = self.log_access.tell_news, self.log_access.make_plan
        self.put, self.put_song, self.start_item = navigation.put, navigation.put_song, navigation.start_item
        self.back_to_songs, self.back_to_stand = navigation.back_to_songs, navigation.back_to_stand
        self.show_progress, self.learn_chords = navigation.show_progress, navigation.learn_chords
        self.learn_chords_of = navigation.learn_chords_of
        about = self.log_access, navigation, self.keymap, self.say, self.show_notice
        self.todays_item = TodaysItem(*about, self.minutes.rested, lambda: self.navigation.playing)
        navigation.chosen, self.tell_better = self.todays_item.leave, self.log_access.better
        self.first_start = FirstStart(paths, student, self.keymap, self.open, self.complain, self.say)

    @property
    def settings(self) -> Settings:
        """The student's settings as they are now."""
        return self.student.now

    @property
    def exports(self) -> Path:
        """Where exports land."""
        return export_folder(self.paths, self.settings, self._started)

    @property
    def notice(self) -> str:
        """What is said now, "" for nothing; where that is long, the line of it that stands there."""
        return self.notices.line

    @property
    def practice_log(self) -> PatientLog:
        """The log, opened when it is first asked for."""
        return self.log_access.log

    @property
    def is_new(self) -> bool:
        """Whether nothing was ever played, as far as is known."""
        return self.log_access.is_new

    @property
    def plan(self) -> Plan | None:
        """The plan of today as far as it is known."""
        return self.log_access.plan

    @property
    def parting(self) -> str:
        """What is said in the terminal once the app has gone."""
        return self.log_access.parting

    @property
    def stand_screen(self) -> Any:
        """The stand, also while another screen lies on it; None before the first song."""
        return self.navigation.stand_screen

    @property
    def place(self) -> str:
        """Which screen is open, one of PLACES."""
        return self.navigation.place

    def open(self, name: str, *arguments: Any, **options: Any) -> None:
        """Open a screen by its name; see `navigation`."""
        self.navigation.open(name, *arguments, **options)

    def first_plan(self) -> None:
        """Make the plan of today in the background, for the count on the song list."""
        self.log_access.first_plan(self.show_notice)

    def in_background(self, what: str, work: Any, then: Any, failed: Any = None) -> None:
        """Do work off the screen's thread, and hand what it returns to `then`; what fails is said."""
        in_background(self, what, work, then, failed or self.complain)

    def show_folder(self, folder: Path) -> None:
        """Have the system show a folder; what hinders is said."""

        def opened(fault: str) -> None:
            self.say(fault or f"Opened: {folder}")

        self.in_background("Opening the folder", partial(open_folder, folder), opened)

    # --- beginning and end

    def on_mount(self) -> None:
        """Open the song list, and the song that the command line named."""
        if not self.is_headless:
            self.theme = theme_for(self.theme, self.console.color_system)
        keys = {action: self.keymap.all_keys(action) for action in ACTIONS}
        # Only what the student changed: Textual lays it over the bindings at every press of a key, 4 ms for them all.
        self.set_keymap({action.id: ",".join(own) for action, own in keys.items() if own != action.keys})
        self.open("songs")
        if not self.first_start.is_new:
            self._put_named()
        self.link.listen(lambda report: self.post_message(SoundReport(report)))
        faults = [self._fault, *self.keymap.faults]
        if any(faults):
            self.complain("\n".join(fault for fault in faults if fault))
        self.first_start.begin(self._put_named)
        self.call_after_refresh(self._after_first_paint)

    def _put_named(self) -> None:
        """The song that the command line named; at a first start once the hand is known."""
        if self._song is not None:
            self.put_song(self._song, key=self._key)

    def _after_first_paint(self) -> None:
        """What no start waits for: the log and what is left to do today, and the modules of the stand, which the first song needs."""

        def load() -> None:
            try:
                for module in ("companion.session.overview", "companion.tui.screens.stand"):
                    importlib.import_module(module)
            finally:
                if not gc.isenabled():  # off while a process of its own comes up
                    gc.freeze()  # what is loaded stays: looking through it for garbage would hold up a key or a beat by 55 ms of work
                    gc.enable()

        self.in_background("Loading the stand", load, lambda _: self.log_access.first_plan(self._open_what_is_due))

    def _open_what_is_due(self) -> None:
        """Once, as soon as the plan is known; a student who began to type stays where they are."""
        self.show_notice()
        if not self._begun:
            self.navigation.open_what_is_due()

    async def on_event(self, event: events.Event) -> None:
        """As Textual's, which brings every key and click by here before any screen has it."""
        self._begun = self._begun or isinstance(event, events.Key | events.MouseDown | events.Paste)
        if not isinstance(event, events.Key):
            await super().on_event(event)
        elif not self._typed_ahead.holds(event):
            goes = not event.is_forwarded
            await super().on_event(event)
            if goes:
                self._typed_ahead.sent(event)

    def on_unmount(self) -> None:
        """Write what waits, and close the log."""
        self.listening.close()
        self.student.close()
        self.log_access.close()

    def get_driver_class(self) -> type[Driver]:
        """Ours where the terminal is a POSIX one: it drops input that is no UTF-8 and gives the terminal back on Ctrl+Z."""
        if sys.platform == "win32" or constants.DRIVER is not None:
            return super().get_driver_class()
        from companion.tui.terminal import TerminalDriver

        return TerminalDriver

    def get_line_filters(self) -> list[LineFilter]:
        """Every line that is drawn goes through these."""
        return [*super().get_line_filters(), self._line_filter]

    def exit(self, *arguments: Any, **options: Any) -> None:
        """Leave. The music stops first, so that no beat is to be drawn on a screen that is being taken down; the sound process leaves
        meanwhile."""
        if not self.leaving:
            self.leaving = True
            self.fall_silent()
            if self.stand_screen is not None:
                self.conductor.let_go()
            self.link.dismiss()
        super().exit(*arguments, **options)

    def leave_or_ask(self) -> None:
        """End the app; while it plays, ask first, and asked again, end it."""
        if self._asked or not self.navigation.playing:
            self.exit()
            return
        self._asked = True

        def taken(item: Any) -> None:
            self._asked = False
            if item is not None and item.value:
                self.exit()

        self.open("pick", "It plays. Leave the companion?", _LEAVE, taken=taken)

    def fall_silent(self) -> None:
        """Nothing plays on without the app."""
        if self.navigation.performance is not None:
            self.navigation.performance.fall_silent()
        if self.stand_screen is not None and self.stand_screen.is_mounted:
            self.stand_screen.stop()
        self.playback.silence()

    # --- notices

    def _say_soon(self, text: str) -> None:
        """What hinders the keeping of something, from its thread: nobody waits for it, so no page comes over what one does."""
        self.call_later(self.say, FAULT + text)

    def show_notice(self) -> None:
        """Have every screen that is there draw what is being said, and what is known of sound and plan."""
        for screen in self.screen_stack:
            if isinstance(screen, AppScreen) and screen.is_mounted:
                screen.show_notice()

    # --- sound

    @cached_property
    def conductor(self) -> Conductor:
        """Made with the first song on the stand, so that no start waits for it."""
        from companion.session.conductor import Conductor
        from companion.session.own import KeptRoom

        about = self.playback, lambda: self.practice_log, lambda: self.settings
        conductor = Conductor(*about, minutes=self.minutes, keep=KeptRoom(self.paths).keep)
        conductor.sources.key_heard = self.key_heard
        conductor.hear(self.keyboards)
        conductor.sources.microphone = self.listening.listens
        return conductor

    @cached_property
    def aloud(self) -> Aloud:
        """What says aloud what a pass came to; made for the first, so that no start waits for it."""
        from companion.session.aloud import Aloud

        return Aloud(self._caller, lambda: self.settings.practice.aloud)

    @property
    def sound_is_off(self) -> bool:
        """Whether the app was started without a sound process."""
        return getattr(self.link, "is_off", False)

    def on_sound_report(self, event: SoundReport) -> None:
        """What the sound process said, handed to whoever needs it."""
        if self.leaving:
            return
        said, stand = event.said, self.stand_screen
        self.listening.hear(said)
        taken = isinstance(said, NoteIn) and getattr(self.screen, "takes_piano", False)
        if taken or self.place in ("keyboards", "chords", "writing", "first", "microphone"):
            self.screen.hear(said)  # type: ignore[attr-defined]
        if self.navigation.performance is not None:  # a page that lies over it takes nothing out of what is recorded
            self.navigation.performance.hear(said)
        leads = lead_in(said, self.settings.leading) is not None  # perhaps learned just now
        if isinstance(said, NoteIn) and not leads:
            self.key_heard = True
        elif isinstance(said, Keyboards) and not said.heard:
            self.key_heard = False
        if stand is not None and not taken and not (leads and self.place in _AWAY):
            stand.hear(said)
        if isinstance(said, Ready):
            self.sound, self.sound_words = said.output, said.sentence
            self.show_notice()
        elif isinstance(said, Keyboards):
            self.keyboards = said
            self.listening.keyboards(said)
        elif isinstance(said, Outputs):
            self.outputs = said
        elif isinstance(said, Notice):
            self._tell(said)

    def _speech_failed(self, fault: str) -> None:
        """Called from the thread that speaks."""
        self.post_message(SoundReport(Notice("error", fault)))

    def _tell(self, notice: Notice) -> None:
        if notice.kind == "info":
            self.notices.tell(notice.sentence)
        else:  # what is back makes untrue that it is gone
            self.say(notice.sentence if notice.kind == "back" else FAULT + notice.sentence)

    # --- colours, the command palette

    def action_command_palette(self) -> None:
        """Ours, which knows keys that apply here."""
        if not isinstance(self.screen, CommandPalette):
            self.open("palette", id="--command-palette")

    def action_help_quit(self) -> None:
        """Ctrl+C, which ends other programs."""
        keys = self.keymap.all_keys(next(action for action in ACTIONS if action.id == "quit"))
        self.say(f"{key_words(keys[0])} leaves the companion.")

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """Every action of the place one is in, with its keys, and the colours."""
        yield from commands_of(self, self.keymap, screen)


if TYPE_CHECKING:

    def _answers(app: CompanionApp) -> Companion:
        """Whether the app is what screens take it for: checked by mypy."""
        return app
