"""Free time: no click; the companion waits on each chord until the right shell is down. What is measured is the
hesitation per change.

Units: seconds on one clock, handed in. Pure: every report of the keyboard gives a new state.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from companion.groove.model import GrooveBar
from companion.practice.reach import HIGHEST_KEY, ROLL_S, octave_higher


@dataclass(frozen=True, slots=True)
class Target:
    """A shell to find. index: bar in the chorus; chord: in the bar, from 0; notes: MIDI numbers."""

    index: int
    chord: int
    notes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """A shell that was found. hesitation_s: since the shell before it was down (for the first: since the start).
    extra: the keys pressed on the way that are not in the shell (see `strays`). along: those of them still down when it was found, and
    those struck with it a moment later."""

    target: Target
    hesitation_s: float
    extra: tuple[int, ...] = ()
    along: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Waiting:
    """targets: in playing order. found: those that are done, in order. since_s: when the present target's turn came.
    down: keys held now; fresh: those of them pressed since then. extra: stray keys pressed since then; counted: those of them still
    held. before: the shell that was found before. ceiling: the highest note that is the left hand's."""

    targets: tuple[Target, ...]
    since_s: float
    found: tuple[Found, ...] = ()
    down: frozenset[int] = frozenset()
    fresh: frozenset[int] = frozenset()
    extra: tuple[int, ...] = ()
    counted: frozenset[int] = frozenset()
    before: tuple[int, ...] = ()
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
    it: a common tone may stay down, but the same shell again must be struck again. Other keys do no harm and are counted."""
    target = state.target
    if target is None:
        return state
    if _belongs_to_found(state, time_s, note):
        *before, last = state.found
        last = replace(last, extra=(*last.extra, note), along=(*last.along, note))
        return replace(state, down=state.down | {note}, found=(*before, last))
    state = replace(state, down=state.down | {note}, fresh=state.fresh | {note})
    astray = strays(state)
    extra = (*state.extra, *sorted(astray - state.counted))
    if not state.down.issuperset(target.notes) or not state.fresh.intersection(target.notes):
        return replace(state, extra=extra, counted=astray)
    found = Found(target, time_s - state.since_s, extra, tuple(sorted(astray)))
    return replace(
        state,
        found=(*state.found, found),
        since_s=time_s,
        fresh=frozenset(),
        extra=(),
        counted=frozenset(),
        before=target.notes,
    )


def _belongs_to_found(state: Waiting, time_s: float, note: int) -> bool:
    """Whether a key is of the stroke that the shell before was found in: the left hand's, within a roll of it while its
    shell is held, and in neither shell."""
    if not state.down.intersection(state.before):
        return False
    if not state.found or state.target is None or time_s - state.since_s > ROLL_S or note > state.ceiling:
        return False
    return note not in state.before and note not in state.target.notes


def strays(state: Waiting) -> frozenset[int]:
    """The keys held now that were pressed for the target and are not in it. No stray is the right hand's, above the ceiling, but for those
    of the due shell held whole an octave higher, as in a marked pass; nor the shell before struck again, as in a pattern of four to
    the bar, before any other key is."""
    target = state.target
    if target is None:
        return frozenset()
    low = frozenset(note for note in state.fresh if note <= state.ceiling)
    if low.issubset(state.before):
        low = frozenset()
    higher = octave_higher(target.notes)
    meant = higher if higher <= state.down and not state.down.issuperset(target.notes) else frozenset[int]()
    return (low | (meant & state.fresh)).difference(target.notes)


def is_again(state: Waiting) -> bool:
    """Whether nothing but the shell before was struck since it was found, of which some is not in the target."""
    target = state.target
    low = frozenset(note for note in state.fresh if note <= state.ceiling)
    return target is not None and bool(low.difference(target.notes)) and low.issubset(state.before)


def key_up(state: Waiting, note: int) -> Waiting:
    """A key was let go. The sustain pedal does not hold it: the fingers are what is learnt."""
    return replace(state, down=state.down - {note}, fresh=state.fresh - {note}, counted=state.counted - {note})


def all_up(state: Waiting) -> Waiting:
    """No key is held, as after a keyboard was unplugged."""
    return replace(state, down=frozenset(), fresh=frozenset(), counted=frozenset())
