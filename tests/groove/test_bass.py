"""Rules of the bass. Sources: K. Fitzgerald, "Walking Bass Line Theory Basics" (target note, usually the root, on the
first beat of each chord; approach note on the beat before; with two chords a bar targets on 1 and 3, approaches on 2
and 4); Bass Magazine, issue 9 (root on the downbeat, chord or scale tones on 2 and 3, a chromatic tone on 4 into the
next root). The range E1 to D3, MIDI 28 to 50 as it sounds, is from memory.
"""

import itertools
import os
import random
import subprocess
import sys

import pytest
from groove.loops import loop
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import arrangements

from companion.groove.bass import PHRASE_BARS, bass_bar
from companion.groove.harmony import answer_pc, chord_pcs, lowest_pc, scale_pcs
from companion.theory.pitch import Tone
from companion.theory.symbols import parse_chord

LOWEST, HIGHEST = 28, 50  # E1 to D3, see above
BLUES = "C7 | F7 | C7 | C7 | F7 | F7 | C7 | Em7 A7 | Dm7 | G7 | C7 A7 | Dm7 G7"
CHANGES = "Dm7 | G7 | Cmaj7 | Cmaj7 | Bm7b5 E7b9 | Am6 | F#dim7 | Fm6 | Em7 | A7#5 | D7/F# | G7sus4 G7"


def line(bars, style, seed=0, turn=0):
    return [bass_bar(bars, style, seed, turn, position) for position in range(len(bars))]


def pitches(bars, style, **chance):
    return [[note.note for note in bar] for bar in line(bars, style, **chance)]


def sounding(bars, style, seed=0, turn=0):
    """[(absolute tick, bar, chord placed, note, whether it is the chord's first)] of one turn."""
    found, start = [], 0
    for bar, notes in zip(bars, line(bars, style, seed, turn)):
        for note in notes:
            chord = next(c for c in bar.chords if c.tick <= note.tick < c.tick + c.ticks)
            found.append((start + note.tick, bar, chord, note, note.tick == chord.tick))
        start += bar.meter.bar_ticks
    return found


def test_roots_sound_on_every_chord_for_its_length():
    bars = loop("Dm7 G7 | Cmaj7 | N.C. | C/E", "4/4")
    notes = [[(note.tick, note.ticks, note.note % 12) for note in bar] for bar in line(bars, "roots")]
    assert notes == [[(0, 1920, 2), (1920, 1920, 7)], [(0, 3840, 0)], [], [(0, 3840, 4)]]


def test_roots_are_the_same_in_every_turn_and_for_every_seed():
    bars = loop(BLUES)
    assert len({str(pitches(bars, "roots", seed=seed, turn=turn)) for seed in range(3) for turn in range(3)}) == 1


def test_a_held_root_stays_where_it_is():
    (first, second, *_) = pitches(loop("F7 | F7 | Bb7 | C7"), "roots")
    assert first == second


def test_two_feel_has_root_and_fifth_on_the_halves():
    for bar in line(loop("C7 | F7 | Bb6 | Ebmaj7"), "two-feel"):
        assert [(note.tick, note.ticks) for note in bar] == [(0, 1920), (1920, 1920)]
        assert (bar[1].note - bar[0].note) % 12 == 7


# (symbol, semitones of the answering note above the chord's root). Source: common practice, the fifth as the symbol
# has it.
@pytest.mark.parametrize(("symbol", "semitones"), [
    ("C7", 7), ("Cm7", 7), ("C6", 7), ("Cm7b5", 6), ("Cdim7", 6), ("Caug", 8), ("C7#5", 8), ("C7b5", 6), ("Csus4", 7),
    ("C13", 7), ("C7alt", 6), ("C/E", 0), ("C/G", 0), ("C/D", 2), ("C/C", 7),
])  # fmt: skip
def test_two_feel_answers_with_the_chords_own_fifth(symbol, semitones):
    chord = parse_chord(symbol)
    assert (answer_pc(chord) - chord.root.pc) % 12 == semitones


def test_two_feel_has_only_roots_where_the_chord_changes_on_the_half():
    assert [len(bar) for bar in line(loop("Dm7 G7 | C6"), "two-feel")] == [2, 2]
    assert [note.note % 12 for note in line(loop("Dm7 G7 | C6"), "two-feel")[0]] == [2, 7]


def test_two_feel_in_three_has_one_note_or_root_and_fifth_on_three():
    bars = [bar for turn in range(8) for bar in line(loop("C6 | F6 | G7 | C6", "3/4"), "two-feel", turn=turn)]
    shapes = {tuple((note.tick, note.ticks) for note in bar) for bar in bars}
    assert shapes == {((0, 2880),), ((0, 1920), (1920, 960))}


@pytest.mark.parametrize(("meter", "ticks"), [
    ("5/4", [0, 2880]), ("6/8", [0, 1440]), ("12/8", [0, 2880]), ("2/4", [0, 960]),
])  # fmt: skip
def test_two_feel_in_other_meters(meter, ticks):
    assert [note.tick for note in line(loop("C7", meter), "two-feel")[0]] == ticks


def test_walking_is_even_quarters():
    for bar in line(loop(CHANGES), "walking"):
        assert [(note.tick, note.ticks) for note in bar] == [(960 * beat, 960) for beat in range(4)]


@pytest.mark.parametrize(("meter", "pulse", "count"), [
    ("3/4", 960, 3), ("5/4", 960, 5), ("6/8", 1440, 2), ("12/8", 1440, 4),
])  # fmt: skip
def test_walking_takes_the_pulse_of_any_meter(meter, pulse, count):
    assert [note.tick for note in line(loop("C7 | F7", meter), "walking")[0]] == [pulse * n for n in range(count)]


def test_two_chords_a_bar_are_target_and_approach():
    """Fitzgerald: targets on 1 and 3, approaches on 2 and 4."""
    bars = loop("Dm7 G7 | Cmaj7 A7")
    for seed in range(20):
        (d, to_g, g, to_c), (c, to_a, a, to_d) = pitches(bars, "walking", seed=seed)
        assert [d % 12, g % 12, c % 12, a % 12] == [2, 7, 0, 9]
        assert all(abs(near - goal) in (1, 2) for near, goal in ((to_g, g), (to_c, c), (to_a, a), (to_d, d)))


def test_chords_of_one_beat_have_their_roots_alone():
    assert [note % 12 for note in pitches(loop("C6 A7 Dm7 G7"), "walking")[0]] == [0, 9, 2, 7]


def test_a_held_chord_may_start_its_second_bar_on_third_or_fifth_and_never_its_third_bar():
    bars = loop("F7 | C7 | C7 | C7 | F7")
    starts = [[bar[0] % 12 for bar in pitches(bars, "walking", seed=seed)] for seed in range(60)]
    assert {bars_[2] for bars_ in starts} == {0, 4, 7}
    assert {bars_[1] for bars_ in starts} == {bars_[3] for bars_ in starts} == {0}


@given(arrangements(bass="walking"), st.integers(0, 3))
@settings(deadline=None)
def test_rules_of_the_walking_line(arrangement, turn):
    bars = arrangement.bars
    notes = sounding(bars, "walking", arrangement.seed, turn)
    following = [*notes[1:], *sounding(bars, "walking", arrangement.seed, turn + 1)[:1]]
    total = sum(bar.meter.bar_ticks for bar in bars)
    for (tick, bar, chord, note, opens), (next_tick, _, _, next_note, next_opens) in zip(notes, following):
        assert LOWEST <= note.note <= HIGHEST and note.ticks > 0
        assert abs(next_note.note - note.note) <= 12
        end = tick + note.ticks
        assert end <= (next_tick if next_tick > tick else total + next_tick)
        at_once = end % total == next_tick % total
        approaches = at_once and next_opens and not opens
        if approaches:
            assert abs(next_note.note - note.note) in (1, 2)
        elif note.tick // bar.meter.pulse_ticks in bar.meter.strong_pulses or opens:
            assert note.note % 12 in chord_pcs(chord.chord)
        else:
            assert note.note % 12 in scale_pcs(chord.chord)


@given(arrangements(bass="walking"), st.integers(0, 3))
@settings(deadline=None)
def test_the_root_or_slash_bass_comes_in_with_its_chord(arrangement, turn):
    before = None
    for _, _bar, placed, note, opens in sounding(arrangement.bars, "walking", arrangement.seed, turn):
        chord = placed.chord
        held = (
            before is not None
            and placed.tick == 0
            and (before.root.pc, before.degrees, before.bass) == (chord.root.pc, chord.degrees, chord.bass)
        )
        if opens and not held:
            assert note.note % 12 == lowest_pc(chord)
        before = chord


@given(arrangements(), st.sampled_from(("roots", "two-feel", "walking")))
@settings(deadline=None)
def test_every_chord_has_a_bass_note_and_silence_has_none(arrangement, style):
    for bar, notes in zip(arrangement.bars, line(arrangement.bars, style, arrangement.seed)):
        starts = [note.tick for note in notes]
        assert starts == sorted(set(starts))
        assert {chord.tick for chord in bar.chords if chord.chord is not None} <= set(starts)
        for note in notes:
            chord = next(c for c in bar.chords if c.tick <= note.tick < c.tick + c.ticks)
            assert chord.chord is not None and note.tick + note.ticks <= chord.tick + chord.ticks
            assert LOWEST <= note.note <= HIGHEST


@given(arrangements(), st.sampled_from(("roots", "two-feel")))
@settings(deadline=None)
def test_roots_and_two_feel_leap_an_octave_at_most(arrangement, style):
    notes = [note.note for bar in line(arrangement.bars, style, arrangement.seed) for note in bar]
    notes += [note.note for bar in line(arrangement.bars, style, arrangement.seed, 1) for note in bar][:1]
    assert all(abs(one - other) <= 12 for one, other in itertools.pairwise(notes))


def test_the_last_bar_leads_to_the_first_and_phrases_join():
    bars = loop(BLUES)
    for turn in range(30):
        now, after = pitches(bars, "walking", turn=turn), pitches(bars, "walking", turn=turn + 1)
        assert abs(now[-1][-1] - after[0][0]) in (1, 2)
        assert abs(now[PHRASE_BARS - 1][-1] - now[PHRASE_BARS][0]) in (1, 2)


def test_lines_vary_between_turns_and_seeds():
    bars = loop(BLUES)
    assert len({str(pitches(bars, "walking", turn=turn)) for turn in range(20)}) >= 18
    assert len({str(pitches(bars, "walking", seed=seed)) for seed in range(20)}) >= 18


def test_the_same_seed_gives_the_same_line_and_leaves_chance_alone():
    bars = loop(BLUES)
    random.seed(5)
    state = random.getstate()
    first = pitches(bars, "walking", seed=9, turn=2)
    assert random.getstate() == state
    random.seed(6)
    backwards = [bass_bar(loop(BLUES), "walking", 9, 2, position) for position in reversed(range(len(bars)))][::-1]
    assert [[note.note for note in bar] for bar in backwards] == first


@pytest.mark.parametrize("hash_seed", ["1", "77"])
def test_the_same_seed_gives_the_same_line_in_another_process(hash_seed):
    code = (
        "from groove.loops import loop; from companion.groove.bass import bass_bar\n"
        f"bars = loop({CHANGES!r})\n"
        "print([[n.note for n in bass_bar(bars, 'walking', 4, 1, p)] for p in range(len(bars))])"
    )
    path = os.pathsep.join(["tests", ".", os.environ.get("PYTHONPATH", "")])
    environment = {**os.environ, "PYTHONHASHSEED": hash_seed, "PYTHONPATH": path}
    shown = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == str(pitches(loop(CHANGES), "walking", seed=4, turn=1))


def test_lines_sit_where_basses_play():
    """Most notes between F1 and D3 (common practice: the low octave and a half, above it for colour)."""
    notes = [note for turn in range(20) for bar in pitches(loop(CHANGES), "walking", turn=turn) for note in bar]
    assert sum(29 <= note <= 50 for note in notes) / len(notes) > 0.95
    steps = [abs(one - other) for one, other in itertools.pairwise(notes)]
    assert sum(step <= 4 for step in steps) / len(steps) > 0.6  # mostly steps and thirds (common practice)
    assert sum(step == 0 for step in steps) / len(steps) < 0.05
    back_and_forth = sum(one == third for one, third in zip(notes, notes[2:]))
    assert back_and_forth / len(notes) < 0.1  # a line that walks somewhere (common practice)


# music21 10.5 as the outside reference for what a chord tone is; its flats are "-".
QUALITIES = ["", "m", "7", "maj7", "m7", "m7b5", "dim7", "6", "m6", "aug", "sus4", "9", "m9", "dim"]
MUSIC21_SPELLING = {"m7b5": "m7b5", "aug": "+", "dim7": "o7", "dim": "dim"}


@pytest.mark.parametrize("quality", QUALITIES)
def test_strong_beats_are_chord_tones_by_music21(quality, deep):
    harmony = pytest.importorskip("music21.harmony")
    for root in ("C", "Db", "F#", "Bb"):
        figure = root.replace("b", "-") + MUSIC21_SPELLING.get(quality, quality)
        reference = {pitch.pitchClass for pitch in harmony.ChordSymbol(figure).pitches}
        bars = loop(f"{root}{quality} | G7")
        for seed in range(10 if deep else 4):
            first, _, third, _ = pitches(bars, "walking", seed=seed)[0]
            assert first % 12 == Tone.parse(root).pc
            assert third % 12 in reference


# (symbol, semitones above C a bass may stand on). Source: common practice, the arpeggio up to the sixth or seventh.
@pytest.mark.parametrize(("symbol", "semitones"), [
    ("C", {0, 4, 7}), ("C6/9", {0, 4, 7, 9}), ("C13", {0, 4, 7, 10}), ("C7b9", {0, 4, 7, 10}), ("Cm9", {0, 3, 7, 10}),
    ("Cdim7", {0, 3, 6, 9}), ("C9sus4", {0, 5, 7, 10}), ("Cmaj7#11", {0, 4, 7, 11}), ("C/D", {0, 2, 4, 7}),
])  # fmt: skip
def test_tones_to_stand_on(symbol, semitones):
    assert chord_pcs(parse_chord(symbol)) == semitones


# (symbol, semitones of its scale above C). Source: the chord-scale tables of jazz teaching (common practice).
@pytest.mark.parametrize(("symbol", "semitones"), [
    ("Cmaj7", {0, 2, 4, 5, 7, 9, 11}), ("C7", {0, 2, 4, 5, 7, 9, 10}), ("Cm7", {0, 2, 3, 5, 7, 9, 10}),
    ("Cm7b5", {0, 1, 3, 5, 6, 8, 10}), ("Cdim7", {0, 2, 3, 5, 6, 8, 9, 11}), ("CmMaj7", {0, 2, 3, 5, 7, 9, 11}),
    ("C7#5", {0, 2, 4, 6, 8, 10}), ("C7b9", {0, 1, 4, 5, 7, 9, 10}), ("C7(b9,b13)", {0, 1, 4, 5, 7, 8, 10}),
    ("Cmaj7#11", {0, 2, 4, 6, 7, 9, 11}), ("C7sus4", {0, 2, 5, 7, 9, 10}), ("Cm6", {0, 2, 3, 5, 7, 9, 10}),
])  # fmt: skip
def test_scales_to_pass_through(symbol, semitones):
    assert scale_pcs(parse_chord(symbol)) == semitones
