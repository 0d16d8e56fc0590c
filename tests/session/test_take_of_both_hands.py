"""Files of both hands: the melody marked by the left hand's beat, with waits, wander and hands apart, all known as they were made up here."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path

import pytest
from shipped import spread

from companion.chart.reader import read_chart
from companion.groove.model import HAND_PARTS
from companion.practice.marking.apart import by_hand, together_of
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.model import Press
from companion.session.stand import Stand
from companion.session.take_file import Recording
from companion.session.take_marks import mark_recording
from companion.store.paths import find_paths
from companion.store.settings import load_settings

SONGS = Path(__file__).resolve().parents[2] / "songs"


@cache
def stand_of(song: str, pattern: str) -> Stand:
    stand = Stand.put(read_chart(SONGS / f"{song}.toml"), load_settings(find_paths()))
    return stand.change(pattern=pattern).with_hands("both")


def take(stand, tempo_bpm, *, late_s=0.0, jitter_s=0.0, wait_s=0.0, seed=0, passes=1):
    """What is due, played: late_s of the left hand, a wait in the middle; and the verdict-free presses in order of time."""
    rng = random.Random(seed)
    arrangement = stand.arrangement()
    presses = []
    at_s = 2.0
    for _ in range(passes):
        starts = steady_starts(arrangement, at_s, tempo_bpm)
        middle = starts[len(starts) // 2].start_s
        for strike in expected_strikes(arrangement, starts, parts=HAND_PARTS):
            off_s = rng.gauss(late_s if strike.part == "left" else 0.0, jitter_s)
            off_s += wait_s if strike.due_s >= middle - 1e-6 else 0.0
            presses += [Press(strike.due_s + off_s, note, 64, 0.9 * strike.length_s) for note in strike.notes]
        at_s = starts[-1].start_s + arrangement.bars[-1].meter.pulses * 60.0 / tempo_bpm + wait_s
    return sorted(presses, key=lambda press: press.time_s)


def marked(stand, presses, tempo_bpm=None):
    found = mark_recording(stand, Recording(tuple(presses)), stand.pattern, tempo_bpm)
    assert found is not None
    return found


@pytest.mark.parametrize(
    "song", spread(["two-spoons", "kettle-on-the-sill", "lullaby-for-a-bicycle", "ferry-at-half-past-six"], 2)
)
def test_a_file_on_the_grid_has_no_asynchrony(song):
    stand = stand_of(song, "four")
    result = marked(stand, take(stand, 96.0))
    (each,) = result.passes
    shares = {part: own.figures.share_right for part, own in by_hand(each.marks).items()}
    assert shares == {"left": 1.0, "right": 1.0} and not each.marks.extra
    assert together_of(each.marks).ms == pytest.approx(0.0, abs=0.5)


@pytest.mark.parametrize(("late_ms", "wait_s"), spread([*product((-60.0, 30.0, 80.0), (0.0, 1.5))], 3))
def test_hands_apart_are_found_whatever_the_beat_does(late_ms, wait_s):
    stand = stand_of("two-spoons", "four")
    presses = take(stand, 90.0, late_s=late_ms / 1000.0, jitter_s=0.01, wait_s=wait_s, passes=2)
    result = marked(stand, presses)
    for each in result.passes:
        assert together_of(each.marks).ms == pytest.approx(late_ms, abs=8.0)
        assert by_hand(each.marks)["left"].figures.share_right > 0.95


def test_slips_of_the_melody_are_its_own():
    stand = stand_of("two-spoons", "four")
    rng = random.Random(4)
    due = {}
    for strike in expected_strikes(
        stand.arrangement(), steady_starts(stand.arrangement(), 2.0, 90.0), parts=("right",)
    ):
        due[round(strike.due_s, 3), strike.notes[0]] = rng.choice(("", "", "", "wrong", "missing"))
    presses = []
    for press in take(stand, 90.0):
        slip = due.get((round(press.time_s, 3), press.note), "")
        if slip == "wrong":
            presses.append(replace(press, note=press.note + 1))
        elif not slip:
            presses.append(press)
    (each,) = marked(stand, presses).passes
    hands = by_hand(each.marks)
    assert hands["left"].figures.share_right == 1.0
    verdicts = [chord.verdict for chord in hands["right"].chords]
    assert verdicts == [slip or "right" for slip in due.values()]


def test_the_right_hand_alone_is_marked_by_the_beat_of_the_left():
    stand = stand_of("two-spoons", "four").with_hands("right")
    (each,) = marked(stand, take(stand_of("two-spoons", "four"), 90.0, jitter_s=0.008)).passes
    assert {chord.part for chord in each.marks.chords} == {"right"} and each.marks.figures.share_right == 1.0


@pytest.mark.parametrize(("octave", "wait_s"), spread([*product((0, 12), (0.0, 1.2))], 3))
def test_a_melody_without_the_left_hand_is_marked_by_its_own_beat(octave, wait_s):
    stand = stand_of("two-spoons", "four").with_hands("right")
    tops = {note for bar in stand.arrangement().bars for strike in bar.written for note in strike.notes}
    rng = random.Random(5)
    slips, presses = {}, []
    for press in take(stand_of("two-spoons", "four"), 90.0, jitter_s=0.01, wait_s=wait_s):
        if press.note not in tops or press.held_s is None:
            continue
        presses.append(replace(press, note=press.note + octave))
    wrong = rng.sample(range(4, len(presses) - 4), 4)
    for place in wrong:
        slips[place] = presses[place].note
        presses[place] = replace(presses[place], note=presses[place].note + 1)
    (each,) = marked(stand, presses).passes
    verdicts = [chord.verdict for chord in each.marks.chords]
    assert {chord.part for chord in each.marks.chords} == {"right"}
    assert [place for place, verdict in enumerate(verdicts) if verdict == "wrong"] == sorted(wrong)
    assert sum(verdict == "right" for verdict in verdicts) >= len(verdicts) - len(wrong) - 1


LOW_MELODIES = ("two-spoons", "kettle-on-the-sill", "five-steps-to-the-bakery")


def low_and_wrong(stand, seed):
    """The melody an octave low, where the left hand plays, of the notes that are not the left hand's too a third with a key beside them that is not
    either; and how many."""
    rng = random.Random(seed)
    arrangement = stand.arrangement()
    shells = {note for bar in arrangement.bars for chord in bar.chords for note in chord.notes}
    presses, slips = [], 0
    for strike in expected_strikes(arrangement, steady_starts(arrangement, 2.0, 96.0), parts=HAND_PARTS):
        off_s = rng.gauss(0.0, 0.006)
        for note in strike.notes:
            if strike.part == "right":
                note -= 12
                beside = [near for near in (note - 1, note + 1) if near not in shells]
                if beside and note not in shells and rng.random() < 1 / 3:
                    note, slips = rng.choice(beside), slips + 1
            presses.append(Press(strike.due_s + off_s, note, 64))
    return sorted(presses, key=lambda press: press.time_s), slips


@pytest.mark.parametrize(("song", "seed"), spread([*product(LOW_MELODIES, range(2))], 3))
def test_a_right_hand_in_the_register_of_the_left_never_marks_that(song, seed):
    stand = stand_of(song, "four")
    presses, slips = low_and_wrong(stand, seed)
    assert slips >= 6
    for hands in ("left", "both"):
        (each,) = marked(stand.with_hands(hands), presses).passes
        assert by_hand(each.marks)["left"].figures.share_right == 1.0
        assert not [key for key in each.marks.extra if key.part == "left"]
    assert each.marks.octave == -12
    wrong = sum(chord.part == "right" and not chord.is_right for chord in each.marks.chords)
    assert slips <= wrong <= slips + 2


def test_the_lowest_notes_of_a_melody_are_no_keys_too_many_of_the_left_hand():
    for song in ("five-steps-to-the-bakery", "stop-at-the-level-crossing"):
        stand = stand_of(song, "four")
        (each,) = marked(stand.with_hands("left"), take(stand, 96.0, jitter_s=0.006)).passes
        assert not each.marks.extra and {chord.part for chord in each.marks.chords} == {"left"}


@pytest.mark.parametrize("part, other", [("left", "right"), ("right", "left")])
def test_a_hand_that_is_absent_is_named_and_the_other_marked(part, other):
    stand = stand_of("kettle-on-the-sill", "four")
    arrangement = stand.arrangement()
    rng = random.Random(3)
    presses = [
        Press(strike.due_s + rng.gauss(0.0, 0.008), note, 64, 0.9 * strike.length_s)
        for strike in expected_strikes(arrangement, steady_starts(arrangement, 2.0, 96.0), parts=(part,))
        for note in strike.notes
    ]
    for hands in ("both", other):  # of the hand that is not there alone, that is all there is to say
        result = marked(stand.with_hands(hands), presses)
        (each,) = result.passes
        assert result.absent == each.absent == other
        assert {chord.part for chord in each.marks.chords} == {part} and each.marks.figures.share_right == 1.0
    assert marked(stand.with_hands(part), presses).absent == ""


def test_a_melody_whose_every_note_is_let_go_too_soon_is_there():
    stand = stand_of("two-spoons", "four")
    presses = [replace(press, held_s=0.4 * press.held_s) for press in take(stand, 96.0)]
    (each,) = marked(stand, presses).passes
    assert not each.absent
    assert {chord.verdict for chord in each.marks.chords if chord.part == "right"} == {"short"}


def test_a_first_pass_of_the_left_hand_alone_and_one_with_both():
    stand = stand_of("two-spoons", "four")
    tops = {note for bar in stand.arrangement().bars for strike in bar.written for note in strike.notes}
    presses = take(stand, 96.0, passes=2, jitter_s=0.005)
    middle_s = (presses[0].time_s + presses[-1].time_s) / 2
    presses = [press for press in presses if press.time_s > middle_s - 0.2 or press.note not in tops]
    result = marked(stand, presses)
    assert [each.absent for each in result.passes] == ["right", ""] and not result.absent
    assert all(each.marks.figures.share_right == 1.0 for each in result.passes)
    assert len(marked(stand.with_hands("right"), presses).passes) == 1
