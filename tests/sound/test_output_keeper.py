"""What is switched on after the start is taken up where nothing sounded, and told."""

from __future__ import annotations

import pytest
from other_machines.test_sound import Ports

from companion.sound.messages import Notice, Outputs, Ready, SoundConfig, default_voices
from companion.sound.output_keeper import OutputKeeper
from companion.sound.outputs import SilentOutput
from companion.sound.player import Player

THROUGH, PIANO, AGAIN = "Midi Through:Midi Through Port-0 14:0", "Piano:Piano MIDI 1 20:0", "Piano:Piano MIDI 1 24:0"
NAME = "Piano:Piano MIDI 1"


class Bench:
    """A keeper without any audio device, on a clock turned by hand, and a MIDI system whose ports come and go."""

    def __init__(self, **config: str) -> None:
        self.now_s = 100.0
        self.ports = Ports("alsa", THROUGH)
        self.player = Player(SilentOutput(), default_voices(), clock=lambda: self.now_s)
        self.keeper = OutputKeeper(self.player, False, clock=lambda: self.now_s)
        self.ready = self.keeper.configure(SoundConfig(audio_backend="no such thing", **config), self.ports)

    def look(self, *names: str) -> list[object]:
        self.ports.names = (THROUGH, *names)
        self.now_s += 0.7
        return self.keeper.check()


@pytest.mark.parametrize("config", [{}, {"mode": "midi"}, {"mode": "midi", "midi_out": "piano"}, {"midi_out": "piano"}])
def test_a_synthesiser_switched_on_is_taken_up_and_said(config):
    bench = Bench(**config)
    assert bench.ready.output == "silent"
    assert bench.look() == [Outputs(())] and bench.look() == []
    notice, ready, outputs = bench.look(PIANO)
    assert isinstance(notice, Notice) and PIANO in notice.sentence
    assert isinstance(ready, Ready) and ready.output == "midi" and ready.sentence == notice.sentence
    assert outputs == Outputs((NAME,), NAME)
    assert bench.player.output.kind == "midi" and bench.look(PIANO) == []


def test_silence_that_was_asked_for_stays_and_what_there_is_is_told_all_the_same():
    bench = Bench(mode="silent")
    bench.look()
    assert bench.look(PIANO) == [Outputs((NAME,))]
    assert bench.player.output.kind == "silent"


def test_another_than_the_named_one_is_not_taken():
    bench = Bench(mode="midi", midi_out="organ")
    bench.look()
    assert bench.look(PIANO) == [Outputs((NAME,))]


def test_switched_off_and_on_it_is_known_again_by_a_name_that_does_not_change():
    bench = Bench()
    bench.look(PIANO)
    lost, outputs = bench.look()
    assert lost.kind == "lost" and outputs == Outputs(())
    back, outputs = bench.look(AGAIN)
    assert back.kind == "back" and outputs == Outputs((NAME,), NAME)


def test_two_alike_are_told_apart():
    bench = Bench(mode="silent")
    assert bench.look(PIANO, AGAIN) == [Outputs((PIANO, AGAIN))]


def test_a_sound_device_plugged_in_is_taken_up_while_nothing_plays(monkeypatch):
    from recording_output import RecordingOutput

    from companion.sound import output_keeper

    class Device(RecordingOutput):
        kind = "builtin"

    bench = Bench()
    bench.look()
    monkeypatch.setattr(output_keeper, "choose_output", lambda config, binding: (Device(), "Sounding."))
    bench.player.playing = True
    assert not any(bench.look() for _ in range(20))
    bench.player.playing = False
    assert bench.look() == [Notice("info", "Sounding."), Ready("builtin", "Sounding.", False)]


def test_a_jack_server_that_comes_is_taken_up_while_something_plays_too(monkeypatch):
    """Not at once, as its ports come a little after it; and looked for at no other moment of the beat."""
    from recording_output import RecordingOutput

    from companion.sound import output_keeper

    class Device(RecordingOutput):
        kind = "builtin"

    class Pulse:
        knows = False

        def is_up(self) -> bool:
            return self.knows

        def server(self) -> int:
            return 0

    pulse, there = Pulse(), []
    monkeypatch.setattr(output_keeper, "jack_pulse", lambda: pulse)
    monkeypatch.setattr(
        output_keeper,
        "choose_output",
        lambda config, binding: (there[0] if there else SilentOutput(), "Sounding."),
    )
    bench = Bench()
    bench.look()
    bench.player.playing = True
    assert not any(bench.look() for _ in range(20))
    pulse.knows = True
    assert not bench.look()
    there.append(Device())
    assert bench.look() == [Notice("info", "Sounding."), Ready("builtin", "Sounding.", False)]
