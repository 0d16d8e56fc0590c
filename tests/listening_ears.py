"""A listening process without a device, on a clock that its blocks turn."""

from __future__ import annotations

import multiprocessing

import numpy as np

from companion.sound.listening.capture import Capture
from companion.sound.listening.clocks import CAPTURE_RATE
from companion.sound.listening.live import ListeningProcess
from companion.sound.listening.messages import MicrophoneConfig

BLOCK = CAPTURE_RATE // 100


class Ears:
    """app: the app's end of its pipe. now_s: up to when it has heard."""

    def __init__(self, config: MicrophoneConfig | None = None) -> None:
        self.now_s = 100.0
        self.app, theirs = multiprocessing.Pipe()
        self.capture = Capture(lambda: self.now_s)
        self.process = ListeningProcess(theirs, config or MicrophoneConfig(), self.capture)

    def tell(self, message: object) -> None:
        self.app.send(message)
        self.process.turn(0.0)

    def hear(self, sound: np.ndarray) -> None:
        """sound: mono at CAPTURE_RATE; what lacks of a block at its end is left out."""
        for at in range(0, len(sound) - BLOCK + 1, BLOCK):
            self.now_s += BLOCK / CAPTURE_RATE
            self.capture.arrived(sound[at : at + BLOCK].astype(np.float32))
            self.process.turn(0.0)

    def told(self) -> list[object]:
        self.process.turn(0.0)
        found = []
        while self.app.poll():
            found.append(self.app.recv())
        return found
