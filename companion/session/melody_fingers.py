"""The right hand's fingers for the melody alone: the student's own, else the least by phrase."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from companion.chart.melody import MelodyNote, NotePlace
from companion.chart.model import FormBar, Song
from companion.chart.phrases import melody_phrases
from companion.hands.right.fingering import HandPhrase, finger_phrases
from companion.session.note_places import as_written, note_places


def written_fingers(
    song: Song, bars: Sequence[FormBar], written: Sequence[MelodyNote], own: Mapping[NotePlace, int]
) -> list[int]:
    """A finger for each note that sounds, as they are written."""
    pins = iter([own.get(place) for place in note_places(bars, written)])
    phrases = []
    for phrase in melody_phrases(written, bars):
        first = bars[phrase.first_bar]
        held = {at: finger for at, (_, finger) in enumerate(zip(phrase.notes, pins)) if finger is not None}
        onsets = tuple(note.start_tick for note in phrase.notes)
        upbeat = sum(onset < first.start_tick for onset in onsets)
        keys = tuple(note.pitch.midi for note in phrase.notes if note.pitch is not None)
        key = song.sections[first.section].key
        phrases.append(HandPhrase(keys, onsets, key, held, upbeat if upbeat < len(onsets) else 0))
    return [finger for fingers in finger_phrases(phrases) for finger in fingers]


def played_fingers(
    song: Song,
    bars: Sequence[FormBar],
    written: Sequence[MelodyNote],
    played: Sequence[MelodyNote],
    own: Mapping[NotePlace, int],
) -> list[int]:
    """A finger for each note that sounds, in the version that is played."""
    of_written = written_fingers(song, bars, written, own)
    return [of_written[at] for at in as_written(written, played)]
