"""What the sound process plays, for whoever listens beside it: the last seconds, in memory that both share, and nowhere else.

One writes and one reads, without a lock: the count is written after the samples. Sound is mono float32 at SPOKEN_RATE.
"""

from __future__ import annotations

from multiprocessing.shared_memory import SharedMemory
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

FRAMES = 1 << 18  # 5.5 s at 48 kHz
_HEADER = 4  # float64: frames written, perf_counter at which frame 0 is heard, twice to spare
_BYTES = 8 * _HEADER + 4 * FRAMES


class Played:
    """name: of memory that is there already, "" to make it. The maker calls `remove` in the end."""

    def __init__(self, name: str = "") -> None:
        self._memory = SharedMemory(name=name) if name else SharedMemory(create=True, size=_BYTES)
        self.name = self._memory.name
        memory = self._memory.buf
        assert memory is not None
        self._header: NDArray[np.float64] | None = np.frombuffer(memory, np.float64, _HEADER)
        self._sound: NDArray[np.float32] | None = np.frombuffer(memory, np.float32, FRAMES, 8 * _HEADER)

    def write(self, sound: NDArray[np.float32], frame: int, zero_s: float) -> None:
        """sound: mono; frame: the number of its first; zero_s: when frame 0 is heard."""
        if self._sound is None or self._header is None:
            return
        at = frame % FRAMES
        first = sound[: FRAMES - at]
        self._sound[at : at + len(first)] = first
        rest = sound[len(first) : FRAMES]
        self._sound[: len(rest)] = rest
        self._header[1] = zero_s
        self._header[0] = frame + len(sound)

    @property
    def written(self) -> int:
        """Frames up to which it was written, 0 where nothing was."""
        return 0 if self._header is None else int(self._header[0])

    @property
    def zero_s(self) -> float:
        """When frame 0 is heard."""
        return 0.0 if self._header is None else float(self._header[1])

    def read(self, frame: int, count: int) -> NDArray[np.float32]:
        """So many frames from one on; what is not there, as it is not written yet or written over, is silence."""
        out = np.zeros(count, np.float32)
        if self._sound is None:
            return out
        written = self.written
        begin, end = max(frame, written - FRAMES, 0), min(frame + count, written)
        if end > begin:
            places = np.arange(begin, end) % FRAMES
            out[begin - frame : end - frame] = self._sound[places]
        return out

    def close(self) -> None:
        """Let go of it."""
        self._header = self._sound = None
        self._memory.close()

    def remove(self) -> None:
        """Let go of it, for good."""
        self.close()
        self._memory.unlink()


_shared: Played | None = None


def share(name: str) -> None:
    """From now on all that is played is written there too; "" for no longer. For the sound process."""
    global _shared
    before, _shared = _shared, None
    if before is not None:
        before.close()
    if name:
        try:
            _shared = Played(name)
        except OSError:  # the app has let go of it already
            _shared = None


def wrote(sound: NDArray[np.float32], frame: int, zero_s: float) -> None:
    """sound: a block that is played, shape (2, frames). Called by the thread of the device: it must not wait."""
    shared = _shared
    if shared is not None:
        shared.write(0.5 * (sound[0] + sound[1]), frame, zero_s)
