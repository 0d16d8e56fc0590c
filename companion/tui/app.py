"""The app: it holds the paths, the settings and the link to the sound process, and hands messages to the screens."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from textual.app import App, SystemCommand
from textual.screen import Screen

from companion.chart.model import Song
from companion.chart.reader import read_chart
from companion.errors import CompanionError
from companion.log.files import write_text
from companion.log.library import SongEntry
from companion.log.paths import Paths
from companion.log.pins import load_pins
from companion.log.settings import Playing, Settings, save_setting
from companion.session.stand import Stand
from companion.sound.messages import BeatReport, Finished, Notice, Ready, SetVolume, Started
from companion.tui.actions import ACTIONS, Keymap
from companion.tui.heard import Heard
from companion.tui.look import THEMES
from companion.tui.screens.place import Place
from companion.tui.screens.read import ReadScreen, cautions_page
from companion.tui.screens.songs import SongsScreen
from companion.tui.screens.stand import StandScreen

_NOTICE_S = 8.0
_LEAD_S = 0.010  # a beat is drawn this long before it is due: about what the way to the terminal takes


class CompanionApp(App[None]):
    """link: a started SoundLink (or what behaves like one): the sound process must be started before the app takes the
    terminal. song: put on the stand at once. fault: something to say first, such as settings that could not be read."""

    TITLE = "companion"
    CSS_PATH = "app.tcss"

    def __init__(self, paths: Paths, settings: Settings, link: Any, song: Song | None = None, fault: str = "") -> None:
        super().__init__()
        self.paths, self.settings, self.link = paths, settings, link
        self.keymap = Keymap(settings.keys)
        self.volumes = {name: voice.volume for name, voice in settings.sound.voices.items()}
        self.sound = ""
        self.sound_words = ""
        self.notice = ""
        self.stand_screen: StandScreen | None = None
        self._song = song
        self._fault = fault
        self._notice_timer = None

    def on_mount(self) -> None:
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = THEMES[0].name
        self.set_keymap({action.id: ",".join(self.keymap.all_keys(action)) for action in ACTIONS})
        self.push_screen(SongsScreen())
        if self._song is not None:
            self.put_song(self._song)
        self.link.listen(lambda report: self.post_message(Heard(report)))
        faults = [self._fault, *self.keymap.faults]
        if any(faults):
            self.complain("\n".join(fault for fault in faults if fault))
        self._first_start()

    def _first_start(self) -> None:
        if self.paths.cautions_shown.exists():
            return
        self.push_screen(cautions_page())
        try:
            write_text(self.paths.cautions_shown, "The cautions were shown.\n")
        except OSError as error:
            self.complain(f"{self.paths.cautions_shown}: cannot be written ({error.strerror}); they come again.")

    # --- songs and stand

    def put(self, entry: SongEntry) -> None:
        """Read a song and put it on the stand; what is wrong with it becomes a page to read."""
        try:
            song = read_chart(entry.path)
        except (CompanionError, OSError) as error:
            self.push_screen(ReadScreen(f"{entry.id} cannot be read", str(error)))
            return
        self.put_song(song)

    def put_song(self, song: Song) -> None:
        """Put a song on the stand with the student's own pins, or without them where their file cannot be read."""
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
        self.stand_screen = StandScreen(stand)
        self.push_screen(self.stand_screen)
        if stand.dropped_pins:
            places = ", ".join(f"{section}.{bar}.{chord}" for section, bar, chord in stand.dropped_pins)
            fault = f"Your own shell at {places} does not fit here and waits; another was chosen."
        if fault:
            self.complain(fault)

    def back_to_songs(self) -> None:
        if isinstance(self.screen, StandScreen):
            self.pop_screen()

    def back_to_stand(self) -> None:
        """To the song that was on the stand last, as it was set."""
        last = self.stand_screen
        if last is not None and last not in self.screen_stack:
            self.stand_screen = StandScreen(last.stand, last.view.cursor, last.pins_before)
            self.push_screen(self.stand_screen)

    def keep_playing(self, playing: Playing) -> None:
        """The next song starts with the click, bass and pattern of this one."""
        self.settings = replace(self.settings, playing=playing)

    # --- sound

    def send(self, message: object) -> None:
        self.link.send(message)

    def set_volume(self, voice: str, volume: float) -> None:
        self.volumes[voice] = volume
        self.send(SetVolume(voice, volume))

    def save_volumes(self) -> None:
        try:
            for voice, volume in self.volumes.items():
                if self.settings.sound.voices[voice].volume != volume:
                    save_setting(self.paths, f"sound.{voice}.volume", volume)
        except (CompanionError, OSError) as error:
            self.complain(str(error))

    def on_heard(self, event: Heard) -> None:
        said, stand = event.said, self.stand_screen
        if isinstance(said, BeatReport):
            ahead = said.due_s - time.perf_counter()
            if stand is not None and ahead > _LEAD_S:
                self.set_timer(ahead - _LEAD_S, lambda: stand.on_beat(said))
            elif stand is not None:
                stand.on_beat(said)
        elif isinstance(said, Started) and stand is not None:
            stand.on_started()
        elif isinstance(said, Finished) and stand is not None:
            stand.on_finished()
        elif isinstance(said, Ready):
            self.sound, self.sound_words = said.output, said.sentence
            self._tell_screens()
        elif isinstance(said, Notice):
            self.say(said.sentence)

    # --- one-line messages

    def say(self, sentence: str) -> None:
        """Show one sentence for a while where it covers nothing that is played."""
        self.notice = " ".join(sentence.split())
        if self._notice_timer is not None:
            self._notice_timer.stop()
        self._notice_timer = self.set_timer(_NOTICE_S, self._unsay)
        self._tell_screens()

    def complain(self, text: str) -> None:
        """Say what went wrong: in the one line where it fits or something plays, else on a page."""
        playing = self.stand_screen is not None and self.stand_screen.view.playing
        if playing or ("\n" not in text and len(text) <= self.size.width - 4):
            self.say(text)
        else:
            self.push_screen(ReadScreen("Please note", text))

    def _unsay(self) -> None:
        self.notice = ""
        self._tell_screens()

    def _tell_screens(self) -> None:
        for screen in self.screen_stack:
            if isinstance(screen, StandScreen) and screen.is_mounted:
                screen.show(notice=self.notice, sound=self.sound)
            elif isinstance(screen, SongsScreen) and screen.is_mounted:
                screen.show_notice()

    # --- the command palette

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """Every action of the place one is in, with its keys, and the colours."""
        if isinstance(screen, Place):
            for action in self.keymap.actions(screen.place):
                keys = self.keymap.key_list(action, screen.place)
                if keys and action.palette:
                    yield SystemCommand(action.words, keys, getattr(screen, f"action_{action.method}"))
        yield SystemCommand("Choose other colours", "light, dark or your terminal's own", self.search_themes)
