"""A made-up take written as a MIDI file of any kind an instrument or a program writes, and read back."""

from __future__ import annotations

import random
import tempfile
from collections.abc import Iterable
from pathlib import Path

import mido

from companion.practice.model import Press
from companion.session.take_file import DRUMS, Recording, read_recording

DIVISIONS = (96, 120, 384, 480, 960, 30_720)  # ticks a quarter
USUAL_BPM = 120.0


def through_file(presses: Iterable[Press], clicks: Iterable[float], rng: random.Random) -> Recording:
    """As what a file of a kind drawn by rng holds of it: format 0 or 1, any division, one tempo or one that changes, keys released by
    note-off or by velocity 0, hands on a track each, on a channel each or together, a pedal, a clock and other events between."""
    division, kind = rng.choice(DIVISIONS), rng.choice((0, 1))
    changes = [(0.0, rng.uniform(40.0, 240.0))]
    while rng.random() < 0.6:
        changes.append((changes[-1][0] + rng.uniform(5.0, 60.0), rng.uniform(40.0, 240.0)))
    if rng.random() < 0.3:
        changes = [(0.0, USUAL_BPM)]

    def tick(time_s: float) -> int:
        ticks = 0.0
        for (from_s, bpm), (until_s, _) in zip(changes, [*changes[1:], (time_s, 0.0)]):
            ticks += max(0.0, min(time_s, until_s) - from_s) * bpm / 60.0 * division
        return round(ticks)

    by_hand = rng.choice(("together", "channels", "tracks"))
    by_velocity = rng.random() < 0.5
    events: list[tuple[int, int, mido.Message | mido.MetaMessage]] = [
        (0, tick(from_s), mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm))) for from_s, bpm in changes
    ]
    for press in presses:
        high = press.note > 64
        track = 1 + high if by_hand == "tracks" else 1
        channel = int(high) if by_hand == "channels" else 0
        at = tick(press.time_s)
        up = max(at + 1, tick(press.time_s + (press.held_s or 0.2)))
        events.append((track, at, mido.Message("note_on", channel=channel, note=press.note, velocity=press.velocity)))
        off = ("note_on", {"velocity": 0}) if by_velocity else ("note_off", {"velocity": 64})
        events.append((track, up, mido.Message(off[0], channel=channel, note=press.note, **off[1])))
        if rng.random() < 0.1:
            events.append((track, at, mido.Message("control_change", channel=channel, control=64, value=127)))
            events.append((track, at, mido.Message("sysex", data=(0x7E, 0x7F, 9, 1))))
    events += [(3, tick(at_s), mido.Message("note_on", channel=DRUMS, note=76, velocity=90)) for at_s in clicks]
    file = mido.MidiFile(type=kind, ticks_per_beat=division)
    numbers = {0: 0} if kind == 0 else {number: place for place, number in enumerate(sorted({e[0] for e in events}))}
    file.tracks.extend(mido.MidiTrack() for _ in numbers)
    for number, track in enumerate(file.tracks):
        last = 0
        # A key goes up before it goes down again in the same tick.
        mine = [event for event in events if kind == 0 or numbers[event[0]] == number]
        for _, at, message in sorted(mine, key=lambda event: (event[1], _strikes(event[2]))):
            track.append(message.copy(time=at - last))
            last = at
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take.mid"
        file.save(path)
        return read_recording(path)


def _strikes(message: mido.Message | mido.MetaMessage) -> bool:
    return message.type == "note_on" and message.velocity > 0
