"""Which output is taken and what is said about it."""

from __future__ import annotations

import pytest

from companion.sound.messages import SoundConfig
from companion.sound.midi import Port
from companion.sound.output_choice import NO_DEVICE, choose_output, decide

NO_BINDING = "MIDI is off: no MIDI library for this Python is installed."
SYNTH = Port("jack", "synth:midi_00")
PIANO = Port("alsa", "Piano:Piano MIDI 1 20:0")
THROUGH = Port("alsa", "Midi Through:Midi Through Port-0 14:0")


@pytest.mark.parametrize(
    ("mode", "midi_out", "ports", "audio", "kind", "port", "said"),
    [
        ("auto", "", (THROUGH, PIANO), True, "builtin", None, "built-in sound"),
        ("auto", "piano", (THROUGH, PIANO), True, "midi", PIANO, "as you asked"),
        (
            "auto",
            "organ",
            (THROUGH, PIANO),
            True,
            "builtin",
            None,
            "No MIDI port has “organ” in its name; there are: “Piano",
        ),
        ("auto", "", (THROUGH, PIANO, SYNTH), False, "midi", PIANO, "No sound device was found"),
        ("auto", "organ", (PIANO,), False, "midi", PIANO, "organ"),
        ("auto", "", (THROUGH,), False, "silent", None, NO_DEVICE),
        ("auto", "", None, False, "silent", None, NO_DEVICE),
        ("auto", "organ", None, True, "builtin", None, NO_BINDING),
        ("midi", "", (THROUGH, SYNTH), True, "midi", SYNTH, "the first one found"),
        ("midi", "organ", (SYNTH,), True, "silent", None, "there are: “synth:midi_00”"),
        ("midi", "", (THROUGH,), True, "silent", None, "No MIDI port was found"),
        ("midi", "", None, True, "silent", None, NO_BINDING),
        ("builtin", "", (PIANO,), True, "builtin", None, "as you asked"),
        ("builtin", "", (PIANO,), False, "silent", None, NO_DEVICE),
        ("silent", "piano", (PIANO,), True, "silent", None, "as you asked"),
    ],
)
def test_choice(mode, midi_out, ports, audio, kind, port, said):
    choice = decide(SoundConfig(mode=mode, midi_out=midi_out), ports, lambda: audio)
    assert (choice.kind, choice.port) == (kind, port)
    assert said in choice.sentence


def test_audio_is_not_opened_where_a_named_port_is_there():
    def refuse() -> bool:
        raise AssertionError("opened without need")

    assert decide(SoundConfig(midi_out="piano"), (PIANO,), refuse).kind == "midi"


def test_a_real_choice_opens_the_output_it_names():
    output, sentence = choose_output(SoundConfig(mode="builtin", audio_backend="null"), None)
    assert output.kind == "builtin" and "built-in" in sentence
    output.close()
    output, sentence = choose_output(SoundConfig(mode="builtin", audio_backend="no such thing"), None)
    assert output.kind == "silent" and sentence == f"{NO_DEVICE}: playing silently, watch the beat."


def test_what_hangs_is_named_as_the_cause_of_silence():
    choice = decide(SoundConfig(avoid=("jack",)), (), lambda: False)
    assert choice.sentence == "JACK does not answer: playing silently, watch the beat."


def test_a_device_of_a_dead_jack_server_is_not_closed(monkeypatch):
    """Closing it reads memory that went with the server: the whole process crashed."""
    from companion.sound import builtin

    class Device:
        backend, running, _device = "JACK", True, object()

        def close(self) -> None:
            raise AssertionError("closed")

    class Pulse:
        def server(self) -> int:
            return 2

    monkeypatch.setattr(builtin, "jack_pulse", Pulse)
    output, device = builtin.BuiltinOutput(), Device()
    output.device, output.server = device, 1
    said = output.check()
    assert said is not None and said.kind == "lost"
    output.close()
    assert output.device is None and device._device is None and not device.running
