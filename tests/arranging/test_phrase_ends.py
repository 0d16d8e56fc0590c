"""What the left hand does where phrases end, over our songs in every key, held against a checker that knows nothing of how it is made."""

from __future__ import annotations

import random

import pytest
from shipped import SONGS
from walks_checker import faults

from companion.arranging.phrase_ends import phrase_ends
from companion.chart.reader import parse_chart
from companion.hands.left.phrase_end import melody_agrees, passing_chords
from companion.session.stand import Stand
from companion.theory.key import Key
from companion.theory.pitch import Pitch
from companion.theory.symbols import parse_chord


def ends_of(stand, order=None, *, comes_again=True):
    right = [(note.start_tick, note.end_tick, (note.pitch.midi,)) for note in stand.melody if note.pitch is not None]
    keys = {name: section.key for name, section in stand.song.sections.items()}
    order = range(len(stand.bars)) if order is None else order
    return phrase_ends(
        stand.bars, stand.part, right, order, keys, stand.hand.lowest_root, comes_again=comes_again
    ), right


def plain(stand, found, right):
    """(what the checker takes, what stands there) of every end."""
    bars = stand.bars
    for index, here in found.items():
        chord = here.bar.chords[here.chord].chord
        placed, choice = stand.choices_at((index + 1) % len(bars))[0]
        start = here.bar.start_tick + bars[index].meter.ticks(here.bar.chords[here.chord].beat)
        pulse = here.bar.meter.pulse_ticks
        above = [
            [key for begin, end, keys in right if begin < tick + pulse and end > tick for key in keys]
            for tick in range(start, here.bar.end_tick, pulse)
        ]
        goal_root = placed.chord.root.pc if placed.chord else 0
        goal = choice.shell.lower.midi if choice.shell else 0
        steps = [semitones % 12 for semitones in chord.semitones]
        notes = [pitch.midi for pitch in here.end.pitches]
        yield (here.end.kind, notes, here.end.fingers, chord.root.pc, steps, goal, goal_root, 40, above), here


def test_no_rule_is_broken_in_any_song(settings, deep):
    kinds, phrases = set(), 0
    for number, song in enumerate(SONGS):
        stand = Stand.put(song, settings)
        for pc in range(12) if deep else (song.key.tonic.pc, (song.key.tonic.pc + 7) % 12)[: 1 + (number % 3 == 1)]:
            moved = stand if pc == song.key.tonic.pc else stand.with_key(Key.usual(pc, song.key.mode))
            found, right = ends_of(moved)
            for told, here in plain(moved, found, right):
                assert not faults(*told), (song.id, pc, told, here)
                assert here.end.why.endswith(".")
                assert here.tick + here.note_ticks * len(here.end.pitches) == here.bar.meter.bar_ticks
                kinds.add(here.end.kind)
            phrases += len(found)
    assert kinds == {"walk", "dominant"} and phrases > 80


def test_the_checker_sees_walks_that_were_spoiled(settings):
    chance, seen, spoiled = random.Random(9), 0, 0
    for song in SONGS:
        stand = Stand.put(song, settings)
        found, right = ends_of(stand)
        for told, _ in plain(stand, found, right):
            kind, notes, *rest = told
            at = chance.randrange(len(notes))
            for step in (-12, 5, -6):
                bad = [*notes[:at], notes[at] + step, *notes[at + 1 :]]
                spoiled += 1
                seen += bool(faults(kind, bad, *rest))
    assert seen == spoiled > 200


TUNE = """
title = "Spare Buttons"
key = "C"
meter = "4/4"
tempo = 100
feel = "swing"
form = "A A B A"
[section.A]
bars = "Dm7 | G7 | C6 | C6"
[section.B]
bars = "Fmaj7 | Fm6 | Dm7 | G7"
"""


@pytest.fixture
def stand(settings):
    return Stand.put(parse_chart(TUNE.replace("Dm7 | G7 | C6 | C6", "C6 | Dm7 | G7 | C6"), id="buttons"), settings)


def test_what_ends_a_phrase_goes_by_what_follows(stand):
    """Common practice: back to the same chord the dominant, on to the bridge a walk, at the very end a rest."""
    found, _ = ends_of(stand, comes_again=False)
    assert {index: here.end.kind for index, here in found.items()} == {3: "dominant", 7: "walk", 11: "walk", 15: "rest"}
    assert next(pitch.midi % 12 for pitch in found[3].end.pitches) == 7
    assert [pitch.tone.name for pitch in found[7].end.pitches][-1] == "E", "into F"
    assert ends_of(stand)[0][15].end.kind == "dominant", "another chorus follows"


def test_in_a_loop_it_goes_by_what_the_loop_brings(stand):
    """The second A alone, again and again: no walk into a bridge that does not come."""
    found, _ = ends_of(stand, range(4, 8))
    assert [here.end.kind for here in found.values()] == ["dominant"]


def test_shells_that_walk_change_the_chart_only_where_the_melody_agrees():
    """Common practice: I, II minor seventh, III minor seventh into the fourth degree."""
    c, f = parse_chord("C6"), parse_chord("Fmaj7")
    assert [chord.symbol for chord in passing_chords(c, f, 4)] == ["Dm7", "Em7"]
    assert [chord.symbol for chord in passing_chords(c, c, 4)] == ["G7"]
    assert passing_chords(parse_chord("C7"), f, 4) == () == passing_chords(c, parse_chord("Dm7"), 4)
    assert melody_agrees(parse_chord("Em7"), [Pitch.parse("G4")], ()) and not melody_agrees(
        parse_chord("Em7"), [Pitch.parse("C5")], ("9", "11")
    )
