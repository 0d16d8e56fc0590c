"""Free time: no click; the companion waits on each chord until the right shell is down. What is measured is the
hesitation per change.

Units: seconds on one clock, handed in. Pure: every report of the keyboard gives a new state.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from companion.groove.model import GrooveBar
from companion.practice.reach import HIGHEST_KEY, octave_higher


@dataclass(frozen=True, slots=True)
class Target:
    """A shell to find. index: bar in the chorus; chord: in the bar, from 0; notes: MIDI numbers."""

    index: int
    chord: int
    notes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """A shell that was found. hesitation_s: since the shell before it was down (for the first: since the start).
    extra: the keys pressed on the way that are not in the shell; the right hand's are none of them (see `key_down`)."""

    target: Target
    hesitation_s: float
    extra: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Waiting:
    """targets: in playing order. found: those that are done, in order. since_s: when the present target's turn came.
    down: keys held now; fresh: those of them pressed since then. extra: stray keys pressed since then.
    ceiling: the highest note that is the left hand's."""

    targets: tuple[Target, ...]
    since_s: float
    found: tuple[Found, ...] = ()
    down: frozenset[int] = frozenset()
    fresh: frozenset[int] = frozenset()
    extra: tuple[int, ...] = ()
    ceiling: int = HIGHEST_KEY

    @property
    def target(self) -> Target | None:
        """What is waited for; None at the end."""
        return self.targets[len(self.found)] if len(self.found) < len(self.targets) else None

    @property
    def is_over(self) -> bool:
        """Whether all was found."""
        return self.target is None


def targets_of(bars: Iterable[GrooveBar]) -> tuple[Target, ...]:
    """Each chord of a loop once; where no shell is played nothing is waited for."""
    return tuple(
        Target(bar.index, number, chord.notes) for bar in bars for number, chord in enumerate(bar.chords) if chord.notes
    )


def start_waiting(targets: Iterable[Target], now_s: float, ceiling: int = HIGHEST_KEY) -> Waiting:
    """Nothing found yet, and no key down. now_s: seconds; ceiling: see practice.reach."""
    return Waiting(tuple(targets), now_s, ceiling=ceiling)


def key_down(state: Waiting, time_s: float, note: int) -> Waiting:
    """A key was pressed. The target is found once both its notes are held and at least one of them was pressed for
    it: a common tone may stay down, but the same shell again must be struck again. Other keys do no harm and are
    counted; above the ceiling only those of the due shell that is held whole an octave higher, as in a marked pass."""
    target = state.target
    if target is None:
        return state
    fresh = state.fresh | {note}
    down = state.down | {note}
    extra = (*state.extra, *_stray(state, target, note, down))
    state = replace(state, down=down, fresh=fresh, extra=extra)
    if not state.down.issuperset(target.notes) or not fresh.intersection(target.notes):
        return state
    found = Found(target, time_s - state.since_s, extra)
    return replace(state, found=(*state.found, found), since_s=time_s, fresh=frozenset(), extra=())


def _stray(state: Waiting, target: Target, note: int, down: frozenset[int]) -> tuple[int, ...]:
    """What of the keys now held has become an extra key by this one."""
    if note in target.notes:
        return ()
    if note <= state.ceiling:
        return (note,)
    higher = octave_higher(target.notes)
    whole = note in higher and higher <= down and not down.issuperset(target.notes)
    return tuple(sorted(key for key in higher if key > state.ceiling)) if whole else ()


def key_up(state: Waiting, note: int) -> Waiting:
    """A key was let go. The sustain pedal does not hold it: the fingers are what is learnt."""
    return replace(state, down=state.down - {note}, fresh=state.fresh - {note})


def all_up(state: Waiting) -> Waiting:
    """No key is held, as after a keyboard was unplugged."""
    return replace(state, down=frozenset(), fresh=frozenset())
