"""An acoustic piano heard live, with real parts: FluidSynth for the piano and a loudspeaker in a room, through a JACK server into our own capture, while
the companion's click and bass leak in. What was struck when is known, so that every verdict can be judged.

A program of its own plays the loudspeaker's part: what the companion plays goes into it and comes out as a small loudspeaker in a room gives it (`Room`).
"""

from __future__ import annotations

import contextlib
import heapq
import itertools
import multiprocessing
import os
import random
import subprocess
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import mido
import numpy as np
from sound.jack_rig import RATE, Rig, _fonts

from companion.session.outcome import PassResult
from companion.session.practice import Practice
from companion.sound.link import SoundLink
from companion.sound.listening.link import MicrophoneLink
from companion.sound.listening.messages import (
    EchoMeasured,
    Expect,
    MeasureEcho,
    MicrophoneConfig,
    MicrophoneOff,
    MicrophoneReady,
    StrikeHeard,
    Use,
)
from companion.sound.listening.piano import NOTES, to_bytes
from companion.sound.listening.scale import learn
from companion.sound.listening.verdicts import Due
from companion.sound.messages import BeatReport, ForMicrophone, Ready, SharePlayed, SoundConfig
from companion.sound.played import Played
from companion.sound.voices import render

PATIENCE_S, PRACTISE_S = 120.0, 900.0
PERIOD = 1024  # frames of the server: with fewer a busy machine loses time
GAIN = 2.0  # of the synthesiser: a key peaks at some 0.15, as a piano at a microphone
HELD = 0.7  # of a beat a key is held
VELOCITY = 70
# What a slip plays in place of (low, high); seconds late, notes.
SLIPS: dict[str, Callable[[int, int], tuple[float, tuple[int, ...]]]] = {
    "third": lambda low, high: (0.0, (low, high + (1 if high - low in (3, 10) else -1))),
    "other shell": lambda low, high: (0.0, (low, low + (10 if high - low < 7 else 4))),
    "semitone": lambda low, high: (0.0, (low + 1, high + 1)),
    "octave": lambda low, high: (0.0, (low + 12, high + 12)),
    "chord before": lambda low, high: (0.0, ()),  # set by the player, who knows it
    "low alone": lambda low, high: (0.0, (low,)),
    "high alone": lambda low, high: (0.0, (high,)),
    "none": lambda low, high: (0.0, ()),
    "early": lambda low, high: (-0.11, (low, high)),
    "late": lambda low, high: (0.11, (low, high)),
}


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


class Hands:
    """Sends keys to the synthesiser at their seconds, from a thread that only waits for them, with real-time priority where that is granted: it stands for a human."""

    def __init__(self) -> None:
        import rtmidi

        self._out = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="hands")
        ports = self._out.get_ports()
        self._out.open_port(next(place for place, name in enumerate(ports) if "synth" in name))
        self._waiting: list[tuple[float, int, list[int], Strike | None]] = []
        self._count = itertools.count()
        self._lock = threading.Condition()
        self._open = True
        self._thread = threading.Thread(target=self._play, daemon=True)
        self._thread.start()

    def play(
        self, at_s: float, notes: tuple[int, ...], held_s: float, velocity: int, strike: Strike | None = None
    ) -> None:
        """strike: told when its last key was sent."""
        with self._lock:
            for note in notes:
                heapq.heappush(self._waiting, (at_s, next(self._count), [0x90, note, velocity], strike))
                heapq.heappush(self._waiting, (at_s + held_s, next(self._count), [0x80, note, 0], None))
            self._lock.notify()

    def _play(self) -> None:
        with contextlib.suppress(OSError):
            os.sched_setscheduler(threading.get_native_id(), os.SCHED_FIFO, os.sched_param(45))
        while True:
            with self._lock:
                wait_s = self._waiting[0][0] - time.perf_counter() if self._waiting else 1.0
                if wait_s > 0.0:
                    self._lock.wait(wait_s)
                if not self._open:
                    return
                due = heapq.heappop(self._waiting) if wait_s <= 0.0 else None
            if due is not None:
                self._out.send_message(due[2])
                if due[3] is not None:
                    due[3].struck_s = time.perf_counter()

    def close(self) -> None:
        with self._lock:
            self._open = False
            self._lock.notify()
        self._thread.join(5)
        self._out.close_port()
        self._out.delete()


@dataclass
class Strike:
    """One that was due. slip: one of SLIPS, "" for a clean one. meant_s, struck_s: when its keys were to be struck and were, None where none was. said: what was told of it."""

    due: Due
    slip: str
    meant_s: float | None
    struck_s: float | None = None
    said: StrikeHeard | None = None


@dataclass
class Player:
    """Plays what is expected, with a spread of jitter_s, and a slip in a share of the strikes, each kind in its turn. played: by `key_of`."""

    hands: Hands
    beat_s: float
    share: float = 0.0
    jitter_s: float = 0.012
    behind_s: float = 0.0  # how much later than is due the companion is heard in this room
    seed: int = 1
    kinds: tuple[str, ...] = tuple(SLIPS)
    slips: Callable[[int], bool] | None = None  # whether a strike does, by number; None leaves it to chance
    played: dict[tuple[float, tuple[int, ...]], Strike] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._rng = random.Random(self.seed)
        self._kinds = itertools.cycle(self.kinds)
        self._asked: dict[int, Strike] = {}
        self._before: tuple[int, ...] = ()
        self._other: tuple[int, ...] = ()

    def expect(self, message: Expect) -> None:
        for due in message.dues:
            strike = self._known(due)
            if strike is None:
                strike = self.played[key_of(due)] = self._play(due)
            self._asked[due.index] = strike

    def _known(self, due: Due) -> Strike | None:
        """One that is played already and asked for anew, as a bar began a little off."""
        near = (each for each in reversed(self.played.values()) if each.due.notes == due.notes)
        return next((each for each in near if abs(each.due.time_s - due.time_s) < 0.4 * self.beat_s), None)

    def _play(self, due: Due) -> Strike:
        low, high = due.notes[0], due.notes[-1]
        slips = self._rng.random() < self.share if self.slips is None else self.slips(len(self.played))
        slip = next(self._kinds) if slips else ""
        late_s, notes = SLIPS[slip](low, high) if slip else (0.0, due.notes)
        if due.notes != self._before:
            self._before, self._other = due.notes, self._before
        if slip == "chord before":
            notes = self._other
        if slip and not notes and slip != "none":  # there was no chord before
            slip, notes = "", due.notes
        at_s = due.time_s + self.behind_s + late_s + self._rng.gauss(0.0, self.jitter_s)
        strike = Strike(due, slip, at_s if notes else None)
        self.hands.play(at_s, notes, HELD * self.beat_s, self._rng.randint(VELOCITY - 14, VELOCITY + 14), strike)
        return strike

    def hear(self, said: StrikeHeard) -> None:
        if (strike := self._asked.get(said.verdict.due.index)) is not None:
            strike.said = said


class MicrophoneGone(Exception):
    """A JACK server that is short of time throws a client out."""


class LiveRoom:
    """A JACK server with the synthesiser, the loudspeaker's room, the sound process and the listening one on it, all connected. gain: of the loudspeaker at the
    microphone; None for headphones, nothing of it comes back."""

    def __init__(self, folder: Path, gain: float | None) -> None:
        self.folder, self._gain = folder, gain
        self.rig = Rig(folder)
        self.reports: list[object] = []
        self._room: multiprocessing.process.BaseProcess | None = None
        self.played = Played()
        self.sound: SoundLink | None = None
        self.microphone: MicrophoneLink | None = None
        self.hands: Hands | None = None

    def begin(self) -> None:
        subprocess.run(["jack_bufsize", str(PERIOD)], check=True, capture_output=True, timeout=30)
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
def live_room(folder: Path, gain: float | None) -> Iterator[LiveRoom]:
    """Made, connected, and taken away again."""
    room = LiveRoom(folder, gain)
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


def key_of(due) -> tuple[float, tuple[int, ...]]:
    """Of a strike, whoever asks for it."""
    return round(due.due_s if hasattr(due, "due_s") else due.time_s, 2), due.notes


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
