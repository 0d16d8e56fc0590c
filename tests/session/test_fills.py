"""Fills over our songs: no rule broken by a checker that knows nothing of how they are made, and the checker itself tried."""

from __future__ import annotations

import random
from dataclasses import replace

from fills_checker import faults
from fills_of_songs import around, chords_of, places_of, plain, pulse_of, tick_ms_of
from hands.right_oracle import ROWS
from shipped import SONGS

from companion.arranging.choice import ArrangementChoice
from companion.chart.reader import parse_chart
from companion.hands.right.fill_rules import KINDS
from companion.session.stand import Stand
from companion.theory.key import Key


def told(stand, seed):
    """(place, fill, what the checker says) of every fill to choose from."""
    chords, tick_ms = chords_of(stand), tick_ms_of(stand)
    for place in places_of(stand, seed):
        before, after = around(stand, place)
        for fill in place.choices:
            yield place, fill, faults(plain(fill), before, after, chords, tick_ms, pulse_of(place), fill.kind)


def test_no_rule_is_broken_in_any_song_and_most_gaps_are_filled(settings, deep):
    """tests/bench/fills.py has all keys and 14 seeds; here each song has one key, a third of them another one too."""
    gaps, filled, kinds = 0, 0, set()
    for number, song in enumerate(SONGS):
        stand = Stand.put(song, settings)
        for pc in range(12) if deep else (song.key.tonic.pc, (song.key.tonic.pc + 5) % 12)[: 1 + (number % 3 == 0)]:
            moved = stand if pc == song.key.tonic.pc else stand.with_key(Key.usual(pc, song.key.mode))
            for seed in range(14 if deep else 1):
                places = places_of(moved, seed)
                for _, fill, found in told(moved.change(arranged=ArrangementChoice(1 + seed % 2 * 2)), seed):
                    assert not found, (song.id, pc, seed, fill)
                    assert fill.why.endswith(".") and " to " in fill.why
                    kinds.add(fill.kind)
                gaps += len(places)
                filled += sum(bool(place.choices) for place in places)
    assert kinds == set(KINDS) and filled >= 0.75 * gaps > 50


def test_the_checker_sees_fills_that_were_spoiled(settings):
    """Each way breaks a rule whatever the fill is, so every one must be seen."""
    chance, seen, spoiled = random.Random(5), 0, 0
    for song in SONGS[::4]:
        stand = Stand.put(song, settings)
        chords, tick_ms = chords_of(stand), tick_ms_of(stand)
        for place, fill, _ in told(stand, 3):
            notes, (before, after) = plain(fill), around(stand, place)
            at = chance.randrange(1, len(notes))
            leap = next(key for key in (notes[-2].key + 6, notes[-2].key + 12) if not after or abs(key - after.key) > 2)
            ways = {
                "overlap": [replace(note, end=note.end + 1) if note is notes[at - 1] else note for note in notes],
                "early": [replace(notes[0], start=before.start), *notes[1:]],
                "low": [*notes[:at], replace(notes[at], key=notes[at].key - 24), *notes[at + 1 :]],
                "fingers": [replace(note, finger=2) for note in notes],
                "unresolved": [*notes[:-1], replace(notes[-1], key=leap)],
                "two octaves down": [replace(note, key=note.key - 24) for note in notes],
                "restruck": [replace(notes[0], key=before.key, start=before.start + 100), *notes[1:]],
            }
            for bad in ways.values():
                spoiled += 1
                seen += bool(faults(bad, before, after, chords, tick_ms, pulse_of(place), fill.kind))
    assert seen == spoiled > 200


TUNE = """
title = "Spare Buttons"
key = "C"
meter = "4/4"
tempo = 120
feel = "swing"
form = "A"
[section.A]
bars = "Dm7 | G7 | Cmaj7 | C6"
melody = "A2 c2 d2 A2 | G4 z4 | e2 g2 e2 d2 | c8"
"""


def stand_of(settings, text=TUNE):
    return Stand.put(parse_chart(text, id="spare-buttons"), settings)


def test_the_same_seed_gives_the_same_and_another_another(settings):
    stand = stand_of(settings)
    first = [place.choices for place in places_of(stand, 1)]
    assert first == [place.choices for place in places_of(stand_of(settings), 1)]
    assert len({tuple(place.choices for place in places_of(stand, seed)) for seed in range(14)}) > 7
    assert len(first[0]) == 3 == len({fill.notes for fill in first[0]})
    assert len({fill.kind for fill in first[0]}) == 3


def test_a_fill_leads_to_the_finger_that_the_melody_goes_on_with(settings):
    """With company under the next note its top finger is known; the last step to it is one that two fingers span (Parncutt and others 1997, MinPrac and MaxPrac)."""
    stand = stand_of(settings).change(arranged=ArrangementChoice(3))
    notes = stand.harmonised
    for seed in range(5):
        for place in places_of(stand, seed)[:1]:
            after = notes[place.room.note + 1]
            for fill in place.choices:
                last = fill.notes[-1]
                if fill.goal == after.voicing.keys[-1] and last.tick + last.ticks == after.note.start_tick:
                    low, high = sorted(((last.finger, last.pitch.midi), (after.voicing.fingers[-1], fill.goal)))
                    assert low[0] == high[0] or ROWS[low[0], high[0]][0] <= high[1] - low[1] <= ROWS[low[0], high[0]][5]


def test_a_fast_tune_gets_slower_notes_and_no_room_is_an_answer(settings):
    """At 240 an eighth would last 125 ms: quarters then. Two beats over N.C., or a gap of a bar that a student cannot fill in time, stay empty."""
    fast = places_of(stand_of(settings, TUNE.replace("tempo = 120", "tempo = 240")), 0)
    for place in fast:
        for fill in place.choices:
            assert all(b.tick - a.tick >= 960 for a, b in zip(fill.notes, fill.notes[1:]))
    assert fast[0].choices == (), "two beats hold two quarters, and two notes are no fill"
    silent = places_of(stand_of(settings, TUNE.replace("| G7 |", "| N.C. |")), 0)
    assert [place.room.bar.bar for place in silent] == [4]
