"""The left hand's rhythms, each by a rule that holds in every meter.

Units: pulses counted from 0 (the dotted quarter in 6/8 and 12/8), then straight ticks; swing comes last (see swing.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from companion.groove.keys_struck import LOWEST_ROOT, SHELL, keys_struck
from companion.groove.model import GrooveBar, GrooveChord, Strike
from companion.theory.meter import TICKS_PER_QUARTER, Meter

# The last eighth of a pulse: half of a simple pulse, the third eighth of a dotted one. 12/8 writes swing out as
# triplets, and the swung "and" is the third of them (common practice).
_SIMPLE_AND = Fraction(1, 2)
_COMPOUND_AND = Fraction(2, 3)


@dataclass(frozen=True, slots=True)
class PatternStrike:
    """One strike of a pattern. pulse: onset; short: it ends with its pulse and does not ring on. keys: which of its chord's go down, one of
    keys_struck.KINDS."""

    pulse: Fraction
    short: bool = False
    keys: str = SHELL


@dataclass(frozen=True, slots=True)
class Pattern:
    """id: its name in settings and commands. words: for the screen. source: where the rhythm comes from.
    strikes: meter -> the strikes of one bar in order; those past the bar's end are left out. opening: the keys with which each chord begins. early:
    whether a chord that follows another is struck an eighth before it."""

    id: str
    words: str
    source: str
    strikes: Callable[[Meter], tuple[PatternStrike, ...]]
    opening: str = SHELL
    early: bool = False


def half_bar(meter: Meter) -> int:
    """The pulse that starts the bar's second half, the longer half first: 2 in 4/4 and 3/4, 3 in 5/4, 4 in 7/4."""
    return (meter.pulses + 1) // 2


def _every_pulse(meter: Meter) -> tuple[PatternStrike, ...]:
    return tuple(PatternStrike(Fraction(pulse)) for pulse in range(meter.pulses))


def _two(meter: Meter) -> tuple[PatternStrike, ...]:
    return (PatternStrike(Fraction(0)), PatternStrike(Fraction(half_bar(meter))))


def _whole(meter: Meter) -> tuple[PatternStrike, ...]:
    return (PatternStrike(Fraction(0)),)


def _charleston(meter: Meter) -> tuple[PatternStrike, ...]:
    """1 and the "and" of 2. Bars of five pulses and more start it again in the second half, which in 5/4 has room for
    its first strike only. In 3/4 the second strike rings, so the bar falls into two dotted quarters."""
    late = 1 + (_COMPOUND_AND if meter.is_compound else _SIMPLE_AND)
    strikes = [PatternStrike(Fraction(0)), PatternStrike(late, short=meter.pulses != 3)]
    if meter.pulses >= 5:
        half = half_bar(meter)
        strikes.append(PatternStrike(Fraction(half)))
        if meter.pulses - half >= 3:
            strikes.append(PatternStrike(half + late, short=True))
    return tuple(strikes)


def _late_charleston(meter: Meter) -> tuple[PatternStrike, ...]:
    """The Charleston moved by an eighth: the "and" of 1, then 3, the first strike short and the second ringing."""
    late = _COMPOUND_AND if meter.is_compound else _SIMPLE_AND
    starts = (0, half_bar(meter)) if meter.pulses >= 6 else (0,)
    return tuple(
        strike
        for start in starts
        for strike in (PatternStrike(start + late, short=True), PatternStrike(Fraction(start + 2)))
    )


def _two_feel(meter: Meter) -> tuple[PatternStrike, ...]:
    """The root, and in the bar's second half the fifth."""
    return (PatternStrike(Fraction(0), keys="lower"), PatternStrike(Fraction(half_bar(meter)), keys="fifth"))


def _broken(meter: Meter) -> tuple[PatternStrike, ...]:
    """The shell one key after the other: the lower one where a half of the bar begins, the upper one on every other pulse of it. In 3/4 the
    lower one, then the upper one twice."""
    starts = (0, half_bar(meter)) if meter.pulses >= 4 else (0,)
    return tuple(
        PatternStrike(Fraction(pulse), keys="lower" if pulse in starts else "upper") for pulse in range(meter.pulses)
    )


def _stride(meter: Meter) -> tuple[PatternStrike, ...]:
    """Low on 1 and 3, the shell on 2 and 4; in 3/4 low on 1, the shell on 2 and 3."""
    starts = (0, half_bar(meter)) if meter.pulses >= 4 else (0,)
    return tuple(
        PatternStrike(Fraction(pulse), keys="low" if pulse in starts else SHELL) for pulse in range(meter.pulses)
    )


PATTERNS = (
    Pattern("four", "four to the bar (every beat)", "common practice", _every_pulse),
    Pattern("two", "two to the bar", "common practice", _two),
    Pattern("whole", "whole notes (once a bar)", "common practice", _whole),
    Pattern("charleston", "Charleston (1 and the and of 2)", "common practice (dance of the 1920s)", _charleston),
    Pattern("late-charleston", "late Charleston (the and of 1, then 3)", "common practice", _late_charleston),
    Pattern("two-feel", "two-feel (root, then fifth)", "common practice", _two_feel, "lower"),
    Pattern("broken", "broken shell (root, then upper note)", "common practice", _broken, "lower"),
    Pattern("anticipated", "anticipated (each change an eighth early)", "common practice", _whole, early=True),
    Pattern("stride", "stride (low root, then shell)", "common practice", _stride, "low"),
)
PATTERN_NAMES = {pattern.id: pattern.words for pattern in PATTERNS}
_BY_ID = {pattern.id: pattern for pattern in PATTERNS}


def strikes_by_key(pattern: str) -> bool:
    """Whether it strikes keys of a chord one after the other. KeyError for an unknown one."""
    return _BY_ID[pattern].opening != SHELL


def strikes_early(pattern: str) -> bool:
    """Whether it strikes a chord before its beat, over the bar line too. KeyError for an unknown one."""
    return _BY_ID[pattern].early


def kinds_struck(pattern: str) -> frozenset[str]:
    """Which keys of a chord it strikes in four, see keys_struck.py. KeyError for an unknown one."""
    shape = _BY_ID[pattern]
    return frozenset({shape.opening, *(strike.keys for strike in shape.strikes(Meter(4, 4)))})


def lowest_struck(pattern: str, lowest_root: int) -> int:
    """The lowest key that it may strike for a hand whose shells begin no lower than `lowest_root`. KeyError for an unknown one."""
    return min(LOWEST_ROOT, lowest_root) if _BY_ID[pattern].opening == "low" else lowest_root


_FIGURES = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def pattern_words(pattern: str, meter: Meter) -> str:
    """The pattern in a few words true for the meter: "four" is "three to the bar" in 3/4. KeyError for an unknown
    one."""
    words = PATTERN_NAMES[pattern].split(" (")[0]
    if pattern == "four" and meter.pulses != 4:
        return f"{_FIGURES[meter.pulses] if meter.pulses < len(_FIGURES) else meter.pulses} to the bar"
    if pattern == "whole" and meter.bar_ticks != 4 * TICKS_PER_QUARTER:
        return "once a bar"
    return words


def pattern_strikes(pattern: str, bar: GrooveBar) -> tuple[Strike, ...]:
    """When the left hand strikes the chords of a bar in a pattern, in order; where it has no notes it rests.

    A chord that comes in inside the bar is struck where it comes in, and the bar's first chord too where the pattern
    has no strike for it, so no chord is ever missing. A strike rings to the next one, at most to its chord's end.
    pattern: one of PATTERN_NAMES (KeyError otherwise; see check.validate).
    """
    shape = _BY_ID[pattern]
    return _early_strikes(shape, bar) if shape.early else _strikes_in_time(shape, bar)


def _strikes_in_time(pattern: Pattern, bar: GrooveBar) -> tuple[Strike, ...]:
    meter = bar.meter
    plan = {
        round(strike.pulse * meter.pulse_ticks): strike
        for strike in pattern.strikes(meter)
        if strike.pulse < meter.pulses
    }
    strikes = []
    for place, chord in enumerate(bar.chords):
        if not chord.notes:
            continue
        end = chord.tick + chord.ticks
        onsets = sorted({tick for tick in plan if chord.tick <= tick < end})
        if not onsets or onsets[0] > chord.tick > 0:
            onsets.insert(0, chord.tick)
        for number, (onset, until) in enumerate(zip(onsets, [*onsets[1:], end])):
            planned = plan.get(onset)
            if planned is not None and planned.short:
                until = min(until, (onset // meter.pulse_ticks + 1) * meter.pulse_ticks)
            kind = planned.keys if planned is not None and number else pattern.opening
            strikes.append(Strike("left", onset, until - onset, keys_struck(kind, chord), place, number, keys=kind))
    return tuple(strikes)


def _early_strikes(pattern: Pattern, bar: GrooveBar) -> tuple[Strike, ...]:
    """Each chord once, with the last eighth before it, and held: the first one of the bar on its beat where nothing could be struck before it,
    the one that the next bar begins with at the end of this one. Its place there is that behind the bar's own chords."""
    meter = bar.meter
    eighth = round(meter.pulse_ticks * (1 - (_COMPOUND_AND if meter.is_compound else _SIMPLE_AND)))
    coming = (GrooveChord(meter.bar_ticks, 0, None, bar.coming),) if bar.coming else ()
    strikes: list[Strike] = []
    for place, chord in enumerate((*bar.chords, *coming)):
        onset = chord.tick - eighth if place else 0
        if strikes and onset <= strikes[-1].tick:  # a chord so short that nothing is left of it
            onset = chord.tick
        if strikes and strikes[-1].end_tick > onset:
            strikes[-1] = replace(strikes[-1], ticks=onset - strikes[-1].tick)
        if chord.notes:
            end = min(chord.tick + chord.ticks, meter.bar_ticks)
            held, goes_on = not place and bar.was_early, chord.tick == meter.bar_ticks
            strikes.append(Strike("left", onset, end - onset, chord.notes, place, held=held, goes_on=goes_on))
    return tuple(strikes)
