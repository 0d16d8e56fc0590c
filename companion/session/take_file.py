"""Reading the presses of a Standard MIDI File, such as a digital piano writes onto a memory stick."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from companion.errors import TakeError
from companion.practice.marking.clock import beats_of_ride
from companion.practice.model import Press

# An hour of dense playing is some 300 kB and 20,000 notes.
MOST_BYTES = 4_000_000
MOST_NOTES = 30_000
SUSTAIN = 64  # the controller of the sustain pedal; down from 64 on (MIDI 1.0)
RIDES = (51, 53, 59)  # ride, its bell, another ride (General MIDI 1, percussion key map)
DRUMS = 9  # channel 10 carries the click or the drums, no hand (General MIDI)
USUAL_TEMPO = 500_000  # microseconds a quarter where a file says nothing (Standard MIDI Files 1.0)


@dataclass(frozen=True, slots=True)
class Recording:
    """presses: in order of time, with how long each key stayed down, but for those that were let go under the sustain pedal; clicks_s: the seconds of the click, empty without one."""

    presses: tuple[Press, ...]
    clicks_s: tuple[float, ...] = ()


def read_recording(path: str | os.PathLike[str], click_track: int | None = None) -> Recording:
    """The note-ons of every track and channel but the drums, in order of time, in seconds from the start of the file
    by its own tempo map. Format 0 and 1. The click is what channel 10 plays, or the track `click_track`, counted from 1.

    Raises TakeError, one sentence, for a file that is not there, not MIDI, broken off, too large, without notes or without
    that track.
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
    return _recording(path, _open(path), click_track)


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


def _recording(path: Path, file: Any, click_track: int | None) -> Recording:
    if click_track is not None and not 1 <= click_track <= len(file.tracks):
        raise TakeError(f"{path}: has {len(file.tracks)} tracks; expected a click track from 1 to {len(file.tracks)}")
    merged = []
    for number, track in enumerate(file.tracks, 1):
        tick = 0
        for message in track:
            tick += message.time
            if message.type in ("set_tempo", "note_on", "note_off") or message.is_cc(SUSTAIN):
                merged.append((tick, number, message))
    merged.sort(key=lambda event: (event[0], event[2].type != "set_tempo"))  # a tempo holds from its own tick on
    presses: list[Press] = []
    drums: list[tuple[float, int]] = []
    down: dict[tuple[int, int, int], list[int]] = {}  # track, channel, note -> which presses, the earlier first
    pedals: dict[tuple[int, int], bool] = {}  # track, channel -> whether the sustain pedal is down
    rate = _seconds_per_tick(file.ticks_per_beat, USUAL_TEMPO)
    at_tick, at_s = 0, 0.0
    for tick, number, message in merged:
        at_tick, at_s = tick, at_s + (tick - at_tick) * rate
        if message.type == "set_tempo":
            rate = _seconds_per_tick(file.ticks_per_beat, message.tempo)
            continue
        if message.type == "control_change":
            pedals[number, message.channel] = message.value >= 64
            continue
        struck = message.type == "note_on" and message.velocity > 0
        if number == click_track or (click_track is None and message.channel == DRUMS):
            drums += [(at_s, message.note if message.channel == DRUMS else 0)] if struck else []
        elif message.channel != DRUMS:
            key = (number, message.channel, message.note)
            held = down.setdefault(key, [])
            if struck:
                # Struck again before it was let go, as a worn contact does or a file that was moved about: the next release ends the one before.
                held[:] = [*held[-1:], len(presses)]
                presses.append(Press(at_s, message.note, message.velocity))
            elif held:
                place = held.pop(0)
                if not pedals.get((number, message.channel)):
                    presses[place] = replace(presses[place], held_s=at_s - presses[place].time_s)
    if not presses:
        raise TakeError(f"{path}: has no notes; expected a take of the left hand")
    if len(presses) > MOST_NOTES:
        raise TakeError(f"{path}: has {len(presses)} notes; expected at most {MOST_NOTES}, one take at a time")
    clicks_s = [at_s for at_s, _ in drums]
    if any(note in RIDES for _, note in drums):
        clicks_s = beats_of_ride(clicks_s)
    return Recording(tuple(presses), tuple(clicks_s))


def _seconds_per_tick(division: int, tempo: int) -> float:
    """division: ticks a quarter, or, below zero, frames a second and ticks a frame in its two bytes (SMPTE; 29 stands
    for 29.97)."""
    if division > 0:
        return tempo / 1e6 / division
    frames, ticks = -(division >> 8), division & 0xFF
    return 1.0 / ((30000 / 1001 if frames == 29 else frames) * max(1, ticks))
