"""Which hand a key was struck by, while both play: shared out by what is due and by register; and in which octave a melody was played.

A key that one hand is due to strike now is that hand's. Any other is the melody's where it lies beside a note of it that is due and did not come, however
low that is played; else of the hand whose notes around that time lie nearer. What the right
hand strikes just before a note that is due is a grace note, and no key too many; but where of a chord under the melody a note did not come, it stands for that,
unless it is the very slide that was asked for and the melody came.

Units: seconds; MIDI notes.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from math import inf

from companion.groove.model import HAND_PARTS
from companion.practice.marking.ornaments import TremoloKeys
from companion.practice.model import Expected, Press
from companion.practice.reach import GRACE_S, NEIGHBOUR_SEMITONES, SLID_S

# How far above or below its written octave a melody is looked for.
OCTAVES = (12, -12, 24, -24)
# So many notes of a melody say that it is played, and in which octave, so many times as often there as where it is written (our own choice).
NOTES_FOR_OCTAVE, TIMES_FOR_OCTAVE = 4, 3
HELD_SHARE = 0.5  # of its length a note of the melody is to be held


def is_in_window(strike: Expected, press: Press) -> bool:
    """Whether a press lies in the window of a strike."""
    # To a tenth of a millisecond, so that no rounding of binary fractions decides at the window's edge.
    return round(abs(press.time_s - strike.due_s), 4) <= strike.window_s


class KeyShares:
    """Gives each press to a hand, in order of time.

    hands: part -> what it is due to strike, in order of time; of what a hand is not asked for it takes its keys all the same. ceiling: the
    highest note that is the left hand's, where nothing else tells; where the left hand alone is asked for, all keys that nothing is due for are its, until
    the melody is heard along with it.
    """

    def __init__(self, hands: Mapping[str, Sequence[Expected]], asked: Sequence[str], ceiling: int) -> None:
        self._hands = {part: _Due(strikes) for part, strikes in hands.items() if strikes}
        self._asked, self._ceiling = tuple(asked), ceiling
        self._early: list[
            tuple[Press, Expected | None]
        ] = []  # of the right hand, and what it struck within a moment then
        self._melody_keys = 0  # of what the right hand was due, so many came

    def take(self, press: Press) -> list[tuple[str, Press]]:
        """The next press. Gives what is decided now: part and press."""
        over = [early for early in self._early if press.time_s - early[0].time_s > self._grace_s(early[0])]
        decided = [("right", early) for early in self._no_graces(over)]
        self._early = [early for early in self._early if early not in over]
        part = self._due(press)
        if part == "right":
            self._melody_keys += 1
            strike = self._hands["right"].struck(press)
            self._early = [(early, before or strike) for early, before in self._early]
        elif part is None:
            part = self._by_register(press)
            if part == "right":
                self._early.append((press, None))
                return decided
        return [*decided, (part, press)]

    @property
    def waiting(self) -> list[Press]:
        """The right hand's presses that may still turn out to be grace notes, and are none by what was struck up to now."""
        return self._no_graces(self._early)

    @property
    def waits_from_s(self) -> float:
        """When the first of those was struck that may turn out to be one, or none."""
        return min((early.time_s for early, _ in self._early), default=inf)

    def _no_graces(self, early: Iterable[tuple[Press, Expected | None]]) -> list[Press]:
        """Those without a note after them, or with one whose chord lacks a key, for which it stands."""
        right = self._hands.get("right")
        return [
            press
            for press, strike in early
            if strike is None
            or (right is not None and right.lacks(strike) and not (press.note == strike.grace and right.sang(strike)))
        ]

    def _grace_s(self, press: Press) -> float:
        """How long before its note a press may lie that turns out to be a grace."""
        right = self._hands.get("right")
        return SLID_S if right is not None and right.slides(press) else GRACE_S

    def _due(self, press: Press) -> str | None:
        """The hand that is to strike that key now; where both are, the one that is asked for, else the nearer. None for neither."""
        off = {part: due.off_s(press) for part, due in self._hands.items()}
        near = [(part not in self._asked, off_s, part) for part, off_s in off.items() if off_s is not None]
        if not near:
            return None
        part = min(near)[2]
        self._hands[part].came(press)
        return part

    def _by_register(self, press: Press) -> str:
        if "right" in self._hands and self._asked != ("left",) and self._hands["right"].slides(press):
            return "right"
        if "right" not in self._hands or (self._asked == ("left",) and self._melody_keys < NOTES_FOR_OCTAVE):
            return "left"  # what lies above its ceiling is left out there
        if "left" not in self._hands:
            return "right"
        if self._hands["right"].lacks_beside(press):
            return "right"
        left, right = (self._hands[part].distance(press) for part in ("left", "right"))
        return "left" if left < right or (left == right and press.note <= self._ceiling) else "right"


class _Due:
    """What one hand is due to strike."""

    def __init__(self, strikes: Sequence[Expected]) -> None:
        self._strikes = strikes
        self._times = [strike.due_s for strike in strikes]
        self._came: set[tuple[float, int]] = set()  # when which notes were due that came

    def _around(self, time_s: float) -> Sequence[Expected]:
        first = max(0, bisect_left(self._times, time_s) - 1)
        return self._strikes[first : first + 2]

    def off_s(self, press: Press) -> float | None:
        """How far off the key is struck, None where it is not due."""
        return min(
            (
                abs(press.time_s - strike.due_s)
                for strike in self._around(press.time_s)
                if press.note in strike.notes and is_in_window(strike, press)
            ),
            default=None,
        )

    def came(self, press: Press) -> None:
        """A key that is due was struck."""
        self._came |= {
            (strike.due_s, press.note) for strike in self._around(press.time_s) if is_in_window(strike, press)
        }

    def struck(self, press: Press) -> Expected:
        """The strike that a key that is due belongs to."""
        return min(
            (
                strike
                for strike in self._around(press.time_s)
                if press.note in strike.notes and is_in_window(strike, press)
            ),
            key=lambda strike: abs(press.time_s - strike.due_s),
        )

    def lacks(self, strike: Expected) -> bool:
        """Whether a key of it did not come yet."""
        return any((strike.due_s, note) not in self._came for note in strike.notes)

    def sang(self, strike: Expected) -> bool:
        """Whether the highest key of it came."""
        return (strike.due_s, max(strike.notes)) in self._came

    def slides(self, press: Press) -> bool:
        """Whether it is the grace of a strike that is due so soon."""
        after = self._strikes[max(0, bisect_left(self._times, press.time_s) - 1) :][:2]
        return any(
            press.note == strike.grace and -SLID_S - strike.window_s <= press.time_s - strike.due_s <= strike.window_s
            for strike in after
        )

    def lacks_beside(self, press: Press) -> bool:
        """Whether a key beside that one is due and did not come yet."""
        return any(
            abs(press.note - note) <= NEIGHBOUR_SEMITONES and (strike.due_s, note) not in self._came
            for strike in self._around(press.time_s)
            if is_in_window(strike, press)
            for note in strike.notes
        )

    def distance(self, press: Press) -> int:
        """Semitones to the nearest note of the strikes before and after."""
        return min(abs(press.note - note) for strike in self._around(press.time_s) for note in strike.notes)


def octave_played(expected: Iterable[Expected], presses: Sequence[Press]) -> int:
    """How many semitones, whole octaves, above the written one the melody is played throughout; 0 as written, or where too little says
    otherwise. expected: of both hands; presses: in order of time."""
    expected = tuple(expected)
    melody = [strike for strike in expected if strike.part == "right"]
    times = [press.time_s for press in presses]
    near = [
        presses[bisect_left(times, strike.due_s - strike.window_s) : bisect_left(times, strike.due_s + strike.window_s)]
        for strike in melody
    ]

    counts = _octaves_of(melody, near)
    # As nearly always: which of them are the left hand's changes nothing.
    if max((counts[octave] for octave in OCTAVES), default=0) < NOTES_FOR_OCTAVE:
        return 0
    left = _Due([strike for strike in expected if strike.part == "left"])
    near = [[press for press in pressed if left.off_s(press) is None] for pressed in near]
    counts = _octaves_of(melody, near)
    octave = max(OCTAVES, key=lambda octave: counts[octave])
    plain = counts[octave] >= max(NOTES_FOR_OCTAVE, TIMES_FOR_OCTAVE * counts[0])
    return octave if plain else 0


def _octaves_of(melody: Iterable[Expected], near: Iterable[Iterable[Press]]) -> Counter[int]:
    """Semitones -> how many notes of the melody came so much higher than written. near: the presses around each."""
    counts: Counter[int] = Counter()
    for strike, presses in zip(melody, near):
        counts.update({press.note - note for press in presses for note in strike.notes})
    return counts


def keys_of_right_hand(
    expected: Sequence[Expected], presses: Iterable[Press], ceiling: int
) -> frozenset[tuple[float, int]]:
    """Of keys struck by either hand those that are the right one's: second and note. expected: of both hands, the melody in the octave it was
    played in; presses: in order of time."""
    by_part = {part: [strike for strike in expected if strike.part == part] for part in HAND_PARTS}
    shares = KeyShares(by_part, HAND_PARTS, ceiling)
    presses = tuple(presses)
    tremolos = TremoloKeys(sorted(expected, key=lambda strike: strike.due_s))
    left = {
        id(own)
        for press in presses
        if not tremolos.goes_on(press)
        for part, own in shares.take(press)
        if part == "left"
    }
    return frozenset((press.time_s, press.note) for press in presses if id(press) not in left)


def in_octave(expected: Iterable[Expected], octave: int) -> tuple[Expected, ...]:
    """The same with the melody so many semitones higher."""
    return tuple(
        replace(
            strike,
            notes=tuple(note + octave for note in strike.notes),
            grace=None if strike.grace is None else strike.grace + octave,
            turns=tuple(note + octave for note in strike.turns),
        )
        if octave and strike.part == "right"
        else strike
        for strike in expected
    )
