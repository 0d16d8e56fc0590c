"""Songs in every key, checked against music21 (https://music21.org): its transposition of roots, its key signatures."""

from __future__ import annotations

from dataclasses import replace

import pytest
from chart_strategies import songs
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import interval as m21_interval
from music21 import key as m21_key
from music21 import pitch as m21_pitch
from shipped import SONGS

from companion.chart.reader import parse_chart, song_from_line
from companion.chart.transpose import transpose
from companion.chart.writer import write_chart
from companion.errors import SettingsError
from companion.theory.key import Key
from companion.theory.pitch import Tone
from companion.theory.shell_kinds import Pin

TWELVE = range(12)


def m21_name(tone: Tone) -> str:
    return tone.name.replace("b", "-")


def chords_of(song):
    return [placed.chord for section in song.sections.values() for bar in section.bars for placed in bar.chords]


def names_of(song):
    return [name for name, section in song.sections.items() for bar in section.bars for _ in bar.chords]


@pytest.mark.parametrize("mode", ["major", "minor"])
@pytest.mark.parametrize("pc", TWELVE)
def test_signatures_of_the_usual_keys(pc, mode):
    """Reference: music21.key.Key(tonic, mode).sharps."""
    key = Key.usual(pc, mode)
    tonic = m21_name(key.tonic)
    assert key.fifths == m21_key.Key(tonic if mode == "major" else tonic.lower(), mode).sharps
    assert abs(key.fifths) <= 6


@pytest.mark.parametrize("song", SONGS, ids=lambda song: song.id)
def test_every_song_in_twelve_keys_has_music21s_roots(song):
    """Reference: music21.interval.Interval from tonic to tonic, applied to each root and bass."""
    for pc in TWELVE:
        moved = transpose(song, Key.usual(pc, song.key.mode))
        distance = m21_interval.Interval(
            m21_pitch.Pitch(m21_name(song.key.tonic)), m21_pitch.Pitch(m21_name(moved.key.tonic))
        )
        # A section's own key may be respelled as a whole (B for C flat); the spelling rule then holds within it.
        respelled = {name for name, section in moved.sections.items() if section.key != moved.key}
        for name, before, after in zip(names_of(song), chords_of(song), chords_of(moved), strict=True):
            if before is None:
                assert after is None
                continue
            for old, new in ((before.root, after.root), (before.bass, after.bass)):
                if old is not None:
                    expected = m21_pitch.Pitch(m21_name(old)).transpose(distance)
                    assert new.pc == expected.pitchClass
                    if expected.name == m21_name(new) or name in respelled:
                        continue
                    # Respelled only where music21's name is hard to read: a double sign, or B#, E#, Cb, Fb.
                    assert abs(expected.alter) == 2 or expected.name in ("B#", "E#", "C-", "F-"), (
                        expected.name,
                        new.name,
                    )


@pytest.mark.parametrize("song", SONGS, ids=lambda song: song.id)
def test_through_all_keys_and_back_the_chords_sound_the_same(song):
    moved = song
    for pc in [*TWELVE, song.key.tonic.pc]:
        moved = transpose(moved, Key.usual(pc, song.key.mode))
    assert moved.key == song.key
    for before, after in zip(chords_of(song), chords_of(moved), strict=True):
        assert (before is None) == (after is None)
        if before is not None:
            assert (before.root.pc, before.pitch_classes, before.degrees) == (
                after.root.pc,
                after.pitch_classes,
                after.degrees,
            )
            assert (before.bass.pc if before.bass else None) == (after.bass.pc if after.bass else None)


@settings(deadline=None)
@given(songs(), st.integers(0, 11))
def test_any_song_in_any_key_can_be_written_and_read_again(song, pc):
    moved = transpose(song, Key.usual(pc, song.key.mode))
    assert moved.key.tonic.pc == pc and moved.key.mode == song.key.mode
    assert (moved.pins, moved.form, moved.title, moved.pickup) == (song.pins, song.form, song.title, song.pickup)
    for before, after in zip(song.sections.values(), moved.sections.values(), strict=True):
        assert (after.key.tonic.pc - before.key.tonic.pc - moved.key.tonic.pc + song.key.tonic.pc) % 12 == 0
        assert abs(after.key.fifths) <= 6 and after.key.mode == before.key.mode
    again = parse_chart(write_chart(moved), id=song.id)
    assert chords_of(again) == chords_of(moved), "the new symbols say what the new chords are"
    for before, after in zip(chords_of(song), chords_of(moved), strict=True):
        if before is not None:
            shift = moved.key.tonic.pc - song.key.tonic.pc
            assert after.pitch_classes == {(tone + shift) % 12 for tone in before.pitch_classes}
            assert abs(after.root.alter) <= 1


def test_spelling_follows_the_key():
    song = song_from_line("Cmaj7 | Am7 | Dm7 | G7 | F/A | Db7", key=Key.parse("C"))
    assert [chord.symbol for chord in chords_of(transpose(song, "Db"))] == [
        "Dbmaj7",
        "Bbm7",
        "Ebm7",
        "Ab7",
        "Gb/Bb",
        "D7",
    ]
    assert [chord.symbol for chord in chords_of(transpose(song, "E"))] == ["Emaj7", "C#m7", "F#m7", "B7", "A/C#", "F7"]
    assert [chord.symbol for chord in chords_of(transpose(song, "Gb"))][4] == "Cb/Eb", "the fourth of G flat is C flat"


def test_the_key_may_be_a_key_a_tone_or_a_word():
    song = song_from_line("Cm7 | F7")
    expected = transpose(song, Key.parse("Ebm"))
    assert expected.key.name == "Ebm" and [chord.symbol for chord in chords_of(expected)] == ["Ebm7", "Ab7"]
    assert transpose(song, "Eb") == transpose(song, "Ebm") == transpose(song, Tone("E", -1)) == expected
    assert transpose(song, "Cm") is song
    with pytest.raises(SettingsError, match="'H' is not a key; expected such as Bb"):
        transpose(song, "H")


def test_a_key_with_many_sharps_is_kept_where_it_was_asked_for_by_name():
    song = song_from_line("Cmaj7", key=Key.parse("C"))
    assert transpose(song, "B#").key.name == "B#" and chords_of(transpose(song, "B#"))[0].symbol == "B#maj7"
    assert transpose(song, Key.usual(0)).key.name == "C"


def test_section_keys_move_along_in_a_key_one_can_read():
    song = next(song for song in SONGS if song.id == "next-landing-but-one")
    moved = transpose(song, "Ab")
    # A minor third above A flat is C flat: seven flats. B has five sharps and is what one writes (common practice).
    assert moved.sections["B"].key.name == "B"
    assert [bar.chords[0].chord.symbol for bar in moved.sections["B"].bars[:3]] == ["C#m7", "F#7", "Bmaj7"]
    assert transpose(song, "D").sections["B"].key.name == "F"


def test_pins_stay_and_the_melody_moves():
    song = song_from_line("Cmaj7 | F7")
    section = replace(song.sections["A"], melody="c4 e4 | _e2-e2 z4 |")
    song = replace(song, pins={("A", 1, 1): Pin("root-seventh")}, sections={"A": section})
    moved = transpose(song, "D")
    assert moved.pins == song.pins and moved.sections["A"].melody == "d4 f4 | =f2-f2 z4 |"
    assert transpose(song, "C") is song and song.sections["A"].melody == "c4 e4 | _e2-e2 z4 |"


def test_a_text_that_is_no_melody_is_set_aside():
    song = song_from_line("Cmaj7 | F7")
    song = replace(song, sections={"A": replace(song.sections["A"], melody="la la la")})
    assert transpose(song, "D").sections["A"].melody is None


def test_there_and_back_every_chord_is_spelled_as_it_was_written():
    from companion.chart.reader import song_from_line

    song = song_from_line("C#7sus | Db/F | D#m7b5 | Ebm7 | G#sus4 | Cb | E#dim | Cm7b5/Gb | F#7#11", key=Key.parse("C"))
    for first in ("Db", "E", "F#", "Gb", "A", "Bb"):
        for second in ("D", "Eb", "Ab", "B"):
            assert transpose(transpose(transpose(song, first), second), "C") == song
