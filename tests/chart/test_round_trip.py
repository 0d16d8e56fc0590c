"""What is written is read back the same, and what is read comes out in playing order."""

from __future__ import annotations

import itertools
import os
import stat
from dataclasses import replace
from fractions import Fraction

import pytest
from chart_strategies import songs
from hypothesis import given
from hypothesis import strategies as st

from companion.chart.reader import parse_chart, read_chart, song_from_line
from companion.chart.writer import save_chart, write_chart
from companion.errors import ChartError
from companion.theory.meter import Meter
from companion.theory.shell_kinds import Pin


def without_lines(song):
    sections = {
        name: replace(section, bars=tuple(replace(bar, line=0) for bar in section.bars))
        for name, section in song.sections.items()
    }
    return replace(song, sections=sections)


@given(songs())
def test_a_written_song_is_read_back_the_same(song):
    text = write_chart(song)
    again = parse_chart(text, id=song.id)
    assert without_lines(again) == song
    assert list(again.sections) == list(song.sections)
    assert write_chart(again) == text, "writing settles at once"


def test_a_chart_as_a_person_writes_it():
    song = song_from_line("F6 | Bb7:3 C7 | C7(b9) | % | % | N.C. / Gm7 C7")
    assert (
        write_chart(replace(song, title='The "Ferry"', pickup=Fraction(3, 2), pins={("A", 1, 1): Pin("root-fifth")}))
        == '''\
title = "The \\"Ferry\\""
key = "F"
meter = "4/4"
tempo = 120
feel = "swing"
form = "A"
pickup = "1.5"

[section.A]
bars = """
F6     | Bb7:3 C7:1        | C7(b9) | % |
C7(b9) | N.C.:2 Gm7:1 C7:1 |
"""

[shells]
"A.1.1" = "root-fifth"
'''
    )


@given(songs())
def test_a_chorus_unrolled(song):
    bars = song.unroll()
    assert len(bars) == sum(len(song.sections[name].bars) for name in song.form)
    assert [bar.index for bar in bars] == list(range(len(bars)))
    assert bars[0].start_tick == 0
    assert all(bar.end_tick == after.start_tick for bar, after in itertools.pairwise(bars))
    assert bars[-1].end_tick == sum(
        len(song.sections[name].bars) * song.sections[name].meter.bar_ticks for name in song.form
    )
    for bar, after in itertools.zip_longest(bars, bars[1:]):
        section = song.sections[bar.section]
        assert bar.meter == section.meter
        if after is None or after.bar > 1 or not song.sections[after.section].pickup_chords:
            assert bar.chords == section.bars[bar.bar - 1].chords
        assert bar.chords[0].beat == 0
        assert sum((placed.beats for placed in bar.chords), Fraction(0)) == bar.meter.beats
    starts = [(bar.section, bar.occurrence) for bar in bars if bar.bar == 1]
    assert [name for name, _ in starts] == list(song.form)
    assert starts == [(name, song.form[: at + 1].count(name)) for at, name in enumerate(song.form)]


@given(
    st.lists(st.sampled_from(["C", "F7", "N.C."]), min_size=1, max_size=16),
    st.sampled_from(["4/4", "6/8", "5/4", "3/8"]),
)
def test_chords_without_lengths_share_the_bar_evenly(symbols, meter):
    [bar] = song_from_line(" ".join(symbols), Meter.parse(meter)).unroll()
    assert {placed.beats for placed in bar.chords} == {Fraction(bar.meter.beats, len(symbols))}


# --- saving


def test_a_saved_song_replaces_the_old_file_whole(tmp_path):
    path = tmp_path / "tune.toml"
    path.write_text("old")
    song = song_from_line("Dm7 | G7")
    save_chart(song, path)
    again = read_chart(path)
    assert without_lines(replace(again, id=song.id, path="")) == song
    assert os.listdir(tmp_path) == ["tune.toml"]
    link = tmp_path / "link.toml"
    link.symlink_to(path)
    save_chart(replace(song, title="New"), str(link))
    assert link.is_symlink() and read_chart(path).title == "New"


def test_a_new_file_has_the_rights_that_the_person_gives_files(tmp_path):
    plain_file = tmp_path / "plain"
    plain_file.write_text("")
    save_chart(song_from_line("C"), tmp_path / "tune.toml")
    assert stat.S_IMODE((tmp_path / "tune.toml").stat().st_mode) == stat.S_IMODE(plain_file.stat().st_mode)


def test_a_place_that_cannot_be_written(tmp_path):
    song = song_from_line("C")
    for path in (tmp_path / "none" / "tune.toml", tmp_path, tmp_path / "a\0b.toml"):
        with pytest.raises(ChartError, match="the file cannot be written"):
            save_chart(song, path)
    assert os.listdir(tmp_path) == []


def test_a_failed_write_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "tune.toml"
    path.write_text("old")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ChartError, match="No space left"):
        save_chart(song_from_line("C"), path)
    assert path.read_text() == "old" and os.listdir(tmp_path) == ["tune.toml"]
