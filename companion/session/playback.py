"""What was asked of the sound process last, and which of its reports belong to that."""

from __future__ import annotations

import itertools
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Protocol

from companion.sound.messages import (
    BeatReport,
    Configure,
    Finished,
    ForMicrophone,
    Load,
    Play,
    Sample,
    SetVolume,
    SoundConfig,
    Started,
    Stop,
)

if TYPE_CHECKING:
    from companion.groove.model import Arrangement


class Link(Protocol):
    """The way to the sound process. config: as it sounds now."""

    config: SoundConfig

    def send(self, message: object) -> None:
        """Without waiting."""


class Playback:
    """The only writer to the sound process. playing: between Play and the end. beat: the last that was heard, None before the first. passes: how
    many are wanted, 0 for ever. lead_s: how long before it is heard a beat is to be shown.
    microphone: told what a listening process is to know.
    speak: has words spoken that will be called. hush: nothing is to be said aloud any more, as something begins to sound."""

    def __init__(
        self,
        link: Link,
        lead_s: float = 0.0,
        speak: Callable[[tuple[str, ...]], None] = lambda words: None,
        hush: Callable[[], None] = lambda: None,
    ) -> None:
        self.playing = False
        self.beat: BeatReport | None = None
        self.passes = 0
        self._link, self._lead_s, self._speak, self._hush = link, lead_s, speak, hush
        self.microphone: Callable[[object], None] = lambda message: None
        self._numbers = itertools.count(1)
        self._number = 0  # of the Play that was sent last
        self._started = False  # whether it was taken up; what is reported before belongs to a pass that was stopped
        self._beats: deque[BeatReport] = deque()  # reported, not yet heard

    def send(self, message: object) -> None:
        """Anything but Play."""
        if isinstance(message, Load):
            from companion.groove.calls import words_called  # before a song is on the stand nobody needs it

            self._speak(words_called(message.arrangement))
        if isinstance(message, ForMicrophone):
            self.microphone(message)
            return
        self._link.send(message)

    def play(self, message: Play) -> None:
        """From now on reports belong to this."""
        self.end()
        self._hush()
        self.playing, self._number = True, next(self._numbers)
        self.send(replace(message, number=self._number))

    def play_apart(self, arrangement: Arrangement, tempo_bpm: float, turns: int = 1) -> int:
        """Play something that is no pass, such as clicks to tap with, so many times, 0 for ever; returns the number that Started tells of it. What was
        loaded before is to be loaded again."""
        self._hush()
        self.silence()
        self.send(Load(arrangement))
        number = next(self._numbers)
        self.send(Play(tempo_bpm, turns=turns, number=number))
        return number

    def sample(self, notes: tuple[int, ...]) -> None:
        """Let notes be heard once, while something may be playing."""
        self.send(Sample(notes))

    def set_volume(self, voice: str, volume: float) -> None:
        """volume: 0 to 1, heard at once."""
        self.send(SetVolume(voice, volume))

    def configure(self, **changes: Any) -> None:
        """Other outputs or inputs, while something may be playing. changes: fields of SoundConfig."""
        self.send(Configure(replace(self._link.config, **changes)))

    def silence(self) -> None:
        """End all that sounds."""
        self.end()
        self.send(Stop())

    def end(self) -> None:
        """Nothing is played any more, or it is begun anew: what is still reported belongs to nothing."""
        self.playing = self._started = False
        self.beat = None
        self._beats.clear()

    def owns(self, report: object) -> bool:
        """Whether a report is of what was asked for last; beats and ends of a Play that was stopped before are not."""
        if isinstance(report, Started) and report.number in (None, self._number):
            self._started = self.playing
        if not isinstance(report, BeatReport | Finished):
            return self.playing
        return self._started

    def reported(self, beat: BeatReport) -> None:
        """A beat that will be heard."""
        self._beats.append(beat)

    def heard(self, now_s: float) -> Iterator[BeatReport]:
        """The beats that are heard by now, one after the other."""
        while self._beats and self._beats[0].due_s - self._lead_s <= now_s:
            self.beat = self._beats.popleft()
            yield self.beat

    @property
    def next_beat_s(self) -> float | None:
        """When the next beat is to be shown."""
        return self._beats[0].due_s - self._lead_s if self._beats else None

    @property
    def is_last_pass(self) -> bool:
        """Whether the last of the wanted passes sounds."""
        return bool(self.passes) and self.beat is not None and self.beat.turn + 1 >= self.passes
