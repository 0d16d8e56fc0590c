"""What the screens may ask of the app. Screens know this and not the app itself, and open each other by name: so no screen needs the file
of another, and the app may have them all."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

if TYPE_CHECKING:
    from pathlib import Path

    from textual.geometry import Size

    from companion.chart.model import Song
    from companion.practice.leading import Switch
    from companion.practice.planning.plan import Plan, PlanItem
    from companion.session.aloud import Aloud
    from companion.session.conductor import Conductor
    from companion.session.minutes import Minutes
    from companion.session.playback import Playback
    from companion.session.stand import Stand
    from companion.sound.messages import Keyboards, Outputs
    from companion.store.listing import SongEntry
    from companion.store.log.patient_log import PatientLog
    from companion.store.paths import Paths
    from companion.store.settings import Settings
    from companion.tui.first_start import FirstStart
    from companion.tui.keymap import Keymap
    from companion.tui.microphone import Listening
    from companion.tui.todays_item import TodaysItem

T = TypeVar("T")


class Companion(Protocol):
    """sound: "builtin", "midi", "silent" or "" while the sound process is not up; sound_words: its sentence. leaving: whether the app is
    being left. playback: through which alone the sound process is told anything."""

    paths: Paths
    keymap: Keymap
    volumes: dict[str, float]
    sound: str
    sound_words: str
    keyboards: Keyboards
    outputs: Outputs
    minutes: Minutes
    playback: Playback
    leaving: bool
    first_start: FirstStart
    listening: Listening

    @property
    def aloud(self) -> Aloud:
        """What says aloud what a pass came to."""

    @property
    def conductor(self) -> Conductor:
        """What stands between practice and the sound process."""

    @property
    def sound_is_off(self) -> bool:
        """Whether the sound process ended too often and is left alone."""

    @property
    def size(self) -> Size:
        """Of the terminal, in cells."""

    @property
    def settings(self) -> Settings:
        """The student's settings as they are now."""

    @property
    def notice(self) -> str:
        """What is said now, "" for nothing; where that is long, the line of it that stands there."""

    @property
    def plan(self) -> Plan | None:
        """The plan of today as far as it is known."""

    @property
    def practice_log(self) -> PatientLog:
        """The log, opened when it is first asked for."""

    @property
    def is_new(self) -> bool:
        """Whether the log was looked at and nothing was ever played."""

    # --- other screens

    def open(self, name: str, *arguments: Any, taken: Callable[[Any], None] | None = None, **options: Any) -> None:
        """Lay a screen over this one. name: such as "read", "pick", "ask", "today"; arguments, options: as the screen takes them.
        taken: told what it was closed with."""

    def put(self, entry: SongEntry) -> None:
        """Read a song and put it on the stand."""

    def put_song(self, song: Song) -> None:
        """Put a song on the stand."""

    def learn_chords(self, entry: SongEntry) -> None:
        """Open the chords of a song in root position."""

    def learn_chords_of(self, song_id: str) -> None:
        """The same by the song's id."""

    def start_item(self, item: PlanItem) -> None:
        """Put the song of an item of today's plan on the stand and play."""

    @property
    def todays_item(self) -> TodaysItem:
        """What of today's plan is being practised."""

    def tell_better(self, then: Callable[[str], None]) -> None:
        """What got better today, in a sentence, "" where nothing was played; told in a moment."""

    @property
    def exports(self) -> Path:
        """The folder that exports land in."""

    def show_folder(self, folder: Path) -> None:
        """Have the system show a folder; what hinders is said."""

    def leave_or_ask(self) -> None:
        """End the app; while it plays, ask first, and asked again, end it."""

    def back_to_songs(self) -> None:
        """Leave the stand for the song list."""

    def back_to_stand(self) -> None:
        """Leave the song list for the stand, where a song is on it."""

    def show_progress(self, song: Song) -> None:
        """Open the page of a song's progress."""

    # --- to be said

    def say(self, sentence: str) -> None:
        """Show one sentence for a while where it covers nothing that is played."""

    def complain(self, text: str) -> None:
        """Say what went wrong: in one line where it fits or something plays, else on a page."""

    def unsay(self) -> None:
        """What was said is over, or covers what a key is about to change."""

    def in_background(
        self,
        what: str,
        work: Callable[[], T],
        then: Callable[[T], object],
        failed: Callable[[str], object] | None = None,
    ) -> None:
        """Have work done in a thread of its own. what: such as "Listing the songs". then: called on the app's thread with what it gave;
        failed: with a sentence where it could not, which else is complained of."""

    # --- sound

    def set_volume(self, voice: str, volume: float) -> None:
        """volume: 0 to 1, heard at once, and kept."""

    def listen_to(self, names: tuple[str, ...]) -> None:
        """The names of the keyboards to hear, none for all."""

    def play_on(self, mode: str, midi_out: str = "") -> None:
        """mode: as in `sound.messages.SoundConfig`; midi_out: the name of a port, for "midi"."""

    def play_soundfont(self, path: str) -> None:
        """path: of a SoundFont that can be read, "" for the built-in voices."""

    # --- what is kept

    def keep_stand(self, stand: Stand, tempo_bpm: float) -> None:
        """How the stand is set, for the next song and for another day. tempo_bpm: that it is worked at."""

    def keep_latency(self, latency_ms: float) -> None:
        """Write the measured latency into the settings."""

    def keep_reach(self, reach: int) -> None:
        """Write the reach of the left hand into the settings, in semitones."""

    def keep_aloud(self, aloud: bool) -> None:
        """Write into the settings whether it is said what a pass came to."""

    def keep_listening(self, **changes: Any) -> None:
        """Whether a microphone listens, and how: fields of ListeningSettings."""

    def keep_leading(self, leading: dict[str, tuple[Switch, ...]]) -> None:
        """Write what leads the music into the settings."""

    def keep_screen(self, name: str, value: bool | str) -> None:
        """One of the settings of the screen, such as ("large_beat", False)."""

    def keep_song_order(self, order: str) -> None:
        """The order of the list of songs, one of library.SONG_ORDERS."""

    def make_plan(self, minutes: int | None, afresh: bool = False) -> Plan | None:
        """The plan of today; minutes: None for the usual. None where the log cannot be read, which is said."""

    def first_plan(self) -> None:
        """Make the plan of today in the background, for the count on the song list."""

    def tell_of_log(self) -> None:
        """Say what the log has to say, once."""
