"""What the student changes in the app and finds again: kept in the settings file, or for the evening."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from companion.errors import CompanionError
from companion.session.sound_settings import sound_config
from companion.sound.messages import Configure, SetVolume
from companion.store.settings import save_setting

if TYPE_CHECKING:
    from companion.store.settings import Playing


class Keeping:
    """Mixed into the app."""

    def keep_playing(self, playing: Playing) -> None:
        """The next song starts with the click, bass and pattern of this one."""
        self.settings = replace(self.settings, playing=playing)

    def set_volume(self, voice: str, volume: float) -> None:
        self.volumes[voice] = volume
        self.send(SetVolume(voice, volume))

    def save_volumes(self) -> None:
        for voice, volume in self.volumes.items():
            if self.settings.sound.voices[voice].volume != volume:
                self.keep_setting(f"sound.{voice}.volume", volume)

    def listen_to(self, names: tuple[str, ...]) -> None:
        """Listen to these keyboards only, () for every one there is; kept in the settings."""
        self._configure(midi_in=names)
        self.keep_setting("sound.midi_in", list(names))

    def play_on(self, mode: str, midi_out: str = "") -> None:
        """Sound there from now on: "auto", "builtin", "silent" or "midi" with a port; kept in the settings."""
        self._configure(mode=mode, midi_out=midi_out)
        self.keep_setting("sound.mode", mode)
        self.keep_setting("sound.midi_out", midi_out)

    def _configure(self, **changes: Any) -> None:
        self.settings = replace(self.settings, sound=replace(self.settings.sound, **changes))
        config = getattr(self.link, "config", None) or sound_config(self.settings)
        self.send(Configure(replace(config, **changes)))

    def keep_latency(self, latency_ms: float) -> None:
        self.settings = replace(self.settings, practice=replace(self.settings.practice, latency_ms=latency_ms))
        self.keep_setting("listening.latency_ms", latency_ms)

    def keep_setting(self, name: str, value: Any) -> None:
        try:
            save_setting(self.paths, name, value)
        except (CompanionError, OSError) as error:
            self.complain(str(error))
