"""The app: it holds the paths, the settings and the link to the sound process, and hands messages to the screens."""

from __future__ import annotations

import gc
import importlib
import itertools
import os
import sys
import time
from collections.abc import Callable, Iterable
from functools import partial
from typing import TYPE_CHECKING, Any

from textual import constants
from textual.app import App, SystemCommand
from textual.command import CommandPalette
from textual.driver import Driver
from textual.screen import Screen
from textual.theme import ThemeProvider

from companion.base.files import write_text
from companion.errors import CompanionError
from companion.session.minutes import Minutes
from companion.sound.messages import BeatReport, Keyboards, NoteIn, Notice, Outputs, Ready, Started, Stop
from companion.tui.actions import ACTIONS, Keymap
from companion.tui.heard import Heard
from companion.tui.keeping import Keeping
from companion.tui.notices import Saying
from companion.tui.remembering import Remembering
from companion.tui.screens.place import Place
from companion.tui.screens.songs import SongsScreen
from companion.tui.themes import THEMES

if TYPE_CHECKING:
    from companion.chart.model import Song
    from companion.practice.planning.plan import PlanItem
    from companion.store.listing import SongEntry
    from companion.store.log.practice_log import PracticeLog
    from companion.store.paths import Paths
    from companion.store.settings import Settings
    from companion.theory.key import Key
    from companion.tui.screens.stand import StandScreen

# The screens that open each other by name: module and class. Each is imported when it is first opened.
SCREENS = {
    "ask": ("ask", "AskScreen"),
    "keyboards": ("keyboards", "KeyboardsScreen"),
    "pick": ("pick", "PickScreen"),
    "read": ("read", "ReadScreen"),
    "today": ("today", "TodayScreen"),
}
_LEAD_S = 0.010  # a beat is drawn this long before it is due: about what the way to the terminal takes


class CompanionApp(Saying, Keeping, Remembering, App[None]):
    """link: a started SoundLink (or what behaves like one): the sound process must be started before the app takes the
    terminal. song: put on the stand at once, in `key` where one is given. fault: something to say first, such as settings
    that could not be read. log: the practice log; without one the student's own is opened after the first paint."""

    TITLE = "companion"
    leaving = False
    CSS_PATH = "app.tcss"

    def __init__(
        self,
        paths: Paths,
        settings: Settings,
        link: Any,
        song: Song | None = None,
        fault: str = "",
        log: PracticeLog | None = None,
        key: Key | None = None,
    ) -> None:
        super().__init__()
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = THEMES[0].name  # before the style sheet is read, which it would be again for another theme
        self.paths, self.settings, self.link = paths, settings, link
        self.keymap = Keymap(settings.keys)
        self.volumes = {name: voice.volume for name, voice in settings.sound.voices.items()}
        self.sound = ""
        self.sound_words = ""
        self.keyboards = Keyboards((), ())
        self.outputs = Outputs(())
        self.key_heard = False  # whether any key of a keyboard ever was
        self.minutes = Minutes()
        self.play_numbers = itertools.count(1)
        self.stand_screen: StandScreen | None = None
        self._song, self._key = song, key
        self._fault = fault
        self._practice_log = log

    def on_mount(self) -> None:
        keys = {action: self.keymap.all_keys(action) for action in ACTIONS}
        # Only what the student changed: Textual lays it over the bindings at every press of a key, 4 ms for them all.
        self.set_keymap({action.id: ",".join(own) for action, own in keys.items() if own != action.keys})
        self.push_screen(SongsScreen())
        if self._song is not None:
            self.put_song(self._song, key=self._key)
        self.link.listen(lambda report: self.post_message(Heard(report)))
        faults = [self._fault, *self.keymap.faults]
        if any(faults):
            self.complain("\n".join(fault for fault in faults if fault))
        self._first_start()
        self.call_after_refresh(self._after_first_paint)

    def _after_first_paint(self) -> None:
        """What no start waits for: the log and what is left to do today, and the modules of the stand, which the first song needs."""
        gc.enable()  # off while a process of its own comes up

        def load() -> None:
            for module in ("companion.session.overview", "companion.tui.screens.stand"):
                importlib.import_module(module)
            self.call_from_thread(self.first_plan)

        self.run_worker(load, thread=True, name="stand", exit_on_error=False)

    def on_unmount(self) -> None:
        self.close_log()

    def get_driver_class(self) -> type[Driver]:
        if sys.platform == "win32" or constants.DRIVER is not None:
            return super().get_driver_class()
        from companion.tui.terminal import TerminalDriver

        return TerminalDriver

    def exit(self, *arguments: Any, **options: Any) -> None:
        """Leave. The music stops first, so that no beat is to be drawn on a screen that is being taken down."""
        if not self.leaving:
            self.leaving = True
            self.fall_silent()
        super().exit(*arguments, **options)

    def fall_silent(self) -> None:
        """Nothing plays on without the app."""
        if self.stand_screen is not None and self.stand_screen.is_mounted:
            self.stand_screen.stop()
        self.send(Stop())

    def _first_start(self) -> None:
        if os.path.exists(self.paths.cautions_shown):  # False too where one may not look
            return
        from companion.tui.screens.read import cautions_page

        self.push_screen(cautions_page())
        try:
            write_text(self.paths.cautions_shown, "The cautions were shown.\n")
        except OSError as error:
            self.complain(f"{self.paths.cautions_shown}: cannot be written ({error.strerror}); they come again.")

    # --- songs and stand

    def open(self, name: str, *arguments: Any, taken: Callable[[Any], None] | None = None, **options: Any) -> None:
        """Lay a screen over the present one. taken: told what it was closed with."""
        module, screen = SCREENS[name]
        make = getattr(importlib.import_module(f"companion.tui.screens.{module}"), screen)
        self.push_screen(make(*arguments, **options), taken)

    @property
    def place(self) -> str:
        """Where one is, as the table of actions names it, "" on a page to read."""
        return getattr(self.screen, "place", "")

    def put(self, entry: SongEntry) -> None:
        """Read a song and put it on the stand; what is wrong with it becomes a page to read."""
        from companion.chart.reader import read_chart
        from companion.tui.screens.read import ReadScreen

        try:
            song = read_chart(entry.path)
        except (CompanionError, OSError) as error:
            self.push_screen(ReadScreen(f"{entry.id} cannot be read", str(error)))
            return
        self.put_song(song)

    def put_song(self, song: Song, item: PlanItem | None = None, key: Key | None = None) -> None:
        """Put a song on the stand with the student's own pins, or without them where their file cannot be read.
        item: of today's plan, to be played at once. key: another than the song's."""
        from companion.session.stand import Stand
        from companion.store.pins import load_pins
        from companion.tui.screens.read import ReadScreen
        from companion.tui.screens.stand import StandScreen

        fault = ""
        try:
            stand = Stand.put(song, self.settings, load_pins(self.paths, song.id))
        except (CompanionError, OSError) as error:
            fault = f"{error}\nYour own choices of shells are left out; a new choice takes their place."
            try:
                stand = Stand.put(song, self.settings)
            except CompanionError as error:
                self.push_screen(ReadScreen(error.title, str(error)))
                return
        if key is not None:
            try:
                stand = stand.with_key(key)
            except CompanionError as error:
                fault = str(error)
        self.stand_screen = StandScreen(stand, item=item)
        self.push_screen(self.stand_screen)
        if stand.dropped_pins:
            places = ", ".join(f"{section}.{bar}.{chord}" for section, bar, chord in stand.dropped_pins)
            fault = f"Your own shell at {places} does not fit here and waits; another was chosen."
        if fault:
            self.complain(fault)

    def back_to_songs(self) -> None:
        if self.place == "stand":
            self.pop_screen()

    def back_to_stand(self) -> None:
        """To the song that was on the stand last, as it was set."""
        last = self.stand_screen
        if last is not None and last not in self.screen_stack:
            self.stand_screen = last.again()
            self.push_screen(self.stand_screen)

    # --- sound

    def send(self, message: object) -> None:
        self.link.send(message)

    def on_heard(self, event: Heard) -> None:
        if self.leaving:
            return
        said, stand = event.said, self.stand_screen
        if isinstance(said, NoteIn):
            self.key_heard = True
        if self.place == "keyboards":
            self.screen.hear(said)
        elif stand is not None:
            stand.hear(said)
        if isinstance(said, BeatReport) and stand is not None:
            ahead = said.due_s - time.perf_counter()
            if ahead > _LEAD_S:
                self.set_timer(ahead - _LEAD_S, lambda: stand.on_beat(said))
            else:
                stand.on_beat(said)
        elif isinstance(said, Started) and stand is not None:
            stand.on_started(said.number)
        elif isinstance(said, Ready):
            self.sound, self.sound_words = said.output, said.sentence
            self._tell_screens()
        elif isinstance(said, Keyboards):
            self.keyboards = said
        elif isinstance(said, Outputs):
            self.outputs = said
        elif isinstance(said, Notice):
            self.say(said.sentence)

    # --- the command palette

    def action_command_palette(self) -> None:
        from companion.tui.screens.palette import Palette

        if not CommandPalette.is_open(self):
            self.push_screen(Palette(id="--command-palette"))

    def search_themes(self) -> None:
        from companion.tui.screens.palette import Palette

        self.push_screen(Palette(providers=[ThemeProvider], placeholder="Which colours?"))

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """Every action of the place one is in, with its keys, and the colours."""
        if isinstance(screen, Place):
            for action in self.keymap.actions(screen.place):
                keys = self.keymap.key_list(action, screen.place)
                if keys and action.palette:
                    yield SystemCommand(action.words, keys, partial(screen.obey, action.method))
        yield SystemCommand("Choose other colours", "light, dark or your terminal's own", self.search_themes)
