"""The process that makes notes, so that nothing that plays waits for the work or for a disk. One note is asked for at a time: a line in, samples out.

It imports nothing of the screen, and ends when its input does. Run by making.py.
"""

from __future__ import annotations

import sys
from pathlib import Path

from companion.sound.instruments import Instruments
from companion.sound.note_files import NoteFiles
from companion.sound.wanted import HEAD, Wanted


def main() -> None:
    """sys.argv: the folder of notes ("" for none), the SoundFont ("" for none), frames a second. The first answer comes unasked and has no samples."""
    folder, soundfont, rate = sys.argv[1:]
    files = NoteFiles(Path(folder) if folder else None)
    instruments = Instruments(files, int(rate), soundfont)
    _answer(instruments.fault, b"")
    files.tidy()
    for line in sys.stdin.buffer:
        samples = instruments.note(Wanted.read(line))
        _answer(instruments.fault, samples.astype("<i2").tobytes())


def _answer(fault: str, samples: bytes) -> None:
    sentence = fault.encode()
    out = sys.stdout.buffer
    out.write(HEAD.pack(len(sentence), len(samples) // 4))
    out.write(sentence)
    out.write(samples)
    out.flush()
