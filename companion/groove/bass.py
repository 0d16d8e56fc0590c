"""The bass line: roots, a two-feel or a walking line, the same every time for the same seed.

First the outline of the whole loop: the octave in which each chord comes in, so that a line that walks down walks. Then phrase by phrase the line: it
is laid out as slots (bass_way.py), and the cheapest way through to the opening of the next phrase, leaps priced too, is taken. Chance only changes
prices, so every rule below holds whatever the seed:
- the root, or the slash bass, where a chord comes in; where it is held for another bar its third or fifth may start
  that bar;
- the left hand's lowest key is left to the student, and so is all above it, wherever another way exists at all: two players in one octave hide
  each other (common practice), and a student must hear the own root. Where the hand lies so low that no note is left below it, in stride above all, the bass rests;
- walking: a note on every pulse, chord tones on strong pulses, and the last note before the next chord a whole or half
  step from where that begins (K. Fitzgerald, "Walking Bass Line Theory Basics": target and approach notes);
- no leap over an octave, but where a loop of a chord or two gives way to another; nothing outside E1 to D3;
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

from companion.groove.bass_way import HIGHEST, LOWEST, Beside, Slot, cheapest, leaving_room, pitches, priced_way
from companion.groove.harmony import answer_pc, chord_pcs, lowest_pc, scale_pcs
from companion.groove.model import GrooveBar, GrooveChord
from companion.groove.patterns import half_bar
from companion.groove.strikes import bar_strikes
from companion.theory.chord import Chord
from companion.theory.chord_scales import pc_of

# The line is laid out phrase by phrase, each opening as the outline has it, so that no bar costs more than about a
# millisecond while the music runs. Eight bars are the usual phrase (common practice).
PHRASE_BARS = 8

_OFF_OUTLINE_PRICE = 3.5  # a chord that comes in elsewhere than the outline has it: more than chance alone outweighs
_ROOT_AGAIN_PRICE = 1.0  # inside a chord its other tones say more
_OFF_SCALE_PRICE = 0.7  # an approach from outside the chord's scale
_CHANCE = 3.0


@dataclass(frozen=True, slots=True)
class BassNote:
    """tick, ticks: straight, in the bar. opens: it is the first note of its chord in this bar."""

    tick: int
    ticks: int
    note: int
    opens: bool


@dataclass(frozen=True, slots=True)
class _Opening:
    """pitch: the next phrase's first note. at_once: it comes on the first beat, with no N.C. before it."""

    pitch: int
    at_once: bool


# The slots of one chord in one bar, from (position, bar, chord, bars held, goals, chance).
_Style = Callable[[int, GrooveBar, GrooveChord, int, tuple[int, ...], Random], list[Slot]]


def bass_bar(
    bars: tuple[GrooveBar, ...],
    style: str,
    seed: int,
    turn: int,
    position: int,
    then: tuple[GrooveBar, ...] | None = None,
    pattern: str = "four",
) -> tuple[BassNote, ...]:
    """The bass of one bar of the loop in one turn, in order. style: one of names.BASS_STYLES (KeyError otherwise).
    then: what follows the last of the bars; None for the first of them again, () for nothing. pattern: the left hand's."""
    lay_out = {"roots": _roots, "two-feel": _two_feel, "walking": _walk, "off": None}[style]
    if lay_out is None:
        return ()
    start = position - position % PHRASE_BARS
    if style == "roots":
        turn = seed = 0  # nothing in it is left to chance
    phrase = bars[start : start + PHRASE_BARS]
    outlined = _outline(bars, pattern)[start : start + PHRASE_BARS]
    opening = _opening(bars, bars if then is None else then, start + len(phrase), pattern)
    return _phrase(phrase, outlined, opening, lay_out, f"{seed}/{turn}/{start}", pattern)[position - start]


def _opening(bars: tuple[GrooveBar, ...], then: tuple[GrooveBar, ...], position: int, pattern: str) -> _Opening | None:
    """The first note of what follows a phrase: of the bars from `position` on, then of those after them, so after bars of
    N.C. further on. None where no chord follows."""
    following = itertools.chain(
        zip(bars[position:], _outline(bars, pattern)[position:]), zip(then, _outline(then, pattern))
    )
    for number, (bar, outlined) in enumerate(following):
        for chord, pitch in zip(bar.chords, outlined):
            if pitch is not None:
                return _Opening(pitch, number == 0 and chord.tick == 0)
    return None


# A few loops with those that come before, after and in their place.
@lru_cache(maxsize=16)
def _outline(bars: tuple[GrooveBar, ...], pattern: str) -> tuple[tuple[int | None, ...], ...]:
    """Where each chord comes in, bar by bar: the cheapest way through roots and slash basses that closes on itself. None for N.C. and where the left hand leaves none."""
    entries = [[_entry(position, bar, chord, pattern) for chord in bar.chords] for position, bar in enumerate(bars)]
    slots = [slot for of_bar in entries for slot in of_bar if slot is not None]
    starts = slots[0].prices if slots else {}
    ways = []
    for pitch, price in starts.items():
        if price == min(starts.values()):
            start = replace(slots[0], prices={pitch: price})
            ways.append(priced_way([start, *slots[1:], replace(start, prices={pitch: 0.0})], walks=False))
    line = iter(min(ways)[1] if ways else ())
    return tuple(tuple(None if slot is None else next(line) for slot in of_bar) for of_bar in entries)


def _entry(position: int, bar: GrooveBar, chord: GrooveChord, pattern: str) -> Slot | None:
    if chord.chord is None:
        return None
    return leaving_room(_roots(position, bar, chord)[0], _beside(bar, pattern))


# A few loops with their next turns: the one that sounds and the one that replaces it.
@lru_cache(maxsize=64)
def _phrase(
    bars: tuple[GrooveBar, ...],
    outlined: tuple[tuple[int | None, ...], ...],
    opening: _Opening | None,
    lay_out: _Style,
    seed: str,
    pattern: str,
) -> tuple[tuple[BassNote, ...], ...]:
    """The notes of a phrase, a tuple for each of its bars."""
    slots: list[Slot] = []
    for position, bar in enumerate(bars):
        chance, beside = Random(f"{seed}/{position}"), _beside(bar, pattern)
        for number, chord in enumerate(bar.chords):
            pitch = outlined[position][number]
            if chord.chord is None:
                continue
            held = _bars_held(bars, position) if number == 0 else 0
            if number + 1 < len(bar.chords):
                goals = _goals(bar.chords[number + 1], 0, outlined[position][number + 1])
            elif position + 1 < len(bars):
                goals = _goals(bars[position + 1].chords[0], _bars_held(bars, position + 1), outlined[position + 1][0])
            else:
                goals = (opening.pitch,) if opening is not None and opening.at_once else ()
            first, *others = lay_out(position, bar, chord, held, goals, chance)
            if not slots and pitch is not None:
                first = replace(first, prices={pitch: 0.0})
            roomy = [leaving_room(slot, beside) for slot in (_drawn_to(pitch, first), *others)]
            slots += [slot for slot in roomy if slot is not None]
    lines: list[list[BassNote]] = [[] for _ in bars]
    if slots:
        if opening is not None:
            slots.append(Slot(len(bars), 0, 0, {opening.pitch: 0.0}))
        for slot, note in zip(slots, cheapest(slots, lay_out is _walk)):
            if slot.position == len(bars):
                break
            lines[slot.position].append(BassNote(slot.tick, slot.ticks, note, slot.opens))
    return tuple(tuple(line) for line in lines)


def _drawn_to(outlined: int | None, slot: Slot) -> Slot:
    """The slot where a chord comes in, dearer in other octaves than the outline's."""
    if outlined is None:
        return slot
    return replace(
        slot,
        prices={
            pitch: price + (_OFF_OUTLINE_PRICE if pitch != outlined and (pitch - outlined) % 12 == 0 else 0.0)
            for pitch, price in slot.prices.items()
        },
    )


# Asked for by the outline and by every phrase that the bar comes in.
@lru_cache(maxsize=512)
def _beside(bar: GrooveBar, pattern: str) -> tuple[Beside, ...]:
    """What the left hand holds in a bar: its shells, whenever the pattern strikes them, and all else that it strikes."""
    shells = (Beside(chord.tick, chord.tick + chord.ticks, min(chord.notes)) for chord in bar.chords if chord.notes)
    struck = (Beside(strike.tick, strike.end_tick, min(strike.notes)) for strike in bar_strikes(pattern, bar, "left"))
    return (*shells, *struck)


def _goals(following: GrooveChord, bars_held: int, outlined: int | None) -> tuple[int, ...]:
    """The pitches the next chord may begin on; none if it is N.C., no root where the left hand leaves none."""
    if following.chord is None:
        return ()
    return tuple(pitches(opening_pcs(following.chord, bars_held)[0 if outlined is not None else 1 :]))


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


def _roots(position: int, bar: GrooveBar, chord: GrooveChord, *_: object) -> list[Slot]:
    return [Slot(position, chord.tick, chord.ticks, _plain((lowest_pc(chord.chord),)), opens=True)]


def _two_feel(
    position: int, bar: GrooveBar, chord: GrooveChord, held: int, goals: tuple[int, ...], chance: Random
) -> list[Slot]:
    """The root, and the fifth on the bar's second half if the chord lasts over it. In three, where the second half is
    one beat, the root rings through every other bar or so."""
    root = Slot(position, chord.tick, chord.ticks, _plain((lowest_pc(chord.chord),)), opens=True)
    middle = half_bar(bar.meter) * bar.meter.pulse_ticks
    end = chord.tick + chord.ticks
    rings = bar.meter.pulses == 3 and chance.random() < 0.5
    if not chord.tick < middle < end or rings:
        return [root]
    fifth = Slot(position, middle, end - middle, _plain((answer_pc(chord.chord),)))
    return [replace(root, ticks=middle - chord.tick), fifth]


def _walk(
    position: int, bar: GrooveBar, chord: GrooveChord, held: int, goals: tuple[int, ...], chance: Random
) -> list[Slot]:
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
            prices = {p: _ROOT_AGAIN_PRICE if p % 12 == root else 0.0 for p in pitches(tones if strong else scale)}
            passing = frozenset(p for p in prices if p % 12 not in tones)
        # In rising order, so that chance falls on the same pitch in every run.
        prices = {pitch: prices[pitch] + _CHANCE * chance.random() for pitch in sorted(prices)}
        slots.append(Slot(position, onset, until - onset, prices, passing, number == 0, approach))
    return slots


def _plain(pcs: Iterable[int]) -> dict[int, float]:
    return dict.fromkeys(pitches(pcs), 0.0)
