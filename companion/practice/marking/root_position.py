"""Whole chords heard on a keyboard: the right keys with the right one lowest, struck together or one after the other from the lowest up.

Any octave is accepted, as it is the shape that is learned. Units: seconds on one clock, handed in; MIDI numbers. Pure: every key gives a new state.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from companion.practice.marking.timing import tolerance_ms
from companion.practice.reach import RIGHT_HAND_ABOVE

# Keys of one chord further apart are no longer struck together: ensembles lie within 30 to 50 ms (Rasch 1979, from memory), tones 50 ms apart are
# still heard as one chord (Hove, Keller and Krumhansl 2007), and a student's hand gets a little more (our own choice).
TOGETHER_S = 0.080
# What a chord can be in time with the click, from best to worst. rolled: the right keys, never together.
TIMED_VERDICTS = ("right", "early", "late", "rolled", "wrong", "missing")
_WINDOW_BEATS = 0.5  # a chord may be struck from so long before it is due, and until so long before the next one is

# What lies further than this from the chord is the other hand's: an octave, in which the chord may lie as well, and what parts the hands elsewhere
# (practice.reach; our own choice).
FAR_SEMITONES = 12 + RIGHT_HAND_ABOVE

# What the last key was, where it was not what was due.
OTHER, OCTAVE, ORDER, LOWEST, OPEN, APART, LIFT = "other", "octave", "order", "lowest", "open", "apart", "lift"


@dataclass(frozen=True, slots=True)
class Hearing:
    """One chord being looked for.

    steps: what is to be struck one after the other, each a set of keys to be struck together, MIDI numbers from the lowest. since_s: when the chord's turn
    came. step: how many are done. shift: how far above them it is played, semitones, None before the first is done. fresh: keys pressed for
    this step and held, with their times. kept: other keys held. first_s: of the first key of the first step, as it was right.
    spread_s: the widest step. wrong: keys that do not belong there, each press once. rolled: how often the right keys came apart. said: what
    the last key was, one of the words above, "" where it was right. note: that key.
    """

    steps: tuple[tuple[int, ...], ...]
    since_s: float
    step: int = 0
    shift: int | None = None
    fresh: tuple[tuple[int, float], ...] = ()
    kept: frozenset[int] = frozenset()
    first_s: float | None = None
    spread_s: float = 0.0
    wrong: tuple[int, ...] = ()
    rolled: int = 0
    said: str = ""
    note: int = 0

    @property
    def is_found(self) -> bool:
        """Whether every step is done."""
        return self.step == len(self.steps)

    @property
    def down(self) -> frozenset[int]:
        """Every key that is held."""
        return self.kept | {note for note, _ in self.fresh}

    @property
    def find_s(self) -> float | None:
        """From the chord's turn to the first key of the stroke that was right; None before."""
        return None if self.first_s is None else self.first_s - self.since_s

    @property
    def notes(self) -> tuple[int, ...]:
        """The keys of the step that is due, at the octave it is played in."""
        return tuple(note + (self.shift or 0) for note in self.steps[min(self.step, len(self.steps) - 1)])


def start_hearing(steps: Iterable[Iterable[int]], since_s: float, down: Iterable[int] = ()) -> Hearing:
    """Nothing struck for it yet. down: keys that are held still, which must be struck anew to count."""
    return Hearing(tuple(tuple(step) for step in steps), since_s, kept=frozenset(down))


def key_down(state: Hearing, time_s: float, note: int) -> Hearing:
    """A key was pressed."""
    if state.is_found:
        return replace(state, kept=state.kept | {note})
    fresh = (*((each, when) for each, when in state.fresh if each != note), (note, time_s))
    state = replace(state, fresh=fresh, kept=state.kept - {note}, said="", note=note)
    return _one_by_one(state, time_s, note) if len(state.steps[state.step]) == 1 else _together(state, note)


def key_up(state: Hearing, note: int) -> Hearing:
    """A key was let go. The pedal does not hold it: the fingers are what is learned."""
    return replace(state, fresh=tuple(each for each in state.fresh if each[0] != note), kept=state.kept - {note})


def all_up(state: Hearing) -> Hearing:
    """No key is held, as after a keyboard was unplugged."""
    return replace(state, fresh=(), kept=frozenset())


def _is_far(steps: Iterable[tuple[int, ...]], note: int) -> bool:
    """Whether a key is the other hand's, a melody on top or a bass below, which is left alone."""
    due = [each for step in steps for each in step]
    return not min(due) - FAR_SEMITONES <= note <= max(due) + FAR_SEMITONES


def _one_by_one(state: Hearing, time_s: float, note: int) -> Hearing:
    """A note of a broken chord: the first in any octave, the others in that one."""
    (due,) = state.steps[state.step]
    off = note - due
    if off == state.shift or (state.shift is None and off % 12 == 0):
        return _done(state, off, time_s, time_s)
    first = state.steps[0][0]
    if len(state.steps[0]) == 1 and (note - first) % 12 == 0 and state.step:
        # Begun again from the lowest, perhaps in another octave; the one just played struck again says nothing.
        again = replace(state, step=0, shift=None, first_s=None, spread_s=0.0)
        return _done(again, note - first, time_s, time_s)
    if state.shift is not None and state.step and note == state.steps[state.step - 1][0] + state.shift:
        return replace(state, fresh=(), kept=state.down)
    if _is_far(state.steps, note):
        return state
    of_chord = any((note - each) % 12 == 0 for step in state.steps for each in step)
    word = OCTAVE if off % 12 == 0 else ORDER if of_chord else OTHER
    return _astray(state, word, note)


def _together(state: Hearing, note: int) -> Hearing:
    """A key of a chord to be struck together. Keys that do not belong there are counted and do not hinder it."""
    due, fresh = state.steps[state.step], dict(state.fresh)
    if not any((note - each) % 12 == 0 for each in due):
        return state if _is_far(state.steps, note) else _astray(state, OTHER, note)
    shift = _shift_in(fresh, due)
    if shift is not None:
        times = [fresh[each + shift] for each in due]
        if max(times) - min(times) <= TOGETHER_S:
            return _done(state, shift, min(times), max(times))
        return replace(state, said=APART, rolled=state.rolled + 1)
    if _shift_in(state.down, due) is not None:
        return replace(state, said=LIFT)  # a key held since before was not struck with the others
    near = [each for each in fresh if not _is_far(state.steps, each)]
    if len(near) < len(due) or {each % 12 for each in near} != {each % 12 for each in due}:
        return state  # more to come, or what is wrong was said when it was struck
    lowest = min(near)
    return _astray(state, OPEN if (lowest - due[0]) % 12 == 0 else LOWEST, lowest)


def _shift_in(keys: Iterable[int], due: tuple[int, ...]) -> int | None:
    """How many semitones, whole octaves, above the due keys all of them are among these; None where they are not."""
    held = set(keys)
    shifts = (key - due[0] for key in sorted(held) if (key - due[0]) % 12 == 0)
    return next((shift for shift in shifts if all(note + shift in held for note in due)), None)


def _done(state: Hearing, shift: int, first_s: float, last_s: float) -> Hearing:
    return replace(
        state,
        step=state.step + 1,
        shift=shift if state.step + 1 == len(state.steps) or len(state.steps[state.step + 1]) == 1 else None,
        fresh=(),
        kept=state.down,
        first_s=first_s if state.first_s is None else state.first_s,
        spread_s=max(state.spread_s, last_s - first_s),
        said="",
    )


def _astray(state: Hearing, word: str, note: int) -> Hearing:
    return replace(state, wrong=(*state.wrong, note), said=word, note=note)


def is_of_last(state: Hearing, last: Hearing, last_s: float, time_s: float, note: int) -> bool:
    """Whether a key belongs to the chord that was just found: brushed along with it, so soon after that it was the same movement of
    the hand. last_s: when that chord was found."""
    if time_s - last_s > TOGETHER_S or note in last.down or _is_far(last.steps, note):
        return False
    return state.is_found or note % 12 not in {each % 12 for step in state.steps for each in step}


# --- in time with the click


def opens_s(due_s: float, beat_s: float) -> float:
    """From when on keys belong to a chord that is due then; those before it belong to the one before."""
    return due_s - _WINDOW_BEATS * beat_s


def timed_verdict(state: Hearing, beat_s: float) -> tuple[str, float | None]:
    """(one of TIMED_VERDICTS, milliseconds off the beat with early below 0) once its time is over; None where no stroke was right.
    `since_s` of the state is when it was due; beat_s: length of a pulse."""
    if state.is_found and state.find_s is not None:
        off_ms = 1000.0 * (state.find_s + state.spread_s / 2 * (len(state.steps[0]) > 1))
        if state.wrong:
            return "wrong", off_ms
        if abs(off_ms) <= tolerance_ms("strike", beat_s):
            return "right", off_ms
        return ("early" if off_ms < 0 else "late"), off_ms
    if state.rolled and not state.wrong:
        return "rolled", None
    return ("wrong" if state.wrong or state.fresh or state.step else "missing"), None
