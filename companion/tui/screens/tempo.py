"""The tempo: typed, doubled or halved, or tapped with space or any key of the piano."""

from __future__ import annotations

import time

from textual.widgets import Input

from companion.errors import SettingsError
from companion.session.tempi import Taps, typed_tempo
from companion.sound.messages import NoteIn
from companion.tui.screens.ask import AskScreen

_HINT = "Type it, or double, or half. Or tap it, four times or more: space, or any key of the piano. Enter takes it."


class TempoScreen(AskScreen):
    """now_bpm: the tempo on the stand, which is doubled or halved. clock: seconds, for taps of the space bar. What the piano plays meanwhile is tapping and no music."""

    takes_piano = True

    def __init__(self, now_bpm: float) -> None:
        def fault(text: str) -> str:
            try:
                typed_tempo(text, now_bpm)
            except SettingsError as error:
                return str(error)
            return ""

        super().__init__(f"Which tempo? It is {now_bpm:g} now", "", _HINT, fault)
        self._taps, self.clock = Taps(), time.perf_counter

    def on_input_changed(self, event: Input.Changed) -> None:
        """A space is a tap: no tempo has one in it."""
        if " " in self.line.value:
            self.line.value = self.line.value.replace(" ", "")
            self._tap(self.clock())

    def hear(self, report: object) -> None:
        """A report of the sound process: a key of the piano taps."""
        if isinstance(report, NoteIn) and report.velocity > 0:
            self._tap(report.time_s)

    def _tap(self, time_s: float) -> None:
        tempo_bpm = self._taps.tap(time_s)
        if tempo_bpm is not None:
            self.line.value = f"{tempo_bpm:g}"
            self.line.cursor_position = len(self.line.value)
