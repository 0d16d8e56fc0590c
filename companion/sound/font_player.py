"""The process that plays keys of a SoundFont by FluidSynth, a key at a time: a line in, samples out. It ends when its input does. Run by soundfont.py.

A process of its own, as the library writes to the standard error stream whatever it likes, which must not reach a terminal that the app holds, and as a damaged file may end it.
"""

from __future__ import annotations

import os
import struct
import sys
from typing import Any

HELD_S = 6.0  # a whole note at 40 beats a minute
QUESTION = struct.Struct("<4B")  # bank, program from 0, key, velocity
# Bytes of what is wrong, frames, what the samples are to be divided by; words and int16 samples, left and right in turn, follow.
ANSWER = struct.Struct("<IIf")
_BLOCK = 64 * 64  # frames; the library works in blocks of 64, and a key begins with one
_FULL = 32_767
_GET_IT = {
    "linux": "apt install fluidsynth, or your system's package of that name",
    "darwin": "brew install fluid-synth",
    "win32": "choco install fluidsynth",
}


class Unplayable(Exception):
    """What is wrong with the file, or with what plays it; goes on from its name."""


class FontPlayer:
    """path: of a SoundFont. rate: frames a second. Raises Unplayable."""

    def __init__(self, path: str, rate: int) -> None:
        if sys.platform == "darwin":  # where the binding looks is told by Homebrew to shells alone
            os.environ.setdefault("HOMEBREW_PREFIX", "/opt/homebrew")
        try:
            import fluidsynth
        except Exception as error:  # no library, one for another processor, a very old one
            how = _GET_IT.get(sys.platform, "see your system's packages")
            raise Unplayable(f"needs FluidSynth, which this computer does not have ({how})") from error
        dry = {"synth.reverb.active": 0, "synth.chorus.active": 0}
        as_needed = {"synth.dynamic-sample-loading": 1}  # samples of the instruments asked for alone: files may be huge
        self._gain = 1.0
        self._synth: Any = fluidsynth.Synth(self._gain, rate, 256, **dry, **as_needed)
        self._most_blocks = round(HELD_S * rate / _BLOCK)
        self._channels: dict[tuple[int, int], int] = {}
        try:
            self._font = self._synth.sfload(path)
        except UnicodeEncodeError as error:
            raise Unplayable("cannot be read under that name") from error
        if self._font < 0:
            raise Unplayable("is damaged, or of a kind that FluidSynth cannot read")

    def key(self, bank: int, program: int, note: int, velocity: int) -> tuple[float, bytes]:
        """The samples of a key struck and held, and what they are to be divided by; none where the instrument has no such key."""
        channel = self._channel(bank, program)
        while (samples := self._struck(channel, note, velocity)).size and abs(samples.astype("i4")).max() >= _FULL:
            self._gain /= 4
            self._synth.setting("synth.gain", self._gain)
        return self._gain, samples.astype("<i2").tobytes()

    def _channel(self, bank: int, program: int) -> int:
        """One for each instrument: what no channel plays the library forgets."""
        if (bank, program) not in self._channels:
            self._channels[bank, program] = channel = len(self._channels)
            if self._synth.program_select(channel, self._font, bank, program) < 0:
                self._synth.program_unset(channel)
        return self._channels[bank, program]

    def _struck(self, channel: int, note: int, velocity: int) -> Any:
        import numpy as np

        blocks: list[Any] = []
        self._synth.noteon(channel, note, velocity)
        while len(blocks) < self._most_blocks and self._synth.get_active_voice_count():
            blocks.append(self._synth.get_samples(_BLOCK))
        self._synth.all_sounds_off(channel)
        while self._synth.get_active_voice_count():
            self._synth.get_samples(64)
        return np.concatenate(blocks) if blocks else np.zeros(0, np.int16)


def main() -> None:
    """sys.argv: the SoundFont, frames a second. The first answer comes unasked and has no samples."""
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # the library's binding prints as well

    def answer(wrong: str = "", divide_by: float = 1.0, samples: bytes = b"") -> None:
        words = wrong.encode()
        out.write(ANSWER.pack(len(words), len(samples) // 4, divide_by) + words + samples)
        out.flush()

    try:
        player = FontPlayer(sys.argv[1], int(sys.argv[2]))
    except Unplayable as error:
        answer(str(error))
        return
    answer()
    while len(question := sys.stdin.buffer.read(QUESTION.size)) == QUESTION.size:
        divide_by, samples = player.key(*QUESTION.unpack(question))
        answer("", divide_by, samples)
