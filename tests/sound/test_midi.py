"""Bytes out and in, against mido (an independent MIDI library), pretty_midi's General MIDI tables and MIDI 1.0."""

from __future__ import annotations

import os
import subprocess
import sys

import mido
import pretty_midi
import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.sound import midi_in
from companion.sound.messages import KeyboardGone, Keyboards, NoteIn, PedalIn, SwitchIn, default_voices
from companion.sound.midi import Port, PortWatch, pick_inputs, pick_output
from companion.sound.midi_in import Inputs, Parser, report
from companion.sound.midi_out import MidiOutput
from companion.sound.outputs import Sound, channels, panic, programs
from companion.sound.switches import Switches

CHANNEL, DATA = st.integers(1, 16), st.integers(0, 127)


@given(st.sampled_from(["note_on", "note_off", "control", "program"]), CHANNEL, DATA, DATA)
def test_wire_bytes_are_those_of_mido(what, channel, note, value):
    if what == "control":
        reference = mido.Message("control_change", channel=channel - 1, control=note, value=value)
    elif what == "program":
        reference = mido.Message("program_change", channel=channel - 1, program=note)
        note += 1  # programs are listed from 1 and sent from 0
    else:
        reference = mido.Message(what, channel=channel - 1, note=note, velocity=value)
    assert list(Sound(what, channel, note, value).wire()) == reference.bytes()


def test_default_voices_are_what_general_midi_says():
    """General MIDI level 1, sound set and percussion map, as pretty_midi tabulates them."""
    voices = default_voices()
    assert pretty_midi.note_number_to_drum_name(voices["click"].accent_note) == "Hi Wood Block"
    assert pretty_midi.note_number_to_drum_name(voices["click"].note) == "Low Wood Block"
    assert voices["click"].channel == 10  # General MIDI: percussion is on channel 10
    wire = {sound.voice: sound.wire()[1] for sound in programs(voices)}
    assert pretty_midi.program_to_instrument_name(wire["bass"]) == "Acoustic Bass"
    assert pretty_midi.program_to_instrument_name(wire["left"]) == "Acoustic Grand Piano"
    assert pretty_midi.program_to_instrument_name(wire["right"]) == "Vibraphone"
    assert "click" not in wire
    assert voices.pop("calls").channel == 0  # no MIDI port speaks
    assert len({voice.channel for voice in voices.values()}) == 4


def test_panic_ends_known_notes_first_then_lifts_pedals_and_all_notes():
    """MIDI 1.0: controller 64 is the sustain pedal, 123 all notes off."""
    sounds = list(panic([(1, 41), (10, 76)], channels(default_voices())))
    assert [(sound.what, sound.channel, sound.note) for sound in sounds] == [
        ("note_off", 1, 41),
        ("note_off", 10, 76),
        ("control", 1, 64),
        ("control", 1, 123),
        ("control", 2, 64),
        ("control", 2, 123),
        ("control", 3, 64),
        ("control", 3, 123),
        ("control", 10, 64),
        ("control", 10, 123),
    ]
    assert all(sound.value == 0 for sound in sounds)


# --- bytes in

_MESSAGES = st.lists(
    st.one_of(
        st.tuples(st.sampled_from([0x80, 0x90, 0xA0, 0xB0, 0xE0]), st.integers(0, 15), DATA, DATA),
        st.tuples(st.sampled_from([0xC0, 0xD0]), st.integers(0, 15), DATA),
    ).map(lambda parts: (parts[0] | parts[1], *parts[2:])),
    max_size=12,
)


@given(_MESSAGES, st.data())
def test_parser_gives_back_what_was_sent_however_it_was_packed(messages, data):
    """Running status, real-time bytes in the midst of messages, and any cutting into packets change nothing (MIDI 1.0)."""
    stream, status = [], None
    for message in messages:
        if message[0] != status or data.draw(st.booleans()):
            stream.append(message[0])
        status = message[0]
        stream += message[1:]
    noisy = []
    for byte in stream:
        noisy += data.draw(st.lists(st.sampled_from([0xF8, 0xFA, 0xFE]), max_size=1)) + [byte]
    parser, found = Parser(), []
    while noisy:
        cut = data.draw(st.integers(1, len(noisy)))
        found += parser.feed(noisy[:cut])
        noisy = noisy[cut:]
    assert found == messages


@given(_MESSAGES)
def test_parser_agrees_with_mido_on_whole_messages(messages):
    stream = [byte for message in messages for byte in message]
    assert [tuple(message.bytes()) for message in mido.parse_all(stream)] == list(Parser().feed(stream))


@pytest.mark.parametrize(
    ("stream", "expected"),
    [
        # mido 1.3.3 drops the notes of running status in this stream; MIDI 1.0 keeps them.
        ([0x90, 60, 64, 62, 64, 0xFE, 60, 0], [(0x90, 60, 64), (0x90, 62, 64), (0x90, 60, 0)]),
        ([60, 64, 0x90, 60, 64], [(0x90, 60, 64)]),  # data before any status
        ([0xF0, 1, 2, 0xF7, 60, 64, 0x90, 60, 64], [(0x90, 60, 64)]),  # system exclusive ends running status
        ([0x90, 60, 0x90, 62, 64], [(0x90, 62, 64)]),  # a message broken off
        ([0xF0, 1, 2, 0x90, 60, 64], [(0x90, 60, 64)]),  # an exclusive broken off
    ],
)
def test_parser_on_awkward_streams(stream, expected):
    assert list(Parser().feed(stream)) == expected


@pytest.mark.parametrize(
    ("message", "expected"),
    [
        ((0x93, 60, 64), NoteIn(1.5, 60, 64, "p")),
        ((0x90, 60, 0), NoteIn(1.5, 60, 0, "p")),  # MIDI 1.0: velocity 0 is a release
        ((0x80, 60, 64), NoteIn(1.5, 60, 0, "p")),  # release velocity means nothing to us
        ((0xB0, 64, 64), PedalIn(1.5, True, "p")),
        ((0xB0, 64, 63), PedalIn(1.5, False, "p")),
        ((0xB0, 80, 127), SwitchIn(1.5, "control", 80, "p")),
        ((0xC0, 4), SwitchIn(1.5, "program", 5, "p")),  # General MIDI lists programs from 1
        ((0xB0, 123, 127), None),
        ((0xE0, 0, 64), None),
    ],
)
def test_what_a_message_means(message, expected):
    assert report(message, 1.5, "p", Switches()) == expected


# --- ports that come and go, without a MIDI system


class FakeClient:
    def __init__(self, system, api, incoming):
        self.system, self.api, self.incoming = system, api, incoming
        self.port, self.closed, self.is_dead = None, False, False

    def ports(self):
        return tuple(Port(self.api, name) for name in self.system.names.get(self.api, ()))

    def open(self, port):
        self.port = port
        return port in self.ports()

    def send(self, data):
        self.system.sent.append((self.port.name, tuple(data)))

    def receive(self):
        waiting = self.system.waiting.get(self.port.name, [])
        return waiting.pop(0) if waiting else None

    def leave(self):
        self.port = None

    def close(self):
        self.closed = True


class FakeBinding:
    """A binding over ports that a test adds and removes. names: api -> port names."""

    name = "fake"

    def __init__(self, **names):
        self.names, self.sent, self.waiting = names, [], {}

    def apis(self):
        return ("alsa", "jack")

    def client(self, api, incoming):
        return FakeClient(self, api, incoming) if api in self.names else None


def test_port_names_are_known_again_with_other_numbers():
    """ALSA gives a device that comes back another client number."""
    assert Port("alsa", "Piano:Piano MIDI 1 20:0").plain_name == Port("alsa", "Piano:Piano MIDI 1 24:0").plain_name
    assert Port("alsa", "Piano:Piano MIDI 1 20:0").plain_name != Port("alsa", "Piano:Piano MIDI 2 20:0").plain_name
    assert Port("jack", "synth:midi_00").plain_name == "synth:midi_00"


def test_picking_leaves_loop_throughs_out_unless_asked_for():
    through, piano = Port("alsa", "Midi Through:Midi Through Port-0 14:0"), Port("alsa", "Piano:Piano 20:0")
    assert pick_output([through, piano], "") == piano
    assert pick_output([through], "") is None
    assert pick_output([through, piano], "through") == through
    assert pick_output([through, piano], "PIANO") == piano
    assert pick_output([through, piano], "organ") is None
    bridged = Port("jack", "bridge:Piano")
    assert pick_inputs([through, piano, bridged], ()) == (piano,)
    assert pick_inputs([through, piano, bridged], ("piano",)) == (piano, bridged)


def test_output_port_gone_and_back():
    system = FakeBinding(alsa=["Piano:Piano MIDI 1 20:0"])
    output = MidiOutput(system, Port("alsa", "Piano:Piano MIDI 1 20:0"), default_voices())
    assert output.kind == "midi" and output.check() is None
    # A clean start: pedals up and notes off whatever was before, then the programs.
    assert (0xB0, 123, 0) in [data for _, data in system.sent] and (0xC1, 32) in [data for _, data in system.sent]
    system.names["alsa"] = []
    assert output.check().kind == "lost" and output.kind == "silent"
    sent = len(system.sent)
    output.send(Sound("note_on", 1, 60, 64), 0.0)
    assert len(system.sent) == sent and output.check() is None
    system.names["alsa"] = ["Other:Other 20:0", "Piano:Piano MIDI 1 28:0"]
    notice = output.check()
    assert notice.kind == "back" and "28:0" in notice.sentence and output.kind == "midi"
    output.send(Sound("note_on", 1, 60, 64), 0.0)
    assert system.sent[-1] == ("Piano:Piano MIDI 1 28:0", (0x90, 60, 64))


def test_several_keyboards_come_and_go_and_each_keeps_its_running_status():
    system = FakeBinding(alsa=["One 20:0", "Two 24:0", "Midi Through 14:0"])
    now_s = [10.0]
    inputs = Inputs(system, clock=lambda: now_s[0])
    assert [notice.kind for notice in inputs.check()] == ["info", "info"] and inputs.names == ("One 20:0", "Two 24:0")
    system.waiting = {"One 20:0": [[0x90, 60, 64], [62, 65]], "Two 24:0": [[0x80, 50, 0], [51, 0, 0xFE]]}
    assert inputs.poll() == [
        NoteIn(10.0, 60, 64, "One 20:0"),
        NoteIn(10.0, 62, 65, "One 20:0"),
        NoteIn(10.0, 50, 0, "Two 24:0"),
        NoteIn(10.0, 51, 0, "Two 24:0"),
    ]
    system.names["alsa"] = ["One 20:0"]
    lost, gone = inputs.check()
    assert gone == KeyboardGone("Two 24:0") and lost.kind == "lost" and "Two" in lost.sentence
    system.names["alsa"] = ["One 20:0", "Two 32:0"]
    assert [(notice.kind, "Two" in notice.sentence) for notice in inputs.check()] == [("back", True)]
    assert inputs.check() == []
    inputs.close()
    assert not inputs


def test_an_api_that_appears_later_is_found_but_not_tried_all_the_time():
    system, now_s = FakeBinding(), [0.0]
    tries = []
    original = system.client
    system.client = lambda api, incoming: tries.append(api) or original(api, incoming)
    watch = PortWatch(system, True, clock=lambda: now_s[0])
    for _ in range(10):
        assert watch.all_ports() == ()
        now_s[0] += 0.1
    assert tries == ["alsa", "jack"]
    system.names["jack"] = ["piano:out"]
    now_s[0] += 5
    assert watch.all_ports() == (Port("jack", "piano:out"),)


@pytest.mark.skipif(sys.platform != "linux", reason="JACK is looked for on Linux, and /proc tells the memory")
@pytest.mark.parametrize("library", [True, False], ids=["asked by its library", "asked by an input"])
def test_looking_for_a_jack_server_for_hours_leaves_nothing_behind(library):
    """In a process of its own, as RtMidi's messages go to stderr. 100 tries left 1.6 MB behind, one every 3 seconds in an hour 20."""
    pytest.importorskip("rtmidi", reason="this Python has no python-rtmidi, so no MIDI through JACK")
    code = f"""
import os
from companion.sound import midi
from companion.sound.jack import jack_pulse
if not {library}:
    jack_pulse()._library = None
binding = midi.load_binding()
def kilobytes():
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1024
def look(times):
    for _ in range(times):
        assert "jack" not in binding.apis() or binding.client("jack", False) is None
look(20)
kilobytes()  # reading a file for the first time takes 200 kB of its own
before = kilobytes()
look(100)
print(kilobytes() - before)
"""
    env = os.environ | {"JACK_DEFAULT_SERVER": "nowhere", "JACK_NO_START_SERVER": "1"}
    ran = subprocess.run(
        [sys.executable, "-c", code], env=env, capture_output=True, text=True, timeout=300, check=False
    )
    assert ran.returncode == 0, ran.stderr
    assert float(ran.stdout) < 200


def test_without_a_midi_library_the_reason_is_told_instead_of_keyboards(monkeypatch):
    """The screen said that one only need be plugged in."""
    why = "the MIDI library rtmidi cannot be loaded, as the system's libasound.so.2 is missing"
    monkeypatch.setattr(midi_in, "binding_fault", lambda: why)
    assert Inputs(None).keyboards == Keyboards((), (), why)
