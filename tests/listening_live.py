"""An acoustic piano heard live, with real parts: FluidSynth for the piano and a loudspeaker in a room, through a JACK server into our own capture, while
the companion's click and bass leak in. What was struck when is known, so that every verdict can be judged.

A program of its own plays the loudspeaker's part: what the companion plays goes into it and comes out as a small loudspeaker in a room gives it (`Room`).
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import subprocess
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import mido
import numpy as np
from listening_player import VELOCITY, Hands, Player, key_of
from sound.jack_rig import RATE, Rig, _fonts

from companion.session.outcome import PassResult
from companion.session.practice import Practice
from companion.sound.link import SoundLink
from companion.sound.listening.link import MicrophoneLink
from companion.sound.listening.messages import (
    EchoMeasured,
    MeasureEcho,
    MicrophoneConfig,
    MicrophoneOff,
    MicrophoneReady,
    StrikeHeard,
    Use,
)
from companion.sound.listening.piano import NOTES, to_bytes
from companion.sound.listening.scale import learn
from companion.sound.messages import BeatReport, ForMicrophone, Ready, SharePlayed, SoundConfig
from companion.sound.played import Played
from companion.sound.voices import render

PATIENCE_S, PRACTISE_S = 120.0, 900.0
PERIOD = 1024  # frames of the server: with fewer a busy machine loses time
GAIN = 2.0  # of the synthesiser: a key peaks at some 0.15, as a piano at a microphone


def small_room(seed: int = 5) -> np.ndarray:
    """Loudspeaker to microphone: straight, by the walls, and dying away by 60 dB in 0.3 s; little below 150 Hz. At RATE."""
    rng = np.random.default_rng(seed)
    at = np.arange(int(0.2 * RATE)) / RATE
    room = rng.normal(0, 0.02, len(at)) * 10.0 ** (-3.0 * at / 0.3)
    room[:96] = 0.0
    room[96] += 1.0
    for wall_s in (0.0041, 0.0083, 0.0127):
        room[round(wall_s * RATE)] += float(rng.uniform(-0.4, 0.4))
    spectrum, hz = np.fft.rfft(room, 1 << 14), np.fft.rfftfreq(1 << 14, 1 / RATE)
    low = (1j * hz / 150.0) / (1.0 + 1j * hz / 150.0)
    return np.asarray(np.fft.irfft(spectrum * low)[: len(room)], np.float32)


def play_room(gain: float, ready: multiprocessing.synchronize.Event) -> None:
    """The loudspeaker's process: channel by channel, until it is ended."""
    import miniaudio

    from companion.sound import priority

    priority.ask(realtime=True)
    response = gain * small_room()
    size = 1 << 15
    spectrum = np.fft.rfft(response, size)

    def through():
        tail = np.zeros(len(response), np.float32)
        data = yield b""
        while True:
            block = np.frombuffer(data, np.float32).reshape(-1, 2).mean(axis=1)
            sound = np.fft.irfft(np.fft.rfft(block, size) * spectrum, size)[: len(block) + len(response)].astype(
                np.float32
            )
            sound[: len(tail)] += tail
            tail = sound[len(block) :][: len(response)]
            data = yield np.repeat(sound[: len(block)], 2).astype(np.float32).tobytes()

    floats = miniaudio.SampleFormat.FLOAT32
    device = miniaudio.DuplexStream(
        floats, 2, floats, 2, RATE, 10, callback_periods=3, backends=[miniaudio.Backend.JACK], app_name="room"
    )
    stream = through()
    next(stream)
    device.start(stream)
    ready.set()
    threading.Event().wait()


def learned_piano(folder: Path) -> bytes:
    """The piano of FluidSynth, learned from a recording of its scale."""
    import soundfile

    track = mido.MidiTrack([mido.Message("note_on", note=NOTES[0], velocity=0, time=1400)])
    for note in NOTES:
        track.append(mido.Message("note_on", note=note, velocity=VELOCITY, time=120))
        track.append(mido.Message("note_off", note=note, time=1400))
    midi, wave = folder / "scale.mid", folder / "scale.wav"
    mido.MidiFile(ticks_per_beat=1000, tracks=[track]).save(midi)
    plain = ["-o", "synth.reverb.active=0", "-o", "synth.chorus.active=0"]
    command = [
        "fluidsynth",
        "-q",
        "-ni",
        "-g",
        str(GAIN),
        "-F",
        str(wave),
        "-T",
        "wav",
        "-O",
        "s16",
        "-r",
        "16000",
        *plain,
    ]
    subprocess.run([*command, _fonts()[0], str(midi)], check=True, capture_output=True, timeout=300)
    sound, _ = soundfile.read(wave, dtype="float32")
    return to_bytes(learn(sound.mean(axis=1), name="synth"))


def leak_db(gain: float) -> float:
    """How loud the companion's bass is at the microphone, beside a key of the piano that peaks at 0.15 (power while they sound)."""
    bass = 0.8 * np.convolve(render("bass", 43, RATE), gain * small_room())[: RATE // 2]
    return float(10.0 * np.log10(np.mean(np.square(bass)) / 10.0**-3.1))


class MicrophoneGone(Exception):
    """A JACK server that is short of time throws a client out."""


class LiveRoom:
    """A JACK server with the synthesiser, the loudspeaker's room, the sound process and the listening one on it, all connected. gain: of the loudspeaker at the
    microphone; None for headphones, nothing of it comes back. period: frames of the server."""

    def __init__(self, folder: Path, gain: float | None, period: int = PERIOD) -> None:
        self.folder, self._gain, self._period = folder, gain, period
        self.rig = Rig(folder)
        self.reports: list[object] = []
        self._room: multiprocessing.process.BaseProcess | None = None
        self.played = Played()
        self.sound: SoundLink | None = None
        self.microphone: MicrophoneLink | None = None
        self.hands: Hands | None = None

    def begin(self) -> None:
        subprocess.run(["jack_bufsize", str(self._period)], check=True, capture_output=True, timeout=30)
        self.rig.synth(GAIN)
        self.hands = Hands()
        self.piano = learned_piano(self.folder)
        self.sound = SoundLink(SoundConfig(mode="builtin", audio_backend="jack", midi_in=("nobody",)))
        self.sound.start()
        self.until(lambda: any(isinstance(each, Ready) for each in self.reports), "sound")
        self.sound.send(SharePlayed(self.played.name))
        self.config = MicrophoneConfig("jack", self.piano, played=self.played.name)
        self.microphone = MicrophoneLink(self.config)
        self.microphone.start()
        self.until(lambda: any(isinstance(each, MicrophoneReady) for each in self.reports), "microphone")
        ears = self._ports("companion ear", 2)
        speakers = [port for port in self._ports("companion", 4) if port not in ears]
        self.connect([("synth:left", ear) for ear in ears])
        if self._gain is not None:
            self._begin_room(self._gain)
            room = self._ports("room", 4)
            into, out = [[port for port in room if self._is_input(port) == way] for way in (True, False)]
            self.connect(zip(speakers, into))
            self.connect(zip(out, ears))
        self.rig.settle()

    def _begin_room(self, gain: float) -> None:
        context = multiprocessing.get_context("spawn")
        ready = context.Event()
        self._room = context.Process(target=play_room, args=(gain, ready), daemon=True)
        self._room.start()
        assert ready.wait(PATIENCE_S), "no room"

    def _ports(self, name: str, count: int) -> list[str]:
        self.until(lambda: len([port for port in self.rig.ports() if port.startswith(name)]) >= count, f"port {name}")
        return sorted(port for port in self.rig.ports() if port.startswith(name))

    def _is_input(self, port: str) -> bool:
        told = subprocess.run(["jack_lsp", "-p", port], check=False, capture_output=True, text=True).stdout
        return "input" in told

    def connect(self, pairs) -> None:
        for source, sink in pairs:
            subprocess.run(["jack_connect", source, sink], check=True, capture_output=True, timeout=30)

    def poll(self) -> list[object]:
        """What the two processes reported."""
        reports = [*self.sound.poll(), *(self.microphone.poll() if self.microphone else ())]
        self.reports += reports
        if gone := [each for each in reports if isinstance(each, MicrophoneOff)]:
            raise MicrophoneGone(gone[0].sentence)
        return reports

    def until(self, holds: Callable[[], bool], what: str) -> None:
        end_s = time.perf_counter() + PATIENCE_S
        while not holds():
            assert time.perf_counter() < end_s, f"no {what}: {self.reports[-5:]}"
            time.sleep(0.01)
            if self.sound is not None:
                self.poll()

    def measure(self, noise: object) -> EchoMeasured:
        """How the loudspeaker comes back; it is taken out from then on."""
        before = len(self.reports)
        self.microphone.send(MeasureEcho())
        self.sound.send(noise)
        self.until(lambda: any(isinstance(each, EchoMeasured) for each in self.reports[before:]), "echo")
        measured = next(each for each in self.reports[before:] if isinstance(each, EchoMeasured))
        self.microphone.send(Use(MicrophoneConfig("jack", self.piano, False, measured.response, self.played.name)))
        return measured

    def close(self) -> None:
        if self.hands is not None:
            self.hands.close()
        if self.microphone is not None:
            self.microphone.close()
        if self.sound is not None:
            self.sound.close()
        if self._room is not None:
            self._room.kill()
            self._room.join(10)
        self.played.remove()
        self.rig.free_name()  # a busy machine may not have let it end in order


@contextlib.contextmanager
def live_room(folder: Path, gain: float | None, period: int = PERIOD) -> Iterator[LiveRoom]:
    """Made, connected, and taken away again."""
    room = LiveRoom(folder, gain, period)
    try:
        room.begin()
        yield room
    finally:
        room.close()


def practise(
    room: LiveRoom,
    practice: Practice,
    player: Player,
    until: Callable[[], bool],
    on_beat: Callable[[BeatReport], None] = lambda beat: None,
) -> list[PassResult]:
    """A student at the desk: Practice fed with what both processes report, its messages handed on, the strikes played; the passes that were marked."""
    results: list[PassResult] = []

    def send(messages: list[object]) -> None:
        for message in messages:
            if isinstance(message, ForMicrophone):
                player.expect(message)
                room.microphone.send(message)
            else:
                room.sound.send(message)
        if practice.result is not None and practice.result not in results[-1:]:
            results.append(practice.result)
        practice.write()

    send(practice.begin())
    end_s = time.perf_counter() + PRACTISE_S
    while not until():
        assert time.perf_counter() < end_s, f"practice did not come to its end: {room.reports[-5:]}"
        time.sleep(0.002)
        for report in room.poll():
            if isinstance(report, StrikeHeard):
                player.hear(report)
            send(practice.hear(report))
            if isinstance(report, BeatReport):
                on_beat(report)
        send(practice.tick(time.perf_counter()))
    send(practice.stop())
    return results


def marks_by_strike(results: Iterable[PassResult]) -> dict[tuple[float, tuple[int, ...]], str]:
    """(second due, notes) -> verdict, of all strikes of the left hand that count."""
    chords = [chord for result in results if result.marks for chord in result.marks.chords if chord.part == "left"]
    return {key_of(mark.expected): mark.verdict for chord in chords for mark in chord.strikes}


@contextlib.contextmanager
def busy(count: int) -> Iterator[None]:
    """So many loops that do nothing but work."""
    loops = [subprocess.Popen(["python3", "-c", "while True: pass"]) for _ in range(count)]
    try:
        yield
    finally:
        for loop in loops:
            loop.kill()
            loop.wait()


class LostTime:
    """When the server's log tells of time that it lost: what stands around that proves nothing of who listens."""

    def __init__(self, log: Path) -> None:
        self.at_s: list[float] = []
        self._log, self._size, self._open = log, log.stat().st_size, True
        self._thread = threading.Thread(target=self._watch, daemon=True)
        self._thread.start()

    def _watch(self) -> None:
        while self._open:
            time.sleep(0.02)
            with self._log.open("rb") as file:
                file.seek(self._size)
                said = file.read()
            self._size += len(said)
            if b"xrun" in said.lower():
                self.at_s.append(time.perf_counter())

    def close(self) -> None:
        self._open = False
        self._thread.join(5)


def processor_s(pid: int) -> float:
    """Of a process, so far."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
