"""Reading the presses of a Standard MIDI File, such as a digital piano writes onto a memory stick."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from companion.errors import TakeError
from companion.practice.model import Press

# An hour of dense playing is some 300 kB and 20,000 notes.
MOST_BYTES = 4_000_000
MOST_NOTES = 30_000
DRUMS = 9  # channel 10 carries the click or the drums, no hand (General MIDI)
USUAL_TEMPO = 500_000  # microseconds a quarter where a file says nothing (Standard MIDI Files 1.0)


def read_take(path: str | os.PathLike[str]) -> tuple[Press, ...]:
    """The note-ons of every track and channel but the drums, in order of time, in seconds from the start of the file
    by its own tempo map. Format 0 and 1.

    Raises TakeError, one sentence, for a file that is not there, not MIDI, broken off, too large or without notes.
    """
    path = Path(os.path.expanduser(path))
    try:
        if not path.is_file():
            raise TakeError(f"{path}: there is no such file; expected a MIDI file of a take")
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise TakeError(f"{path}: is {size / 1e6:.1f} MB; expected a take of at most {MOST_BYTES / 1e6:g} MB")
        with path.open("rb") as file:
            head = file.read(4)
    except OSError as error:
        raise TakeError(f"{path}: cannot be read: {error.strerror}") from error
    if size == 0:
        raise TakeError(f"{path}: is empty; expected a MIDI file of a take")
    if head != b"MThd":
        raise TakeError(f"{path}: is not a MIDI file; expected one that begins with MThd")
    return _presses(path, _open(path))


def _open(path: Path) -> Any:
    import mido  # 39 ms, needed only here

    try:
        file = mido.MidiFile(path, clip=True)
    except EOFError as error:
        raise TakeError(f"{path}: breaks off in the middle; copy it from the instrument once more") from error
    except Exception as error:  # mido meets broken bytes with errors of many kinds
        raise TakeError(
            f"{path}: is a MIDI file with faults ({error}); copy it from the instrument once more"
        ) from error
    if file.type not in (0, 1):
        raise TakeError(f"{path}: is a MIDI file of format {file.type}; expected format 0 or 1")
    if file.ticks_per_beat == 0:
        raise TakeError(f"{path}: does not say how long its ticks are; copy it from the instrument once more")
    return file


def _presses(path: Path, file: Any) -> tuple[Press, ...]:
    merged = []
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "set_tempo" or (
                message.type == "note_on" and message.velocity and message.channel != DRUMS
            ):
                merged.append((tick, message))
    merged.sort(key=lambda pair: (pair[0], pair[1].type != "set_tempo"))  # a tempo holds from its own tick on
    presses = []
    rate = _seconds_per_tick(file.ticks_per_beat, USUAL_TEMPO)
    at_tick, at_s = 0, 0.0
    for tick, message in merged:
        at_tick, at_s = tick, at_s + (tick - at_tick) * rate
        if message.type == "set_tempo":
            rate = _seconds_per_tick(file.ticks_per_beat, message.tempo)
        else:
            presses.append(Press(at_s, message.note, message.velocity))
    if not presses:
        raise TakeError(f"{path}: has no notes; expected a take of the left hand")
    if len(presses) > MOST_NOTES:
        raise TakeError(f"{path}: has {len(presses)} notes; expected at most {MOST_NOTES}, one take at a time")
    return tuple(presses)


def _seconds_per_tick(division: int, tempo: int) -> float:
    """division: ticks a quarter, or, below zero, frames a second and ticks a frame in its two bytes (SMPTE; 29 stands
    for 29.97)."""
    if division > 0:
        return tempo / 1e6 / division
    frames, ticks = -(division >> 8), division & 0xFF
    return 1.0 / ((30000 / 1001 if frames == 29 else frames) * max(1, ticks))
