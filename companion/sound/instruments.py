"""Who gives a note its sound: the student's SoundFont where it has the instrument, else the built-in voices. Made once and kept on disk.

Used by the process that makes notes (maker.py) and by practice tracks; it may take tens of milliseconds a note, and waits for the disk.
"""

from __future__ import annotations

import zlib
from functools import cache, lru_cache
from pathlib import Path

import numpy as np

from companion.sound import voices
from companion.sound.mixer import velocity_gain
from companion.sound.note_files import NoteFiles
from companion.sound.soundfont import PERCUSSION_BANK, SoundFont, SoundFontError
from companion.sound.voices import in_16_bits, render, render_full
from companion.sound.wanted import Wanted

GENERAL_MIDI_CLICK = 77  # the low wood block
_REFERENCE = {
    "left": 55,
    "bass": 33,
    "right": 72,
    "click": 0,
    "drums": 51,
}  # the note of each voice that says how loud a SoundFont is beside ours
_REFERENCE_VELOCITY, _COMPARED_S = 80, 0.5


class Instruments:
    """files: where notes are kept. rate: frames a second. soundfont: the path of the student's own, "" for none. fault: why it does not play, one sentence, "" while it
    does; the built-in voices play then."""

    def __init__(self, files: NoteFiles, rate: int, soundfont: str = "") -> None:
        self.fault = ""
        self._files = files
        self._rate = rate
        self._own = lru_cache(maxsize=256)(self._own_note)
        self._sampled = lru_cache(maxsize=256)(self._font_note)
        self._level = cache(self._font_level)
        self._font: SoundFont | None = None
        if soundfont:
            try:
                self._font = SoundFont(Path(soundfont), rate)
                self._font_name = font_version(Path(soundfont))
            except (SoundFontError, OSError) as error:
                self.fault = str(error)

    def note(self, wanted: Wanted) -> np.ndarray:
        """int16, shape (2, frames), begun on the frame of its onset."""
        if self._font is not None and (wanted.program or wanted.is_percussion):
            try:
                if (samples := self._sampled(wanted.layer(True))) is not None:
                    return samples
            except SoundFontError as error:
                self.fault = str(error)
                self.close()
        return self._own(wanted.layer(False))

    def close(self) -> None:
        """Let go of the SoundFont; the built-in voices play on."""
        if self._font is not None:
            self._font.close()
            self._font = None

    def _own_note(self, wanted: Wanted) -> np.ndarray:
        name = f"{own_version()}-{self._rate}-{wanted.voice}-{wanted.own_note()}-{wanted.velocity}"
        samples = self._files.read(name)
        if samples is None:
            samples = render_full(wanted.voice, wanted.own_note(), self._rate, wanted.velocity)
            self._files.write(name, samples)
        return samples

    def _font_note(self, wanted: Wanted) -> np.ndarray | None:
        """None where the SoundFont has no such instrument."""
        program = "percussion" if wanted.is_percussion else wanted.program
        name = f"{self._font_name}-{self._rate}-{wanted.voice}-{program}-{wanted.note}-{wanted.velocity}"
        samples = self._files.read(name)
        if samples is None:
            if (level := self._level(wanted.voice, wanted.program, wanted.is_percussion)) is None:
                return None
            sound = self._held(wanted)
            if sound is None:
                return None
            # Who plays it makes it softer by its velocity, as with our own.
            sound = sound * np.float32(level / velocity_gain(wanted.velocity))
            samples = in_16_bits(np.clip(sound, -0.99, 0.99))
            self._files.write(name, samples)
        return samples

    def _font_level(self, voice: str, program: int, is_percussion: bool) -> float | None:
        """What makes the instrument as loud as our own voice; None where there is none."""
        note = _REFERENCE[voice]
        own = render(voice, note, self._rate, _REFERENCE_VELOCITY)
        asked = GENERAL_MIDI_CLICK if voice == "click" else note
        for near in (asked, *range(36, 97)):  # an instrument of few keys, the whole of a kit's
            sound = self._held(Wanted(voice, near, _REFERENCE_VELOCITY, False, program, is_percussion))
            if sound is not None:
                beginning = round(_COMPARED_S * self._rate)
                energy = float(np.sum(np.square(sound[:, :beginning], dtype=np.float64))) / 2
                own_energy = float(np.sum(np.square(own[:beginning], dtype=np.float64)))
                return float((own_energy / energy) ** 0.5) * velocity_gain(_REFERENCE_VELOCITY)
        return None

    def _held(self, wanted: Wanted) -> np.ndarray | None:
        if self._font is None:
            return None
        bank, program = (PERCUSSION_BANK, 0) if wanted.is_percussion else (0, wanted.program - 1)
        return self._font.held_note(bank, program, wanted.note, wanted.velocity)


@cache
def own_version() -> str:
    """Of the built-in voices: another one as soon as anything that makes them is changed."""
    return f"{_checksum_of('voices', 'piano', 'room', 'drums'):08x}"


def font_version(path: Path) -> str:
    """Of a SoundFont and of what plays it. Raises OSError."""
    status = path.stat()
    said = f"{path.resolve()} {status.st_size} {status.st_mtime_ns} {_checksum_of('soundfont', 'font_player', 'instruments', 'voices')}"
    return f"sf{zlib.crc32(said.encode(errors='surrogateescape')):08x}"


def _checksum_of(*modules: str) -> int:
    checksum = 0
    for path in sorted(Path(voices.__file__).parent.glob("*.py")):
        if path.stem in modules:
            checksum = zlib.crc32(path.read_bytes(), checksum)
    return checksum
