"""What the student changes in the app and finds again: kept in the settings file, or for the evening."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from companion.errors import CompanionError
from companion.store.settings import save_setting

if TYPE_CHECKING:
    from companion.session.playback import Playback
    from companion.store.paths import Paths
    from companion.store.settings import Playing, Settings


class StudentSettings:
    """now: as they are at present. volumes: voice -> 0 to 1, as they are heard. complain: told why one could not be kept."""

    def __init__(
        self,
        paths: Paths,
        settings: Settings,
        playback: Playback,
        complain: Callable[[str], None],
    ) -> None:
        self.now = settings
        self.volumes = {name: voice.volume for name, voice in settings.sound.voices.items()}
        self._paths, self._playback, self._complain = paths, playback, complain

    def keep_playing(self, playing: Playing) -> None:
        """The next song starts with the click, bass and pattern of this one."""
        self.now = replace(self.now, playing=playing)

    def set_volume(self, voice: str, volume: float) -> None:
        """volume: 0 to 1, heard at once, kept by `save_volumes`."""
        self.volumes[voice] = volume
        self._playback.set_volume(voice, volume)

    def save_volumes(self) -> None:
        """Write the volumes that changed."""
        for voice, volume in self.volumes.items():
            if self.now.sound.voices[voice].volume != volume:
                self.keep(f"sound.{voice}.volume", volume)

    def listen_to(self, names: tuple[str, ...]) -> None:
        """Listen to these keyboards only, () for every one there is; kept in the settings."""
        self._configure(midi_in=names)
        self.keep("sound.midi_in", list(names))

    def play_on(self, mode: str, midi_out: str = "") -> None:
        """Sound there from now on: "auto", "builtin", "silent" or "midi" with a port; kept in the settings."""
        self._configure(mode=mode, midi_out=midi_out)
        self.keep("sound.mode", mode)
        self.keep("sound.midi_out", midi_out)

    def _configure(self, **changes: Any) -> None:
        self.now = replace(self.now, sound=replace(self.now.sound, **changes))
        self._playback.configure(**changes)

    def keep_latency(self, latency_ms: float) -> None:
        """latency_ms: taken off every press from now on."""
        self.now = replace(self.now, practice=replace(self.now.practice, latency_ms=latency_ms))
        self.keep("listening.latency_ms", latency_ms)

    def keep_colours(self, name: str) -> None:
        """name: of a theme of ours."""
        self.keep_screen("colours", name)

    def keep_song_order(self, order: str) -> None:
        """order: one of library.SONG_ORDERS."""
        self.keep_screen("song_order", order)

    def keep_screen(self, name: str, value: bool | str) -> None:
        """One of the settings of the screen, such as ("large_beat", False)."""
        changed: dict[str, Any] = {name: value}
        self.now = replace(self.now, **changed)
        self.keep(f"screen.{name}", value)

    def keep(self, name: str, value: Any) -> None:
        """Write one setting, such as ("playing.bass", "walking"); what hinders it is said."""
        try:
            save_setting(self._paths, name, value)
        except (CompanionError, OSError) as error:
            self._complain(str(error))
