"""The player's end of the process that makes notes: asks for them, and has those that came.

All that waits is done by one thread. It is an ordinary one, also where the sound process has real-time priority, and so is the process that it starts.
"""

from __future__ import annotations

import contextlib
import os
import queue
import sys
import threading
from collections import OrderedDict
from typing import TYPE_CHECKING

import numpy as np

from companion.sound.wanted import HEAD, Wanted

if TYPE_CHECKING:
    import subprocess

MOST_BYTES = 120_000_000  # of notes in memory: some hundred
_COMMAND = "from companion.sound.maker import main; main()"
_BELOW_NORMAL = 0x4000  # Windows: priority class of a process


class NoteMaker:
    """folder: where notes are kept on disk, "" for nowhere. soundfont: a path, "" for none. rate: frames a second.

    Nothing is started before the first `ask` or `look`. Where the process cannot run, no note ever comes.
    """

    def __init__(self, folder: str, soundfont: str, rate: int) -> None:
        self.soundfont = soundfont
        self._arguments = [folder, soundfont, str(rate)]
        self._notes: OrderedDict[Wanted, np.ndarray] = OrderedDict()
        self._bytes = 0
        self._asked: set[Wanted] = set()
        self._queue: queue.SimpleQueue[Wanted | None] = queue.SimpleQueue()
        self._faults: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._said = ""
        self._thread: threading.Thread | None = None
        self._process: subprocess.Popen[bytes] | None = None

    def get(self, wanted: Wanted) -> np.ndarray | None:
        """int16, shape (2, frames); None where it is not there yet. Does not wait."""
        return self._notes.get(wanted.layer(bool(self.soundfont)))

    def ask(self, wanted: Wanted) -> None:
        """Have it made. Does not wait."""
        layer = wanted.layer(bool(self.soundfont))
        if layer not in self._asked:
            self._asked.add(layer)
            self._queue.put(layer)
            self.look()

    def look(self) -> None:
        """Have the SoundFont looked at, where that was not done yet."""
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, daemon=True, name="companion notes")
            self._thread.start()

    def fault(self) -> str:
        """Why the SoundFont does not play, "" where nothing is to be said; each is said once."""
        with contextlib.suppress(queue.Empty):
            return self._faults.get_nowait()
        return ""

    def close(self) -> None:
        """End the process."""
        self._queue.put(None)
        if self._process is not None:
            self._process.kill()
            self._process.wait()

    # --- in the thread

    def _work(self) -> None:
        import subprocess  # some ms, while nothing waits for it

        _be_ordinary()
        try:
            self._process = process = subprocess.Popen(
                [sys.executable, "-P", "-c", _COMMAND, *self._arguments],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                creationflags=_BELOW_NORMAL if sys.platform == "win32" else 0,
                start_new_session=True,  # the terminal's signals are for the app
            )
        except OSError:
            return
        with contextlib.suppress(OSError, EOFError), process:
            self._receive(process)
            while (wanted := self._queue.get()) is not None:
                assert process.stdin is not None
                process.stdin.write(wanted.line())
                process.stdin.flush()
                self._keep(wanted, self._receive(process))

    def _receive(self, process: subprocess.Popen[bytes]) -> np.ndarray:
        length, frames = HEAD.unpack(_exactly(process, HEAD.size))
        if (sentence := _exactly(process, length).decode()) != self._said:
            self._said = sentence
            self._faults.put(sentence)
        return np.frombuffer(_exactly(process, 4 * frames), "<i2").reshape(2, frames)

    def _keep(self, wanted: Wanted, samples: np.ndarray) -> None:
        self._notes[wanted] = samples
        self._bytes += samples.nbytes
        while self._bytes > MOST_BYTES and len(self._notes) > 1:
            oldest, gone = self._notes.popitem(last=False)
            self._bytes -= gone.nbytes
            self._asked.discard(oldest)


_makers: dict[tuple[str, str, int], NoteMaker] = {}  # one at most


def note_maker(folder: str, soundfont: str, rate: int) -> NoteMaker:
    """The one of this process, which outlives the devices that play its notes; one for something else is closed."""
    wanted = (folder, soundfont, rate)
    if wanted not in _makers:
        while _makers:
            _makers.popitem()[1].close()
        _makers[wanted] = NoteMaker(*wanted)
    return _makers[wanted]


def _exactly(process: subprocess.Popen[bytes], count: int) -> bytes:
    assert process.stdout is not None
    data = process.stdout.read(count)
    if len(data) != count:
        raise EOFError
    return data


def _be_ordinary() -> None:
    """Of this thread and what it starts; Linux counts both by threads. Elsewhere there was nothing to give up, or it is not passed on."""
    if sys.platform == "linux":
        with contextlib.suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
        with contextlib.suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, 0, 10)
