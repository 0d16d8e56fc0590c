"""Dance tunes made at random come in with the form, bars, notes and chords they were made of, from ABC and from MusicXML, and
music21 (BSD licence) reads the same notes in the same measures. COMPANION_MANY=1000 in the environment tries more."""

from __future__ import annotations

import os
from fractions import Fraction

import pytest
from musicxml_made import read as read_xml
from tunes_made import METERS, abc, make, musicxml

from companion.chart.melody import chorus_melody
from companion.chart.reader import parse_chart
from companion.chart.writer import write_chart
from companion.importing.abc import read_abc
from companion.importing.compose import compose
from companion.theory.symbols import parse_chord

MANY = int(os.environ.get("COMPANION_MANY", "60"))


def read(text: str):
    sheet = read_abc(text)
    song = compose(sheet, "made")
    return parse_chart(write_chart(song), id=song.id), list(sheet.remarks)


def check(tune, song):
    assert " ".join(song.form) == tune.form
    assert song.key.name == tune.key.name and song.meter.name == tune.meter
    sounding = [
        (Fraction(note.start_tick, 960), Fraction(note.ticks, 960), note.pitch.midi)
        for note in chorus_melody(song)
        if note.pitch
    ]
    assert sounding == tune.sounding()
    bars = song.unroll()
    chords = tune.chords()
    assert len(bars) == len(chords)
    assert [bar.chords[0].chord for bar in bars] == [parse_chord(symbol) for symbol in chords]


@pytest.mark.parametrize("seed", range(MANY))
def test_a_tune_in_abc(seed):
    tune = make(seed)
    song, remarks = read(abc(tune))
    check(tune, song)
    assert not [remark for remark in remarks if remark.startswith("bar")]


@pytest.mark.parametrize("seed", range(MANY, MANY + max(10, MANY // 4)))
def test_a_tune_in_musicxml(seed):
    pytest.importorskip("music21")
    tune = make(seed)
    song, remarks = read_xml(musicxml(tune))
    check(tune, song)
    assert not [remark for remark in remarks if remark.startswith("bar")]


@pytest.mark.parametrize("seed", range(8))
def test_music21_reads_the_same_measures(seed):
    music21 = pytest.importorskip("music21")
    tune = make(seed)
    part = music21.converter.parse(musicxml(tune), format="musicxml").parts[0]
    measures = list(part.getElementsByClass(music21.stream.Measure))
    written = [
        bar
        for strain in tune.strains
        for bar in ([strain.upbeat] if strain.upbeat else []) + strain.bars + strain.endings
    ]
    assert len(measures) == len(written) and METERS[tune.meter]
    for measure, bar in zip(measures, written):
        theirs = [(Fraction(note.quarterLength), note.pitch.midi) for note in measure.notes if note.isNote]
        assert theirs == [(each.eighths / 2, each.pitch.midi) for each in bar.notes if each.pitch]
