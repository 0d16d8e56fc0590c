"""What independent readers find in our files: music21 and partitura in MusicXML, mido in MIDI files. Nothing of the writers is known here."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterable

import mido
import music21
import pytest

Note = tuple[float, float, int, int]  # onset and length in quarters, MIDI number, staff: 1 the right hand, 2 the left


def near(notes: Iterable[Note]) -> list[Note]:
    return sorted((round(onset, 3), round(length, 3), key, staff) for onset, length, key, staff in notes)


def by_music21(text: str) -> list[Note]:
    """Tied notes as one."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        score = music21.converter.parse(text, format="musicxml", forceSource=True)
    found: list[list] = []
    for staff, part in enumerate(score.parts, 1):
        held: dict[tuple[float, int], list] = {}
        for element in part.flatten().notes:
            if isinstance(element, music21.harmony.ChordSymbol):
                continue
            onset, length = float(element.offset), float(element.quarterLength)
            for note in element.notes if element.isChord else [element]:
                before = (
                    held.pop((round(onset, 4), note.pitch.midi), None)
                    if note.tie and note.tie.type != "start"
                    else None
                )
                if before is None:
                    before = [onset, 0.0, note.pitch.midi, staff]
                    found.append(before)
                before[1] += length
                if note.tie and note.tie.type != "stop":
                    held[round(onset + length, 4), note.pitch.midi] = before
    return [tuple(note) for note in found]


def by_partitura(text: str, path) -> list[Note]:
    partitura = pytest.importorskip("partitura")
    path.write_text(text, encoding="utf-8")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        part = partitura.load_musicxml(str(path), force_note_ids=True)[0]
    array = part.note_array(include_staff=True)
    return [(n["onset_quarter"], n["duration_quarter"], n["pitch"], n["staff"]) for n in array]


def by_mido(data: bytes) -> list[Note]:
    """Onset and length in quarters from the first bar line after the bar that is counted in, of both hands."""
    file = mido.MidiFile(file=io.BytesIO(data))
    found: list[Note] = []
    for track in file.tracks:
        staff = {"melody": 1, "left hand": 2}.get(track.name)
        at, began = 0, {}
        for message in track:
            at += message.time
            if staff is None or message.type not in ("note_on", "note_off"):
                continue
            if message.type == "note_on" and message.velocity:
                began[message.note] = at
            else:
                start = began.pop(message.note)
                found.append((start / file.ticks_per_beat, (at - start) / file.ticks_per_beat, message.note, staff))
    return found
