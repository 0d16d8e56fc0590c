"""Both hands marked, each by itself and against the other, with the timing of people: jitter, rolls, hands apart, grace notes, wrong keys, one
hand missing. What was done is made up here, so it is known."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path
from statistics import median

import pytest
from practice.counts_reference import reference_count
from shipped import spread

from companion.chart.reader import read_chart
from companion.groove.model import HAND_PARTS
from companion.practice.marking.apart import TOGETHER_MS, by_hand, together_of
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.marking.marks import mark_pass
from companion.practice.marking.matching import clean_presses
from companion.practice.marking.summary import pass_lines
from companion.practice.model import Expected, Press
from companion.practice.reach import GRACE_S, left_hand_ceiling
from companion.session.stand import Stand
from companion.store.paths import find_paths
from companion.store.settings import load_settings

SONGS = Path(__file__).resolve().parents[2] / "songs"
SWUNG, STRAIGHT = "two-spoons", "kettle-on-the-sill"
JITTER_S = 0.012  # 2 to 4 % of the beat (Repp & Su 2013, from memory)
# At tick 0 of bar 1 nothing is due before, so no grace note or push lies outside of the pass.
STARTS_AT_S = 10.0


@cache
def stand_of(song: str, pattern: str = "four") -> Stand:
    return Stand.put(read_chart(SONGS / f"{song}.toml"), load_settings(find_paths())).change(pattern=pattern)


def due(song: str = SWUNG, tempo_bpm: float = 100.0, pattern: str = "four") -> tuple[Expected, ...]:
    arrangement = stand_of(song, pattern).arrangement()
    return expected_strikes(arrangement, steady_starts(arrangement, STARTS_AT_S, tempo_bpm), parts=HAND_PARTS)


def played(expected, rng, late_s=0.0, jitter_s=JITTER_S, held=0.9):
    """All that is due; late_s: of the left hand. Each hand's strikes jitter, and the keys of a shell a little among themselves."""
    presses = []
    for strike in expected:
        at_s = strike.due_s + rng.gauss(late_s if strike.part == "left" else 0.0, jitter_s)
        presses += [Press(at_s + rng.gauss(0.0, 0.004), note, 64, held * strike.length_s) for note in strike.notes]
    return presses


def marked(expected, presses, asked=None):
    ceiling = left_hand_ceiling(stand_of(SWUNG).arrangement().bars)
    return mark_pass(expected, presses, ceiling=ceiling, asked=asked)


def shares(marks) -> dict[str, float]:
    return {part: own.figures.share_right for part, own in by_hand(marks).items()}


@pytest.mark.parametrize("song", spread(sorted(path.stem for path in SONGS.glob("*.toml")), 3))
def test_both_hands_right_are_right_in_every_song(song):
    for seed, pattern in enumerate(("four", "charleston", "whole")):
        expected = due(song, 100.0, pattern)
        ceiling = left_hand_ceiling(stand_of(song, pattern).arrangement().bars)
        marks = mark_pass(expected, played(expected, random.Random(seed), jitter_s=0.006), ceiling=ceiling)
        assert shares(marks) == {"left": 1.0, "right": 1.0} and not marks.extra and not marks.octave
        exact = [Press(strike.due_s, note) for strike in expected for note in strike.notes]
        assert together_of(mark_pass(expected, exact, ceiling=ceiling)).ms == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_the_right_hand_is_counted_as_transcription_research_counts_it(seed):
    """Notes left out, wrong, doubled, early and late within their windows, and keys that nobody asked for, against mir_eval."""
    rng = random.Random(seed)
    melody = [strike for strike in due(rng.choice((SWUNG, STRAIGHT)), rng.uniform(60, 220)) if strike.part == "right"]
    pitches = {note for strike in melody for note in strike.notes}
    presses = []
    for strike in melody:
        (note,) = strike.notes
        chance = rng.random()
        off_s = max(-0.45, min(0.45, rng.gauss(0.0, 0.2))) * strike.window_s
        if chance < 0.1:
            continue
        if chance < 0.2:
            note = rng.choice([note + off for off in (-2, -1, 1, 2, 6) if note + off not in pitches] or [note + 40])
        presses.append(Press(round(strike.due_s + off_s, 3), note))
    stray = [note for note in range(56, 90) if note not in pitches]
    presses += [Press(round(rng.uniform(10.0, 30.0), 3), rng.choice(stray)) for _ in range(rng.randint(0, 6))]
    presses = clean_presses(presses)
    marks = mark_pass(melody, presses)
    strikes = [strike for chord in marks.chords for strike in chord.strikes]
    right = reference_count(melody, presses, [strike.window_s for strike in melody])
    assert sum(len(strike.keys) for strike in strikes) == right
    assert marks.figures.chords == len(melody), "of the melody each note"
    if not strikes[0].expected.window_s < 0.04:  # whoever is in the window is in time here
        assert marks.figures.right == sum(strike.verdict == "right" for strike in strikes) <= right


@pytest.mark.parametrize("late_ms", [-80.0, -50.0, -20.0, 0.0, 30.0, 50.0, 80.0, 120.0])
def test_hands_apart_are_told_by_the_median_of_a_pass(late_ms):
    for seed in range(4):
        expected = due(tempo_bpm=90.0)
        marks = marked(expected, played(expected, random.Random(seed), late_ms / 1000.0))
        together = together_of(marks)
        assert together.ms == pytest.approx(late_ms, abs=6.0)
        low, high = TOGETHER_MS
        assert together.late_hand == ("left" if late_ms > high else "right" if late_ms < low else "")
        said = " ".join(pass_lines(marks, 60.0 / 90.0))
        assert ("comes late" in said) == (not low <= late_ms <= high)
        assert not marks.extra


def test_a_single_strike_apart_is_no_fault_of_the_hands():
    expected = due()
    presses = played(expected, random.Random(1), jitter_s=0.003)
    late = next(strike for strike in expected if strike.part == "left" and strike.group.index == 3)
    presses = [
        replace(press, time_s=press.time_s + 0.12)
        if press.note in late.notes and abs(press.time_s - late.due_s) < 0.03
        else press
        for press in presses
    ]
    together = together_of(marked(expected, presses))
    assert together.is_together and not together.apart


def test_the_bars_where_the_hands_came_apart_are_named():
    expected = due(tempo_bpm=90.0)
    rng = random.Random(2)
    there = {4, 5}
    presses = [
        press
        for strike in expected
        for press in played([strike], rng, 0.11 if strike.group.index in there else 0.0, 0.005)
    ]
    marks = marked(expected, presses)
    together = together_of(marks)
    assert together.is_together and {index for bars, _ in together.apart for index in bars} == there
    places = {index: f"A bar {index + 1}" for index in range(16)}
    assert "They came apart in A bar 5, A bar 6." in pass_lines(marks, 0.6, (), places)


@pytest.mark.parametrize("missing", HAND_PARTS)
def test_a_missing_hand_is_missing_and_takes_no_key_of_the_other(missing):
    expected = due()
    other = next(part for part in HAND_PARTS if part != missing)
    presses = played([strike for strike in expected if strike.part == other], random.Random(3))
    marks = marked(expected, presses)
    assert shares(marks) == {missing: 0.0, other: 1.0} and not marks.extra
    assert {chord.verdict for chord in marks.chords if chord.part == missing} == {"missing"}
    assert together_of(marks) is None


@pytest.mark.parametrize(("octave", "asked"), [(12, HAND_PARTS), (24, HAND_PARTS), (12, ("right",)), (-12, ("right",))])
def test_a_melody_in_another_octave_throughout_is_accepted_and_said(octave, asked):
    """An octave down it lies among the shells: with the left hand in its place nobody could play it."""
    expected = due()
    presses = [
        press
        for number, strike in enumerate(expected)
        if strike.part in asked
        for off in [octave * (strike.part == "right")]
        for press in played([replace(strike, notes=tuple(note + off for note in strike.notes))], random.Random(number))
    ]
    marks = marked(expected, presses, asked)
    assert marks.octave == octave and set(shares(marks).values()) == {1.0} and not marks.extra
    where = {12: "an octave higher", -12: "an octave lower", 24: "2 octaves higher"}[octave]
    assert f"The melody lay {where} throughout, and was taken there." in pass_lines(marks, 0.6)


def test_a_few_notes_in_another_octave_are_wrong():
    expected = due()
    rng = random.Random(4)
    presses = []
    for number, strike in enumerate(expected):
        off = 12 if strike.part == "right" and number % 10 == 0 else 0
        presses += played([replace(strike, notes=tuple(note + off for note in strike.notes))], rng)
    marks = marked(expected, presses)
    wrong = [wrong for chord in marks.chords for strike in chord.strikes for wrong in strike.wrong]
    assert not marks.octave and wrong and {each.kind for each in wrong} == {"wrong octave"}


def test_a_note_let_go_before_half_of_its_length_is_short():
    expected = due()
    melody = [strike for strike in expected if strike.part == "right"]
    presses = [
        press
        for number, strike in enumerate(melody)
        for press in played([strike], random.Random(number), held=0.4 if number % 3 == 0 else 0.6)
    ]
    marks = marked(melody, presses)
    verdicts = [chord.verdict for chord in marks.chords]
    assert verdicts == ["short" if number % 3 == 0 else "right" for number in range(len(melody))]
    assert "let go too soon" in pass_lines(marks, 0.6)[0]
    unknown = marked(melody, [replace(press, held_s=None) for press in presses])
    assert {chord.verdict for chord in unknown.chords} == {"right"}, "under the pedal nobody knows"


def test_a_tied_note_is_as_long_as_it_is_written():
    """Bars 5 to 6 of the song hold f4- over the bar line into f2: six quarters at 60 are six seconds."""
    arrangement = stand_of(SWUNG).arrangement()
    strikes = expected_strikes(arrangement, steady_starts(arrangement, 0.0, 60.0), parts=("right",))
    (tied,) = [strike for strike in strikes if strike.group.index == 9 and strike.length_s > 2.5]
    assert tied.length_s == pytest.approx(3.0)


@pytest.mark.parametrize("before_s", [0.03, 0.08, 0.1, 0.16])
def test_grace_notes_shortly_before_a_note_are_no_extra_keys(before_s):
    expected = due()
    rng = random.Random(5)
    presses = played(expected, rng, jitter_s=0.0)
    melody = [strike for strike in expected if strike.part == "right"][::3]
    graces = [Press(strike.due_s - before_s, strike.notes[0] - 1, 60, 0.08) for strike in melody]
    marks = marked(expected, presses + graces)
    assert shares(marks)["left"] == 1.0
    if before_s < GRACE_S:
        assert not marks.extra and shares(marks)["right"] == 1.0
    else:
        strikes = [strike for chord in marks.chords for strike in chord.strikes]
        assert len(marks.extra) + sum(len(strike.along) for strike in strikes) > 0


@pytest.mark.parametrize("early", [62, 63, 66, 73])
@pytest.mark.parametrize("lacks", [(), (60,), (64,), (72,)])
def test_a_key_before_a_chord_is_a_grace_note_only_where_the_chord_comes_whole(early, lacks):
    (first, *_) = (strike for strike in due() if strike.part == "right")
    chord = replace(first, notes=(60, 64, 67, 72), due_s=20.0)
    presses = [Press(19.97, early, 64), *(Press(20.0, note, 64) for note in chord.notes if note not in lacks)]
    (mark,) = marked([chord], presses, ("right",)).chords
    assert mark.verdict == ("wrong" if lacks else "right")
    assert [(wrong.note, wrong.instead_of) for wrong in mark.strikes[0].wrong] == [(early, note) for note in lacks]


def test_a_wrong_key_of_the_left_hand_just_before_the_melody_stays_wrong():
    expected = due()
    rng = random.Random(6)
    presses = played(expected, rng, late_s=-0.03, jitter_s=0.0)
    slip = next(strike for strike in expected if strike.part == "left" and strike.group.index == 2)
    presses = [
        replace(press, note=press.note - 1)
        if press.note == slip.notes[0] and abs(press.time_s - slip.due_s) < 0.05
        else press
        for press in presses
    ]
    marks = marked(expected, presses)
    wrong = [chord for chord in marks.chords if chord.verdict != "right"]
    assert [(chord.part, chord.index, chord.verdict) for chord in wrong] == [("left", 2, "wrong")]


@pytest.mark.parametrize("asked", HAND_PARTS)
def test_no_key_of_one_hand_marks_the_other(asked):
    """Whichever hand is practised: the other plays along with wrong keys of its own register, and with graces."""
    expected = due()
    for seed in range(6):
        rng = random.Random(seed)
        presses = played([strike for strike in expected if strike.part == asked], rng)
        for strike in expected:
            if strike.part != asked:
                off = rng.choice((0, 0, 1, 2, 3)) * (1 if asked == "left" else -1)
                presses += played([replace(strike, notes=tuple(note + off for note in strike.notes))], rng)
        alone = marked(expected, presses, (asked,))
        own = alone.figures
        assert (own.share_right, own.extra) == (1.0, 0), seed
        assert {chord.part for chord in alone.chords} == {asked}


def qn_by_hand(values):
    """Rousseeuw & Croux 1993: the first quartile of the differences of all pairs, made one by one."""
    count = len(values)
    half = count // 2 + 1
    apart = sorted(abs(one - other) for one, other in combinations(values, 2))[half * (half - 1) // 2 - 1]
    return 2.2219 * apart * count / (count + (1.4 if count % 2 else 3.8))


def test_each_hand_has_its_own_habits():
    """A left hand that is loose and a right one that is steady: spread and median of each are those that were put in."""
    expected = due(tempo_bpm=80.0)
    rng = random.Random(7)
    put_in = {"left": [], "right": []}
    presses = []
    for strike in expected:
        off_s = rng.gauss(0.02, 0.035) if strike.part == "left" else rng.gauss(-0.005, 0.008)
        put_in[strike.part] += [1000.0 * off_s] * len(strike.notes)
        presses += [Press(strike.due_s + off_s, note) for note in strike.notes]
    hands = by_hand(marked(expected, presses))
    for part, offs_ms in put_in.items():
        assert hands[part].figures.offset_ms == pytest.approx(median(offs_ms), abs=0.01)
        assert hands[part].figures.spread_ms == pytest.approx(qn_by_hand(offs_ms), abs=0.01)
    assert median(put_in["left"]) > median(put_in["right"])
