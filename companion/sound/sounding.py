"""Which notes sound now, so that each is ended once and none is left hanging."""

from __future__ import annotations

import itertools
import math

from companion.sound.outputs import Sound

Outgoing = list[tuple[Sound, float]]  # (what, due_s) to send


class Sounding:
    """Notes by channel and number. Each strike has a number of its own: the end of an earlier strike does not end a later one. What is to
    be sent is added to the list handed in."""

    def __init__(self) -> None:
        self._strikes: dict[tuple[int, int], int] = {}  # (channel, note) -> number of the strike
        self._samples: list[tuple[float, int, int, int]] = []  # (off_s, channel, note, number of the strike)
        self._number = itertools.count()

    def __bool__(self) -> bool:
        return bool(self._strikes)

    def strike(self, sound: Sound, due_s: float, into: Outgoing) -> int:
        """Start a note; gives the number of the strike. One that sounds already ends first."""
        key = (sound.channel, sound.note)
        if key in self._strikes:
            self.release(*key, self._strikes[key], due_s, into)
        number = next(self._number)
        self._strikes[key] = number  # known before it is sent, so that nothing can leave it hanging
        into.append((sound, due_s))
        return number

    def release(self, channel: int, note: int, number: int, due_s: float, into: Outgoing) -> None:
        """End a note where that strike of it still sounds."""
        if self._strikes.get((channel, note)) == number:
            into.append((Sound("note_off", channel, note), due_s))
            del self._strikes[channel, note]

    def sample(self, sound: Sound, now_s: float, seconds: float, into: Outgoing) -> None:
        """Start a note that ends after so long, whatever is played."""
        number = self.strike(sound, now_s, into)
        self._samples.append((now_s + seconds, sound.channel, sound.note, number))

    @property
    def sample_ends_s(self) -> float:
        """When the next sample ends; infinite without one."""
        return min((off_s for off_s, *_ in self._samples), default=math.inf)

    def end_samples(self, horizon_s: float, into: Outgoing) -> None:
        """End those that are due by then."""
        for sample in [sample for sample in self._samples if sample[0] <= horizon_s]:
            self._samples.remove(sample)
            off_s, channel, note, number = sample
            self.release(channel, note, number, off_s, into)

    def clear(self) -> tuple[tuple[int, int], ...]:
        """Nothing sounds any more. Gives (channel, note) of what did."""
        sounding = tuple(self._strikes)
        self._strikes.clear()
        self._samples.clear()
        return sounding
