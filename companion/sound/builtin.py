"""The built-in sound: the mixer on an audio device. Its clock is the device's: a second is so many frames mixed.

miniaudio and numpy are imported here only (150 ms), so this module is imported only in the sound process.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Generator, Iterable, Sequence
from typing import Any

import numpy as np

from companion.sound.entering import entering
from companion.sound.jack import jack_pulse
from companion.sound.making import NoteMaker
from companion.sound.messages import Notice, Voice
from companion.sound.mixer import Mixer
from companion.sound.outputs import Sound
from companion.sound.played import wrote
from companion.sound.spoken import samples_of
from companion.sound.voices import SAMPLE_RATE, render
from companion.sound.wanted import DRUMS, PERCUSSION_CHANNEL, Wanted

PERIOD_MS, PERIODS = 10, 2  # asked for; the device may take others
LEAD_S = 0.08  # events are handed over this long before they sound: several periods, so that none comes too late
STALL_S = 1.5  # a device that asks for nothing this long is gone
_SMOOTH = 0.02  # weight of each callback in the estimate of when frames are heard
_SILENCE = np.zeros(0, np.float32)
_LEAP_S = 0.2  # a difference this big is no jitter: the device paused


class FrameClock:
    """Estimates when a frame is heard from when frames were asked for. Callbacks come early or late by a few ms, so the
    difference of the two clocks is averaged."""

    def __init__(self, rate: int, latency_s: float) -> None:
        self._rate = rate
        self._latency_s = latency_s
        self._count = 0
        self.offset_s = 0.0  # perf_counter minus seconds of frames, when those are asked for
        self.asked_s = 0.0

    def asked(self, frame: int, at_s: float) -> None:
        """The device asks at perf_counter `at_s` for what begins at `frame`."""
        offset_s = at_s - frame / self._rate
        if abs(offset_s - self.offset_s) > _LEAP_S:
            self._count = 0
        self._count += 1
        self.offset_s += max(_SMOOTH, 1 / self._count) * (offset_s - self.offset_s)
        self.asked_s = at_s

    def heard_s(self, at_s: float) -> float:
        """When (perf_counter) what lies at `at_s` of the frames is heard."""
        return at_s + self.offset_s + self._latency_s

    def clock_s(self, heard_s: float) -> float:
        """The inverse of `heard_s`."""
        return heard_s - self.offset_s - self._latency_s


class BuiltinOutput:
    """An Output whose clock counts frames. device: made by `open_device`; None mixes nothing by itself (tests call
    `block`). maker: gives notes their full sound as soon as it has made them; until then, and without it, they have a plain one."""

    kind = "builtin"
    lead_s = LEAD_S
    mixes = True

    def __init__(
        self,
        rate: int = SAMPLE_RATE,
        latency_s: float = PERIODS * PERIOD_MS / 1000,
        perf: Callable[[], float] = time.perf_counter,
        maker: NoteMaker | None = None,
    ) -> None:
        self._maker = maker
        self._programs: dict[int, int] = {}  # channel -> program, as on a synthesiser
        self.mixer = Mixer(rate)
        self.device: Any = None
        self.server: int | None = None  # that of JACK which carries it
        self._rate = rate
        self._perf = perf
        self._clock = FrameClock(rate, latency_s)
        self._clock.asked(0, perf())
        for accent in (0, 1):
            render("click", accent, rate)

    # --- the device's side

    def block(self, frames: int) -> np.ndarray:
        """The next frames in stereo, shape (frames, 2), float32."""
        first = self.mixer.frame
        self._clock.asked(first, self._perf())
        sound = self.mixer.render(frames)
        wrote(sound, first, self._clock.heard_s(0.0))
        return np.ascontiguousarray(sound.T)

    def blocks(self) -> Generator[np.ndarray | bytes, int, None]:
        """Frames for the device, which sends how many it wants."""
        frames = yield b""
        while True:
            frames = yield self.block(frames)

    # --- the player's side

    def now(self) -> float:
        """Seconds of frames that should have been asked for by now, never behind those that were."""
        return max(self._perf() - self._clock.offset_s, self.mixer.frame / self._rate)

    def heard_s(self, at_s: float) -> float:
        """See `Output.heard_s`."""
        return self._clock.heard_s(at_s)

    def clock_s(self, heard_s: float) -> float:
        """See `Output.clock_s`."""
        return self._clock.clock_s(heard_s)

    def send(self, sound: Sound, at_s: float) -> float:
        """See `Output.send`."""
        frame = round(at_s * self._rate)
        key = (sound.channel, sound.note)
        if sound.what == "note_on":
            frame = self.mixer.schedule(frame, sound.voice, self._samples(sound), sound.value, key)
        elif sound.what == "note_off":
            frame = self.mixer.release(frame, key)
        elif sound.what == "program":
            self._programs[sound.channel] = sound.note
        return frame / self._rate

    def prepare(self, sounds: Iterable[Sound]) -> None:
        """See `Output.prepare`."""
        for sound in sounds:
            if self._maker is not None and not sound.words:
                self._maker.ask(self._wanted(sound))
            self._samples(sound)

    def volume(self, voice: str, volume: float) -> None:
        """See `Output.volume`."""
        self.mixer.volume(voice, volume)

    def silence(self, voices: dict[str, Voice], sounding: Iterable[tuple[int, int]]) -> None:
        """See `Output.silence`."""
        self.mixer.clear()

    def check(self) -> Notice | None:
        """See `Output.check`."""
        if self._maker is not None and self._maker.soundfont:
            self._maker.look()
            if sentence := self._maker.fault():
                return Notice("error", f"{sentence} The built-in sound plays.")
        is_gone = self._has_lost_server()
        if self.device is None or (not is_gone and self._perf() - self._clock.asked_s < STALL_S):
            return None
        return Notice("lost", "The sound device went away: playing silently until it is back.")

    def close(self) -> None:
        """See `Output.close`."""
        if self.device is None:
            return
        if self._has_lost_server():
            _leave(self.device)
        else:
            time.sleep(0.03)  # let the fade of the last note out
            with entering(system_of(getattr(self.device, "backend", ""))):
                self.device.close()
        self.device = None

    def _has_lost_server(self) -> bool:
        return self.server is not None and jack_pulse().server() != self.server

    def _samples(self, sound: Sound) -> np.ndarray:
        if sound.words:  # nothing sounds where it was not spoken in time
            return _SILENCE if (spoken := samples_of(sound.words, self._rate)) is None else spoken
        wanted = self._wanted(sound)
        if self._maker is not None and (made := self._maker.get(wanted)) is not None:
            return made
        return render(wanted.voice, wanted.own_note(), self._rate, sound.value)

    def _wanted(self, sound: Sound) -> Wanted:
        is_percussion = sound.channel == PERCUSSION_CHANNEL
        program = 0 if is_percussion else self._programs.get(sound.channel, 1)
        voice = DRUMS if sound.cymbal else sound.voice
        return Wanted(voice, sound.note, sound.value, sound.accent, program, is_percussion)


_left: list[Any] = []


def _leave(device: Any) -> None:
    """Let a device of a dead JACK server be, for good: closing it now and then reads memory that went with the server, and crashes."""
    _left.append(device._device)
    device._device, device.running = None, False


def system_of(backend: str) -> str:
    """What `entering` calls a back end."""
    return "jack" if backend.upper() == "JACK" else "audio"


def open_builtin(backend: str = "", avoid: Sequence[str] = (), maker: NoteMaker | None = None) -> BuiltinOutput | None:
    """The built-in sound on the system's device, or on miniaudio's back end of that name ("null", "jack"). avoid: systems to leave alone.

    None where there is no device, or no miniaudio for this Python.
    """
    try:
        import miniaudio

        names = [backend.upper()] if backend else real_backends(miniaudio)
        for system in ("audio", "jack"):  # JACK comes last: it takes whole servers up where it is installed
            backends = [miniaudio.Backend[name] for name in names if system_of(name) == system]
            if backends and system not in avoid:
                server = jack_pulse().server() if system == "jack" else None
                with entering(system):
                    if (output := _open(miniaudio, backends, maker)) is not None:
                        output.server = server
                        return output
    except (ImportError, KeyError):
        pass
    return None


def _open(miniaudio: Any, backends: list[Any], maker: NoteMaker | None) -> BuiltinOutput | None:
    output = BuiltinOutput(maker=maker)
    try:
        device = miniaudio.PlaybackDevice(
            output_format=miniaudio.SampleFormat.FLOAT32,
            nchannels=2,
            sample_rate=SAMPLE_RATE,
            buffersize_msec=PERIOD_MS,
            callback_periods=PERIODS,
            backends=backends,
            app_name="companion",
        )
        blocks = output.blocks()
        next(blocks)
        device.start(blocks)
    except miniaudio.MiniaudioError:
        return None
    output.device = device
    return output


def real_backends(miniaudio: Any) -> list[str]:
    """Every back end that leads to a device, in miniaudio's order. Its last resort, a device that only keeps time, would pass for a real
    one."""
    return [backend.name for backend in miniaudio.Backend if backend.name not in ("NULL", "CUSTOM")]
