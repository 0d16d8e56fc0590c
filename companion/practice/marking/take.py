"""A take recorded elsewhere: what of the song was played in it, in which pattern and key, when, and how well.

Every pattern that may be meant is aligned (align.py), by its notes first; those that fit best again with the local beat that
this gives (beat.py), until neither changes. The best score wins, which is the reading that makes most right. Units: seconds
from the start of the file; tempo in pulses a minute.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate
from statistics import median

from companion.groove.model import Arrangement
from companion.practice.marking.align import Alignment, align, filled
from companion.practice.marking.beat import Beat, follow, local_beats
from companion.practice.marking.expected import ShellOptions
from companion.practice.marking.form import WHOLE_STROKE, Form, NoteScores, shells_of
from companion.practice.marking.matching import clean_presses
from companion.practice.marking.steady import Point
from companion.practice.marking.strokes import Stroke, split_strokes, strokes_of
from companion.practice.model import Press
from companion.practice.reach import left_hand_ceiling

# A take whose score is less than this share of what its strokes could give is another song (our own choice).
LEAST_LIKENESS = 0.45
# Unless it is as like as this by its notes alone, or by those of its strokes that hold a whole shell, where they are so large a share of all (our
# own choice; 104 takes of other songs came to 0.72 at most, 16 of the song to 0.92, 20 with a key between all strikes to 0.84 at least).
PLAIN, FEWEST_SHELLS = 0.8, 1.0 / 3.0
# Two patterns whose scores are this near, as a share, are a tie.
TIE = 0.01
# By notes alone a pattern is worth another look from this share of the best on.
WORTH_A_LOOK = 0.7
# What lies higher than the left hand comes is the right hand's, if there is so much of it.
RIGHT_HAND_NOTES, RIGHT_HAND_SHARE = 8, 0.1
# Another key must explain so many times the strokes before it is tried, and so much more of the score.
OTHER_KEY_STROKES, OTHER_KEY_SCORE = 1.3, 1.15
TRANSPOSITIONS = (0, *(way * step for step in range(1, 13) for way in (1, -1)), 24, -24)
ROUNDS = 4
# A beat that differs by less is the same, for the alignment.
SAME_BEAT = 0.05
# So many strokes tell the pattern.
TELLING_STROKES = 160


@dataclass(frozen=True, slots=True)
class Take:
    """form: the loop in the pattern that was played. strokes: all of the hand's, moved by -semitones into the form's key.
    alignment: which stroke is which; points: of each of its steps the pulse and the second; beat: when each was due. likeness: 0 to
    1. tempo_bpm: on average. other_hand_s: when the right hand struck, if it plays too."""

    form: Form
    strokes: tuple[Stroke, ...]
    alignment: Alignment
    points: tuple[Point, ...]
    beat: Beat
    semitones: int
    likeness: float
    tempo_bpm: float
    other_hand_s: tuple[float, ...] = ()

    @property
    def came(self) -> float:
        """How much of the form came, in the units of align.py."""
        scores = NoteScores(self.form)
        return sum(scores.of(self.strokes[step.stroke].notes)[0][step.strike] for step in self.alignment.steps)

    @property
    def arrangement(self) -> Arrangement:
        """The loop in the pattern that was played."""
        return self.form.arrangement


def find_take(
    presses: Iterable[Press],
    arrangement: Arrangement,
    patterns: Sequence[str],
    near_bpm: float,
    *,
    sections: Collection[int] = (),
    options: ShellOptions | None = None,
    semitones: Collection[int] = TRANSPOSITIONS,
) -> Take | None:
    """Find the loop in a take; None where it is not there.

    patterns: the rhythms it may be in, the likeliest first, which wins a tie. near_bpm: gives the swing of a first look. sections:
    positions in the loop that begin a section. semitones: how far from the chart's key it may have been played.
    """
    presses = clean_presses(presses)
    forms = [Form.of(replace(arrangement, pattern=pattern), near_bpm, sections, options) for pattern in patterns]
    forms = [form for form in forms if form.strikes]
    if len(presses) < 2 or not forms:
        return None
    best: Take | None = None
    for moved in likely_keys(presses, forms[0], semitones):
        here = [Press(p.time_s, p.note - moved, p.velocity, p.held_s) for p in presses]
        own = left_hand(here, arrangement)
        strokes = strokes_of(own)
        take = _read(strokes, forms, moved)
        if take is None or take.likeness < PLAIN:
            among = _among_others(strokes, forms, moved)
            if among and (take is None or take.likeness < LEAST_LIKENESS or among.came >= take.came):
                take = among
        if take and len(own) < len(here):
            ceiling = left_hand_ceiling(arrangement.bars)
            take = replace(take, other_hand_s=tuple(press.time_s for press in here if press.note > ceiling))
        if take and (best is None or take.alignment.score > OTHER_KEY_SCORE * best.alignment.score):
            best = take
    return best if best and best.likeness >= LEAST_LIKENESS else None


def likely_keys(presses: Sequence[Press], form: Form, semitones: Collection[int]) -> list[int]:
    """The chart's own key, and the one that explains far more strokes, if there is one."""
    counts = Counter(stroke.notes for stroke in strokes_of(presses))
    shells = list(shells_of(form))
    fits = {
        moved: sum(
            count
            for notes, count in counts.items()
            if any(all(note + moved in notes for note in shell) for shell in shells)
        )
        for moved in semitones
    }
    own = fits.get(0, 0)
    others = sorted((moved for moved in fits if moved), key=lambda moved: (-fits[moved], abs(moved)))
    likely = [moved for moved in others[:3] if fits[moved] > OTHER_KEY_STROKES * own and fits[moved] > 2]
    return [*([0] if 0 in fits else []), *likely]


def left_hand(presses: Sequence[Press], arrangement: Arrangement) -> list[Press]:
    """The presses that may be the left hand's. Where a good part of a take lies more than a fourth above every shell, both
    hands play, and what lies there is the right hand's; else every note counts, also one an octave too high."""
    ceiling = left_hand_ceiling(arrangement.bars)
    low = [press for press in presses if press.note <= ceiling]
    high = len(presses) - len(low)
    return low if high >= max(RIGHT_HAND_NOTES, RIGHT_HAND_SHARE * len(presses)) else list(presses)


# --- one reading of the strokes


def _read(strokes: Sequence[Stroke], forms: Sequence[Form], moved: int) -> Take | None:
    """The best pattern by the start of the take, then all of it in that pattern."""
    start = strokes[:TELLING_STROKES]
    readings = [_Candidate(form, NoteScores(form)) for form in forms]
    looks = [(align(reading.form, reading.scores, start), reading) for reading in readings]
    top = max(alignment.score for alignment, _ in looks)
    looks = [(alignment, reading) for alignment, reading in looks if alignment.score >= WORTH_A_LOOK * top]
    best: tuple[Alignment, _Candidate] | None = None
    for alignment, reading in looks:
        alignment = _settle(reading, start, alignment)[0]
        if best is None or alignment.score > (1.0 + TIE) * best[0].score:
            best = alignment, reading
    if best is None:
        return None
    reading = best[1]
    alignment = align(reading.form, reading.scores, strokes)
    apart = split_strokes(strokes, [(step.stroke, step.strike) for step in alignment.steps], reading.form.strikes)
    if len(apart) > len(strokes):
        strokes, alignment = apart, align(reading.form, reading.scores, apart)
    by_notes = _likeness(alignment, strokes)
    alignment, beats = _settle(reading, strokes, alignment)
    alignment = filled(reading.form, reading.scores, strokes, alignment)
    take = _take(reading, strokes, alignment, beats, moved) if beats else None
    # What is plainly the song by its notes is, however often it is pushed or waited in.
    return replace(take, likeness=by_notes) if take and by_notes >= max(PLAIN, take.likeness) else take


def _likeness(alignment: Alignment, strokes: Sequence[Stroke]) -> float:
    return max(0.0, alignment.score) / (WHOLE_STROKE * max(1, len(strokes)))


def _among_others(strokes: Sequence[Stroke], forms: Sequence[Form], moved: int) -> Take | None:
    """The take by those of its strokes that hold a whole shell of the form, where they plainly are it and the others were struck between
    them; None where they are not."""
    shells = list(shells_of(forms[0]))
    whole = [stroke for stroke in strokes if any(shell <= stroke.notes for shell in shells)]
    if len(whole) < max(2, FEWEST_SHELLS * len(strokes)):
        return None
    take = _read(whole, forms, moved)
    if take is None or take.likeness < PLAIN:
        return None
    kept = {id(stroke) for stroke in whole}
    others = [stroke for stroke in strokes if id(stroke) not in kept]
    together = sorted((*take.strokes, *others), key=lambda stroke: stroke.time_s)
    place = {id(stroke): number for number, stroke in enumerate(together)}
    steps = tuple(replace(step, stroke=place[id(take.strokes[step.stroke])]) for step in take.alignment.steps)
    return replace(take, strokes=tuple(together), alignment=replace(take.alignment, steps=steps))


@dataclass(frozen=True, slots=True)
class _Candidate:
    form: Form
    scores: NoteScores


def _settle(reading: _Candidate, strokes: Sequence[Stroke], alignment: Alignment) -> tuple[Alignment, list[float]]:
    """Align again by the beat that the alignment gives, until the beat does not change. No beat where there is none to find."""
    beats: list[float] = []
    for _ in range(ROUNDS):
        before, beats = beats, _beats(reading.form, alignment, strokes)
        if not beats or (before and all(abs(a / b - 1.0) < SAME_BEAT for a, b in zip(before, beats))):
            break
        alignment = align(reading.form, reading.scores, strokes, beats)
    return alignment, beats


def _take(reading: _Candidate, strokes: Sequence[Stroke], alignment: Alignment, beats: list[float], moved: int) -> Take:
    form, steps = reading.form, alignment.steps
    wanted = [form.strikes[step.strike].notes for step in steps]
    points = [(alignment.pulse(form, step), strokes[step.stroke].time_for(notes)) for step, notes in zip(steps, wanted)]
    cuts = [number for number, step in enumerate(steps) if number and step.jumped]
    worth = [reading.scores.of(strokes[step.stroke].notes)[0][step.strike] for step in steps]
    trusted = [
        value >= 0.45 * WHOLE_STROKE and not form.strikes[step.strike].free
        for value, step in zip(worth, steps, strict=True)
    ]
    chords = list(accumulate(form.strikes[step.strike].number == 0 for step in steps))
    beat = follow(points, [beats[step.stroke] for step in steps], cuts, trusted, chords)
    known = local_beats(points, beat.breaks)  # now without the waits
    if known:
        beat = follow(points, known, cuts, trusted, chords)
    return Take(
        form,
        tuple(strokes),
        alignment,
        tuple(points),
        beat,
        moved,
        _likeness(alignment, strokes),
        60.0 / median(known or beats),
    )


def _beats(form: Form, alignment: Alignment, strokes: Sequence[Stroke]) -> list[float]:
    """The length of a pulse at every stroke of the take."""
    points = [(alignment.pulse(form, step), strokes[step.stroke].time_s) for step in alignment.steps]
    cuts = [number for number, step in enumerate(alignment.steps) if step.jumped]
    known = local_beats(points, cuts)
    if not known:
        return []
    beats, place = [], 0
    for number in range(len(strokes)):
        while place + 1 < len(known) and alignment.steps[place + 1].stroke <= number:
            place += 1
        beats.append(known[place])
    return beats
