"""The microphone: blocks of sound from the system's own, each with when it was heard. Nothing is kept here longer than until it is taken."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Generator
from typing import Any

import numpy as np

from companion.sound.builtin import real_backends
from companion.sound.entering import entering
from companion.sound.listening.clocks import CAPTURE_RATE, CaptureClock, Decimator
from companion.sound.listening.spectra import Array

PERIOD_MS, PERIODS = 10, 2
STALL_S = 2.0  # a device that gives nothing for so long is gone
_LOOK_S = 0.1
_MOST_BLOCKS = 500  # that wait: five seconds


class Capture:
    """Opened by `open_capture`; tests call `arrived`."""

    def __init__(self, perf: Callable[[], float] = time.perf_counter) -> None:
        self.device: Any = None
        self._perf = perf
        self._blocks: deque[tuple[Array, float]] = deque(maxlen=_MOST_BLOCKS)
        self._clock = CaptureClock(latency_s=0.0)
        self._decimator = Decimator()
        # Sound, the number of its block's first frame, seconds after that.
        self._held: list[tuple[Array, int, float]] = []
        self._looked_s, self._idle_s = perf(), 0.0

    def arrived(self, block: Array) -> None:
        """A block of the device, mono at CAPTURE_RATE. Called by its thread: it must not wait."""
        self._blocks.append((block, self._perf()))

    def blocks(self) -> Generator[None, bytes, None]:
        """Takes what the device gives: stereo float32, as some systems give no other."""
        while True:
            data = yield
            self.arrived(np.frombuffer(data, np.float32).reshape(-1, 2).mean(axis=1))

    def take(self) -> list[tuple[Array, float]]:
        """What came since, at RATE, each with when its first sample was heard; once that is known."""
        while self._blocks:
            block, at_s = self._blocks.popleft()
            self._idle_s = 0.0
            first = self._clock.arrived(len(block), at_s)
            low, after_s = self._decimator.take(block)
            if len(low):
                self._held.append((low, first, after_s))
        if self._clock.in_doubt:
            return []
        held, self._held = self._held, []
        return [(low, self._clock.heard_s(first) + after_s) for low, first, after_s in held]

    @property
    def is_gone(self) -> bool:
        """Whether the device gives nothing any more. To be asked often: a long while between two looks, as where the machine slept, counts as a short one."""
        now_s = self._perf()
        self._idle_s += min(now_s - self._looked_s, _LOOK_S)
        self._looked_s = now_s
        return self._idle_s > STALL_S

    @property
    def lost_s(self) -> float:
        """Of sound, in sum."""
        return self._clock.lost_s

    def close(self) -> None:
        """Let go of the device."""
        if self.device is not None:
            with entering("audio"):
                self.device.close()
            self.device = None


def open_capture(backend: str = "") -> Capture | None:
    """The system's microphone, or that of miniaudio's back end of that name. None where there is none."""
    try:
        import miniaudio

        names = [backend.upper()] if backend else real_backends(miniaudio)
        # One at a time: of several miniaudio takes the first that is installed, whether it has a microphone or not.
        opened = (_open(miniaudio, miniaudio.Backend[name]) for name in names)
        return next((capture for capture in opened if capture is not None), None)
    except (ImportError, KeyError):
        return None


def _open(miniaudio: Any, backend: Any) -> Capture | None:
    capture = Capture()
    try:
        device = miniaudio.CaptureDevice(
            input_format=miniaudio.SampleFormat.FLOAT32,
            nchannels=2,
            sample_rate=CAPTURE_RATE,
            buffersize_msec=PERIOD_MS,
            callback_periods=PERIODS,
            backends=[backend],
            app_name="companion ear",
        )
        blocks = capture.blocks()
        next(blocks)
        device.start(blocks)
    except miniaudio.MiniaudioError:
        return None
    capture.device = device
    return capture
