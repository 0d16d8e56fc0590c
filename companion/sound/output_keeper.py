"""The output that the player plays on: opened as configured, looked after, and changed where one is switched on or pulled out."""

from __future__ import annotations

import math
import time
from collections.abc import Callable

from companion.sound.jack import jack_pulse
from companion.sound.messages import Notice, Outputs, Ready, SoundConfig
from companion.sound.midi import Port, PortWatch, Rtmidi, labels
from companion.sound.midi_out import MidiOutput
from companion.sound.output_choice import choose_output, decide, has_library
from companion.sound.outputs import Output, SilentOutput
from companion.sound.player import Player

DEVICE_RETRY_S = 3.0  # how often an audio device is looked for, where one was lost or none was there
SERVER_NEW_S = (
    5.0  # so long after a JACK server has come it is looked for at every turn: not all of it is there at once
)


class OutputKeeper:
    """Call `check` about once a second, with time to spare. realtime: told by Ready."""

    def __init__(self, player: Player, realtime: bool, clock: Callable[[], float] = time.perf_counter) -> None:
        self._player = player
        self._realtime = realtime
        self._clock = clock
        self._config = SoundConfig(mode="silent")
        self._binding: Rtmidi | None = None
        self._watch = PortWatch(None, False)
        self._device_lost = False  # an audio device went, and silence keeps its place
        self._looked_s = 0.0  # when an audio device was last looked for
        self._has_server = False  # of JACK
        self._server_came_s = -math.inf
        self._told: Outputs | None = None

    def configure(self, config: SoundConfig, binding: Rtmidi | None) -> Ready:
        """Open what the configuration comes to; what plays goes on, on it."""
        self._config, self._binding = config, binding
        output, sentence = choose_output(config, binding)
        self._change(output)
        self._watch.close()
        self._watch = PortWatch(binding, False, config.api)
        self._told = None
        self._looked_s = self._clock()
        self._has_server = self._may_ask_jack() and jack_pulse().knows
        return Ready(output.kind, sentence, self._realtime)

    def check(self) -> list[object]:
        """Look whether the output is still there, and what else is. Gives what to report."""
        reports: list[object] = []
        if (notice := self._player.output.check()) is not None:
            reports.append(notice)
            if notice.kind == "lost" and self._player.output.kind == "builtin":
                self._change(SilentOutput())
                self._device_lost = True
                self._looked_s = self._clock()
        ports = self._watch.all_ports()
        if isinstance(self._player.output, SilentOutput):
            reports += self._end_silence(ports)
        called = labels([port for port in ports if not port.is_loop_through])
        outputs = Outputs(tuple(called.values()), called[port] if (port := self._port()) in called else "")
        if outputs != self._told:
            self._told = outputs
            reports.append(outputs)
        return reports

    def close(self) -> None:
        """Let go of the output."""
        self._player.output.close()
        self._watch.close()

    def _port(self) -> Port | None:
        output = self._player.output
        return output.port if isinstance(output, MidiOutput) and output.kind == "midi" else None

    def _end_silence(self, ports: tuple[Port, ...]) -> list[object]:
        """Take up what was switched on or plugged in since, where silence was not asked for. A lost MIDI port is none of this: its own
        output finds it again."""
        reports: list[object] = []
        if self._may_look_for_device():
            self._looked_s = self._clock()
            reports = self._take_device()
        if not reports and not self._device_lost and self._config.mode in ("auto", "midi"):
            reports = self._take_port(ports)
        return reports

    def _may_look_for_device(self) -> bool:
        """Opening one takes a while, so not while the beat is to be kept, unless one was lost or may just have come."""
        if not self._device_lost and self._config.mode not in ("auto", "builtin"):
            return False
        now_s = self._clock()
        if now_s - self._server_came() < SERVER_NEW_S:
            return True
        return (self._device_lost or not self._player.playing) and now_s - self._looked_s > DEVICE_RETRY_S

    def _server_came(self) -> float:
        """When the JACK server there is came, as far as that was seen here."""
        had, self._has_server = self._has_server, self._may_ask_jack() and jack_pulse().is_up()
        if self._has_server and not had:
            self._server_came_s = self._clock()
        return self._server_came_s if self._has_server else -math.inf

    def _may_ask_jack(self) -> bool:
        return "jack" not in self._config.avoid

    def _take_device(self) -> list[object]:
        output, sentence = choose_output(self._config, self._binding)
        if output.kind != "builtin":
            output.close()
            return []
        notice = Notice("back", "The sound device is back.") if self._device_lost else Notice("info", sentence)
        self._change(output)
        return [notice, Ready("builtin", sentence, self._realtime)]

    def _take_port(self, ports: tuple[Port, ...]) -> list[object]:
        choice = decide(self._config, ports, lambda: False, has_library())
        if choice.port is None or self._binding is None:
            return []
        output = MidiOutput(self._binding, choice.port, self._config.voices, self._config.midi_out)
        if output.kind != "midi":
            output.close()
            return []
        self._change(output)
        return [Notice("info", choice.sentence), Ready("midi", choice.sentence, self._realtime)]

    def _change(self, output: Output) -> None:
        old = self._player.output
        self._player.switch(output, self._config.voices)
        old.close()
        self._device_lost = False
