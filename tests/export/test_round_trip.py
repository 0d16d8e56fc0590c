"""A chart that goes out as MusicXML comes in again as the same tune: bars, chords, form, keys and melody."""

from __future__ import annotations

from musicxml_made import read

from companion.chart.melody import chorus_melody
from companion.chart.reader import parse_chart, song_from_line
from companion.export.musicxml import musicxml_text
from companion.export.score import score_of
from companion.session.stand import Stand


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


PICKUP = """
title = "Kettle on the Hob"
key = "G"
meter = "4/4"
form = "A A"
[section.A]
pickup = 1
pickup_chords = "D7"
bars = "G7sus | C:3.5 F:1/2 | F | G7sus"
"""


def test_a_pickup_has_a_rest_of_its_length_and_its_chord_and_an_early_chord_is_printed_once(settings) -> None:
    """MusicXML 4.0, <rest measure="yes"> means a whole measure, which a pickup is not."""
    from xml.etree import ElementTree

    measures = ElementTree.fromstring(musicxml_text(score_of(Stand.put(parse_chart(PICKUP), settings)))).findall(
        "part/measure"
    )
    assert [note.findtext("type") for note in measures[0].iter("note")] == ["quarter", "quarter"]
    assert not [rest for rest in measures[0].iter("rest") if rest.get("measure")]
    assert [len(measure.findall("harmony")) for measure in measures[:5]] == [1, 1, 2, 0, 2]


def test_chords_come_back_as_they_were_written(settings) -> None:
    for symbols in (
        "G7sus | Csus | D-7 | Cmin7 | Fmaj9 | Bbm7b5 | A9sus4 | C#dim7/G",
        "F6/9 | E7alt | Dbmaj7 | B7(b9,#11)",
    ):
        song = Stand.put(song_from_line(symbols), settings)
        again, _ = read(musicxml_text(score_of(song)))
        assert [placed.chord.symbol for bar in again.unroll() for placed in bar.chords] == symbols.split(" | ")
