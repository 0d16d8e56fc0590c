"""Listening through a microphone, where no keyboard is heard: started only once the student said yes, and stopped by one word. What is kept are figures of the piano,
and how the loudspeaker comes back into the microphone; sound only of a performance that is to be recorded."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from companion.errors import CompanionError
from companion.sound.listening.link import MicrophoneLink
from companion.sound.listening.messages import (
    EchoMeasured,
    EndRecord,
    MicrophoneConfig,
    MicrophoneOff,
    PianoLearned,
    Record,
    Recorded,
    RecordFailed,
    Use,
    listens_after,
)
from companion.sound.messages import Say, SharePlayed
from companion.store.pianos import kept_pianos, piano_path, read_piano, read_response, write_piano, write_response

if TYPE_CHECKING:
    from companion.sound.played import Played
    from companion.store.paths import Paths
    from companion.store.settings import Settings

USUAL_NAME = "my piano"


class Microphone:
    """settings: as they are now. share: tells the sound process. tell: told every report, from another thread. log: the file that keeps why the process
    failed. wanted: it was started and not stopped; listens: it hears now; records: what it hears is being written into a file."""

    def __init__(
        self,
        paths: Paths,
        settings: Callable[[], Settings],
        share: Callable[[object], None],
        tell: Callable[[object], None],
        log: str = "",
    ) -> None:
        self.wanted = self.listens = self.records = False
        self.has_piano = self._stops = False
        self.fault = ""
        self._paths, self._settings, self._share, self._tell, self._log = paths, settings, share, tell, log
        self._link: MicrophoneLink | None = None
        self._played: Played | None = None

    def choose(self, *, keyboard: bool) -> None:
        """MIDI if there, else the microphone if allowed, else the student's word. keyboard: whether one is there."""
        if self._settings().listening.microphone and not keyboard:
            self.start()
        else:
            self.stop()

    def start(self) -> None:
        """Begin to listen; MicrophoneReady or MicrophoneOff is reported."""
        if self.wanted:
            return
        self.wanted = True
        if self._played is None:
            from companion.sound.played import Played  # numpy, which nothing before the first yes needs

            self._played = Played()
        self._share(SharePlayed(self._played.name))
        link: list[MicrophoneLink] = []
        self._link = MicrophoneLink(self._config(), lambda report: self._hand_on(link[0], report), self._log)
        link.append(self._link)
        self._link.start()

    def stop(self) -> None:
        """Listen no longer, at once; where a performance is recorded as soon as that is written to its end, or at the second word."""
        if self.records and not self._stops:
            self._stops = True
            self.send(EndRecord(keep=True))
            return
        was_on, self._stops = self.wanted, False
        self.wanted = self.listens = self.records = False
        if self._link is not None:
            self._link.stop()
            self._link = None
        if was_on:
            self._share(SharePlayed(""))
            self._tell(MicrophoneOff())

    def close(self) -> None:
        """The app is left."""
        link, self._link = self._link, None
        self.wanted = False
        if link is not None:
            link.close()
        if self._played is not None:
            self._played.remove()
            self._played = None

    def send(self, message: object) -> None:
        """Tell the listening process, where there is one."""
        if self._link is not None:
            self.records = self.records or isinstance(message, Record)
            self._link.send(message)

    def use(self) -> None:
        """The piano and the way of listening that are set now."""
        self.send(Use(self._config()))

    @staticmethod
    def noise() -> Say:
        """What is played to measure how the loudspeakers come back, for the sound process."""
        import numpy as np

        from companion.sound.listening import RATE
        from companion.sound.listening.echo import measuring_noise
        from companion.sound.messages import SPOKEN_RATE

        noise = measuring_noise()
        at = np.arange(len(noise) * (SPOKEN_RATE // RATE)) * RATE / SPOKEN_RATE
        full = np.interp(at, np.arange(len(noise)), noise)
        return Say((full * 32767).astype("<i2").tobytes())

    @property
    def pianos(self) -> list[str]:
        """The names of those that were learned, in order."""
        return kept_pianos(self._paths)

    def name_fault(self, name: str) -> str:
        """Why a piano cannot be called so, "" where it can."""
        try:
            piano_path(self._paths, name)
        except CompanionError as error:
            return str(error)
        return ""

    def hear(self, report: object) -> None:
        """A report came to the app: what it brings is kept. Raises CompanionError where it cannot be."""
        self.listens = self.wanted and listens_after(report, self.listens)
        self.records = self.records and not isinstance(report, Recorded | RecordFailed | MicrophoneOff)
        if self._stops and not self.records:
            self.stop()
        if isinstance(report, MicrophoneOff):
            self.wanted, self._link = False, None
        elif isinstance(report, PianoLearned):
            write_piano(self._paths, report.name, report.piano)
        elif isinstance(report, EchoMeasured) and report.is_good:
            write_response(self._paths, report.response)

    def _hand_on(self, link: MicrophoneLink, report: object) -> None:
        if link is self._link or not isinstance(report, MicrophoneOff):  # of one that was stopped it is told already
            self._tell(report)

    def _config(self) -> MicrophoneConfig:
        wanted, sound = self._settings().listening, self._settings().sound
        piano, self.has_piano, self.fault = b"", False, ""
        if wanted.piano:
            try:
                _, piano = read_piano(self._paths, wanted.piano)
                self.has_piano = True
            except CompanionError as error:
                self.fault = str(error)
        about: dict[str, Any] = {"played": self._played.name if self._played is not None else ""}
        return MicrophoneConfig(
            sound.audio if sound.audio != "null" else "",
            piano,
            headphones=wanted.headphones,
            response=b"" if wanted.headphones else read_response(self._paths),
            late_s=wanted.microphone_ms / 1000.0 if wanted.microphone_ms else None,
            **about,
        )
