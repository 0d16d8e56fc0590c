"""Foot switches and pedals: of what one keyboard or pedal board sends, when something was pressed."""

from __future__ import annotations

from companion.sound.messages import PedalIn, SwitchIn
from companion.sound.outputs import CONTROL, SUSTAIN

PROGRAM = 0xC0
DOWN = 64  # MIDI 1.0: a switch controller is on from 64
# MIDI 1.0, table of controllers: bank select, data entry, the numbers of parameters, and channel modes say something about what
# else is sent; nobody presses them.
NO_SWITCHES = frozenset({0, 32, 6, 38, *range(96, 102), *range(120, 128)})
BOUNCE_S = 0.05  # a contact that bounces; no foot presses twice so fast


class Switches:
    """What was last sent by each controller of one port."""

    def __init__(self) -> None:
        self._values: dict[int, int] = {}
        self._pressed_s: dict[int, float] = {}
        self._sustains: bool | None = None

    def hear(self, message: tuple[int, ...], time_s: float, port: str) -> PedalIn | SwitchIn | None:
        """What a channel message says of pedals and switches; None for nothing, or nothing new."""
        kind, number = message[0] & 0xF0, message[1]
        if kind == PROGRAM:
            return SwitchIn(time_s, "program", number + 1, port)
        if kind != CONTROL or number in NO_SWITCHES:
            return None
        if number == SUSTAIN:
            down = message[2] >= DOWN
            changed, self._sustains = down != self._sustains, down
            return PedalIn(time_s, down, port) if changed else None
        return SwitchIn(time_s, "control", number, port) if self._is_press(number, message[2], time_s) else None

    def _is_press(self, number: int, value: int, time_s: float) -> bool:
        """Whether it goes down now. One that tells no release sends the same value again; a wheel or pedal that is on its way sends others."""
        before = self._values.get(number, 0)
        self._values[number] = value
        if value < DOWN or (before >= DOWN and before != value):
            return False
        bounced = time_s - self._pressed_s.get(number, -BOUNCE_S) < BOUNCE_S
        self._pressed_s[number] = time_s
        return not bounced
