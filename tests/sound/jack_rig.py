"""A JACK server without hardware with FluidSynth on it, and an ear for MIDI."""

from __future__ import annotations

import glob
import os
import shutil
import subprocess
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np

from companion.sound.messages import (
    SoundConfig,
)

RATE = 48_000


def _missing() -> str:
    tools = [tool for tool in ("jackd", "jack_lsp", "jack_rec", "jack_connect", "fluidsynth") if not shutil.which(tool)]
    fonts = [] if _fonts() else ["a SoundFont in /usr/share/sounds/sf2"]
    return ", ".join(tools + fonts)


def _fonts() -> list[str]:
    return sorted(glob.glob("/usr/share/sounds/sf2/*.sf2"))


class Rig:
    """A JACK server of its own and the processes on it."""

    ENDS_S = 20.0  # a busy machine needs seconds for it

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.log = folder / "jackd.log"
        self.processes: list[subprocess.Popen] = []
        self._log_size = 0
        asked = ["chrt", "-f", "70", "true"]
        realtime = (
            bool(shutil.which("chrt")) and subprocess.run(asked, check=False, capture_output=True).returncode == 0
        )
        self.period = 128 if realtime else 512
        name = os.environ["JACK_DEFAULT_SERVER"]
        server = ["jackd", "-n", name, *(["-R", "-P70"] if realtime else ["--no-realtime"])]
        self.server = self.run([*server, "-d", "dummy", "-r", str(RATE), "-p", str(self.period)], self.log)
        end_s = time.perf_counter() + 60
        while subprocess.run(["jack_lsp"], check=False, capture_output=True).returncode != 0:
            assert self.server.poll() is None and time.perf_counter() < end_s, self.log.read_text(errors="replace")
            time.sleep(0.05)

    def run(self, command: list[str], log: Path) -> subprocess.Popen:
        with log.open("ab") as file:
            process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=file, stderr=file)
        self.processes.append(process)
        return process

    def end(self, process: subprocess.Popen) -> None:
        process.terminate()
        try:
            process.wait(self.ENDS_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        self.processes.remove(process)

    def close(self) -> None:
        for process in reversed(self.processes.copy()):
            self.end(process)

    def free_name(self) -> None:
        """Of the eight names that JACK has, a server that was killed keeps its own until another of that name ends in order. What its
        clients left lies there too."""
        self.close()
        if self.server.returncode != 0:
            Rig(self.folder).close()
        name = os.environ["JACK_DEFAULT_SERVER"]
        for path in Path("/dev/shm").glob(f"jack_sem.{os.getuid()}_{name}_*"):
            path.unlink()

    def synth(self, gain: float = 0.2) -> subprocess.Popen:
        name = os.environ["JACK_DEFAULT_SERVER"]
        process = self.run(
            [
                "fluidsynth",
                "-q",
                "-i",
                "-s",
                "-a",
                "jack",
                "-m",
                "jack",
                "-r",
                str(RATE),
                "-g",
                str(gain),
                "-o",
                f"audio.jack.server={name}",
                "-o",
                f"midi.jack.server={name}",
                "-o",
                "midi.jack.id=synth",
                "-o",
                "audio.jack.autoconnect=0",
                "-o",
                "synth.reverb.active=0",
                "-o",
                "synth.chorus.active=0",
                "-o",
                f"shell.port={20_000 + os.getpid() % 20_000}",
                _fonts()[0],
            ],
            self.folder / "fluid.log",
        )
        self.wait_for_port("synth:midi_00")
        return process

    def ports(self) -> list[str]:
        return subprocess.run(["jack_lsp"], check=False, capture_output=True, text=True).stdout.split("\n")

    def wait_for_port(self, name: str, seconds: float = 120) -> None:
        end_s = time.perf_counter() + seconds
        while not any(name in port for port in self.ports()):
            assert time.perf_counter() < end_s, f"{name} did not appear among {self.ports()}"
            time.sleep(0.05)

    def record(self, port: str, seconds: int = 600) -> subprocess.Popen:
        """Of the port for so long, or until it is ended."""
        self.wait_for_port(port)
        process = self.run(
            ["jack_rec", "-f", str(self.folder / "take.wav"), "-d", str(seconds), "-b", "16", port],
            self.folder / "rec.log",
        )
        self.wait_for_port("jackrec")
        self.settle()
        return process

    def settle(self) -> None:
        """Wait until the server has nothing more to say about clients that were just made: it loses time then."""
        size, since_s, end_s = -1, time.perf_counter(), time.perf_counter() + 5
        while time.perf_counter() < min(since_s + 0.5, end_s):
            if self.log.stat().st_size != size:
                size, since_s = self.log.stat().st_size, time.perf_counter()
            time.sleep(0.02)
        self._log_size = self.log.stat().st_size

    def taken(self) -> np.ndarray:
        """What was recorded, in 16 bits behind the 44 bytes of a header that is empty where the recording was ended."""
        data = (self.folder / "take.wav").read_bytes()[44:]
        return np.frombuffer(data[: len(data) // 2 * 2], "<i2").astype(float) / 32768

    def lost_time(self) -> bool:
        """Whether the server said so since it settled. Ask before a client leaves."""
        return b"xrun" in self.log.read_bytes()[self._log_size :].lower()


class Ear:
    """A MIDI input of its own name that hears what is sent to it, and an output beside it to play on."""

    def __init__(self, name: str) -> None:
        import rtmidi

        self.name = name
        self.port = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name=name, queue_size_limit=100_000)
        self.port.ignore_types(sysex=False, timing=False, active_sense=False)
        self.port.open_virtual_port("ear")
        self.heard: list[tuple[int, ...]] = []

    def listen(self, seconds: float = 0.0) -> list[tuple[int, ...]]:
        end_s = time.perf_counter() + seconds
        while True:
            while (message := self.port.get_message()) is not None:
                self.heard.append(tuple(message[0]))
            if time.perf_counter() >= end_s:
                return self.heard
            time.sleep(0.005)

    def until(self, holds: Callable[[], object], seconds: float = 120.0) -> None:
        end_s = time.perf_counter() + seconds
        while not holds():
            assert time.perf_counter() < end_s, f"{self.name} heard {self.heard[-20:]}"
            self.listen(0.02)

    def hanging(self) -> Counter:
        """Notes that were struck and not ended yet."""
        count: Counter = Counter()
        for status, *data in self.listen(0.1):
            if status & 0xF0 == 0x90:
                count[status & 0xF, data[0]] += 1
            elif status & 0xF0 == 0x80:
                count[status & 0xF, data[0]] -= 1
        return +count

    def close(self) -> None:
        self.port.close_port()
        self.port.delete()


def to_port(part: str, **changes: object) -> SoundConfig:
    return SoundConfig(mode="midi", midi_out=part, api="jack", midi_in=("nobody",), **changes)
