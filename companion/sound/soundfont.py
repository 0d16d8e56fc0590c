"""Reading SoundFonts, .sf2 and .sf3: which samples play a key of an instrument, and how.

By the SoundFont Technical Specification 2.04 (E-mu and Creative, 2006): chapter 4 for the file, 7 for the tables, 8.1 for what a generator means where it is not said. An .sf3 keeps
each sample as Ogg Vorbis (type bit 16), by common practice of the synthesisers that read it. Only the tables are read into memory, a sample when it is played, so a file may be large.

Left out: the file's own modulators (their use beyond the standard ones is rare), reverb and chorus, the 24-bit part of samples.
"""

from __future__ import annotations

import io
import os
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from companion.base.text import plain
from companion.errors import SoundError

PERCUSSION_BANK = 128
_MOST_TABLE_BYTES = 64_000_000  # the largest known come to a tenth
_MOST_SAMPLE_FRAMES = 60 * 48_000
# Generators by number, with what they are where none is said (8.1.2 and 8.1.3).
INSTRUMENT, SAMPLE, KEYS, VELOCITIES = 41, 53, 43, 44
DEFAULTS = {8: 13500, 56: 100, 58: -1, 46: -1, 47: -1} | dict.fromkeys(
    (21, 23, 25, 26, 27, 28, 30, 33, 34, 35, 36, 38), -12000
)
_OF_INSTRUMENTS_ONLY = {0, 1, 2, 3, 4, 12, 45, 46, 47, 50, 54, 57, 58}
_TABLES: dict[bytes, Any] = {
    b"phdr": np.dtype("S20, <u2, <u2, <u2, <u4, <u4, <u4"),  # name, program, bank, first zone ...
    b"pbag": np.dtype("<u2, <u2"),  # first generator, first modulator
    b"pgen": np.dtype("<u2, <i2"),
    b"inst": np.dtype("S20, <u2"),  # name, first zone
    b"ibag": np.dtype("<u2, <u2"),
    b"igen": np.dtype("<u2, <i2"),
    b"shdr": np.dtype("S20, <u4, <u4, <u4, <u4, <u4, u1, i1, <u2, <u2"),
}
_VORBIS, _ROM = 0x10, 0x8000


class SoundFontError(SoundError):
    """A file that is no SoundFont, or none that can be played: one sentence."""


@dataclass(frozen=True, slots=True)
class Zone:
    """One sample and how it plays. generators: by number, those of preset and instrument together; what is missing is as in DEFAULTS. loop: (first, behind the last) frame of
    the samples. rate: frames a second at which they were recorded. root: the key that they sound, cents: how much too high they sound there."""

    generators: dict[int, int]
    sample: int
    loop: tuple[int, int]
    rate: int
    root: int
    cents: int

    def __getitem__(self, generator: int) -> int:
        return self.generators.get(generator, DEFAULTS.get(generator, 0))


class SoundFont:
    """An open file. Raises SoundFontError, one sentence, for one that cannot be read. name: of the file, for people."""

    def __init__(self, path: Path) -> None:
        self.name = plain(path.name)
        try:
            self._file: BinaryIO = path.open("rb")
            size = os.fstat(self._file.fileno()).st_size
        except FileNotFoundError as error:
            raise self._fault("is not there") from error
        except (OSError, ValueError) as error:  # ValueError: a path with a null character
            raise self._fault(f"cannot be read: {plain(getattr(error, 'strerror', '') or str(error))}") from error
        try:
            self._read(size)
        except (OSError, struct.error) as error:
            raise self._fault("cannot be read to its end") from error
        self.samples = lru_cache(maxsize=16)(self._samples)

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()

    def has(self, bank: int, program: int) -> bool:
        """program: 0 to 127, as the wire carries it."""
        return (bank, program) in self._presets

    def zones(self, bank: int, program: int, note: int, velocity: int) -> list[Zone]:
        """What plays that key of an instrument; nothing where it has none."""
        preset = self._presets.get((bank, program))
        if preset is None:
            return []
        found = []
        for outer in self._matching("pbag", "pgen", *preset, INSTRUMENT, note, velocity):
            instrument = self._instrument(outer[INSTRUMENT])
            for inner in self._matching("ibag", "igen", *instrument, SAMPLE, note, velocity):
                both = dict(inner)
                for generator, amount in outer.items():
                    if generator not in _OF_INSTRUMENTS_ONLY and generator not in (INSTRUMENT, KEYS, VELOCITIES):
                        both[generator] = both.get(generator, DEFAULTS.get(generator, 0)) + amount
                if (zone := self._zone(both)) is not None:
                    found.append(zone)
        return found

    # --- the file

    def _read(self, size: int) -> None:
        head = self._file.read(12)
        if len(head) < 12 or head[:4] != b"RIFF" or head[8:] != b"sfbk":
            raise self._fault("is none by its contents; expected .sf2 or .sf3")
        if struct.unpack("<I", head[4:8])[0] + 8 > size:
            raise self._fault("is cut off")
        tables: dict[bytes, np.ndarray] = {}
        self._sound = (0, 0)
        for kind, at, length in self._chunks(12, size):
            if kind == b"LIST" and (name := self._file.read(4)) in (b"sdta", b"pdta"):
                for inner, begin, count in self._chunks(at + 4, at + length):
                    if name == b"sdta" and inner == b"smpl":
                        self._sound = (begin, count)
                    elif name == b"pdta" and inner in _TABLES:
                        tables[inner] = self._table(inner, begin, count)
        if any(name not in tables or not len(tables[name]) for name in _TABLES):
            raise self._fault("is damaged: some of its tables are missing")
        self._tables = tables
        heads = tables[b"phdr"]
        self._presets = {
            (int(one["f2"]), int(one["f1"])): (int(one["f3"]), int(after["f3"])) for one, after in pairwise(heads)
        }
        if not self._presets or not self._sound[1]:
            raise self._fault("has no instrument in it")

    def _chunks(self, at: int, end: int) -> Iterator[tuple[bytes, int, int]]:
        """(kind, where its contents begin, their length) of each chunk; the file stands at the contents then."""
        while at + 8 <= end:
            self._file.seek(at)
            kind, length = struct.unpack("<4sI", self._file.read(8))
            if at + 8 + length > end:
                raise self._fault("is damaged: a part of it is longer than the whole")
            yield kind, at + 8, length
            at += 8 + length
            self._file.seek(at)
            if (
                length % 2 and self._file.read(4) != b"LIST"
            ):  # some writers of .sf3 leave the byte out that makes lengths even
                at += 1

    def _table(self, name: bytes, at: int, length: int) -> np.ndarray:
        if length > _MOST_TABLE_BYTES:
            raise self._fault("is damaged: its tables are too long")
        self._file.seek(at)
        kind = _TABLES[name]
        return np.frombuffer(self._file.read(length // kind.itemsize * kind.itemsize), kind)

    def _fault(self, what: str) -> SoundFontError:
        return SoundFontError(f"The SoundFont {self.name} {what}.")

    # --- the tables

    def _instrument(self, number: int) -> tuple[int, int]:
        heads = self._tables[b"inst"]
        if not 0 <= number < len(heads) - 1:
            return 0, 0
        return int(heads[number]["f1"]), int(heads[number + 1]["f1"])

    def _matching(
        self, bags: str, generators: str, first: int, behind: int, ends_with: int, note: int, velocity: int
    ) -> Iterator[dict[int, int]]:
        """Generators of the zones that play it, those of the global zone beneath them (7.3, 7.7)."""
        starts, values = self._tables[bags.encode()], self._tables[generators.encode()]
        common: dict[int, int] = {}
        for number in range(first, min(behind, len(starts) - 1)):
            rows = values[int(starts[number]["f0"]) : int(starts[number + 1]["f0"])]
            said = {int(row["f0"]): int(row["f1"]) for row in rows}
            if ends_with in said:
                zone = common | said
                if _within(zone.get(KEYS), note) and _within(zone.get(VELOCITIES), velocity):
                    yield zone
            elif number == first:
                common = said

    def _zone(self, generators: dict[int, int]) -> Zone | None:
        number, heads = generators[SAMPLE], self._tables[b"shdr"]
        if not 0 <= number < len(heads) - 1:
            return None
        _, start, _, first, behind, rate, root, cents, _, kind = heads[number].tolist()
        if kind & _ROM or not 400 <= rate <= 200_000:
            return None
        offset = 0 if kind & _VORBIS else start
        moved = [generators.get(fine, 0) + 32768 * generators.get(coarse, 0) for fine, coarse in ((2, 45), (3, 50))]
        loop = (first - offset + moved[0], behind - offset + moved[1])
        return Zone(generators, number, loop, rate, root if root <= 127 else 60, cents)

    def _samples(self, number: int) -> np.ndarray:
        """Of the sample of that number, float32, within -1 to 1. Raises SoundFontError where they are not in the file."""
        _, start, end, *_, kind = self._tables[b"shdr"][number].tolist()
        width = 1 if kind & _VORBIS else 2
        at, length = self._sound
        if not 0 <= start < end or width * end > length or end - start > _MOST_SAMPLE_FRAMES:
            raise self._fault("is damaged: a sample lies outside of it")
        self._file.seek(at + width * start)
        data = self._file.read(width * (end - start))
        if kind & _VORBIS:
            return self._decoded(data)
        return np.frombuffer(data, "<i2").astype(np.float32) / np.float32(32768)

    def _decoded(self, data: bytes) -> np.ndarray:
        try:
            import soundfile

            samples, _ = soundfile.read(io.BytesIO(data), dtype="float32", frames=_MOST_SAMPLE_FRAMES)
        except Exception as error:  # no library for this system, or whatever that says of data that is none
            raise self._fault("has samples in Ogg Vorbis that cannot be read") from error
        return np.asarray(samples if samples.ndim == 1 else samples.mean(axis=1))


def _within(span: int | None, value: int) -> bool:
    """span: both ends in one number, the lower one in the lower byte; None for all."""
    return span is None or span & 0xFF <= value <= (span >> 8) & 0xFF
