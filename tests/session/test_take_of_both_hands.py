"""Files of both hands: the melody marked by the left hand's beat, with waits, wander and hands apart, all known as they were made up here."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

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
    "song", ["two-spoons", "kettle-on-the-sill", "lullaby-for-a-bicycle", "ferry-at-half-past-six"]
)
def test_a_file_on_the_grid_has_no_asynchrony(song):
    stand = stand_of(song, "four")
    result = marked(stand, take(stand, 96.0))
    (each,) = result.passes
    shares = {part: own.figures.share_right for part, own in by_hand(each.marks).items()}
    assert shares == {"left": 1.0, "right": 1.0} and not each.marks.extra
    assert together_of(each.marks).ms == pytest.approx(0.0, abs=0.5)


@pytest.mark.parametrize("late_ms", [-60.0, 30.0, 80.0])
@pytest.mark.parametrize("wait_s", [0.0, 1.5])
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


@pytest.mark.parametrize("octave", [0, 12])
@pytest.mark.parametrize("wait_s", [0.0, 1.2])
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
