"""Which note is to be made: said alike by who plays it and by who makes it. Light, as the sound process loads it while it starts."""

from __future__ import annotations

import struct
from typing import NamedTuple

PERCUSSION_CHANNEL = 10  # General MIDI
DRUMS = "drums"  # the voice of what the click's part strikes by its number in General MIDI
OWN_LAYERS = (32, 64, 88, 112)  # velocities at which the built-in piano has a sound of its own; others take the nearest
FONT_LAYERS = (16, 32, 48, 64, 80, 96, 112, 127)  # those at which a SoundFont is asked
HEAD = struct.Struct("<II")  # of an answer: bytes of a sentence (why the SoundFont does not play), frames; both follow


class Wanted(NamedTuple):
    """A note of a voice. note: MIDI number. velocity: 1 to 127. accent: the click's first beat. program: 1 to 128 as listed, 0 for none. is_percussion: on General MIDI's
    channel of percussion. The last two are for a SoundFont alone."""

    voice: str
    note: int
    velocity: int
    accent: bool = False
    program: int = 0
    is_percussion: bool = False

    def layer(self, has_font: bool) -> Wanted:
        """The note whose sound is taken for it, so that few are made."""
        if has_font:
            return self._replace(velocity=nearest(self.velocity, FONT_LAYERS))
        velocity = nearest(self.velocity, OWN_LAYERS) if self.voice == "left" else 0
        return self._replace(velocity=velocity, program=0, is_percussion=False)

    def own_note(self) -> int:
        """What `voices.render` calls it."""
        return int(self.accent) if self.voice == "click" else self.note

    def line(self) -> bytes:
        """How it is asked for."""
        return f"{self.voice} {' '.join(str(int(part)) for part in self[1:])}\n".encode()

    @classmethod
    def read(cls, line: bytes) -> Wanted:
        """The inverse of `line`."""
        voice, *rest = line.decode().split()
        note, velocity, accent, program, percussion = map(int, rest)
        return cls(voice, note, velocity, bool(accent), program, bool(percussion))


def nearest(velocity: int, layers: tuple[int, ...]) -> int:
    """The layer that is taken for a velocity."""
    return min(layers, key=lambda layer: abs(layer - velocity))
