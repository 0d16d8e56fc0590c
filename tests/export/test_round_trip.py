"""A chart that goes out as MusicXML comes in again as the same tune: bars, chords, form, keys and melody."""

from __future__ import annotations

from musicxml_made import read

from companion.chart.melody import chorus_melody
from companion.export.musicxml import musicxml_text
from companion.export.score import score_of


def test_every_song_comes_back(all_stands) -> None:
    for stand in all_stands:
        song = stand.song
        again, remarks = read(musicxml_text(score_of(stand)))
        assert (again.title, again.key, again.meter, again.tempo_bpm) == (
            song.title,
            song.key,
            song.meter,
            song.tempo_bpm,
        )
        assert (again.form, again.pickup, again.feel) == (song.form, song.pickup, song.feel), song.id
        for before, after in zip(song.unroll(), again.unroll(), strict=True):
            assert (after.section, after.start_tick, after.meter) == (before.section, before.start_tick, before.meter)
            assert _sounding(after) == _sounding(before), (song.id, before.section, before.bar)
        assert {name: section.key for name, section in again.sections.items()} == {
            name: section.key for name, section in song.sections.items()
        }
        notes = [note for note in chorus_melody(song) if note.pitch]
        assert [note for note in chorus_melody(again) if note.pitch] == notes, song.id
        assert remarks == ["of 2 staves only number 1 is taken as the melody"], song.id


def _sounding(bar) -> list[tuple]:
    return [
        (placed.beat, placed.beats, placed.chord and (placed.chord.root, placed.chord.degrees, placed.chord.bass))
        for placed in bar.chords
    ]
