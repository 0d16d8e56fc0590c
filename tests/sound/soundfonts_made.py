"""SoundFonts written byte by byte from the SoundFont Technical Specification 2.04, chapters 4 and 7, and one that is at hand. Nothing of the product is used."""

from __future__ import annotations

import os
import struct
from ctypes.util import find_library
from pathlib import Path

import numpy as np
import pytest

RATE = 44100
# Where CI is set it must be there: .ci/run installs it.
needs_fluidsynth = pytest.mark.skipif(
    not os.environ.get("CI") and find_library("fluidsynth") is None,
    reason="no FluidSynth library (apt install fluidsynth)",
)


def general_midi() -> Path:
    """A General MIDI SoundFont that a library of the tests brings along."""
    import pretty_midi

    return Path(pretty_midi.__file__).parent / "TimGM6mb.sf2"


def chunk(kind: bytes, data: bytes) -> bytes:
    return kind + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def sine(hertz: float, seconds: float = 1.0) -> np.ndarray:
    """Whole periods, so that it loops without a step."""
    periods = round(hertz * seconds)
    frames = round(periods * RATE / hertz)
    return np.sin(2 * np.pi * np.arange(frames) * periods / frames)


def soundfont(
    zones: list[dict[int, int]],
    samples: list[np.ndarray | bytes],
    *,
    preset: dict[int, int] | None = None,
    root: int = 69,
    program: int = 0,
    bank: int = 0,
    pitch_correction: int = 0,
) -> bytes:
    """One preset of one instrument. zones: the generators of each, by number, in the order of the numbers but for the last (53, the sample, unless it is said zone by zone). samples: between
    -1 and 1, looped from end to end; or bytes, in Ogg Vorbis, with the loop from 0 to 4000."""
    sound, heads = b"", b""
    for number, one in enumerate(samples):
        if isinstance(one, bytes):
            start, end, first, behind, kind = len(sound), len(sound) + len(one), 0, 4000, 1 | 0x10
            sound += one
        else:
            data = np.round(one * 20000).astype("<i2").tobytes()
            start = len(sound) // 2
            end = start + len(one)
            first, behind, kind = start, end, 1
            sound += data + b"\0" * 92  # 46 frames of silence after each (7.10)
        name = f"sample {number}".encode()
        heads += struct.pack("<20s5IBbHH", name, start, end, first, behind, RATE, root, pitch_correction, 0, kind)
    heads += struct.pack("<20s5IBbHH", b"EOS", 0, 0, 0, 0, 0, 0, 0, 0, 0)
    generators, bags = b"", b""
    for number, zone in enumerate(zones):
        bags += struct.pack("<HH", len(generators) // 4, 0)
        said = dict(zone)
        if not said.pop(-1, 0):  # -1: a global zone, without a sample
            said = {key: said[key] for key in sorted(said) if key != 53} | {
                53: said.get(53, min(number, len(samples) - 1))
            }
        for key, amount in said.items():
            generators += struct.pack("<HH", key, amount & 0xFFFF)
    bags += struct.pack("<HH", len(generators) // 4, 0)
    of_preset = {**(preset or {}), 41: 0}
    preset_generators = b"".join(struct.pack("<HH", key, amount & 0xFFFF) for key, amount in of_preset.items())
    tables = {
        b"phdr": struct.pack("<20sHHHIII", b"made", program, bank, 0, 0, 0, 0)
        + struct.pack("<20sHHHIII", b"EOP", 0, 0, 1, 0, 0, 0),
        b"pbag": struct.pack("<HHHH", 0, 0, len(of_preset), 0),
        b"pmod": b"\0" * 10,
        b"pgen": preset_generators + b"\0" * 4,
        b"inst": struct.pack("<20sH", b"made", 0) + struct.pack("<20sH", b"EOI", len(zones)),
        b"ibag": bags,
        b"imod": b"\0" * 10,
        b"igen": generators + b"\0" * 4,
        b"shdr": heads,
    }
    body = chunk(b"LIST", b"INFO" + chunk(b"ifil", struct.pack("<HH", 2, 4)))
    body += chunk(b"LIST", b"sdta" + chunk(b"smpl", sound))
    body += chunk(b"LIST", b"pdta" + b"".join(chunk(kind, data) for kind, data in tables.items()))
    return b"RIFF" + struct.pack("<I", len(body) + 4) + b"sfbk" + body
