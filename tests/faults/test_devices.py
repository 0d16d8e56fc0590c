"""MIDI ports, sound devices and a JACK server that go, and come back, in the middle of a pass that is practised."""

# ruff: noqa: F811  pytest takes fixtures by their names

from __future__ import annotations

import gc
import os
import threading
import time
from multiprocessing import Pipe

import numpy as np
import pytest
from faults.live_desk import LiveDesk
from sound.jack_rig import Ear, Rig, _missing, to_port
from sound.test_rig import jack_midi, rig  # noqa: F401  fixtures

from companion.sound import midi
from companion.sound.builtin import BuiltinOutput
from companion.sound.link import SoundLink
from companion.sound.messages import Ping, SoundConfig, Stop
from companion.sound.midi import PortWatch, load_binding
from companion.sound.outputs import SilentOutput
from companion.sound.process import CHECK_S, SoundProcess
from companion.sound.watchdog import TURN_S
from companion.store.log.patient_log import PatientLog


@pytest.fixture
def log(paths):
    with PatientLog.begin(paths) as log:
        yield log


def end(desk: LiveDesk) -> None:
    desk.send(desk.practice.stop())
    desk.check()
    assert desk.log.messages == [] and desk.said == []


# --- a MIDI port


@pytest.mark.rig
def test_a_midi_port_goes_and_comes_back_in_the_middle_of_a_pass(jack_midi, settings, log):
    ear = Ear(f"ear{time.time_ns() % 100_000}")
    with SoundLink(to_port(ear.name)) as link:
        desk = LiveDesk(link, log, settings)
        desk.begin()
        desk.for_passes(1)
        desk.into_a_pass()
        ear.close()
        lost = desk.until_told("lost")
        assert ear.name in lost.sentence and "will sound again" in lost.sentence
        desk.for_passes(1)
        again = Ear(ear.name)
        try:
            back = desk.until_told("back")
            assert ear.name in back.sentence
            desk.for_passes(1)
            desk.into_a_pass()
            heard = again.listen()
            off = next(at for at, message in enumerate(heard) if message[:2] == (0xB0, 123))
            on = next(at for at, message in enumerate(heard) if message[0] & 0xF0 == 0x90)
            assert off < on, "what hung when the cable was pulled is ended before anything sounds"
            desk.go_on(lambda: bool(again.listen() and again.hanging()), "note that sounds")
            end(desk)
            again.until(lambda: not again.hanging())
        finally:
            again.close()


@pytest.mark.rig
def test_a_synthesiser_switched_on_while_it_plays_silently_is_taken_up(jack_midi, settings, log):
    """Automatic, and no sound device: what `companion devices` says will sound does sound, within two seconds."""
    config = SoundConfig(api="jack", audio_backend="no such thing", midi_in=("nobody",))
    with SoundLink(config) as link:
        desk = LiveDesk(link, log, settings)
        desk.begin()
        assert desk.readies[0].output == "silent"
        desk.for_passes(1)
        desk.into_a_pass()
        synth = Ear(f"synth{time.time_ns() % 100_000}")
        try:
            assert synth.name in desk.until_told("info").sentence
            assert CHECK_S + midi.RETRY_S <= 2.0, "how often it is looked for: found within two seconds"
            desk.go_on(lambda: desk.readies[-1].output == "midi", "output")
            desk.go_on(lambda: bool(synth.listen() and synth.hanging()), "note that sounds")
            desk.for_passes(1)
            end(desk)
        finally:
            synth.close()


# --- a JACK server


@pytest.fixture
def mortal(tmp_path, monkeypatch):
    """A function that starts a JACK server of a name of its own, for the first time and again; what it gives may be killed."""
    if missing := _missing():
        if os.environ.get("CI"):
            pytest.fail(f"CI must have a rig, but these are missing: {missing}")
        pytest.skip(f"no rig: {missing} missing (apt install jackd2 fluidsynth timgm6mb-soundfont)")
    monkeypatch.setenv("JACK_DEFAULT_SERVER", f"mortal{os.getpid()}-{time.time_ns() % 100_000}")
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    monkeypatch.setenv("JACK_NO_AUDIO_RESERVATION", "1")
    rigs = []

    def start() -> Rig:
        folder = tmp_path / f"rig{len(rigs)}"
        folder.mkdir()
        rigs.append(Rig(folder))
        return rigs[-1]

    yield start
    for each in rigs:
        each.close()
    if rigs:
        rigs[-1].free_name()


def kill(rig: Rig) -> None:
    rig.processes[0].kill()
    rig.processes[0].wait()


@pytest.mark.rig
def test_the_jack_server_that_carries_the_midi_dies_and_another_comes(mortal, settings, log):
    pytest.importorskip("rtmidi", reason="this Python has no python-rtmidi, so no MIDI through JACK")
    rig = mortal()
    rig.synth()
    with SoundLink(to_port("synth")) as link:
        desk = LiveDesk(link, log, settings)
        desk.begin()
        assert desk.readies[0].output == "midi"
        desk.for_passes(1)
        desk.into_a_pass()
        kill(rig)
        assert "synth" in desk.until_told("lost").sentence
        desk.for_passes(1)
        rig.close()
        rig = mortal()
        rig.synth()
        assert "is back" in desk.until_told("back").sentence
        recording = rig.record("synth:left")
        desk.for_passes(2)
        rig.end(recording)  # of itself it may never end, where a server of the same name was killed
        assert np.abs(rig.taken()).max() > 0.01, "it sounds again"
        end(desk)
        assert link.alive and not any(notice.kind == "error" for notice in desk.notices)


@pytest.mark.rig
def test_the_jack_server_under_the_built_in_sound_dies_and_another_comes(mortal, settings, log, deep):
    if not deep:
        pytest.skip("a quarter of a minute: pytest --deep; without a server below")
    rig = mortal()
    with SoundLink(SoundConfig(mode="builtin", audio_backend="jack", midi_in=("nobody",))) as link:
        desk = LiveDesk(link, log, settings)
        desk.begin()
        assert desk.readies[0].output == "builtin"
        desk.for_passes(1)
        desk.into_a_pass()
        kill(rig)
        assert desk.until_told("lost").sentence == "The sound device went away: playing silently until it is back."
        desk.for_passes(1)
        rig.close()
        rig = mortal()
        assert desk.until_told("back").sentence == "The sound device is back."
        port = next(port for port in rig.ports() if port.startswith("companion") and "playback" in port)
        recording = rig.record(port)
        desk.for_passes(2)
        rig.end(recording)
        assert np.abs(rig.taken()).max() > 0.01
        end(desk)
        assert link.alive and not any(notice.kind == "error" for notice in desk.notices)


@pytest.mark.rig
def test_the_ports_of_a_dead_server_are_no_longer_there(mortal, monkeypatch):
    """RtMidi alone lists them for ever; so a keyboard would never be said to be gone, nor heard again."""
    pytest.importorskip("rtmidi", reason="this Python has no python-rtmidi, so no MIDI through JACK")
    monkeypatch.setattr(midi, "RETRY_S", 0.5)
    rig = mortal()
    rig.synth()
    watch = PortWatch(load_binding(), False, "jack")

    def shows_synth() -> bool:
        time.sleep(0.1)
        return any("synth" in port.name for port in watch.all_ports())

    def wait_for(wanted: bool) -> None:
        end_s = time.perf_counter() + 120
        while shows_synth() != wanted:
            assert time.perf_counter() < end_s

    try:
        for _ in range(10):  # a running server is never taken for a dead one
            assert shows_synth()
        kill(rig)
        wait_for(False)
        rig.close()
        rig = mortal()
        rig.synth()
        wait_for(True)
    finally:
        watch.close()


# --- a sound device, without any server


class Pluggable(BuiltinOutput):
    """The built-in sound on a device that asks for ten milliseconds at a time, until it is pulled out."""

    def __init__(self) -> None:
        super().__init__()
        self.device = self
        self.heard: list[np.ndarray] = []
        self._in = True
        self._thread = threading.Thread(target=self._ask, daemon=True)
        self._thread.start()

    def _ask(self) -> None:
        next_s = time.perf_counter()
        while self._in:
            self.heard.append(self.block(480))
            next_s += 480 / self._rate
            time.sleep(max(0.0, next_s - time.perf_counter()))

    def pull(self) -> None:
        self._in = False
        self._thread.join()

    def close(self) -> None:  # of the device as of the output
        self.pull()
        self.device = None

    @property
    def loud(self) -> float:
        return float(np.abs(np.concatenate(self.heard[-50:])).max())


class NearLink:
    """The loop of the sound process, turned by the test itself."""

    def __init__(self) -> None:
        self._ours, theirs = Pipe()
        self._next_ping_s = 0.0
        self.process = SoundProcess(
            theirs, SoundConfig(mode="builtin", midi_in=("nobody",), realtime=False), os.getppid()
        )

    def turn(self) -> None:
        if time.perf_counter() >= self._next_ping_s:
            self._next_ping_s = time.perf_counter() + TURN_S
            self.send(Ping())
        self.process._turn()

    def poll(self) -> list[object]:
        reports = []
        while self._ours.poll():
            reports.append(self._ours.recv())
        return reports

    def send(self, message: object) -> None:
        self._ours.send(message)


def test_a_sound_device_is_pulled_out_and_put_back(settings, log, monkeypatch):
    from companion.sound import output_keeper

    there: list[Pluggable] = [Pluggable()]
    monkeypatch.setattr(
        output_keeper,
        "choose_output",
        lambda config, binding: (there[-1], "Sounding.") if there else (SilentOutput(), "Silent."),
    )
    monkeypatch.setattr(output_keeper, "DEVICE_RETRY_S", 1.0)
    link = NearLink()
    try:
        link.process._configure(link.process._config)
        desk = LiveDesk(link, log, settings, step=link.turn)
        desk.begin()
        desk.for_passes(1)
        desk.into_a_pass()
        first = there.pop()
        assert first.loud > 0.01
        first.pull()
        assert "went away" in desk.until_told("lost").sentence
        desk.for_passes(1)
        there.append(Pluggable())
        assert "is back" in desk.until_told("back").sentence
        desk.for_passes(1)
        desk.into_a_pass()
        assert there[0].loud > 0.01
        end(desk)
        link.send(Stop())
        for _ in range(20):
            if link.process._player.playing:
                link.turn()
        assert not link.process._player._sounding and not link.process._player.playing
    finally:
        link.process._player.output.close()
        gc.unfreeze()
