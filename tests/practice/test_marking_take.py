import random
from dataclasses import replace

import pytest
from groove.loops import SHELL, arrange
from practice.players import play

from companion.groove.model import GrooveBar
from companion.groove.names import PATTERN_NAMES
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.marking.take import find_take, left_hand, mark_take
from companion.practice.model import Press

# Shells of the test loop, so that the changes can be heard.
SHELLS = {
    "Dm7": (50, 60),
    "G7": (43, 59),
    "Cmaj7": (48, 59),
    "A7": (45, 55),
    "F6": (53, 60),
    "Bb7": (46, 56),
    "Em7b5": (52, 62),
}
LINE = "Dm7 G7 | Cmaj7 | Em7b5 A7 | Dm7 | F6 | Bb7 | Cmaj7 A7 | Dm7 G7"


def tune(line=LINE, meter="4/4", pattern="four"):
    arrangement = arrange(line, meter, pattern=pattern)
    bars = tuple(
        GrooveBar(
            bar.index,
            bar.meter,
            tuple(
                replace(chord, notes=SHELLS.get(chord.chord.symbol, SHELL) if chord.chord else ())
                for chord in bar.chords
            ),
        )
        for bar in arrangement.bars
    )
    return replace(arrangement, bars=bars)


def passes_of(arrangement, start_s, tempo_bpm, count, faster=0.0):
    """What is expected in so many passes in turn; faster: by how much of the tempo the last bar is faster than the first."""
    passes, bars = [], count * len(arrangement.bars)
    for turn in range(count):
        starts = []
        for position, bar in enumerate(arrangement.bars):
            now_bpm = tempo_bpm * (1.0 + faster * (turn * len(arrangement.bars) + position) / bars)
            starts.append((start_s, now_bpm))
            start_s += bar.meter.pulses * 60.0 / now_bpm
        passes.append(expected_strikes(arrangement, starts))
    return passes


def found(presses, arrangement, **wanted):
    return find_take(presses, arrangement, list(PATTERN_NAMES), near_bpm=126.0, **wanted)


@pytest.mark.parametrize("seed", range(12))
def test_start_tempo_pattern_and_passes_are_found(seed):
    rng = random.Random(seed)
    pattern = rng.choice(list(PATTERN_NAMES))
    arrangement = tune(pattern=pattern)
    start_s, tempo_bpm, count = rng.uniform(0.0, 20.0), rng.uniform(50.0, 220.0), rng.randint(1, 4)
    passes = passes_of(arrangement, start_s, tempo_bpm, count)
    presses = [press for expected in passes for press in play(expected, rng, 0.0, 12.0)]
    take = found(presses, arrangement)
    assert take.arrangement.pattern == pattern and len(take.passes) == count
    assert take.start_s == pytest.approx(start_s, abs=0.02)
    assert take.tempo_bpm == pytest.approx(tempo_bpm, rel=0.005)
    assert all(marks.figures.share_right > 0.95 and not marks.extra for marks in mark_take(take, presses))


@pytest.mark.parametrize("meter", ["3/4", "5/4", "6/8", "12/8"])
def test_other_meters(meter):
    arrangement = tune("Dm7 | G7 | Cmaj7 | A7 | F6 | Bb7 | Em7b5 | A7", meter)
    passes = passes_of(arrangement, 3.3, 80.0, 2)
    take = found([press for expected in passes for press in play(expected, None, 0.0, 8.0)], arrangement)
    assert take.start_s == pytest.approx(3.3, abs=0.02) and take.tempo_bpm == pytest.approx(80.0, rel=0.005)


@pytest.mark.parametrize("seed", range(6))
def test_slips_do_not_lead_it_astray_and_are_marked_truly(seed):
    """A tenth of the chords late by 110 ms, a tenth with a wrong upper note throughout, some left out, and fumbling
    before the start."""
    rng = random.Random(seed)
    arrangement = tune()
    passes = passes_of(arrangement, 6.0, 112.0, 3)
    presses = [Press(rng.uniform(0.0, 5.0), rng.randint(40, 60)) for _ in range(5)]
    truth = []
    for expected in passes:
        for place in dict.fromkeys((strike.group.position, strike.group.chord) for strike in expected):
            slip = rng.choice(["right"] * 7 + ["late", "wrong", "missing"])
            truth.append(slip)
            for press in play(
                [strike for strike in expected if (strike.group.position, strike.group.chord) == place], rng, 0.0, 10.0
            ):
                top = press.note >= 54
                if slip != "missing":
                    presses.append(
                        Press(press.time_s + 0.11 * (slip == "late"), press.note + (slip == "wrong" and top))
                    )
    take = found(presses, arrangement)
    marks = mark_take(take, presses)
    told = [chord for passed in marks for chord in passed.chords]
    tops = {chord.notes[1] >= 54 for bar in arrangement.bars for chord in bar.chords}
    assert tops == {True}
    assert [chord.verdict for chord in told] == truth
    assert all(70 < chord.offset_ms < 150 for chord in told if chord.verdict == "late")
    assert not any(passed.extra for passed in marks)  # the fumbling before the start is no part of a pass


def test_a_wandering_tempo_is_followed_but_not_a_late_chord():
    arrangement = tune()
    passes = passes_of(arrangement, 2.0, 100.0, 4, faster=0.08)
    presses = [press for expected in passes for press in play(expected, random.Random(1), 0.0, 8.0)]
    late = {(strike.due_s) for strike in passes[2] if strike.group.position == 4}
    first_s, last_s = min(late) - 0.1, max(late) + 0.1
    presses = [replace(press, time_s=press.time_s + 0.12 * (first_s < press.time_s < last_s)) for press in presses]
    take = found(presses, arrangement)
    marks = mark_take(take, presses)
    assert len(marks) == 4 and take.tempo_bpm == pytest.approx(104.0, rel=0.01)
    slipped = [(number, bar) for number, passed in enumerate(marks) for bar in passed.slipped_bars()]
    assert slipped == [(2, 4)]


def test_a_known_tempo_is_kept():
    arrangement = tune()
    (expected,) = passes_of(arrangement, 4.0, 100.0, 1)
    presses = play(expected, random.Random(2), 0.0, 10.0)
    take = found(presses, arrangement, tempo_bpm=100.0)
    assert take.tempo_bpm == pytest.approx(100.0) and take.start_s == pytest.approx(4.0, abs=0.02)
    dragged = [
        replace(press, time_s=4.0 + (press.time_s - 4.0) * 1.01) for press in presses
    ]  # 0.19 s behind the click at the end
    behind = mark_take(found(dragged, arrangement, tempo_bpm=100.0), dragged)[0].figures
    followed = mark_take(found(dragged, arrangement), dragged)[0].figures
    assert behind.spread_ms > 2 * followed.spread_ms


def test_a_take_that_stops_and_one_with_a_last_chord():
    arrangement = tune()
    first, second = passes_of(arrangement, 1.0, 120.0, 2)
    broken = play(first) + play([strike for strike in second if strike.group.position < 5])
    take = found(broken, arrangement)
    assert [len(starts) for starts in take.passes] == [8, 5]
    ending = play(first) + play([strike for strike in second if strike.group.position == 0])
    take = found(ending, arrangement)
    (marks,) = mark_take(take, ending)
    assert marks.figures.share_right == 1.0
    half = mark_take(found(play(first[:16]), arrangement), play(first[:16]))
    assert [chord.verdict for chord in half[0].chords].count("right") == 6 and half[0].figures.missing == 6


def test_a_tune_of_one_chord():
    arrangement = tune("Dm7 | Dm7 | Dm7 | Dm7")
    passes = passes_of(arrangement, 3.0, 97.0, 2)
    take = found([press for expected in passes for press in play(expected, None, 0.0, 8.0)], arrangement)
    assert take.start_s == pytest.approx(3.0, abs=0.03) and take.tempo_bpm == pytest.approx(97.0, rel=0.01)


def test_one_chord_many_times_is_found_from_its_first_beat():
    arrangement = tune("Dm7")
    passes = passes_of(arrangement, 3.0, 120.0, 40)
    take = found([press for expected in passes for press in play(expected, None, 0.0, 8.0)], arrangement)
    assert take.start_s == pytest.approx(3.0, abs=0.03) and len(take.passes) == 40


def test_the_settings_pattern_wins_a_tie():
    """With two chords in every bar, two to the bar and once a bar with every change are the same strokes."""
    arrangement = tune("Dm7 G7 | Cmaj7 A7 | F6 Bb7 | Em7b5 A7")
    expected = expected_strikes(replace(arrangement, pattern="two"), steady_starts(arrangement, 1.0, 120.0))
    for first, second in (("two", "whole"), ("whole", "two")):
        assert find_take(play(expected), arrangement, [first, second], 120.0).arrangement.pattern == first


def test_the_right_hand_is_left_out():
    arrangement = tune()
    (expected,) = passes_of(arrangement, 2.0, 120.0, 1)
    rng = random.Random(5)
    melody = [Press(2.0 + 0.25 * eighth, rng.randint(68, 84)) for eighth in range(128)]
    presses = left_hand(play(expected) + melody, arrangement)
    take = found(presses, arrangement)
    (marks,) = mark_take(take, presses)
    assert marks.figures.share_right == 1.0 and not marks.extra
    slip = [Press(3.0, 72)]  # one key an octave too high is no right hand
    assert slip[0] in left_hand(play(expected) + slip, arrangement)


@pytest.mark.parametrize("presses", [[], [Press(1.0, 50)], [Press(0.1 * n, 90) for n in range(50)]])
def test_what_is_not_the_tune_is_not_found(presses):
    assert found(presses, tune()) is None
    assert found(presses, tune("N.C.")) is None
