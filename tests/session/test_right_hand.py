"""The melody note by note: places, chords, fingers; versions of it that strike notes again."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from companion.chart.reader import parse_chart
from companion.groove.swung_choice import BarVersion, SwungChoice
from companion.session.note_places import note_places
from companion.session.own import own_stand
from companion.session.right_hand import right_hand
from companion.session.stand import Stand
from companion.store.library import find_song
from companion.store.own_melody import save_fingers
from companion.theory.key import Key

CHART = """
title = "Lantern Street"
key = "F"
meter = "4/4"
tempo = 100
feel = "swing"
form = "A A B"
pickup = 1
[section.A]
bars = "F6 | D7 | Gm7 C7 | N.C."
melody = "C2 | F2 G2 A4- | A2 z2 c4 | B2 A2 c4- | c4 z4"
[section.B]
meter = "3/4"
bars = "A7 | D7"
melody = "(3efe d2 c2 | A6"
"""


@pytest.fixture
def stand(settings) -> Stand:
    return Stand.put(parse_chart(CHART, id="lantern-street"), settings)


def test_every_note_stands_in_its_bar_with_its_whole_length(stand):
    rows = [(n.section, n.occurrence, n.bar, n.beat, n.beats, str(n.note.pitch), n.degree) for n in right_hand(stand)]
    third = Fraction(1, 3)
    first = [
        ("A", 1, 0, 4, 1, "C4", None),  # a pickup without a chord
        ("A", 1, 1, 1, 1, "F4", "1"),
        ("A", 1, 1, 2, 1, "G4", "9"),
        ("A", 1, 1, 3, 3, "A4", "3"),  # tied over the bar line: one note, told by the chord where it begins
        ("A", 1, 2, 3, 2, "C5", "b7"),
        ("A", 1, 3, 1, 1, "Bb4", "b3"),
        ("A", 1, 3, 2, 1, "A4", "9"),
        ("A", 1, 3, 3, 4, "C5", "1"),  # the second chord of the bar
    ]
    assert rows[:8] == first
    assert rows[8:15] == [(section, 2, *rest) for section, _, *rest in first[1:]]
    assert rows[15:] == [
        ("B", 1, 1, 1, third, "E5", "5"),
        ("B", 1, 1, 1 + third, third, "F5", "b13"),
        ("B", 1, 1, 1 + 2 * third, third, "E5", "5"),
        ("B", 1, 1, 2, 1, "D5", "11"),
        ("B", 1, 1, 3, 1, "C5", "#9"),
        ("B", 1, 2, 1, 3, "A4", "5"),
    ]
    assert all(1 <= note.finger <= 5 for note in right_hand(stand))


def test_a_section_that_comes_again_is_fingered_as_before(stand):
    """Also without the upbeat that it has the first time."""
    for pc in range(12):
        fingers = [note.finger for note in right_hand(stand.with_key(Key.usual(pc)))]
        assert fingers[1:8] == fingers[8:15]


def test_own_fingers_are_kept_wherever_the_section_comes(stand, paths, settings):
    song = stand.original
    places = note_places(stand.bars, [note for note in stand.written if note.pitch])
    assert places[0] == ("A", 0, 1) and places[1] == ("A", 1, 1) and places[15] == ("B", 1, 1)
    save_fingers(paths, song.id, {("A", 3, 2): 5, ("A", 0, 1): 3})
    own = right_hand(own_stand(song, settings, paths))
    assert own[0].finger == 3
    assert [note.finger for note in own if (note.section, note.bar, note.beat) == ("A", 3, 2)] == [5, 5]
    assert right_hand(stand)[0].finger != 3


def test_a_version_that_strikes_notes_again_keeps_the_fingers(stand):
    """Pitches and order are those of what is written."""
    written = stand.written
    split = []
    for note in written:
        half = note.ticks // 2
        split += [replace(note, ticks=half), replace(note, start_tick=note.start_tick + half, ticks=note.ticks - half)]
    version = replace(stand, melody=tuple(split))
    plain = right_hand(stand)
    fingers = iter(right_hand(version))
    assert [(next(fingers).finger, next(fingers).finger) for _ in plain] == [
        (note.finger, note.finger) for note in plain
    ]


def test_a_melody_put_up_an_octave_keeps_its_fingers(paths, settings):
    song = find_song("half-a-word-before", paths, settings)
    low = Stand.put(song, settings, room_by="shells").with_key("Eb")
    high = low.with_room_by("octave")
    assert [note.midi + 12 for note in right_hand(low)] == [note.midi for note in right_hand(high)]
    assert [note.finger for note in right_hand(low)] == [note.finger for note in right_hand(high)]


def test_a_song_without_a_melody_has_no_notes(settings):
    assert right_hand(Stand.put(parse_chart(CHART.replace("melody =", "# "), id="x"), settings)) == ()


@pytest.mark.parametrize("version", [1, 2, 3])
def test_swung_versions_keep_the_fingers_of_their_notes(paths, settings, version):
    def in_order(stand) -> list[tuple[int, int]]:
        """Note and finger, a note struck again once."""
        notes = [(note.midi, note.finger) for note in right_hand(stand)]
        return [note for before, note in zip([None, *notes], notes) if note != before]

    for song in ("ferry-at-half-past-six", "kettle-on-the-sill"):
        stand = Stand.put(find_song(song, paths, settings), settings)
        swung = stand.with_swung(SwungChoice(BarVersion(version, 0)))
        assert swung.melody != stand.melody and in_order(swung) == in_order(stand)
