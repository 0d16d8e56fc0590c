"""Free time: no click; the companion waits on each chord until the right shell is down, with the right hand on each note of the melody,
with both on what is due together, left alone and right alone. What is measured is the hesitation per change.

Both hands are lined up chord by chord first, each shell with the first note over it, then bar by bar, with every note.

Units: seconds on one clock, handed in. Pure: every report of the keyboard gives a new state.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from companion.groove.model import GrooveBar
from companion.groove.strikes import bar_strikes
from companion.practice.reach import GRACE_S, HIGHEST_KEY, NEIGHBOUR_SEMITONES, ROLL_S, octave_higher

STAGES = ("chords", "bars")
# So much of a time round found at once, and the hands go on bar by bar; less than so much, and they go back (our own choice).
ON_SHARE, BACK_SHARE = 0.85, 0.5


@dataclass(frozen=True, slots=True)
class Target:
    """Keys to find, such as a shell. index: bar in the chorus; chord: in the bar, from 0; notes: MIDI numbers; right: those of them that are
    the right hand's."""

    index: int
    chord: int
    notes: tuple[int, ...]
    right: tuple[int, ...] = ()

    @property
    def left(self) -> tuple[int, ...]:
        """Those that are the left hand's."""
        return tuple(note for note in self.notes if note not in self.right)

    def higher(self, semitones: int) -> Target:
        """The same with the right hand so much higher."""
        right = tuple(note + semitones for note in self.right)
        return replace(self, notes=self.left + right, right=right)


@dataclass(frozen=True, slots=True)
class Found:
    """A shell that was found. hesitation_s: since the shell before it was down (for the first: since the start).
    extra: the keys pressed on the way that are not in the shell (see `strays`). along: those of them still down when it was found, and
    those struck with it a moment later. apart_ms: left minus right where both hands struck, else None."""

    target: Target
    hesitation_s: float
    extra: tuple[int, ...] = ()
    along: tuple[int, ...] = ()
    apart_ms: float | None = None


@dataclass(frozen=True, slots=True)
class Waiting:
    """targets: in playing order. found: those that are done, in order. since_s: when the present target's turn came.
    down: keys held now; fresh: those of them pressed since then. extra: stray keys pressed since then; counted: those of them still
    held. before: what was found before; shell: the shell that was. ceiling: the highest note that is the left hand's. hands: that are waited
    for, one of chart.lesson.HANDS. struck: when each of the fresh keys went down; extra_s: likewise of `extra`."""

    targets: tuple[Target, ...]
    since_s: float
    found: tuple[Found, ...] = ()
    down: frozenset[int] = frozenset()
    fresh: frozenset[int] = frozenset()
    extra: tuple[int, ...] = ()
    counted: frozenset[int] = frozenset()
    before: tuple[int, ...] = ()
    ceiling: int = HIGHEST_KEY
    hands: str = "left"
    shell: tuple[int, ...] = ()
    struck: tuple[tuple[int, float], ...] = ()
    extra_s: tuple[float, ...] = ()

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


def hands_targets(bars: Iterable[GrooveBar], hands: str, stage: str) -> tuple[Target, ...]:
    """What the right hand or both are to find. hands: "right" or "both". stage: one of STAGES; the right hand alone always finds
    every note."""
    targets: list[Target] = []
    for bar in bars:
        melody = [strike for strike in bar_strikes("", bar, "right") if not strike.held] if bar.written else []
        if hands == "both" and stage == "chords":
            firsts = {strike.chord: strike for strike in reversed(melody)}
            melody = [replace(strike, tick=bar.chords[number].tick) for number, strike in sorted(firsts.items())]
        moments: dict[int, tuple[int, tuple[int, ...], tuple[int, ...]]] = {}
        if hands == "both":
            moments = {chord.tick: (number, chord.notes, ()) for number, chord in enumerate(bar.chords) if chord.notes}
        for strike in melody:
            _, left, right = moments.get(strike.tick, (0, (), ()))
            moments[strike.tick] = strike.chord, left, right + strike.notes
        targets += [
            Target(bar.index, chord, left + right, right) for _, (chord, left, right) in sorted(moments.items())
        ]
    return tuple(targets)


def next_stage(stage: str, at_once: float) -> str:
    """The stage after a time round with both hands. at_once: the share that was found at once."""
    if stage == "chords":
        return "bars" if at_once >= ON_SHARE else "chords"
    return "chords" if at_once < BACK_SHARE else "bars"


def start_waiting(targets: Iterable[Target], now_s: float, ceiling: int = HIGHEST_KEY, hands: str = "left") -> Waiting:
    """Nothing found yet, and no key down. now_s: seconds; ceiling: see practice.reach."""
    return Waiting(tuple(targets), now_s, ceiling=ceiling, hands=hands)


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
    struck = (*(pair for pair in state.struck if pair[0] != note), (note, time_s))
    state = replace(state, down=state.down | {note}, fresh=state.fresh | {note}, struck=struck)
    astray = strays(state)
    new = sorted(astray - state.counted)
    extra, extra_s = (*state.extra, *new), (*state.extra_s, *(time_s for _ in new))
    if not _is_found(state, target):
        return replace(state, extra=extra, counted=astray, extra_s=extra_s)
    graces = {key for key, at_s in zip(extra, extra_s) if time_s - at_s <= GRACE_S and _is_grace(key, state, target)}
    extra = tuple(key for key in extra if key not in graces)
    along = tuple(sorted(astray - graces))
    found = Found(target, time_s - state.since_s, extra, along, _apart_ms(target, dict(struck)))
    return replace(
        state,
        found=(*state.found, found),
        since_s=time_s,
        fresh=frozenset(),
        extra=(),
        counted=frozenset(),
        before=target.notes,
        shell=target.left or state.shell,
        struck=(),
        extra_s=(),
    )


def _is_found(state: Waiting, target: Target) -> bool:
    """A note of the melody is struck anew; of a shell it is enough that some of it was."""
    left = target.left
    return (
        state.down.issuperset(target.notes)
        and state.fresh.issuperset(target.right)
        and (not left or bool(state.fresh.intersection(left)))
    )


def _is_grace(key: int, state: Waiting, target: Target) -> bool:
    """Whether a key lies nearer to the melody than to the left hand."""
    left = target.left or state.shell
    off = min((abs(key - note) for note in target.right), default=HIGHEST_KEY)
    return bool(target.right) and off < min((abs(key - note) for note in left), default=HIGHEST_KEY)


def _apart_ms(target: Target, struck: dict[int, float]) -> float | None:
    """Left minus right, where both struck."""
    left, right = ([struck[note] for note in notes if note in struck] for notes in (target.left, target.right))
    return 1000.0 * (sum(left) / len(left) - sum(right) / len(right)) if left and right else None


def _belongs_to_found(state: Waiting, time_s: float, note: int) -> bool:
    """Whether a key is of the stroke that the shell before was found in: the left hand's, within a roll of it while its
    shell is held, and in neither shell."""
    if state.hands != "left" or not state.down.intersection(state.before):
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
    if state.hands == "both":  # the shell may be struck again under the melody, as in four to the bar
        return state.fresh.difference(target.notes, state.shell)
    if state.hands == "right":  # what the left hand plays along lies below
        floor = min(min(target.right) - NEIGHBOUR_SEMITONES, state.ceiling)
        return frozenset(note for note in state.fresh if note >= floor).difference(target.notes)
    low = frozenset(note for note in state.fresh if note <= state.ceiling)
    if low.issubset(state.before):
        low = frozenset()
    higher = octave_higher(target.notes)
    meant = higher if higher <= state.down and not state.down.issuperset(target.notes) else frozenset[int]()
    return (low | (meant & state.fresh)).difference(target.notes)


def is_again(state: Waiting) -> bool:
    """Whether nothing but the shell before was struck since it was found, of which some is not in the target."""
    target = state.target
    if state.hands == "right" or (target is not None and not target.left):
        return False
    low = frozenset(note for note in state.fresh if note <= state.ceiling)
    return target is not None and bool(low.difference(target.notes)) and low.issubset(state.before)


def key_up(state: Waiting, note: int) -> Waiting:
    """A key was let go. The sustain pedal does not hold it: the fingers are what is learnt."""
    return replace(state, down=state.down - {note}, fresh=state.fresh - {note}, counted=state.counted - {note})


def all_up(state: Waiting) -> Waiting:
    """No key is held, as after a keyboard was unplugged."""
    return replace(state, down=frozenset(), fresh=frozenset(), counted=frozenset(), struck=())
