"""Takes of both hands with voices under the melody, in the timing of people: what was right is right, each slip is found and named by the note of
the melody, and what is held too short is the melody alone. A few songs here, all of ours by `--deep`."""

from __future__ import annotations

import re
from dataclasses import replace

import mido
import pytest
from shipped import SONGS, spread
from voices_played import STARTS_AT_S, played, strokes, with_voices

from companion.practice.marking.apart import by_hand
from companion.session.slip_line import slip_line
from companion.session.stand import Stand
from companion.session.take_file import Recording, read_recording
from companion.session.take_marks import mark_recording
from companion.store.paths import find_paths
from companion.store.settings import load_settings

SUNG = [song.id for song in SONGS if any(section.melody for section in song.sections.values())]
GRID = [(song, voices, seed) for song in SUNG for voices in (1, 2, 3, 4) for seed in range(6)]
# Letters and signs to semitones above C (MIDI 1.0: middle C is note number 60; scientific pitch names, C4).
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11, "#": 1, "b": -1}


def midi(name: str) -> int:
    letters, octave = re.fullmatch(r"([A-G][#b]*)(\d)", name).groups()
    return sum(SEMITONES[sign] for sign in letters) + 12 * (int(octave) + 1)


def put(song: str, voices: int) -> Stand:
    (found,) = (each for each in SONGS if each.id == song)
    return with_voices(Stand.put(found, load_settings(find_paths())), voices)


def marked(stand, presses):
    result = mark_recording(stand, Recording(tuple(presses)), stand.pattern)
    assert result is not None
    return result


def notes_of(result):
    """Second of the stroke as it is written, to the nearest -> the mark of each note of the melody."""
    return [chord for each in result.passes for chord in each.marks.chords if chord.part == "right"]


@pytest.mark.parametrize("which", spread(GRID, 150))
def test_what_hands_play_is_right(which):
    song, voices, seed = which
    stand = put(song, voices)
    presses, _ = played(stand, seed)
    result = marked(stand, presses)
    hands = by_hand(result.together)
    assert {part: own.figures.share_right >= 0.98 for part, own in hands.items()} == {"left": True, "right": True}
    assert not result.together.figures.extra


@pytest.mark.parametrize("which", spread(GRID, 151, 7))
def test_each_slip_is_found_and_named_by_the_note_of_the_melody(which):
    song, voices, seed = which
    stand = put(song, voices)
    presses, slips = played(stand, seed, slips_in=0.15)
    result = marked(stand, presses)
    assert by_hand(result.together)["left"].figures.share_right == 1.0
    due = sorted(at_s for part, at_s in strokes(stand) if part == "right" and at_s >= 0.0)
    chords = {
        min(due, key=lambda at_s, mark=mark: abs(at_s + STARTS_AT_S - mark.strikes[0].expected.due_s)): mark
        for mark in notes_of(result)
    }
    wrongly = [at_s for at_s, mark in chords.items() if at_s not in slips and not mark.is_right]
    assert len(wrongly) <= len(chords) // 50, "a stroke far off a short note may be late"
    missed = [
        (slip, slip_line(stand, chords[at_s]))
        for at_s, slip in slips.items()
        if not is_told(slip, slip_line(stand, chords[at_s]))
    ]
    assert slips and len(missed) <= len(slips) // 20, missed


def is_told(slip, line) -> bool:
    """Whether a line names the slip: of the melody itself, or of what lies under it."""
    found = re.search(r"melody (\S+) +(under the melody: )?(.*)", line)
    if found is None or midi(found[1]) != slip.melody or bool(found[2]) != (slip.key != slip.melody):
        return False
    names = [midi(name) for name in re.findall(r"[A-G][#b]*\d", found[3])]
    if slip.kind == "wrong":
        return "instead of" in line and names == [slip.played, slip.key]
    return "missing" in line and names in ([slip.key], [])


def test_short_is_the_melody_alone():
    stand = put("kettle-on-the-sill", 3)
    presses, _ = played(stand, 3)
    melody = {(part, at_s): max(note for _, _, note in keys) for (part, at_s), keys in strokes(stand).items()}
    tops = {note for (part, _), note in melody.items() if part == "right"}
    below = min(tops)  # what lies lower is never the melody
    inner_short = [
        replace(press, held_s=0.1 * press.held_s) if 60 <= press.note < below else press for press in presses
    ]
    assert any(60 <= press.note < below for press in presses)
    assert {mark.verdict for mark in notes_of(marked(stand, inner_short))} == {"right"}
    all_short = [replace(press, held_s=0.4 * press.held_s) for press in presses]
    result = marked(stand, all_short)
    notes = notes_of(result)
    assert {mark.verdict for mark in notes} == {"short"}
    line = slip_line(stand, notes[0])
    assert "let go too soon" in line and midi(re.search(r"melody (\S+)", line)[1]) in tops


def test_a_key_struck_again_before_it_was_let_go_ends_with_its_own_release(tmp_path):
    """Ticks of a file of 480 to the quarter at its usual 120 a minute (Standard MIDI Files 1.0)."""
    track = mido.MidiTrack()
    for ticks, velocity in ((0, 64), (460, 64), (20, 0), (480, 0)):
        track.append(mido.Message("note_on", note=60, velocity=velocity, time=ticks))
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(tmp_path / "take.mid")
    held = [press.held_s for press in read_recording(tmp_path / "take.mid").presses]
    assert held == pytest.approx([480 / 960, 500 / 960])
