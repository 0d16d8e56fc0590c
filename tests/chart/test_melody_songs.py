"""The melodies of the songs that come with the companion, and melodies in other keys.

music21 (BSD licence) moves the same notes by the same interval, as a second opinion.
"""

from __future__ import annotations

import pytest
from shipped import SONGS, spread

from companion.chart.melody import chorus_melody, pickup_ticks_of, section_melody
from companion.chart.reader import parse_chart
from companion.chart.transpose import melody_shift, transpose
from companion.chart.writer import write_chart
from companion.theory.key import Key

WITH_MELODY = [song for song in SONGS if any(section.melody for section in song.sections.values())]


def test_the_songs_have_melodies():
    whole = [song for song in SONGS if all(section.melody for section in song.sections.values())]
    assert len(whole) >= 12


@pytest.mark.parametrize("song", WITH_MELODY, ids=lambda song: song.id)
def test_a_melody_fills_its_bars_exactly_and_can_be_sung(song):
    for name, section in song.sections.items():
        notes = section_melody(song, name)
        start = notes[0].start_tick
        assert start in (0, -pickup_ticks_of(song, name))
        assert sum(note.ticks for note in notes) == len(section.bars) * section.meter.bar_ticks - start
        pitches = [note.pitch.midi for note in notes if note.pitch]
        # Common practice: a tune for singers stays within an octave and a half or so, on the treble staff.
        assert max(pitches) - min(pitches) <= 19
        assert min(pitches) >= 57 and max(pitches) <= 81  # A3 to A5
    ticks = sum(bar.meter.bar_ticks for bar in song.unroll())
    assert sum(note.ticks for note in chorus_melody(song) if note.start_tick >= 0) == ticks


@pytest.mark.parametrize("song", WITH_MELODY, ids=lambda song: song.id)
def test_melody_and_chords_agree(song):
    """Common practice: a long note on a strong beat is mostly a tone of its chord, or one of its usual tensions."""
    long, fitting = 0, 0
    for name, section in song.sections.items():
        for note in section_melody(song, name):
            if note.pitch is None or note.start_tick < 0 or note.ticks < 1440:
                continue
            bar, tick = divmod(note.start_tick, section.meter.bar_ticks)
            chords = [
                placed.chord
                for placed in section.bars[bar].chords
                if placed.beat * section.meter.beat_ticks <= tick and placed.chord
            ]
            if chords:
                long += 1
                semitones = (note.pitch.tone.pc - chords[-1].root.pc) % 12
                tensions = {2, 9} | ({5} if "b3" in chords[-1].degrees else set())
                fitting += note.pitch.tone.pc in chords[-1].pitch_classes or semitones in tensions
    assert long == 0 or fitting / long >= 0.85


@pytest.mark.parametrize("song", WITH_MELODY, ids=lambda song: song.id)
def test_a_song_with_its_melody_is_read_back_the_same(song):
    again = parse_chart(write_chart(song))
    assert [section.melody for section in again.sections.values()] == [
        section.melody for section in song.sections.values()
    ]
    assert chorus_melody(again) == chorus_melody(song)


@pytest.mark.parametrize("pc", spread(range(12), 5, 1))
def test_music21_moves_the_melodies_to_the_same_notes(pc):
    from music21 import interval, pitch

    for song in WITH_MELODY:
        new = Key.usual(pc, song.key.mode)
        shift = melody_shift(song.key.tonic, new.tonic)
        assert -6 <= shift <= 6
        moved = transpose(song, new)
        for name, section in song.sections.items():
            old_tonic, new_tonic = section.key.tonic, moved.sections[name].key.tonic
            start = pitch.Pitch(old_tonic.name.replace("b", "-") + "4")
            end = pitch.Pitch(new_tonic.name.replace("b", "-") + "4")
            end.octave += round((start.ps + shift - end.ps) / 12)
            steps = interval.Interval(start, end)
            assert steps.semitones == shift
            before, after = section_melody(song, name), section_melody(moved, name)
            assert [(note.start_tick, note.ticks) for note in before] == [
                (note.start_tick, note.ticks) for note in after
            ]
            for ours, theirs in zip(after, before):
                if theirs.pitch is None:
                    assert ours.pitch is None
                    continue
                expected = pitch.Pitch(theirs.pitch.name.replace("b", "-")).transpose(steps)
                assert ours.pitch.midi == expected.ps
                strange = abs(expected.alter) > 1 or expected.name in ("B#", "E#", "C-", "F-")
                if not strange:
                    assert ours.pitch.name == expected.nameWithOctave.replace("-", "b")
                else:
                    assert abs(ours.pitch.tone.alter) <= 1


@pytest.mark.parametrize("song", WITH_MELODY, ids=lambda song: song.id)
def test_there_and_back_again(song):
    for pc in range(12):
        back = transpose(transpose(song, Key.usual(pc, song.key.mode)), song.key)
        for name in song.sections:
            before = [(note.start_tick, note.pitch and note.pitch.midi) for note in section_melody(song, name)]
            after = [(note.start_tick, note.pitch and note.pitch.midi) for note in section_melody(back, name)]
            assert before == after
