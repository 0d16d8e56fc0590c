"""Mixes voices frame by frame: what the audio device asks for, and what a test can ask for without one.

Events are handed over with the frame they start at and are heard exactly there. `schedule`, `release`, `volume` and `clear` may be
called while another thread renders: they only append to a queue.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Any

import numpy as np

RELEASE_SECONDS = {
    "click": 1.2,  # wood is over before; a cymbal rings on under the next stroke
    "bass": 0.05,
    "left": 0.09,
    "right": 0.15,
    "calls": 0.04,
}  # how long a note rings on after its key is let go
CLEAR_SECONDS = 0.006  # fade on Stop: short enough to be at once, long enough not to click
VOICE_LEVELS = {
    "click": 0.5,
    "bass": 0.905,
    "left": 0.81,
    "right": 0.4,
    "calls": 0.9,
}  # balance of the voices at equal volume
# Where a voice sits, -1 left to 1 right: a little apart, as on a stand, and the bass in the middle.
PLACES = {"click": 0.25, "bass": 0.0, "left": -0.15, "right": 0.15, "calls": 0.0}
_KNEE, _CEILING = 0.8, 0.98  # the limiter leaves everything below the one alone and lets nothing reach the other


@dataclass(slots=True)
class _Note:
    """A note that sounds or will. end: frame at which its release begins, None while the key is down."""

    key: tuple[int, int]
    voice: str
    samples: np.ndarray
    start: int
    gain: float
    end: int | None = None
    release: int = 0


def velocity_gain(velocity: int) -> float:
    """Loudness of a velocity, 1 to 127: 40 dB times its logarithm (the curve General MIDI's sound banks use, from memory)."""
    return (velocity / 127) ** 2


def place_gains(place: float) -> np.ndarray:
    """Gains left and right of equal power in sum, 1 and 1 in the middle, shape (2, 1)."""
    angle = (place + 1) * np.pi / 4
    return np.array([[np.cos(angle)], [np.sin(angle)]], np.float32) * np.float32(2**0.5)


_GAINS = {voice: place_gains(place) for voice, place in PLACES.items()}


class Mixer:
    """frame: how many frames have been rendered, so the number of the next one."""

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self.frame = 0
        self._inbox: deque[tuple[Any, ...]] = deque()
        self._notes: list[_Note] = []
        self._volumes = dict.fromkeys(VOICE_LEVELS, 1.0)
        self._reached = dict(self._volumes)

    # --- from the player's thread

    def schedule(self, frame: int, voice: str, samples: np.ndarray, velocity: int, key: tuple[int, int]) -> int:
        """Start a note at `frame`. samples: float32 or 16 bits, shape (2, frames), or (frames,) for one that is the same on both sides. Returns the frame it will really start at: a past one becomes the next to be rendered."""
        start = max(frame, self.frame)
        gain = VOICE_LEVELS[voice] * velocity_gain(velocity) / full_scale(samples)
        self._inbox.append(("note", _Note(key, voice, samples, start, gain)))
        return start

    def release(self, frame: int, key: tuple[int, int]) -> int:
        """Let go the note of that key at `frame`."""
        end = max(frame, self.frame)
        self._inbox.append(("release", key, end))
        return end

    def volume(self, voice: str, volume: float) -> None:
        """0 to 1, reached within the next block."""
        self._inbox.append(("volume", voice, volume))

    def clear(self) -> None:
        """Fade out all that sounds and forget all that was planned."""
        self._inbox.append(("clear",))

    # --- from the thread that renders

    def render(self, frames: int) -> np.ndarray:
        """The next `frames` frames in stereo, shape (2, frames), float32 within -1 to 1."""
        self._read_inbox()
        first, last = self.frame, self.frame + frames
        mixes: dict[str, np.ndarray] = {}
        for note in self._notes:
            if note.start < last:
                if note.voice not in mixes:
                    mixes[note.voice] = np.zeros((2, frames), np.float32)
                _add(mixes[note.voice], note, first)
        self._notes = [note for note in self._notes if last < _last_frame(note)]
        out = np.zeros((2, frames), np.float32)
        for voice, mix in mixes.items():
            before, after = self._reached[voice], self._volumes[voice]
            mix *= after * _GAINS[voice] if before == after else _GAINS[voice] * _ramp(before, after, frames)
            out += mix
        self._reached.update(self._volumes)
        self.frame = last
        return limit(out)

    def _read_inbox(self) -> None:
        while self._inbox:
            match self._inbox.popleft():
                case ("note", note):
                    note.start = max(note.start, self.frame)
                    self._notes.append(note)
                case ("release", key, end):
                    self._let_go(key, end)
                case ("volume", voice, volume):
                    self._volumes[voice] = volume
                case ("clear",):
                    self._clear()

    def _let_go(self, key: tuple[int, int], end: int) -> None:
        for note in self._notes:
            if note.key == key and note.end is None and note.start <= end:
                note.end, note.release = end, round(RELEASE_SECONDS[note.voice] * self.rate)

    def _clear(self) -> None:
        self._notes = [note for note in self._notes if note.start < self.frame]
        fade = round(CLEAR_SECONDS * self.rate)
        for note in self._notes:
            if note.end is None or note.end >= self.frame:
                note.end, note.release = self.frame, fade
            else:  # already letting go: never louder than it was
                note.release = min(note.release, self.frame - note.end + fade)


def _last_frame(note: _Note) -> int:
    end = note.start + int(note.samples.shape[-1])
    return end if note.end is None else min(end, note.end + note.release)


def _add(mix: np.ndarray, note: _Note, first: int) -> None:
    """Add the part of a note that falls into a block starting at frame `first`."""
    begin = max(note.start, first)
    end = min(first + mix.shape[1], _last_frame(note))
    if end <= begin:
        return
    part = note.samples[..., begin - note.start : end - note.start] * np.float32(note.gain)
    if note.end is not None and end > note.end:
        frames = np.arange(begin, end)
        part = part * np.clip(1 - (frames - note.end) / note.release, 0, 1).astype(np.float32)
    mix[:, begin - first : end - first] += part


def full_scale(samples: np.ndarray) -> float:
    """What stands for 1 in the array."""
    return 32767.0 if samples.dtype == np.int16 else 1.0


def _ramp(before: float, after: float, frames: int) -> np.ndarray:
    return np.linspace(before, after, frames, dtype=np.float32)


def limit(samples: np.ndarray) -> np.ndarray:
    """Bend what is louder than the knee so that nothing passes the ceiling; the rest stays as it is."""
    loud = np.abs(samples)
    if loud.max(initial=0.0) <= _KNEE:
        return samples
    bent = _KNEE + (_CEILING - _KNEE) * np.tanh((loud - _KNEE) / (_CEILING - _KNEE))
    return np.where(loud > _KNEE, np.copysign(bent, samples), samples).astype(np.float32)
