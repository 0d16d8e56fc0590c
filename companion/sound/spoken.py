"""What was spoken, by its words: kept for whichever output sounds, as the voices' notes are."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from companion.sound.messages import SPOKEN_RATE, Spoken

if TYPE_CHECKING:
    import numpy as np

_kept: dict[str, bytes] = {}


def keep(spoken: Spoken) -> None:
    """Have it at hand from now on."""
    _kept[spoken.words] = spoken.samples


def samples_of(words: str, rate: int) -> np.ndarray | None:
    """Mono float32, None where it was not spoken yet. The array is shared and must not be written to."""
    kept = _kept.get(words)
    return None if kept is None or rate != SPOKEN_RATE else _read(kept)


@lru_cache(maxsize=256)
def _read(kept: bytes) -> np.ndarray:
    import numpy as np

    samples = np.frombuffer(kept, "<i2").astype(np.float32) / np.float32(32768)
    samples.setflags(write=False)
    return samples
