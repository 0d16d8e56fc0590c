"""Marks held against what others count, and against what a teacher would say of simulated players; and marks while a pass is played."""

import random
from dataclasses import replace
from itertools import combinations, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from practice.counts_reference import reference_count
from practice.players import expected_of, play, play_with_slips

from companion.practice.marking.marks import mark_pass
from companion.practice.marking.matching import clean_presses, wrong_kind
from companion.practice.marking.timing import TOLERANCES, timing_words
from companion.practice.model import WRONG_KINDS, Press

SEEDS = range(20)


# --- outside checks


def note_counts(marks):
    """(right, missing, extra) notes, not chords; a wrong note is missing and extra, as in transcription research."""
    strikes = [mark for chord in marks.chords for mark in chord.strikes]
    right = sum(len(mark.note_offsets_ms) for mark in strikes)
    wrong = sum(len(mark.wrong) for mark in strikes)
    return right, sum(len(mark.expected.notes) for mark in strikes) - right, wrong + len(marks.extra)


@pytest.mark.parametrize("pattern", ["four", "two", "charleston", "late-charleston", "whole"])
def test_counts_equal_transcription_research(pattern, deep):
    """Right, missing and extra notes, where nobody pushes: the reference knows no note that is meant for a strike beyond its window."""
    for seed in range(40 if deep else 10):
        rng = random.Random(seed)
        expected = expected_of("Dm7 G7 | Cmaj7 | A7 | N.C. | F6 | Bb7 C7 | F6", rng.uniform(60, 260), pattern=pattern)
        presses = clean_presses(play_with_slips(expected, rng, 0.45))
        windows_s = [strike.window_s for strike in expected for _ in strike.notes]
        right = reference_count(expected, presses, windows_s)
        assert note_counts(mark_pass(expected, presses)) == (right, len(windows_s) - right, len(presses) - right), seed


def test_keys_beyond_the_windows_add_notes_and_take_none_away():
    """Players who are far off: no more right notes than the reference finds in windows as wide as a chord may be off, no fewer than in ours."""
    added = 0
    for seed in range(40):
        rng = random.Random(seed)
        expected = expected_of("Dm7 G7 | Cmaj7 | A7 | F6 | Bb7 C7 | F6", rng.uniform(60, 260), pattern="two")
        presses = clean_presses(play_with_slips(expected, rng))
        least = reference_count(expected, presses, [s.window_s for s in expected for _ in s.notes])
        most = reference_count(expected, presses, [0.75 * s.beat_s + 0.15 for s in expected for _ in s.notes])
        right = note_counts(mark_pass(expected, presses))[0]
        assert least <= right <= most, seed
        added += right - least
    assert added > 10


def test_the_matching_is_the_best_there_is(deep):
    """Against scipy's linear_sum_assignment: no other one-to-one matching has more right notes, or as many with less
    total offset."""
    numpy = pytest.importorskip("numpy")
    optimize = pytest.importorskip("scipy.optimize")
    for seed in range(40 if deep else 12):
        rng = random.Random(seed)
        expected = expected_of(
            "Dm7 G7 | Cmaj7 | A7 Ab7 | G6", rng.uniform(60, 260), pattern=rng.choice(("four", "charleston"))
        )
        presses = clean_presses(play_with_slips(expected, rng, 0.45))
        marks = mark_pass(expected, presses)
        offsets_ms = [abs(ms) for chord in marks.chords for strike in chord.strikes for ms in strike.note_offsets_ms]
        due_notes = [(strike, note) for strike in expected for note in strike.notes]
        gain = numpy.zeros((len(due_notes), len(presses)))
        for row, (strike, note) in enumerate(due_notes):
            for column, press in enumerate(presses):
                off_s = abs(press.time_s - strike.due_s)
                if press.note == note and round(off_s, 4) <= strike.window_s:
                    gain[row, column] = 1000.0 - off_s
        rows, columns = optimize.linear_sum_assignment(gain, maximize=True)
        best = [gain[row, column] for row, column in zip(rows, columns) if gain[row, column]]
        assert len(best) == len(offsets_ms)
        assert sum(1000.0 - value for value in best) == pytest.approx(sum(offsets_ms) / 1000.0, abs=1e-6)


@pytest.mark.parametrize("together", [True, False])
@pytest.mark.parametrize(
    ("mean_ms", "spread_ms", "words"),
    [
        (-20, 15, "in time"),
        (40, 15, "late"),
        (60, 15, "late"),
        (-80, 15, "early"),
        (-20, 45, "uneven"),
        (60, 45, "late and uneven"),
    ],
)
def test_simulated_players_are_judged_as_a_teacher_would(mean_ms, spread_ms, words, together):
    """At 120 a minute, sixteen bars. People tap ahead of a click, so -20 ms is in time: Repp 2005, "Sensorimotor
    synchronization", Psychonomic Bulletin and Review 12:969-992; a spread of 2 to 4 % of the beat: Repp & Su 2013,
    figures from memory. The thresholds are our own."""
    expected = expected_of(" | ".join(["Dm7", "G7", "Cmaj7", "A7"] * 4))
    for seed in SEEDS:
        figures = mark_pass(expected, play(expected, random.Random(seed), mean_ms, spread_ms, together)).figures
        assert timing_words(figures, 0.5) == words, seed


@pytest.mark.parametrize("off_s", [0.35, -0.3])
def test_one_slip_makes_nobody_uneven(off_s):
    """A pass of eight chords, one of them far off: that is told of the chord."""
    expected = expected_of("Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | A7", pattern="whole")
    slipped = [
        replace(press, time_s=press.time_s + off_s * (abs(press.time_s - expected[4].due_s) < 0.2))
        for press in play(expected, random.Random(1), -10, 15)
    ]
    marks = mark_pass(expected, slipped)
    assert [chord.index for chord in marks.chords if not chord.is_right] == [4]
    assert timing_words(marks.figures, 0.5) == "in time"


@pytest.mark.parametrize(("off_s", "verdict"), [(0.22, "late"), (-0.22, "early")])
def test_a_repeat_outside_its_window_is_late_or_early_and_nothing_is_extra(off_s, verdict):
    """At 120 a minute a window is 200 ms and half the way to the next strike 250; past that it is the next one's."""
    expected = expected_of("Dm7 | G7", pattern="four")
    presses = [
        replace(press, time_s=press.time_s + off_s * (abs(press.time_s - expected[2].due_s) < 0.1))
        for press in play(expected, random.Random(1), 0, 2)
    ]
    marks = mark_pass(expected, presses)
    assert [mark.verdict for mark in marks.chords[0].strikes] == ["right", "right", verdict, "right"]
    assert not marks.extra


def test_the_player_in_time_has_every_chord_right():
    expected = expected_of(" | ".join(["Dm7", "G7", "Cmaj7", "A7"] * 4))
    share = [mark_pass(expected, play(expected, random.Random(seed), -20, 15)).figures.share_right for seed in SEEDS]
    assert min(share) >= 0.9 and sum(share) / len(share) > 0.99


def test_a_late_chord_stays_late_for_a_player_ahead_of_the_click():
    expected = expected_of("Dm7 | G7 | Cmaj7 | A7")
    presses = [
        replace(press, time_s=press.time_s + (0.12 if 12.0 <= press.time_s + 0.1 < 14.0 else 0.0))
        for press in play(expected, None, -40)
    ]
    marks = mark_pass(expected, presses)
    assert [chord.verdict for chord in marks.chords] == ["right", "late", "right", "right"]
    assert marks.chords[1].offset_ms == pytest.approx(80)
    assert marks.slipped_bars() == {1}


@pytest.mark.parametrize("tolerance", TOLERANCES, ids=lambda tolerance: tolerance.name)
def test_every_tolerance_has_a_source_and_grows_with_the_beat(tolerance):
    assert tolerance.source
    assert (
        tolerance.ms(60.0 / 400)
        == tolerance.floor_ms
        < tolerance.ms(60.0 / 40)
        == pytest.approx(1500 * tolerance.share)
    )
    # No finer than what can be heard at all: 2.5 % of the interval, 6 ms at least (Friberg & Sundberg 1995, JASA
    # 98:2524-2531).
    for beat_s in (0.15, 0.3, 0.5, 1.0, 1.5):
        assert tolerance.ms(beat_s) > max(6.0, 25.0 * beat_s)


# --- while playing


def test_marks_grow_bar_by_bar_into_the_whole():
    expected = expected_of("Dm7 G7 | Cmaj7 | A7 | Dm7")
    presses = play_with_slips(expected, random.Random(3))
    whole = mark_pass(expected, presses, own_offset_ms=0.0)
    before = 0
    for bar in range(1, 5):
        now_s = 10.0 + 2.0 * bar - 0.25
        so_far = mark_pass(
            expected, [press for press in presses if press.time_s <= now_s], own_offset_ms=0.0, until_s=now_s
        )
        assert so_far.chords == whole.chords[: len(so_far.chords)]
        assert len(so_far.chords) > before
        before = len(so_far.chords)
    assert before == len(whole.chords)


def test_a_press_for_a_strike_to_come_is_not_called_extra():
    expected = expected_of("Dm7")
    marks = mark_pass(expected, [Press(9.9, 50), Press(9.9, 60)], until_s=9.95)
    assert not marks.chords and not marks.extra


@given(st.lists(st.integers(40, 70), min_size=1, max_size=4, unique=True), st.lists(st.integers(30, 90), max_size=5))
def test_wrong_notes_are_shared_out_at_the_least_cost(notes, played):
    """Against every way there is: as many wrong notes as can be, the most telling kinds, the fewest semitones."""
    strike = replace(expected_of("Dm7")[0], notes=tuple(sorted(notes)), options=((43, 53), (48, 58, 64)))
    strangers = sorted(set(played) - set(notes))
    (chord,) = mark_pass([strike], [Press(strike.due_s, note) for note in strangers]).chords
    (mark,) = chord.strikes
    assert len(mark.wrong) == min(len(notes), len(strangers))
    if mark.wrong:
        told = sum(WRONG_KINDS.index(wrong.kind) for wrong in mark.wrong)
        semitones = sum(abs(wrong.note - wrong.instead_of) for wrong in mark.wrong)
        size = len(mark.wrong)
        ways = [
            (
                sum(WRONG_KINDS.index(wrong_kind(note, place, strike)) for note, place in zip(chosen, places)),
                sum(abs(note - place) for note, place in zip(chosen, places)),
            )
            for places in combinations(strike.notes, size)
            for chosen in permutations(strangers, size)
        ]
        assert (told, semitones) == min(ways)


def test_a_fist_on_the_keyboard_is_marked_at_once():
    """88 keys together against a chord of five notes: ways are not tried one by one."""
    strike = replace(expected_of("Dm7")[0], notes=(48, 52, 55, 59, 62))
    marks = mark_pass([strike], [Press(strike.due_s, note) for note in range(21, 109) if note not in strike.notes])
    assert len(marks.chords[0].strikes[0].wrong) == 5 and len(marks.extra) == 78
