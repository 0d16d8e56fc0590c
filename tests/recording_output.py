"""An output that keeps what it was sent."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable

from companion.sound.messages import Voice
from companion.sound.outputs import SilentOutput, Sound, channels, panic


class RecordingOutput(SilentOutput):
    """sent: (due, sent, Sound) in the order sent."""

    kind = "midi"

    def __init__(self, clock: Callable[[], float] = time.perf_counter, lead_s: float = 0.0) -> None:
        super().__init__(clock)
        self.lead_s = lead_s
        self.sent: list[tuple[float, float, Sound]] = []
        self.silenced = 0

    def send(self, sound: Sound, at_s: float) -> float:
        now = self.now()
        self.sent.append((at_s, now, sound))
        return now

    def silence(self, voices: dict[str, Voice], sounding: Iterable[tuple[int, int]]) -> None:
        self.silenced += 1
        for sound in panic(sounding, channels(voices)):
            self.send(sound, self.now())
