"""Takes found and marked: what was played, how often, when; held against what is known of them. The figures on many more takes
are printed by tests/bench/marking.py."""

import random
from dataclasses import replace
from itertools import pairwise

import pytest
from practice.marking_trials import HABITS, WAYS, habit_take, habits_told, mark, trial
from practice.players import play
from practice.take_plans import Recipe
from practice.takes import make, stand_of
from practice.tunes import SHELL_PATTERNS, found, passes_played, tune

from companion.practice.marking.clock import steady_clock
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.practice.marking.playthrough import passes_of
from companion.practice.marking.take import find_take, left_hand
from companion.practice.model import Press
from companion.session.take_file import Recording
from companion.session.take_marks import fits_better, mark_recording
from companion.store.library import read_songs

# --- start, tempo, pattern, passes


@pytest.mark.parametrize("seed", range(12))
def test_start_tempo_pattern_and_passes_are_found(seed):
    rng = random.Random(seed)
    pattern = rng.choice(SHELL_PATTERNS)
    arrangement = tune(pattern=pattern)
    start_s, tempo_bpm, count = rng.uniform(0.0, 20.0), rng.uniform(50.0, 220.0), rng.randint(1, 4)
    passes = passes_played(arrangement, start_s, tempo_bpm, count)
    presses = [press for expected in passes for press in play(expected, rng, 0.0, 12.0)]
    take = found(presses, arrangement, tempo_bpm)
    marked = passes_of(take)
    assert take.arrangement.pattern == pattern and len(marked) == count
    assert marked[0].start_s == pytest.approx(start_s, abs=0.02)
    assert take.tempo_bpm == pytest.approx(tempo_bpm, rel=0.005)
    assert all(each.is_whole and not each.marks.extra and not each.events for each in marked)
    assert all(each.marks.figures.share_right > 0.95 for each in marked)


@pytest.mark.parametrize("meter", ["3/4", "5/4", "6/8", "12/8"])
def test_other_meters(meter):
    arrangement = tune("Dm7 | G7 | Cmaj7 | A7 | F6 | Bb7 | Em7b5 | A7", meter)
    passes = passes_played(arrangement, 3.3, 80.0, 2)
    take = found([press for expected in passes for press in play(expected, None, 0.0, 8.0)], arrangement, 80.0)
    assert passes_of(take)[0].start_s == pytest.approx(3.3, abs=0.02)
    assert take.tempo_bpm == pytest.approx(80.0, rel=0.005)


def test_a_tempo_that_rises_is_followed_but_not_a_late_chord():
    arrangement = tune()
    passes = passes_played(arrangement, 2.0, 100.0, 4, faster=0.08)
    presses = [press for expected in passes for press in play(expected, random.Random(1), 0.0, 8.0)]
    late = {strike.due_s for strike in passes[2] if strike.group.position == 4}
    first_s, last_s = min(late) - 0.1, max(late) + 0.1
    presses = [replace(press, time_s=press.time_s + 0.12 * (first_s < press.time_s < last_s)) for press in presses]
    take = found(presses, arrangement)
    marked = passes_of(take)
    assert len(marked) == 4 and take.tempo_bpm == pytest.approx(104.0, rel=0.01)
    slipped = [(number, bar) for number, each in enumerate(marked) for bar in each.marks.slipped_bars()]
    assert slipped == [(2, 4)] and not any(each.events for each in marked)


def test_a_known_tempo_is_kept():
    arrangement = tune()
    (expected,) = passes_played(arrangement, 4.0, 100.0, 1)
    presses = play(expected, random.Random(2), 0.0, 10.0)
    # 0.19 s behind the click at the end
    dragged = [replace(press, time_s=4.0 + (press.time_s - 4.0) * 1.01) for press in presses]
    take = found(dragged, arrangement)
    behind = passes_of(take, steady_clock(take, 100.0), None)[0].marks.figures
    followed = passes_of(take)[0].marks.figures
    assert behind.spread_ms > 2 * followed.spread_ms


def test_where_the_player_stopped_nothing_is_missing():
    arrangement = tune()
    first, second = passes_played(arrangement, 1.0, 120.0, 2)
    broken = play(first) + play([strike for strike in second if strike.group.position < 5])
    whole, part = passes_of(found(broken, arrangement))
    assert whole.is_whole and not part.is_whole
    assert part.marks.figures.share_right == 1.0 and part.marks.slipped_bars() == frozenset()
    assert {chord.index for chord in part.marks.chords} == set(range(5))
    ending = play(first) + play([strike for strike in second if strike.group.position == 0 and strike.group.chord == 0])
    (marked,) = passes_of(found(ending, arrangement))
    assert marked.marks.figures.share_right == 1.0


def test_one_chord_many_times_is_found_from_its_first_beat():
    arrangement = tune("Dm7")
    passes = passes_played(arrangement, 3.0, 120.0, 40)
    take = found([press for expected in passes for press in play(expected, None, 0.0, 8.0)], arrangement)
    marked = passes_of(take)
    assert marked[0].start_s == pytest.approx(3.0, abs=0.03) and len(marked) == 40


def test_the_settings_pattern_wins_a_tie():
    """With two chords in every bar, two to the bar and once a bar with every change are the same strokes."""
    arrangement = tune("Dm7 G7 | Cmaj7 A7 | F6 Bb7 | Em7b5 A7")
    expected = expected_strikes(replace(arrangement, pattern="two"), steady_starts(arrangement, 1.0, 120.0))
    for first, second in (("two", "whole"), ("whole", "two")):
        assert find_take(play(expected), arrangement, [first, second], 120.0).arrangement.pattern == first


def test_the_right_hand_is_left_out():
    arrangement = tune()
    (expected,) = passes_played(arrangement, 2.0, 120.0, 1)
    rng = random.Random(5)
    melody = [Press(2.0 + 0.25 * eighth, rng.randint(68, 84)) for eighth in range(128)]
    (marked,) = passes_of(found(play(expected) + melody, arrangement))
    assert marked.marks.figures.share_right == 1.0 and not marked.marks.extra
    slip = [Press(3.0, 72)]  # one key an octave too high is no right hand
    assert slip[0] in left_hand(play(expected) + slip, arrangement)


@pytest.mark.parametrize("presses", [[], [Press(1.0, 50)], [Press(0.1 * n, 90) for n in range(50)]])
def test_what_is_not_the_tune_is_not_found(presses):
    assert found(presses, tune()) is None
    assert found(presses, tune("N.C.")) is None


# --- as students play


@pytest.mark.parametrize(
    ("way", "false", "found", "true"),
    [
        ("steady", 0.01, 0.98, 0.94),
        ("tempo wanders by 4 %", 0.02, 0.96, 0.88),
        ("three waits", 0.02, 0.96, 0.88),
        ("two restarts, one skip", 0.03, 0.96, 0.80),
        ("rolled by 120 ms", 0.01, 0.98, 0.94),
        ("pushes, smashes, a restart", 0.02, 0.96, 0.88),
        ("another key or octave", 0.01, 0.96, 0.94),
        ("in parts", 0.02, 0.96, 0.88),
        ("right hand alone for a while", 0.01, 0.98, 0.94),
        ("through files of any kind", 0.02, 0.96, 0.88),
    ],
)
def test_marks_stay_true_however_a_student_plays(way, false, found, true, deep):
    """The goals of the bench, a little wider for so few takes. One of them, six by `--deep`."""
    tally = trial(WAYS[way], range(6) if deep else range(1))
    assert tally.lost == tally.wrong_pattern == 0
    assert tally.false_share <= false and tally.found_share >= found and tally.true_share >= true, tally.faults
    assert tally.named_share >= 0.85 or not tally.events, tally.faults


@pytest.mark.parametrize("slip", ["push", "smash"])
def test_pushes_and_smashes_are_told_by_their_names(slip):
    recipe = Recipe("four", slips=0, pushes=6 * (slip == "push"), smashes=6 * (slip == "smash"), jitter_ms=12.0)
    made = make("ferry-at-half-past-six", recipe, 3)
    want = sorted((chord.visit, chord.index, chord.chord) for chord in made.chords if chord.slip == slip)
    told = [
        (number, chord.index, chord.chord)
        for number, each in enumerate(mark(made).passes)
        for chord in each.marks.chords
        if chord.reason == slip
    ]
    assert told == want and len(told) == 6


@pytest.mark.parametrize("reason", ["octave", "other shell", "held on"])
def test_another_shell_is_told_by_its_name(reason):
    """In bar 6 of the first chorus: the shell an octave higher, another legal one, that of the chord before."""
    made = make("ferry-at-half-past-six", Recipe("four", slips=0, jitter_ms=10.0), 3)
    due_s = next(chord.due_s for chord in made.chords if chord.index == 5)
    choice, before = made.stand.choices_at(5)[0][1], made.stand.choices_at(4)[-1][1]
    right = choice.shell.midi
    instead = {
        "octave": tuple(note + 12 for note in right),
        "other shell": next(option.midi for option in choice.options if option.midi not in (right, before.shell.midi)),
        "held on": before.shell.midi,
    }[reason]
    made.presses = [
        replace(press, note=instead[right.index(press.note)])
        if press.note in right and due_s - 0.1 < press.time_s < due_s + 0.2
        else press
        for press in made.presses
    ]
    told = next(chord for chord in mark(made).passes[0].marks.chords if chord.index == 5)
    assert (told.verdict, told.reason) == ("wrong", reason)


def test_every_second_strike_wrong_is_not_right():
    made = make("ferry-at-half-past-six", Recipe("four", slips=0), 1)
    times = sorted({round(press.time_s, 1) for press in made.presses})
    presses = [
        replace(press, note=press.note + 1) if times.index(round(press.time_s, 1)) % 2 else press
        for press in made.presses
    ]
    marks = mark_recording(made.stand, Recording(tuple(presses)))
    assert marks.together.figures.share_right < 0.2 and all(each.marks.is_disturbed for each in marks.passes)


def test_twenty_keys_under_each_strike_are_no_clean_pass():
    made = make("left-sock-blues", Recipe("four", choruses=1, slips=0), 1)
    smashed = [Press(p.time_s, note) for p in made.presses[::2] for note in range(p.note - 10, p.note + 11)]
    marks = mark_recording(made.stand, Recording(tuple(sorted([*made.presses, *smashed], key=lambda p: p.time_s))))
    assert marks is None or all(each.marks.is_disturbed for each in marks.passes)


def test_what_is_pushed_half_of_the_time_is_still_the_song():
    """All its notes are right; by their time alone many a stroke would be another."""
    marked = mark(habit_take("pushes", 509))
    assert marked is not None and marked.take.likeness > 0.9 and not any(each.marks.extra for each in marked.passes)


def test_a_key_between_all_strikes_hides_no_shell():
    """Every second stroke is a single key among the shells: all chords are right, and the pass is not clean."""
    for song, pattern in (("two-spoons", "whole"), ("bread-for-the-lighthouse", "four")):
        made = make(song, Recipe(pattern, slips=0), 2)
        times = sorted({round(press.time_s, 1) for press in made.presses})
        between = [Press((at + after) / 2, 40 + place % 20) for place, (at, after) in enumerate(pairwise(times))]
        made.presses = sorted(made.presses + between, key=lambda press: press.time_s)
        marked = mark(made)
        assert marked.take.arrangement.pattern == pattern
        assert marked.together.figures.share_right > 0.95 and all(each.marks.is_disturbed for each in marked.passes)


def test_whole_notes_marked_as_two_to_the_bar_lack_their_second_strike():
    made = make("left-sock-blues", Recipe("whole", slips=0), 2)
    marks = mark_recording(made.stand, Recording(tuple(made.presses)), pattern="two").together
    firsts = [chord.strikes[0] for chord in marks.chords]
    assert sum(mark.verdict == "right" for mark in firsts) > 0.95 * len(firsts)
    assert all(chord.verdict == "missing" for chord in marks.chords if len(chord.strikes) == 2)


def test_two_takes_in_a_file_are_both_marked():
    made = make("left-sock-blues", Recipe("four", choruses=2, takes=2, slips=0), 5)
    marked = mark(made)
    assert [each.take for each in marked.passes] == [1, 1, 2, 2]
    assert all(each.is_whole and each.marks.figures.share_right > 0.95 for each in marked.passes)


def test_a_take_of_another_song_is_told(paths, settings):
    """And the song's own take is not; the other way round is tests/cli/test_mark.py's."""
    played, on_stand = "two-spoons", "ferry-at-half-past-six"
    recording = Recording(tuple(make(played, Recipe("four"), 1).presses))
    marked = mark_recording(stand_of(on_stand, "four"), recording)
    likeness = marked.take.likeness if marked else 0.0

    def songs():
        """Every twelfth of ours, and the two in question."""
        every = read_songs(paths, settings)
        return [song for at, song in enumerate(every) if at % 12 == 0 or song.id in (played, on_stand)]

    assert fits_better(songs, settings, recording, likeness, on_stand).id == played
    own = mark_recording(stand_of(played, "four"), recording)
    assert fits_better(songs, settings, recording, own.take.likeness, played) is None


# --- what a teacher would say


@pytest.mark.parametrize("habit", HABITS)
def test_habits_are_named(habit, deep):
    """In the shortest take of three; by `--deep` in two of them."""
    takes = sorted((habit_take(habit, seed) for seed in range(3)), key=lambda made: len(made.presses))
    told = [habit in habits_told(made) for made in (takes if deep else takes[:1])]
    assert sum(told) >= (2 if deep else 1)


def test_a_clean_take_gets_no_sentence(deep):
    assert not any(habits_told(habit_take("", seed)) for seed in range(6 if deep else 2))
