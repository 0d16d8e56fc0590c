"""What a player does over and over: found in the marks of one pass or many, where it is large enough to matter and too regular
to be chance.

Every habit has a least size, below which a teacher would say nothing (our own choice, beside what is told apart at all: 2.5 %
of a beat, Friberg & Sundberg 1995; 22 ms between two onsets, mazurka.org.uk), and a test (robust.py) at a level at which, over all the
habits, hardly one clean take in twenty gets a sentence.

Units: milliseconds, above zero = late; shares; pulses.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import exp, log
from statistics import fmean, median

from companion.groove.model import Arrangement
from companion.groove.strikes import bar_strikes
from companion.practice.marking.playthrough import Event
from companion.practice.marking.robust import (
    chance_of_difference,
    chance_of_shift,
    chance_of_slope,
    chance_of_so_many,
    chance_of_trend,
    spread,
    theil_sen,
)
from companion.practice.marking.timing import WHOLE
from companion.practice.model import PassMarks, StrikeMark

LEVEL = 0.003
FEWEST = 12  # strikes, bars or pairs that a habit is read from
# Least sizes.
TEMPO_TAKE, TEMPO_CHORUS, TEMPO_SECTION = 0.04, 0.022, 0.03
# However slow the beat, what is past MOST_LATE_MS is heard: half-way from where an order of two onsets is told to where it is obvious, 22 and 60 ms.
LATE_MS, LATE_SHARE, MOST_LATE_MS, OFF_BEAT_MS = 25.0, 0.04, 41.0, 42.0
NOTE_MS, NOTE_VELOCITY = 25.0, 12.0
UNEVEN_MS, UNEVEN_SHARE = 45.0, 0.09
SHORT, LONG = 0.6, 1.2
ALIKE_S = 0.003  # keys that all stay down for the same time were so written by a machine, which says nothing of a hand
PUSHED_SHARE, FEWEST_PUSHES = 0.2, 4
SAME_CHANGE_SHARE = 0.6
TREND_SHARE, TREND_LEVEL = 0.2, 0.02  # so large a share hardly ever comes by chance to a player who slips seldom
BLOCK_BARS = 4


@dataclass(frozen=True, slots=True)
class Habit:
    """kind: which (a row of WORDS in teacher.py). amount: how much, in the unit of that row. where: index in the chorus and chord of
    a change, or a beat of the bar counted from 1 in `beat`, or 0 for the lower and 1 for the upper note in `note`. of: how many of
    how many. between: values at the start and at the end, or beside a section and in it. section: its name."""

    kind: str
    amount: float = 0.0
    where: tuple[int, int] | None = None
    beat: float = 0.0
    note: int = 0
    of: tuple[int, int] = (0, 0)
    between: tuple[float, float] = (0.0, 0.0)
    section: str = ""


@dataclass(frozen=True, slots=True)
class Played:
    """What habits are read from: the passes in order with what happened in each. arrangement: the loop in the pattern played.
    sections: for each index in the chorus the section's name and which time it comes in the form; empty where that is not known."""

    arrangement: Arrangement
    passes: Sequence[PassMarks]
    events: Sequence[Sequence[Event]] = field(default=())
    sections: Mapping[int, tuple[str, int]] = field(default_factory=dict)

    def strikes(self) -> Iterator[StrikeMark]:
        """Every strike of every pass, in order."""
        for marks in self.passes:
            for chord in marks.chords:
                yield from chord.strikes

    @property
    def beat_s(self) -> float:
        """The median length of a pulse."""
        return median([mark.expected.beat_s for mark in self.strikes()] or [0.5])


def habits_of(played: Played) -> list[Habit]:
    """Every habit there is, the most telling first."""
    found: list[Habit] = []
    for look in (_same_change, _tempo, _changes_and_beats, _notes, _pushes, _lengths, _uneven, _trend):
        found += look(played)
    return found


# --- tempo


def _tempo(played: Played) -> list[Habit]:
    """Over the take, or the same within each chorus. Read from the length of a pulse in each bar, from its first strike to that of
    the next, where the player neither waited nor jumped between."""
    by_pass = [_bar_beats(played, number) for number in range(len(played.passes))]
    if not by_pass:
        return []
    flat = [
        (number * len(played.arrangement.bars) + place, beat)
        for number, bars in enumerate(by_pass)
        for place, beat in bars
    ]
    if len(flat) < FEWEST:
        return []
    usual = median(beat for _, beat in flat)
    flat = [(place, beat / usual) for place, beat in flat if abs(beat / usual - 1.0) < 0.25]
    found = []
    change = theil_sen(flat) * (flat[-1][0] - flat[0][0])
    if abs(change) >= TEMPO_TAKE and chance_of_trend([beat for _, beat in flat], BLOCK_BARS) <= 0.01:
        middle = 60.0 / usual
        ends = (middle / (1.0 - change / 2.0), middle / (1.0 + change / 2.0))
        found.append(Habit("rushes" if change < 0.0 else "drags", abs(change), between=ends))
    whole = [
        [(place, beat / usual) for place, beat in bars]
        for bars in by_pass
        if len(bars) >= 0.6 * len(played.arrangement.bars)
    ]
    if not found and len(whole) >= 2:
        found += _tempo_in_section(played, whole, usual) or _tempo_in_chorus(played, whole, usual)
    return found


def _tempo_in_section(played: Played, whole: Sequence[Sequence[tuple[int, float]]], usual_s: float) -> list[Habit]:
    """One section that is played faster, or slower, than the rest of the chorus. What is compared are whole sections, as bars in a
    row are alike anyhow."""
    by_name: dict[str, list[float]] = defaultdict(list)
    bars_of: dict[str, list[tuple[int, float]]] = defaultdict(list)
    for bars in whole:
        middle = median(beat for _, beat in bars)
        visits: dict[tuple[str, int], list[float]] = defaultdict(list)
        for place, beat in bars:
            where = played.sections.get(played.arrangement.bars[place].index)
            if where:
                visits[where].append(beat / middle)
                bars_of[where[0]].append((place, beat / middle))
        for (name, _), beats in visits.items():
            by_name[name].append(median(beats))
    found: list[tuple[float, int, Habit]] = []
    for name, inside in by_name.items():
        outside = [beat for other, beats in by_name.items() if other != name for beat in beats]
        if min(len(inside), len(outside)) < 3:
            continue
        change = log(median(inside) / median(outside))
        if abs(change) >= TEMPO_SECTION and chance_of_difference(inside, outside) <= LEVEL:
            tempo = 60.0 / usual_s / median(outside)
            kind = "rushes a section" if change < 0.0 else "drags a section"
            habit = Habit(kind, abs(change), between=(tempo, tempo / exp(change)), section=name)
            # Of two sections the shorter is the odd one.
            found.append((-round(abs(change), 6), len(bars_of[name]), habit))
    if not found or _is_a_line(bars_of):
        return []
    return [min(found, key=lambda entry: entry[:2])[2]]


def _is_a_line(bars_of: Mapping[str, Sequence[tuple[int, float]]]) -> bool:
    """Whether one tempo that changes throughout the chorus says more of the bars than a tempo for each section."""
    bars = [bar for inside in bars_of.values() for bar in inside]
    slope = theil_sen(bars)
    along = spread([beat - slope * place for place, beat in bars])
    levels = spread([beat - median(other for _, other in inside) for inside in bars_of.values() for _, beat in inside])
    return along < levels


def _tempo_in_chorus(played: Played, whole: Sequence[Sequence[tuple[int, float]]], usual_s: float) -> list[Habit]:
    length = len(played.arrangement.bars)
    slopes = [theil_sen(bars) * length for bars in whole]
    change = median(slopes)
    # Of many choruses one may go the other way.
    if abs(change) < TEMPO_CHORUS or sum(slope * change <= 0.0 for slope in slopes) > (len(slopes) > 3):
        return []
    columns: dict[int, list[float]] = defaultdict(list)
    for bars in whole:
        middle = median(beat for _, beat in bars)
        for place, beat in bars:
            columns[place].append(beat - middle)
    means = [median(columns[place]) for place in sorted(columns)]
    if chance_of_trend(means, 2 if len(means) < 24 else BLOCK_BARS) > 0.05:
        return []
    kind = "rushes each chorus" if change < 0.0 else "drags each chorus"
    tempo = 60.0 / usual_s
    return [Habit(kind, abs(change), between=(tempo / (1.0 - change / 2.0), tempo / (1.0 + change / 2.0)))]


def _bar_beats(played: Played, number: int) -> list[tuple[int, float]]:
    """(position in the loop, length of a pulse in seconds) of each bar whose first strike came, and the next bar's too."""
    bars = played.arrangement.bars
    waits = [event.time_s for event in (played.events[number] if number < len(played.events) else ())]
    firsts: list[tuple[int, float]] = []
    for chord in played.passes[number].chords:
        mark = chord.strikes[0]
        if (
            mark.expected.group.chord == 0
            and mark.verdict in WHOLE
            and mark.offset_ms is not None
            and mark.reason != "push"
        ):
            firsts.append((mark.expected.group.position, mark.expected.due_s + mark.offset_ms / 1000.0))
    beats = []
    for (at, at_s), (after, after_s) in pairwise(firsts):
        pulses = bars[at].meter.pulses
        if after == at + 1 and after_s > at_s and not any(at_s < time_s <= after_s + 0.2 for time_s in waits):
            beats.append((at, (after_s - at_s) / pulses))
    return beats


# --- early and late


def _changes_and_beats(played: Played) -> list[Habit]:
    beat_ms = 1000.0 * played.beat_s
    least = max(LATE_MS, min(MOST_LATE_MS, LATE_SHARE * beat_ms))
    written = _written(played)
    changes: list[float] = []
    repeats: list[float] = []
    off_beat = 0
    by_beat: dict[float, list[float]] = defaultdict(list)
    for mark in played.strikes():
        if mark.verdict not in WHOLE or mark.offset_ms is None or mark.reason == "push":
            continue
        beat, _ = written.get(
            (mark.expected.group.position, mark.expected.group.chord, mark.expected.number), (0.0, 0.0)
        )
        if mark.expected.number == 0:
            changes.append(mark.offset_ms)
        else:
            repeats.append(mark.offset_ms)
            off_beat += abs(beat - round(beat)) > 0.01
        by_beat[round(beat, 3)].append(mark.offset_ms)
    found = []
    if min(len(changes), len(repeats)) >= FEWEST // 2:
        late = median(changes) - median(repeats)
        wanted = max(least, OFF_BEAT_MS) if 2 * off_beat > len(repeats) else least
        if abs(late) >= wanted and chance_of_difference(changes, repeats) <= LEVEL:
            found.append(Habit("changes late" if late > 0.0 else "changes early", abs(late)))
    off_changes = found[0].amount * (1.0 if found[0].kind == "changes late" else -1.0) if found else 0.0
    best: Habit | None = None
    for beat, offsets in by_beat.items():
        others = [offset for other, values in by_beat.items() if other != beat for offset in values]
        if min(len(offsets), len(others)) < FEWEST // 2 or abs(beat - round(beat)) > 0.01 or len(by_beat) < 3:
            continue
        late = median(offsets) - median(others) - (off_changes if beat == 0.0 else 0.0)
        if (
            abs(late) >= least
            and chance_of_difference(offsets, others) <= LEVEL
            and (best is None or abs(late) > best.amount)
        ):
            best = Habit("beat late" if late > 0.0 else "beat early", abs(late), beat=beat + 1.0)
    if best and not (found and best.beat == 1.0) and (not found or best.amount > 1.3 * found[0].amount):
        found = [best]
    return found


def _written(played: Played) -> dict[tuple[int, int, int], tuple[float, float]]:
    """(position, chord, strike) -> (where it begins in the bar, how long it lasts), straight, in pulses, counted from 0."""
    found = {}
    for position, bar in enumerate(played.arrangement.bars):
        counts: Counter[int] = Counter()
        for hit in bar_strikes(played.arrangement.pattern, bar, "left"):
            pulse = bar.meter.pulse_ticks
            place, lasts = (hit.tick / pulse, hit.ticks / pulse)
            if hit.chord == len(bar.chords):  # the next bar's first chord, struck early
                found[position + 1, 0, 0] = (place - bar.meter.pulses, lasts)
            elif not hit.held:
                found[position, hit.chord, counts[hit.chord]] = (place, lasts)
                counts[hit.chord] += 1
    return found


def _pushes(played: Played) -> list[Habit]:
    firsts = [chord.strikes[0] for marks in played.passes for chord in marks.chords]
    pushed = [mark for mark in firsts if mark.reason == "push" and mark.offset_ms is not None]
    if len(pushed) < max(FEWEST_PUSHES, PUSHED_SHARE * len(firsts)):
        return []
    beats = median(-(mark.offset_ms or 0.0) / 1000.0 / mark.expected.beat_s for mark in pushed)
    return [Habit("pushes", beats, of=(len(pushed), len(firsts)))]


# --- the notes of a strike


def _notes(played: Played) -> list[Habit]:
    """The upper note against the lower one."""
    lags, steps = [], []
    for mark in played.strikes():
        if mark.verdict in WHOLE and len(mark.keys) == len(mark.expected.notes) > 1:
            low, high = mark.keys[0], mark.keys[-1]
            lags.append(1000.0 * (high.time_s - low.time_s))
            steps.append(float(high.velocity - low.velocity))
    found = []
    if len(lags) >= FEWEST:
        lag, step = median(lags), median(steps)
        if abs(lag) >= NOTE_MS and chance_of_shift(lags) <= LEVEL:
            found.append(Habit("later note", abs(lag), note=int(lag > 0.0)))
        if abs(step) >= NOTE_VELOCITY and chance_of_shift(steps) <= LEVEL:
            found.append(Habit("weak note", abs(step), note=int(step < 0.0)))
    return found


def _lengths(played: Played) -> list[Habit]:
    """How long keys stay down against what is written; where the next strike comes sooner than that, up to it."""
    written = _written(played)
    shares = []
    for mark in played.strikes():
        _, lasting = written.get(
            (mark.expected.group.position, mark.expected.group.chord, mark.expected.number), (0.0, 0.0)
        )
        held = [press.held_s for press in mark.keys if press.held_s is not None]
        if lasting and held and mark.verdict in WHOLE:
            shares.append(fmean(held) / (lasting * mark.expected.beat_s))
    lengths = [press.held_s for mark in played.strikes() for press in mark.keys if press.held_s is not None]
    if len(shares) < FEWEST or spread(lengths) < ALIKE_S:
        return []
    share = median(shares)
    if share < SHORT and chance_of_shift([value - 0.7 for value in shares]) <= LEVEL:
        return [Habit("short", share)]
    if share > LONG and chance_of_shift([value - 1.0 for value in shares]) <= LEVEL:
        return [Habit("long", share)]
    return []


def _uneven(played: Played) -> list[Habit]:
    offsets = [mark.offset_ms for mark in played.strikes() if mark.verdict in WHOLE and mark.offset_ms is not None]
    wide = spread(offsets)
    if len(offsets) < 2 * FEWEST or wide < max(UNEVEN_MS, UNEVEN_SHARE * 1000.0 * played.beat_s):
        return []
    return [Habit("uneven", wide)]


# --- the same place, and the way from pass to pass


def _same_change(played: Played) -> list[Habit]:
    """One change that is waited for, or slips, in most passes."""
    passes = len(played.passes)
    if passes < 2:
        return []
    waits: dict[tuple[int, int], list[float]] = defaultdict(list)
    for events in played.events:
        for event in events:
            if event.kind == "waited":
                waits[event.index, event.chord].append(event.beats)
    tries: Counter[tuple[int, int]] = Counter()
    slips: Counter[tuple[int, int]] = Counter()
    for marks in played.passes:
        for chord in marks.chords:
            tries[chord.index, chord.chord] += 1
            slips[chord.index, chord.chord] += not chord.is_right
    chords = sum(tries.values())
    found = []
    share = max(1, sum(map(len, waits.values()))) / max(1, chords)
    for where, beats in waits.items():
        if _is_there(len(beats), tries[where], share, len(tries)):
            found.append(Habit("waits at a change", median(beats), where, of=(len(beats), tries[where])))
    share = sum(slips.values()) / max(1, chords)
    for where, count in slips.items():
        if _is_there(count, tries[where], share, len(tries)):
            found.append(Habit("slips at a change", 0.0, where, of=(count, tries[where])))
    found.sort(key=lambda habit: (-habit.of[0], habit.kind != "waits at a change", habit.where))
    return found[:1]


def _is_there(hits: int, tries: int, share: float, places: int) -> bool:
    """Whether one place has more than its share: most of at least two tries, and that by chance at none of all the places."""
    if hits < 2 or hits < SAME_CHANGE_SHARE * tries:
        return False
    return chance_of_so_many(hits, tries, share) * places <= 0.02


def _trend(played: Played) -> list[Habit]:
    """Better or worse from pass to pass."""
    passes = [marks for marks in played.passes if len(marks.chords) >= 4]
    if len(passes) < 3:
        return []
    shares = [marks.figures.share_right for marks in passes]
    half = len(shares) // 2
    change = fmean(shares[-half:]) - fmean(shares[:half])
    rights = [(float(number), float(chord.is_right)) for number, marks in enumerate(passes) for chord in marks.chords]
    if abs(change) < TREND_SHARE or chance_of_slope(rights) > TREND_LEVEL:
        return []
    return [
        Habit("better" if change > 0.0 else "worse", abs(change), between=(fmean(shares[:half]), fmean(shares[-half:])))
    ]
