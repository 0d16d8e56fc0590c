"""What the student changes and finds again, in the app and without it: kept in the settings file and in each song's own, when it changes, in the background."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from companion.errors import CompanionError
from companion.store.keeper import Keeper
from companion.store.settings import check_settings, save_settings

if TYPE_CHECKING:
    from companion.arranging.choice import ArrangementChoice
    from companion.practice.leading import Switch
    from companion.session.playback import Playback
    from companion.session.stand import Stand
    from companion.store.own_stand import OwnStand
    from companion.store.paths import Paths
    from companion.store.settings import Settings


class StudentSettings:
    """now: as they are at present. volumes: voice -> 0 to 1, as they are heard. complain: told what is no setting. tell: told from another thread why one could
    not be kept."""

    def __init__(
        self,
        paths: Paths,
        settings: Settings,
        playback: Playback,
        complain: Callable[[str], None],
        tell: Callable[[str], None],
    ) -> None:
        self.now = settings
        self.volumes = {name: voice.volume for name, voice in settings.sound.voices.items()}
        self._paths, self._playback, self._complain = paths, playback, complain
        self._keeper = Keeper(tell)
        self._unsaved: dict[str, Any] = {}
        self._lock = threading.Lock()  # guards it
        self._seen: tuple[Stand, float] | None = None  # what was kept last
        self._left: dict[str, OwnStand] = {}  # by the song's id
        self._arranged: dict[str, ArrangementChoice] = {}  # by the song's id, as it is kept

    def take_up(self, stand: Stand) -> Stand:
        """A song put on the stand, as it was left. Raises SettingsError where that was damaged; then the song is as it is."""
        from companion.session.left_song import as_left
        from companion.store.own_stand import load_stand

        self._arranged[stand.original.id] = stand.arranged
        left = self._left[stand.original.id] = load_stand(self._paths, stand.original.id)
        return as_left(stand, left)

    def keep_stand(self, stand: Stand, tempo_bpm: float) -> None:
        """The next song starts with the click, bass and pattern of this one, and this one another day as it is left, with its arrangement. tempo_bpm: that it is
        worked at."""
        if self._seen is not None and self._seen[0] is stand and self._seen[1] == tempo_bpm:
            return  # asked at every beat
        from companion.session.left_song import left_as
        from companion.session.stand_changes import changed_playing, keep_playing
        from companion.store.own_stand import OwnStand, save_stand

        self._seen = stand, tempo_bpm
        before, playing = self.now.playing, keep_playing(stand, self.now.playing)
        if playing != before:
            self.now = replace(self.now, playing=playing)
            self.keep(changed_playing(before, playing))
        song_id, left = stand.original.id, left_as(stand, tempo_bpm)
        if song_id and left != self._left.get(song_id, OwnStand()):
            self._left[song_id] = left
            self._keeper.keep(song_id, partial(save_stand, self._paths, song_id, left))
        if song_id and stand.arranged != self._arranged.setdefault(song_id, stand.arranged):
            from companion.store.own_arrangement import save_arrangement

            self._arranged[song_id] = stand.arranged
            self._keeper.keep(("arranged", song_id), partial(save_arrangement, self._paths, song_id, stand.arranged))

    def close(self) -> None:
        """Wait for what is still to be written."""
        self._keeper.close()

    def set_volume(self, voice: str, volume: float) -> None:
        """volume: 0 to 1, heard at once."""
        self.volumes[voice] = volume
        self._playback.set_volume(voice, volume)
        self.keep({f"sound.{voice}.volume": volume})

    def listen_to(self, names: tuple[str, ...]) -> None:
        """Listen to these keyboards only, () for every one there is; kept in the settings."""
        self._configure(midi_in=names)
        self.keep({"sound.midi_in": list(names)})

    def play_on(self, mode: str, midi_out: str = "") -> None:
        """Sound there from now on: "auto", "builtin", "silent" or "midi" with a port; kept in the settings."""
        self._configure(mode=mode, midi_out=midi_out)
        self.keep({"sound.mode": mode, "sound.midi_out": midi_out})

    def play_soundfont(self, path: str) -> None:
        """Have that SoundFont in place of the built-in voices from now on, "" for those; kept in the settings."""
        self._configure(soundfont=path)
        self.keep({"sound.soundfont": path})

    def _configure(self, **changes: Any) -> None:
        self.now = replace(self.now, sound=replace(self.now.sound, **changes))
        self._playback.configure(**changes)

    def keep_latency(self, latency_ms: float) -> None:
        """latency_ms: taken off every press from now on."""
        self.now = replace(self.now, practice=replace(self.now.practice, latency_ms=latency_ms))
        self.keep({"listening.latency_ms": latency_ms})

    def keep_reach(self, reach: int) -> None:
        """reach: the widest interval of the left hand in semitones, for every song that is put on the stand from now on."""
        self.now = replace(self.now, hand=replace(self.now.hand, reach=reach))
        self.keep({"hand.reach": reach})

    def keep_listening(self, **changes: Any) -> None:
        """changes: fields of ListeningSettings."""
        self.now = replace(self.now, listening=replace(self.now.listening, **changes))
        self.keep({f"listening.{name}": value for name, value in changes.items()})

    def keep_aloud(self, aloud: bool) -> None:
        """aloud: whether it is said what a pass came to."""
        self.now = replace(self.now, practice=replace(self.now.practice, aloud=aloud))
        self.keep({"practice.aloud": aloud})

    def keep_leading(self, leading: dict[str, tuple[Switch, ...]]) -> None:
        """leading: what leads the music from now on, by practice.leading.LEADS."""
        before, self.now = self.now.leading, replace(self.now, leading=leading)
        changed = {lead: switches for lead, switches in leading.items() if before.get(lead) != switches}
        self.keep({f"leading.{lead}": [switch.text for switch in switches] for lead, switches in changed.items()})

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
        self.keep({f"screen.{name}": value})

    def keep(self, values: dict[str, Any]) -> None:
        """Write settings, such as {"playing.bass": "walking"}; what hinders it is said."""
        try:
            check_settings(self._paths, values)
        except CompanionError as error:
            self._complain(str(error))
            return
        with self._lock:
            self._unsaved |= values  # what could not be written is tried again with the next
        self._keeper.keep("settings", self._save)

    def _save(self) -> None:
        with self._lock:
            values = dict(self._unsaved)
        save_settings(self._paths, values)
        with self._lock:
            self._unsaved = {name: value for name, value in self._unsaved.items() if values.get(name) != value}
