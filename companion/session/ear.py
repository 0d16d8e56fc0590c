"""What the microphone waits for where no time is set, in a keyboard's stead, and what it told of it."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import count

from companion.sound.listening.messages import Await, MicrophoneOff, MicrophoneReady, StrokeHeard
from companion.sound.listening.verdicts import HIGHEST_MELODY, NOT_SURE, RIGHT, Awaited, StrokeVerdict

__all__ = ["NOT_SURE", "RIGHT", "RIGHT_HAND_UNHEARD", "STRIKE_AGAIN", "Ear"]

STRIKE_AGAIN = "Not surely heard: strike it again."
RIGHT_HAND_UNHEARD = "The microphone does not hear the right hand alone: that needs a keyboard."


class Ear:
    """send: to where the microphone is. listens: whether one does, and no keyboard is heard. Each shell that is waited for has a number of its own."""

    _numbers = count(1)

    def __init__(
        self, send: Callable[[object], None] = lambda message: None, listens: Callable[[], bool] = lambda: False
    ) -> None:
        self._send, self._listens = send, listens
        self._turn: object = None
        self._number = 0

    @property
    def listens(self) -> bool:
        """Whether a microphone is what hears."""
        return self._listens()

    def wait_for(
        self,
        turn: object,
        notes: tuple[int, ...] = (),
        also: tuple[int, ...] = (),
        from_s: float = -math.inf,
        ceiling: int = 127,
    ) -> None:
        """Wait for a shell from now on. turn: a value that tells whose turn it is, None for nobody's; asked once for each. The others as in Awaited."""
        turn = turn if notes and self.listens else None
        if turn == self._turn:
            return
        self._turn = turn
        if turn is None:
            self._number = 0
            self._send(Await())
            return
        self._number = next(self._numbers)
        also = tuple(sorted({note for note in also if note <= HIGHEST_MELODY}))
        self._send(Await(Awaited(self._number, notes, also, from_s, ceiling)))

    def take(self, report: object) -> StrokeVerdict | None:
        """What a report says of the shell that is waited for; None where it says nothing of it. A microphone that begins to listen is asked anew."""
        if isinstance(report, MicrophoneReady | MicrophoneOff):
            self._turn, self._number = None, 0
        if isinstance(report, StrokeHeard) and report.verdict.number == self._number:
            return report.verdict
        return None
