"""The melody harmonised over our songs: no hard rule broken by a checker that knows nothing of the solver, and the checker itself tried."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from harmony_checker import faults
from harmony_of_songs import chords_of, struck_of, tick_ms_of
from shipped import SONGS

from companion.arranging.choice import ArrangementChoice
from companion.chart.reader import parse_chart
from companion.hands.right.company_reason import why_company
from companion.hands.right.voicings import LIGHT, is_due
from companion.session.stand import Stand
from companion.theory.key import Key


def voiced(stand, voices, tensions=False, notes=None):
    return stand.change(arranged=ArrangementChoice(voices, tensions, notes=notes or {})).harmonised


def right_hand_of(stand, voices, tensions=False):
    notes = voiced(stand, voices, tensions)
    return notes, struck_of(notes), chords_of(stand, tensions)


def test_no_rule_is_broken_in_any_song_and_the_notes_due_have_company(settings, deep):
    """tests/bench/harmony.py has all keys; here each song has its own key, a third of them another too."""
    due = company = 0
    for number, song in enumerate(SONGS):
        stand = Stand.put(song, settings)
        keys = (song.key.tonic.pc, (song.key.tonic.pc + 1 + number) % 12)
        for pc in range(12) if deep else keys[: 1 + (number % 3 == 0)]:
            moved = stand.with_key(Key.usual(pc, song.key.mode))
            for voices, tensions in (
                ((3, False), (3, True), (4, True), (2, False))
                if deep
                else ((3, False), (2 + number % 3, True))[: 1 + number % 2]
            ):
                notes, struck, chords = right_hand_of(moved, voices, tensions)
                assert not faults(struck, chords, tick_ms_of(moved), voices), (song.id, pc, voices)
                assert [keys[-1] for keys in (hand.keys for hand in struck)] == [
                    note.pitch.midi for note in moved.melody if note.pitch
                ]
                if voices == 3:
                    due += sum(is_due(note.stroke, voices) for note in notes)
                    company += sum(len(note.voicing.keys) > 1 for note in notes)
    assert company >= 0.92 * due > 1000


def test_the_checker_sees_notes_that_were_spoiled(settings):
    """An added key moved by a semitone, a note put in, or one held on: what it lets pass must keep the rules by a count of its own."""
    chance, seen, spoiled = random.Random(3), 0, 0
    for song in SONGS[::4]:
        stand = Stand.put(song, settings)
        _, struck, chords = right_hand_of(stand, 3)
        for _ in range(60):
            number = chance.choice([at for at, hand in enumerate(struck) if len(hand.keys) > 1])
            hand = struck[number]
            way = chance.choice(("chromatic", "fingers", "held", "low"))
            if way == "chromatic":  # the semitone beside a chord tone is no chord tone but now and then
                keys = (hand.keys[0] - 1, *hand.keys[1:])
                tones = {
                    pc for chord in chords if chord.start <= hand.start < chord.end for pc in chord.degrees.values()
                }
                if keys[0] % 12 in tones:
                    continue
                bad = replace(hand, keys=keys)
            elif way == "fingers":
                bad = replace(hand, fingers=tuple(reversed(hand.fingers)))
            elif way == "held":
                bad = replace(hand, added_end=hand.end + 1)
            else:
                bad = replace(hand, keys=(hand.keys[0] - 12, *hand.keys[1:]))
            spoiled += 1
            seen += bool(faults([*struck[:number], bad, *struck[number + 1 :]], chords, tick_ms_of(stand), 3))
    assert seen == spoiled > 200


def test_equal_phrases_have_equal_hands(settings):
    """The three As of a song in AABA form, but for the bar before what follows."""
    song = next(song for song in SONGS if song.form[:2] == ("A", "A"))
    stand = Stand.put(song, settings)
    notes = voiced(stand, 3)
    comings = {
        coming: [note.voicing for note in notes if any(bar.section == "A" and bar.occurrence == coming and bar.bar <= 4
                 and bar.start_tick <= note.note.start_tick < bar.end_tick for bar in stand.bars)]
        for coming in (1, 2)
    }  # fmt: skip
    assert comings[1] == comings[2] and comings[1]


TUNE = """
title = "Spare Buttons"
key = "C"
meter = "4/4"
tempo = 100
feel = "swing"
form = "A"
[section.A]
bars = "Cmaj7 | G7 | N.C. | C6"
melody = "g8 | b2 b3 c'- c'2 | g8 | Cedefgab"
"""


@pytest.fixture
def tune(settings):
    return Stand.put(parse_chart(TUNE, id="spare-buttons"), settings)


def test_no_chord_and_quick_notes_stay_alone(settings, tune):
    notes = voiced(tune, 4)
    alone = [note.note.pitch.name for note in notes if len(note.voicing.keys) == 1]
    assert notes[0].voicing.keys != () and "G5" in alone, "over N.C. there is nothing to add"
    eighths = Stand.put(parse_chart(TUNE.replace("tempo = 100", "tempo = 160"), id="spare-buttons"), settings)
    quick = [note for note in voiced(eighths, 4) if note.stroke.room_ms < 200]
    assert quick and all(len(note.voicing.keys) == 1 for note in quick)


def test_light_beats_are_thinner_and_say_so_where_nothing_is_added(settings):
    """Common practice: fewer notes between the strong beats. None of our songs' light beats has more on average than the others."""
    light, others = [], []
    for song in SONGS[::4]:
        stand = Stand.put(song, settings).change(arranged=ArrangementChoice(3))
        for note in stand.harmonised:
            if is_due(note.stroke, 3):
                (light if note.stroke.place == LIGHT else others).append(len(note.voicing.added))
            if note.stroke.place == LIGHT and is_due(note.stroke, 3) and not note.voicing.added:
                assert why_company(note.stroke, note.voicing, 3).startswith("Alone: ")
    assert sum(light) / len(light) < 0.8 * sum(others) / len(others)


def test_a_pin_is_obeyed_and_alone_is_a_pin_too(tune):
    place = ("A", 1, 1)
    pinned = voiced(tune, 3, notes={place: ("3",)})[0]
    assert [key % 12 for key in pinned.voicing.added] == [4]
    assert voiced(tune, 3, notes={place: ()})[0].voicing.added == ()
    unfit = voiced(tune, 3, notes={place: ("1", "b3", "b7")})[0]
    assert unfit.voicing.added, "what cannot be played gives way to what is best"
