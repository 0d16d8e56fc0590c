"""The melody of a recorded take, marked by the left hand's own beat: the left hand says when each beat was, the melody what was played on it.
Without a left hand it says both itself.

Units: pulses from the start of the loop; seconds from the start of the file.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace

from companion.groove.model import Arrangement
from companion.groove.swing import played_ratio
from companion.practice.marking.apart import of_hand
from companion.practice.marking.expected import TimedStrike, steady_starts, strikes, window_s
from companion.practice.marking.hands import in_octave, keys_of_right_hand, octave_played
from companion.practice.marking.in_order import in_order
from companion.practice.marking.marks import figures_of, judge
from companion.practice.marking.matching import Matching, clean_presses
from companion.practice.marking.playthrough import Pass
from companion.practice.marking.timing import WHOLE
from companion.practice.model import Expected, PassMarks, Press
from companion.practice.reach import left_hand_ceiling

HEARD_SHARE = 0.1  # of the melody's notes must come for a right hand to be heard at all (our own choice)


def melody_keys(
    each: Pass, arrangement: Arrangement, presses: Sequence[Press], tempo_bpm: float
) -> frozenset[tuple[float, int]]:
    """Which keys of a take were struck by the right hand, second and note, where it plays the melody along; none where it does not. As
    with_melody."""
    due = _due_of_both(each, arrangement, presses, tempo_bpm)
    if due is None or with_melody(each, arrangement, presses, tempo_bpm).absent:
        return frozenset()
    both, near, _ = due
    return keys_of_right_hand(both, near, left_hand_ceiling(arrangement.bars))


def with_melody(each: Pass, arrangement: Arrangement, presses: Sequence[Press], tempo_bpm: float) -> Pass:
    """The pass with its melody marked too. arrangement: the loop with its melody, in the pattern and key that were played. presses: of the
    whole take; tempo_bpm: it was played at, which says how much it swings. A melody of which nothing is to be heard is absent."""
    due = _due_of_both(each, arrangement, presses, tempo_bpm)
    if due is None:
        return each
    both, near, octave = due
    matching = Matching(both, left_hand_ceiling(arrangement.bars), ("right",))
    for press in near:
        matching.take(press)
    right = judge(*matching.look())
    came = sum(bool(mark.keys) for chord in right.chords for mark in chord.strikes)
    if came < HEARD_SHARE * len(right.chords):
        return replace(each, absent="right")
    taken = {(press.time_s, press.note) for chord in right.chords for mark in chord.strikes for press in mark.keys}
    from_s, until_s = both[0].due_s, both[-1].due_s
    extra = [key for key in each.marks.extra if (key.time_s, key.note) not in taken]
    extra += [key for key in right.extra if from_s < key.time_s < until_s and key not in extra]
    chords = sorted([*each.marks.chords, *right.chords], key=lambda chord: chord.strikes[0].expected.due_s)
    marks = PassMarks(tuple(chords), tuple(extra), figures_of(chords, len(extra)), octave)
    return replace(each, marks=marks)


def _due_of_both(
    each: Pass, arrangement: Arrangement, presses: Sequence[Press], tempo_bpm: float
) -> tuple[list[Expected], list[Press], int] | None:
    """What was due of both hands in a pass, in order of time; the keys struck around it; and how much higher than written the melody was played.
    None where nothing was due of one of them."""
    left = [strike.expected for chord in each.marks.chords for strike in chord.strikes]
    if not left:
        return None
    due = _Beat(left, _in_pulses(arrangement, tempo_bpm, "left"))
    first, last = left[0].group.position, left[-1].group.position
    melody = [
        _expected(strike, due)
        for strike in _in_pulses(arrangement, tempo_bpm, "right")
        if first <= strike.group.position <= last
    ]
    if not melody:
        return None
    from_s, until_s = min(left[0].due_s, melody[0].due_s), max(left[-1].due_s, melody[-1].due_s)
    edge_s = left[0].beat_s
    near = clean_presses(press for press in presses if from_s - edge_s < press.time_s < until_s + edge_s)
    octave = octave_played([*left, *melody], near)
    taken = {
        (key.time_s, key.note) for chord in each.marks.chords for mark in chord.strikes for key in mark.keys
    }  # by the left hand
    others = [press for press in near if (press.time_s, press.note) not in taken]
    melody = list(in_order(in_octave(melody, octave), others))
    return sorted([*left, *melody], key=lambda strike: strike.due_s), near, octave


def as_one_hand(arrangement: Arrangement) -> Arrangement:
    """The loop with its melody in the place of the shells, so that a take of the melody alone is found as one of shells is."""
    bars = tuple(
        replace(
            bar,
            chords=tuple(replace(chord, notes=()) for chord in bar.chords),
            coming=(),
            was_early=False,
            written=tuple(replace(strike, part="left") for strike in bar.written if strike.part == "right"),
        )
        for bar in arrangement.bars
    )
    return replace(arrangement, bars=bars)


def as_melody(each: Pass) -> Pass:
    """A pass that was found so, as one of the right hand, without the left: each note by itself."""
    strikes = [
        replace(
            mark,
            expected=replace(mark.expected, part="right"),
            verdict="right" if mark.verdict in WHOLE else mark.verdict,
        )
        for chord in each.marks.chords
        for mark in chord.strikes
    ]
    return replace(each, marks=judge(strikes, [replace(key, part="right") for key in each.marks.extra]), absent="left")


def as_asked(passes: Sequence[Pass], hands: str) -> tuple[Pass, ...]:
    """The passes as those hands are asked for. Of one hand alone the other marks nothing, and passes without it were not played, but where it is
    absent from all: then they are the other's."""
    if hands == "both" or all(each.absent == hands for each in passes):
        return tuple(passes)
    return tuple(replace(each, marks=of_hand(each.marks, hands), absent="") for each in passes if each.absent != hands)


def _in_pulses(arrangement: Arrangement, tempo_bpm: float, part: str) -> list[TimedStrike]:
    ratio = played_ratio(arrangement.feel, arrangement.swing_ratio, tempo_bpm)
    return strikes(replace(arrangement, swing_ratio=ratio), steady_starts(arrangement, 0.0, 60.0), part)


def _expected(strike: TimedStrike, due: _Beat) -> Expected:
    due_s, beat_s = due.at(strike.due_s)
    length_s = strike.length_s * beat_s
    return Expected(
        "right",
        strike.group,
        strike.notes,
        due_s,
        strike.number,
        beat_s=beat_s,
        window_s=window_s(beat_s, strike.gap_s * beat_s),
        length_s=0.0 if strike.turns else length_s - strike.taken_s,
        grace=strike.grace,
        turns=strike.turns,
        tremolo_s=length_s if strike.turns else 0.0,
        free=strike.free,
    )


class _Beat:
    """When each pulse was, by when the left hand's strikes were due. form: of one time through, due_s in pulses."""

    def __init__(self, left: Sequence[Expected], form: Sequence[TimedStrike]) -> None:
        pulses = {(strike.group.position, strike.group.chord, strike.number): strike.due_s for strike in form}
        points = {
            pulses[place]: strike
            for strike in left
            if (place := (strike.group.position, strike.group.chord, strike.number)) in pulses
        }
        self._pulses = sorted(points)
        self._strikes = [points[pulse] for pulse in self._pulses]

    def at(self, pulse: float) -> tuple[float, float]:
        """The second of a pulse, and how long a pulse lasts there."""
        after = min(max(1, bisect_left(self._pulses, pulse)), len(self._pulses) - 1)
        before = max(0, after - 1)
        near = self._strikes[before]
        if before == after or not self._pulses[before] <= pulse <= self._pulses[after]:
            edge = before if pulse < self._pulses[before] else after
            strike = self._strikes[edge]
            return strike.due_s + (pulse - self._pulses[edge]) * strike.beat_s, strike.beat_s
        share = (pulse - self._pulses[before]) / (self._pulses[after] - self._pulses[before])
        return near.due_s + share * (self._strikes[after].due_s - near.due_s), near.beat_s
