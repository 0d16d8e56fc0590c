"""What the keyboard tells beside the pass that is played: keys pressed a little before it begins, and the sustain pedal."""

from __future__ import annotations

from companion.session.passes import PassEar
from companion.sound.messages import NoteIn, PedalIn

EARLY_S = 4.0  # how long a key is remembered that may be for the next pass: the earliest push and the latency, and more


class KeysHeard:
    """port: the keyboard that a key was pressed on last."""

    def __init__(self) -> None:
        self.port = ""
        self._early: list[NoteIn] = []
        self._pedal = False  # whether it is down

    def begin(self) -> None:
        """Nothing that was pressed is for what is counted in now."""
        self._early.clear()

    def key(self, key: NoteIn, ear: PassEar | None) -> None:
        """A key went down or up. ear: of the pass that is marked."""
        self._early = [other for other in self._early if key.time_s - other.time_s < EARLY_S] + [key]
        if key.velocity > 0:
            self.port = key.port
        if ear is not None:
            ear.press(key.time_s, key.note, key.velocity)

    def pedal(self, report: PedalIn, ear: PassEar | None) -> None:
        """The sustain pedal went down or up."""
        self._pedal = report.down
        if ear is not None:
            ear.pedal(report.down)

    def give(self, ear: PassEar, *, keys: bool) -> None:
        """What was played a little before the bar line, and is meant for the pass that begins there. keys: whether it is marked."""
        ear.pedal(self._pedal)
        for key in self._early if keys else ():
            ear.press(key.time_s, key.note, key.velocity)
