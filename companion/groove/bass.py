"""The bass line: roots, a two-feel or a walking line, the same every time for the same seed.

A phrase is laid out as slots, each with the pitches allowed there and a price for each; the cheapest way through to the
opening of the next phrase, leaps priced too, is the line. Chance only changes prices, so every rule below holds
whatever the seed:
- the root, or the slash bass, where a chord comes in; where it is held for another bar its third or fifth may start
  that bar;
- walking: a note on every pulse, chord tones on strong pulses, and the last note before the next chord a whole or half
  step from where that begins (K. Fitzgerald, "Walking Bass Line Theory Basics": target and approach notes);
- no leap over an octave, nothing outside E1 to G3, the double bass's usual compass as it sounds (from memory);
- every phrase opens on the same pitch in every turn, so the last bar of the loop leads to its first.
A chord of one pulse has its root alone. N.C. is silent.

Units: straight ticks within the bar (swing comes last), MIDI numbers.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from random import Random

from companion.groove.harmony import answer_pc, chord_pcs, lowest_pc, scale_pcs
from companion.groove.model import GrooveBar, GrooveChord
from companion.groove.patterns import half_bar
from companion.theory.chord import Chord
from companion.theory.chord_scales import pc_of

LOWEST, HIGHEST = 28, 55  # E1 to G3
OCTAVE = 12
# The octave a phrase opens in. One pitch of every name lies in it and no two are an octave apart, so a line that never
# leaves it always exists and the search cannot fail.
HOME_LOWEST = 31  # G1
# The line is laid out phrase by phrase, each opening in the home octave, so that no bar costs more than about a
# millisecond while the music runs. Eight bars are the usual phrase (common practice).
PHRASE_BARS = 8

# The price of a move by its semitones: steps are free, leaps dearer, the octave a little less so. For none see below.
_MOVE_PRICE = (0.0, 0.0, 0.0, 0.6, 0.8, 1.2, 1.8, 1.8, 3.0, 3.5, 4.5, 5.0, 3.5)
_REPEAT_PRICE = 5.0
_BACK_AND_FORTH_PRICE = 1.5
_PASSING_LEAP_PRICE = 4.0  # a tone from outside the chord is come to and left by step
_ROOT_AGAIN_PRICE = 1.0  # inside a chord its other tones say more
_OFF_SCALE_PRICE = 0.7  # an approach from outside the chord's scale
_CHANCE = 3.0
_COMFORT = 38  # D2: the middle of the register a line keeps to
_REGISTER_PRICE = 0.012  # times the square of the distance from it
_NO_WAY = float("inf")


@dataclass(frozen=True, slots=True)
class BassNote:
    """tick, ticks: straight, in the bar. opens: it is the first note of its chord in this bar."""

    tick: int
    ticks: int
    note: int
    opens: bool


@dataclass(frozen=True, slots=True)
class _BassSlot:
    """A place for one note. prices: pitch -> its price. passing: pitches that want a step on both sides.
    steps_on: the next slot's note lies one or two semitones from this one's."""

    position: int
    tick: int
    ticks: int
    prices: dict[int, float]
    passing: frozenset[int] = frozenset()
    opens: bool = False
    steps_on: bool = False


@dataclass(frozen=True, slots=True)
class _Opening:
    """pitch: the next phrase's first note. at_once: it comes on the first beat, with no N.C. before it."""

    pitch: int
    at_once: bool


# The slots of one chord in one bar, from (position, bar, chord, bars held, goals, chance).
_Style = Callable[[int, GrooveBar, GrooveChord, int, tuple[int, ...], Random], list[_BassSlot]]


def bass_bar(
    bars: tuple[GrooveBar, ...],
    style: str,
    seed: int,
    turn: int,
    position: int,
    then: tuple[GrooveBar, ...] | None = None,
) -> tuple[BassNote, ...]:
    """The bass of one bar of the loop in one turn, in order. style: one of names.BASS_STYLES (KeyError otherwise).
    then: what follows the last of the bars; None for the first of them again, () for nothing."""
    lay_out = {"roots": _roots, "two-feel": _two_feel, "walking": _walk, "off": None}[style]
    if lay_out is None:
        return ()
    start = position - position % PHRASE_BARS
    if style == "roots":
        turn = seed = 0  # nothing in it is left to chance
    phrase = bars[start : start + PHRASE_BARS]
    return _phrase(
        phrase, _opening(bars, bars if then is None else then, start + len(phrase)), lay_out, f"{seed}/{turn}/{start}"
    )[position - start]


def _opening(bars: tuple[GrooveBar, ...], then: tuple[GrooveBar, ...], position: int) -> _Opening | None:
    """The first note of what follows a phrase: of the bars from `position` on, then of those after them, so after bars of
    N.C. further on. None where no chord follows."""
    for number, bar in enumerate(itertools.chain(itertools.islice(bars, position, None), then)):
        for chord in bar.chords:
            if chord.chord is not None:
                return _Opening(home_pitch(chord.chord), number == 0 and chord.tick == 0)
    return None


def home_pitch(chord: Chord) -> int:
    """The pitch that opens a phrase on this chord."""
    return HOME_LOWEST + (lowest_pc(chord) - HOME_LOWEST) % OCTAVE


# A few loops with their next turns: the one that sounds and the one that replaces it.
@lru_cache(maxsize=64)
def _phrase(
    bars: tuple[GrooveBar, ...], opening: _Opening | None, lay_out: _Style, seed: str
) -> tuple[tuple[BassNote, ...], ...]:
    """The notes of a phrase, a tuple for each of its bars."""
    slots: list[_BassSlot] = []
    for position, bar in enumerate(bars):
        chance = Random(f"{seed}/{position}")
        for number, chord in enumerate(bar.chords):
            if chord.chord is None:
                continue
            held = _bars_held(bars, position) if number == 0 else 0
            if number + 1 < len(bar.chords):
                goals = _goals(bar.chords[number + 1], 0)
            elif position + 1 < len(bars):
                goals = _goals(bars[position + 1].chords[0], _bars_held(bars, position + 1))
            else:
                goals = (opening.pitch,) if opening is not None and opening.at_once else ()
            slots += lay_out(position, bar, chord, held, goals, chance)
    lines: list[list[BassNote]] = [[] for _ in bars]
    if slots:
        slots[0] = replace(slots[0], prices={home_pitch(_first_chord(bars)): 0.0})
        if opening is not None:
            slots.append(_BassSlot(len(bars), 0, 0, {opening.pitch: 0.0}))
        for slot, note in zip(slots, _cheapest(slots, lay_out is _walk)):
            if slot.position == len(bars):
                break
            lines[slot.position].append(BassNote(slot.tick, slot.ticks, note, slot.opens))
    return tuple(tuple(line) for line in lines)


def _first_chord(bars: tuple[GrooveBar, ...]) -> Chord:
    return next(chord.chord for bar in bars for chord in bar.chords if chord.chord is not None)


def _goals(following: GrooveChord, bars_held: int) -> tuple[int, ...]:
    """The pitches the next chord may begin on; none if it is N.C."""
    return () if following.chord is None else tuple(_pitches(opening_pcs(following.chord, bars_held)))


def _bars_held(bars: tuple[GrooveBar, ...], position: int) -> int:
    """For how many bars the chord that opens this bar has sounded without a change; 0 where it comes in and where a
    phrase begins."""
    count = 0
    while position - count > 0:
        now, before = bars[position - count].chords[0].chord, bars[position - count - 1].chords
        if not _same(now, before[-1].chord):
            break
        count += 1
        if len(before) > 1:
            break
    return count


def _same(one: Chord | None, other: Chord | None) -> bool:
    if one is None or other is None:
        return False
    return one.root.pc == other.root.pc and one.degrees == other.degrees and one.bass == other.bass


def opening_pcs(chord: Chord, bars_held: int) -> tuple[int, ...]:
    """The tones a walking line may start a bar of this chord on: its root or slash bass, and in every second bar that
    it is held for, its third or fifth too."""
    if bars_held % 2 == 0 or chord.bass is not None:
        return (lowest_pc(chord),)
    inner = [chord.degree(number) for number in (3, 5)]
    return (lowest_pc(chord), *(pc_of(chord, degree) for degree in inner if degree is not None))


# --- the three styles: the slots of one chord in one bar


def _roots(position: int, bar: GrooveBar, chord: GrooveChord, *_: object) -> list[_BassSlot]:
    return [_BassSlot(position, chord.tick, chord.ticks, _plain((lowest_pc(chord.chord),)), opens=True)]


def _two_feel(
    position: int, bar: GrooveBar, chord: GrooveChord, held: int, goals: tuple[int, ...], chance: Random
) -> list[_BassSlot]:
    """The root, and the fifth on the bar's second half if the chord lasts over it. In three, where the second half is
    one beat, the root rings through every other bar or so."""
    root = _BassSlot(position, chord.tick, chord.ticks, _plain((lowest_pc(chord.chord),)), opens=True)
    middle = half_bar(bar.meter) * bar.meter.pulse_ticks
    end = chord.tick + chord.ticks
    rings = bar.meter.pulses == 3 and chance.random() < 0.5
    if not chord.tick < middle < end or rings:
        return [root]
    fifth = _BassSlot(position, middle, end - middle, _plain((answer_pc(chord.chord),)))
    return [replace(root, ticks=middle - chord.tick), fifth]


def _walk(
    position: int, bar: GrooveBar, chord: GrooveChord, held: int, goals: tuple[int, ...], chance: Random
) -> list[_BassSlot]:
    pulse, end = bar.meter.pulse_ticks, chord.tick + chord.ticks
    onsets = [chord.tick, *range((chord.tick // pulse + 1) * pulse, end, pulse)]
    harmony = chord.chord
    assert harmony is not None  # N.C. has no slots
    tones, scale, root = chord_pcs(harmony), scale_pcs(harmony), harmony.root.pc
    slots = []
    for number, (onset, until) in enumerate(zip(onsets, [*onsets[1:], end])):
        strong = onset // pulse in bar.meter.strong_pulses
        approach = number > 0 and until == end and bool(goals)
        passing: frozenset[int] = frozenset()
        if number == 0:
            prices = _plain(opening_pcs(harmony, held))
        elif approach:
            near = {goal + step for goal in goals for step in (-2, -1, 1, 2)}
            wanted = tones if strong else scale
            prices = {p: 0.0 if p % 12 in wanted else _OFF_SCALE_PRICE for p in near if LOWEST <= p <= HIGHEST}
        else:
            prices = {p: _ROOT_AGAIN_PRICE if p % 12 == root else 0.0 for p in _pitches(tones if strong else scale)}
            passing = frozenset(p for p in prices if p % 12 not in tones)
        # In rising order, so that chance falls on the same pitch in every run.
        prices = {pitch: prices[pitch] + _CHANCE * chance.random() for pitch in sorted(prices)}
        slots.append(_BassSlot(position, onset, until - onset, prices, passing, number == 0, approach))
    return slots


def _pitches(pcs: Iterable[int]) -> list[int]:
    wanted = set(pcs)
    return [pitch for pitch in range(LOWEST, HIGHEST + 1) if pitch % 12 in wanted]


def _plain(pcs: Iterable[int]) -> dict[int, float]:
    return dict.fromkeys(_pitches(pcs), 0.0)


# --- the cheapest way through


def _cheapest(slots: list[_BassSlot], walks: bool) -> list[int]:
    """The pitches of every slot by dynamic programming; of equal ways the lower pitch before wins.

    walks: a repeated note and a turn back to the note before last cost something. The latter looks along the best way
    so far only, which may miss the very cheapest line; the rules do not hang on it.
    """
    best = dict(slots[0].prices)
    came_from: list[dict[int, int]] = [{}]
    again, back_again = (_REPEAT_PRICE, _BACK_AND_FORTH_PRICE) if walks else (0.0, 0.0)
    for before, slot in itertools.pairwise(slots):
        ways = [(last, cost, came_from[-1].get(last), last in before.passing) for last, cost in best.items()]
        reached: dict[int, float] = {}
        origin: dict[int, int] = {}
        for pitch, price in slot.prices.items():
            wants_step = pitch in slot.passing
            found = _NO_WAY
            for last, cost, second_last, wanted_step in ways:
                move = abs(pitch - last)
                if move > OCTAVE or (before.steps_on and not 0 < move <= 2):
                    continue
                cost += _MOVE_PRICE[move] if move else again
                if move > 2 and (wanted_step or wants_step):
                    cost += _PASSING_LEAP_PRICE
                if pitch == second_last:
                    cost += back_again
                if cost < found:
                    found, origin[pitch] = cost, last
            if pitch in origin:
                reached[pitch] = found + price + _REGISTER_PRICE * (pitch - _COMFORT) ** 2
        best = reached
        came_from.append(origin)
    pitch = min(best, key=best.__getitem__)
    line = [pitch]
    for origin in reversed(came_from[1:]):
        pitch = origin[pitch]
        line.append(pitch)
    return line[::-1]
