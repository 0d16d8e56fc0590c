"""What was spoken, by its words: kept for whichever output sounds, as the voices' notes are."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from companion.sound.messages import SPOKEN_RATE, Say, Spoken
from companion.sound.outputs import Output, Sound

if TYPE_CHECKING:
    import numpy as np

_SAID = "\0"  # the words of what is said now, which no chord is called
_SAID_NOTE = 1  # the mixer's: names that are called have 0, and end each other
_kept: dict[str, bytes] = {}


def keep(spoken: Spoken) -> None:
    """Have it at hand from now on."""
    _kept[spoken.words] = spoken.samples


def say(said: Say, output: Output) -> None:
    """Let it be heard on an output that can."""
    if output.mixes:
        _kept[_SAID] = said.samples
        sound = Sound("note_on", 0, _SAID_NOTE, 127, "calls", words=_SAID)
        output.send(sound, output.now() + output.lead_s)


def samples_of(words: str, rate: int) -> np.ndarray | None:
    """Mono float32, None where it was not spoken yet. The array is shared and must not be written to."""
    kept = _kept.get(words)
    if kept is None or rate != SPOKEN_RATE:
        return None
    return _read.__wrapped__(kept) if words == _SAID else _read(kept)  # a sentence is large, and hardly said twice


@lru_cache(maxsize=256)
def _read(kept: bytes) -> np.ndarray:
    import numpy as np

    samples = np.frombuffer(kept, "<i2").astype(np.float32) / np.float32(32768)
    samples.setflags(write=False)
    return samples
