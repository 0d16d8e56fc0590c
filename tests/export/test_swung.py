"""The version of the melody that is chosen is what leaves the companion, read back by music21 and mido."""

from __future__ import annotations

import io
import warnings

import mido
import music21
import pytest

from companion.export.midi import midi_bytes
from companion.export.musicxml import musicxml_text
from companion.export.options import ExportOptions
from companion.export.score import score_of
from companion.groove.swung_choice import BarVersion, SwungChoice
from companion.session.stand import Stand


@pytest.fixture
def stand(on_stand) -> Stand:
    return on_stand("left-sock-blues").with_swung(SwungChoice(BarVersion(1))).change(swing_ratio=2.0)


def sung(stand: Stand) -> list[tuple[float, float, int]]:
    return [(note.start_tick / 960, note.ticks / 960, note.pitch.midi) for note in stand.melody if note.pitch]


@pytest.mark.xdist_group("music21")
def test_musicxml_writes_it(stand) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        score = music21.converter.parse(musicxml_text(score_of(stand)), format="musicxml", forceSource=True)
    notes = score.parts[0].flatten().stripTies().notes
    read = [(float(note.offset), float(note.quarterLength), note.pitch.midi) for note in notes if note.isNote]
    assert read == sung(stand) != sung(stand.with_swung(SwungChoice()))


def test_midi_plays_it(stand, settings) -> None:
    """In triplets: an off-beat two thirds into its beat; after the bar counted in."""
    counted = stand.change(count_in_bars=1)
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(counted, ExportOptions(parts=("right",)), settings)))
    [track] = [track for track in file.tracks if track.name == "melody"]
    at, heard = 0, []
    for message in track:
        at += message.time
        if message.type == "note_on" and message.velocity:
            heard.append((at / file.ticks_per_beat - 4, message.note))
    due = [(start // 1 + (2 / 3 if start % 1 else 0), midi) for start, _, midi in sung(stand)]
    assert [note for _, note in heard] == [note for _, note in due]
    assert [start for start, _ in heard] == pytest.approx([start for start, _ in due], abs=0.001)
    late = midi_bytes(stand.change(laid_back=True), ExportOptions(parts=("right",)), settings)
    assert late != midi_bytes(stand, ExportOptions(parts=("right",)), settings)
