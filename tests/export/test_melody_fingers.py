"""The right hand's fingers on MusicXML and sheets: read back by music21, and only where they are asked for."""

from __future__ import annotations

import re

import pytest
from export.test_musicxml import assert_valid, read, read_by_music21, staves

from companion.chart.reader import parse_chart
from companion.export.formats import export
from companion.export.musicxml import musicxml_text
from companion.export.options import ExportError, ExportOptions
from companion.export.score import score_of
from companion.session.right_hand import right_hand
from companion.session.stand import Stand

# A pickup, ties within and over bars, a triplet, a rest.
TUNE = """
title = "Lantern Street"
key = "Ab"
meter = "4/4"
tempo = 100
feel = "swing"
form = "A A"
pickup = 1
[section.A]
bars = "Ab6 | F7 | Bbm7 Eb7 | Ab6"
melody = "E2 | A3 B c4- | c2 z2 (3cde f2- | f4 e2 d2 | c8"
"""


@pytest.fixture
def tune(settings) -> Stand:
    return Stand.put(parse_chart(TUNE, id="lantern-street"), settings)


def printed(text: str, staff: int = 1) -> list[tuple[str, str]]:
    """(note, finger) of a staff as music21 reads it, notes that are held on without one."""
    found = []
    for note in staves(read(text))[staff - 1].recurse().getElementsByClass("Note"):
        fingers = [each.fingerNumber for each in note.articulations if each.classes[0] == "Fingering"]
        held = note.tie is not None and note.tie.type != "start"
        assert len(fingers) == (0 if held else 1), note
        if not held:
            found.append((note.nameWithOctave.replace("-", "b"), str(fingers[0])))
    return found


@read_by_music21
def test_music21_reads_the_fingers_of_the_melody(tune, on_stand, musicxml_schema):
    for stand in (tune, on_stand("rowing-home-the-long-way")):
        text = musicxml_text(score_of(stand, fingers=True))
        assert_valid(musicxml_schema, text)
        assert printed(text) == [(str(each.note.pitch), str(each.finger)) for each in right_hand(stand)]


def fingers_in(stand: Stand, path, **options) -> int:
    """How many fingerings stand above notes in the file."""
    export(stand, path, ExportOptions(force=True, **options), None)
    return len(re.findall(r'<fingering placement="above">[1-5]</fingering>', path.read_text(encoding="utf-8")))


def test_they_stand_where_they_are_asked_for_or_the_student_plays_the_melody(tune, tmp_path):
    path, notes = tmp_path / "x.musicxml", len(right_hand(tune))
    assert fingers_in(tune, path) == 0
    assert fingers_in(tune, path, fingers=True) == notes
    assert fingers_in(tune, path, hands="both") == fingers_in(tune, path, hands="right") == notes
    assert fingers_in(tune, path, hands="left") == 0
    assert fingers_in(tune.with_hands("both"), path) == notes
    assert fingers_in(tune.with_loop(range(4, 8), "A"), path, fingers=True) == len(
        [n for n in right_hand(tune) if n.occurrence == 2]
    )


def test_a_loop_that_begins_under_a_held_note_has_no_finger_for_it(tune, tmp_path):
    one = tune.with_loop((1,), "bar 2")
    assert fingers_in(one, tmp_path / "x.musicxml", fingers=True) == 4


def test_fingers_are_for_staves(tune, tmp_path):
    for ending in (".mid", ".txt", ".wav"):
        with pytest.raises(
            ExportError, match="fingers stand on a staff: expected a target ending in .musicxml, .svg or .pdf"
        ):
            export(tune, tmp_path / f"x{ending}", ExportOptions(fingers=True), None)


def test_the_sheet_has_them_all(tune, settings, tmp_path):
    """Once round: the second time is a repeat sign."""
    [path] = export(tune, tmp_path / "x.svg", ExportOptions(fingers=True), settings)
    texts = re.findall(r'class="fing".*?aria-label="([1-5])"', path.read_text(encoding="utf-8"), re.S)
    shells = [finger for choice in tune.part.choices[:5] if choice.shell for finger in choice.fingers.split("-")]
    assert sorted(texts) == sorted([*shells, *(str(each.finger) for each in right_hand(tune) if each.occurrence == 1)])
