"""Takes as students play them, made up from our songs, with all that was done in them known.

A take is made bar by bar: which bars are played in which order (bars begun again, bars left out), when each beat comes
(wander, waits, a habit of rushing), and what each strike gives (slips, rolls, jitter). Figures of jitter: Repp & Su 2013,
from memory: 2 to 4 % of the beat. Seeds below SEEDS_KEPT were used while tuning; those above never.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

from practice.take_plans import PUSHED_SHARE, Recipe, Visit, add_waits, choose_slips, order_of_bars, rest_hand

from companion.groove.keys_struck import struck_with
from companion.groove.model import Arrangement
from companion.groove.strikes import bar_strikes
from companion.groove.swing import played_ratio
from companion.practice.marking.expected import TimedStrike, steady_starts, strikes
from companion.practice.model import Press
from companion.session.stand import Stand
from companion.store.library import find_song
from companion.store.paths import find_paths
from companion.store.settings import load_settings

SONGS = tuple(sorted(path.stem for path in (Path(__file__).resolve().parents[2] / "songs").glob("*.toml")))
SEEDS_KEPT = 10_000


@dataclass(slots=True)
class TrueChord:
    """A chord that was played (or left out by a slip). visit: which time round. slip: "" for a clean one. counted: False where
    it was begun again, or broken off."""

    visit: int
    index: int
    chord: int
    due_s: float
    slip: str = ""
    counted: bool = True
    symbol: str = ""


@dataclass(frozen=True, slots=True)
class TrueEvent:
    """kind: "waited", "again" or "left out". time_s: when what follows begins. index, chord: what follows, or the first
    that was left out. beats: of a wait; bars: left out."""

    kind: str
    time_s: float
    index: int
    chord: int = 0
    beats: float = 0.0
    bars: int = 0


@dataclass(slots=True)
class Made:
    """presses in order of time, with their lengths; clicks: seconds of the click in the file. habit_at: where a habit is; fast_section: which
    section is rushed. meant: second of a press -> which time round and strike of the form it was played for."""

    stand: Stand
    recipe: Recipe
    presses: list[Press]
    chords: list[TrueChord]
    events: list[TrueEvent]
    clicks: list[float] = field(default_factory=list)
    habit_at: tuple[int, int] | None = None
    fast_section: str = ""
    meant: dict[float, tuple[int, int]] = field(default_factory=dict)

    @property
    def arrangement(self) -> Arrangement:
        return self.stand.arrangement()


@lru_cache(maxsize=64)
def stand_of(song: str, pattern: str) -> Stand:
    paths = find_paths()
    settings = load_settings(paths)
    return Stand.put(find_song(song, paths, settings), settings).change(pattern=pattern)


def make(song: str, recipe: Recipe, seed: int) -> Made:
    rng = random.Random(f"{song} {seed}")
    stand = stand_of(song, recipe.pattern)
    arrangement = stand.arrangement()
    tempo = recipe.tempo or stand.tempo_bpm * rng.uniform(0.6, 1.0)
    ratio = played_ratio(arrangement.feel, arrangement.swing_ratio, tempo)
    laid = strikes(replace(arrangement, swing_ratio=ratio), steady_starts(arrangement, 0.0, 60.0))
    by_bar: list[list[TimedStrike]] = [[] for _ in arrangement.bars]
    for strike in laid:
        by_bar[strike.group.position].append(strike)
    numbers = {id(strike): number for number, strike in enumerate(laid)}
    starts = [start.start_s for start in steady_starts(arrangement, 0.0, 60.0)]
    events: list[TrueEvent] = []
    made = Made(stand, recipe, [], [], events)

    visits = order_of_bars(rng, recipe, len(arrangement.bars), by_bar)
    rest_hand(rng, recipe, visits, by_bar)
    habit_bar = add_waits(rng, recipe, visits, by_bar)
    made.habit_at = habit_bar
    beat_s = 60.0 / tempo
    fast: list[tuple[float, float]] = []
    if recipe.habit == "rushes a section":
        names = [bar.section for bar in stand.bars]
        # Where half of the chorus or its end is fast, the other half drags, or the chorus rushes.
        odd = [name for name in names if name != names[-1] and 2 * names.count(name) < len(names)]
        made.fast_section = rng.choice(odd) if odd else ""
        spans: dict[int, list[float]] = {}
        for bar, start in zip(arrangement.bars, starts):
            here = stand.bars[bar.index]
            if here.section == made.fast_section:
                spans.setdefault(here.occurrence, []).extend((start, start + bar.meter.pulses))
        fast = [(min(span), max(span)) for span in spans.values()]
    clock = _Clock(beat_s, recipe, rng, sum(bar.meter.pulses for bar in arrangement.bars), visits, arrangement, fast)
    slips = choose_slips(rng, recipe, visits, by_bar)
    first_bar_s = rng.uniform(0.5, 6.0)
    performed = 0.0  # pulses
    waited_s = first_bar_s
    late_beat = rng.choice([1, 2, 3]) if recipe.habit == "beat late" else -1
    weak = rng.choice([0, 1])
    before: tuple[int, ...] = ()
    for order, visit in enumerate(visits):
        waited_s += visit.pause * beat_s
        bar = arrangement.bars[visit.position]
        kept = by_bar[visit.position][: visit.cut]
        seen: dict[int, TrueChord] = {}
        for number, strike in enumerate(kept):
            if number in visit.waits:
                waited_s += visit.waits[number] * beat_s
                time_s = clock.at(performed + strike.due_s - starts[visit.position]) + waited_s
                events.append(TrueEvent("waited", time_s, strike.group.index, strike.group.chord, visit.waits[number]))
            pulse = performed + strike.due_s - starts[visit.position]
            due_s = clock.at(pulse) + waited_s
            slip = slips.get((order, strike.group.chord), "")
            truth = seen.get(strike.group.chord)
            if truth is None:
                if slip == "other shell" and all(
                    _other_keys(made, each) == each.notes for each in kept if each.group == strike.group
                ):
                    slip = ""  # a rhythm that strikes one key may strike it for either shell
                truth = TrueChord(visit.visit, strike.group.index, strike.group.chord, due_s, slip, visit.counted)
                placed = stand.bars[strike.group.index].chords[strike.group.chord].chord
                truth.symbol = placed.symbol if placed else "N.C."
                seen[strike.group.chord] = truth
                made.chords.append(truth)
            if visit.silent:
                truth.slip = "hand alone"
                continue
            last = number + 1 == len(kept) or kept[number + 1].group.chord != strike.group.chord
            keys = _play(
                rng,
                recipe,
                made,
                strike,
                due_s,
                beat_s * clock.share(pulse),
                slip,
                last,
                late_beat,
                weak,
                starts[visit.position],
                before,
            )
            made.presses += keys
            made.meant |= dict.fromkeys((press.time_s for press in keys), (visit.visit, numbers[id(strike)]))
        if kept and not visit.silent:
            before = kept[-1].notes
        if visit.cut is not None:
            performed += (kept[-1].due_s - starts[visit.position] + 1.0) if kept else 0.0
        else:
            performed += bar.meter.pulses
        if recipe.click_ms is not None:
            made.clicks += [
                clock.at(performed - bar.meter.pulses + beat) + waited_s - recipe.click_ms / 1000.0
                for beat in range(bar.meter.pulses)
            ]
    _note_events(made, visits, by_bar, starts)
    if recipe.melody:
        made.presses += _melody(rng, made)
    if recipe.transpose:
        made.presses = [Press(p.time_s, p.note + recipe.transpose, p.velocity, p.held_s) for p in made.presses]
    made.presses.sort(key=lambda press: press.time_s)
    return made


class _Clock:
    """Seconds of a performed pulse, without what was waited."""

    def __init__(
        self,
        beat_s: float,
        recipe: Recipe,
        rng: random.Random,
        chorus: float,
        visits: list[Visit],
        arrangement: Arrangement,
        fast: list[tuple[float, float]],
    ) -> None:
        self._fast = fast
        self._beat_s, self._recipe, self._chorus = beat_s, recipe, chorus
        self._phase = rng.uniform(0.0, 2.0 * math.pi)
        self._total = sum(arrangement.bars[visit.position].meter.pulses for visit in visits)
        self._sums = [0.0]
        while len(self._sums) < 8 * (self._total + 64):
            self._sums.append(self._sums[-1] + beat_s * self.share((len(self._sums) - 0.5) / 8.0) / 8.0)

    def share(self, pulse: float) -> float:
        """Length of a beat there over the mean one."""
        recipe = self._recipe
        share = 1.0 + recipe.wander * math.sin(2.0 * math.pi * pulse / recipe.wander_beats + self._phase)
        sign = -1.0 if "rush" in recipe.habit else 1.0
        if recipe.habit in ("rushes", "drags"):
            share *= 1.0 + sign * 0.08 * (pulse / self._total - 0.5)
        elif recipe.habit.endswith("each chorus"):
            share *= 1.0 + sign * 0.04 * (pulse % self._chorus / self._chorus - 0.5)
        for first, end in self._fast:
            if first <= pulse % self._chorus < end:
                share *= 1.0 - 0.07 * math.sin(math.pi * (pulse % self._chorus - first) / (end - first))
        return share

    def at(self, pulse: float) -> float:
        place = max(0.0, pulse * 8.0)
        low = min(int(place), len(self._sums) - 2)
        return self._sums[low] + (place - low) * (self._sums[low + 1] - self._sums[low])


def _play(
    rng: random.Random,
    recipe: Recipe,
    made: Made,
    strike: TimedStrike,
    due_s: float,
    beat_s: float,
    slip: str,
    last: bool,
    late_beat: int,
    weak: int,
    bar_start: float,
    before: tuple[int, ...],
) -> list[Press]:
    """The keys of one strike."""
    notes = list(strike.notes)
    off_s = rng.gauss(0.0, recipe.jitter_ms / 1000.0)
    if slip == "late":
        off_s += max(0.11, 0.28 * beat_s)
    elif slip == "early":
        off_s -= max(0.11, 0.28 * beat_s) if strike.gap_s * beat_s > 0.3 else 0.11
    elif slip == "push" and strike.number == 0:
        off_s -= 0.5 * beat_s
    elif slip == "missing" or (slip == "gone later" and last and strike.number):
        return []
    elif slip == "half":
        notes.pop(rng.choice([0, -1]) if strike.number else -1)
    elif slip == "wrong" or (slip == "wrong first" and strike.number == 0):
        notes[-1] += 1 if slip == "wrong" else -2
    elif slip == "octave":
        notes = [note + 12 for note in notes]
    elif slip == "other shell":
        notes = list(_other_keys(made, strike))
    elif slip == "neighbour":
        grazed = notes[0] - 1 if strike.number % 2 == 0 else notes[0] + 1
        notes = [notes[0], notes[1] + 1, grazed] if len(notes) > 1 else [grazed]
    elif slip == "smash" and strike.number == 0:
        low = strike.notes[0]
        notes += [note for note in range(low - 9, low + 11) if note not in notes]
    habit = recipe.habit
    if habit == "pushes" and strike.number == 0 and rng.random() < PUSHED_SHARE:
        off_s -= 0.5 * beat_s
    if habit == "changes late" and strike.number == 0:
        off_s += 0.06
    if habit == "beat late" and abs(strike.due_s - bar_start - late_beat) < 0.01:
        off_s += 0.06
    roll_s = recipe.roll_ms / 1000.0
    lasting = _written(made, strike) * beat_s * rng.uniform(0.75, 0.98) * (0.5 if habit == "short" else 1.0)
    presses = []
    for place, note in enumerate(notes):
        at_s = (
            due_s + off_s + rng.gauss(0.0, 0.005) + (roll_s * place / max(1, len(notes) - 1) if len(notes) < 6 else 0.0)
        )
        velocity = round(rng.gauss(66.0, 6.0))
        if habit == "weak note" and place == weak:
            velocity -= 20
        if habit == "later note" and place == weak:
            at_s += 0.04
        presses.append(Press(at_s, note, min(127, max(1, velocity)), lasting))
    return presses


def _other_keys(made: Made, strike: TimedStrike) -> tuple[int, ...]:
    """What the strike is with another shell; where the chord has none, with a wrong upper key."""
    shell, index, number = (
        made.stand.choices_at(strike.group.index)[strike.group.chord][1],
        strike.group.position,
        strike.group.chord,
    )
    options = [option.midi for option in shell.options if shell.shell is None or option.midi != shell.shell.midi]
    others = struck_with(strike.keys, made.arrangement.bars[index].chords[number], options)
    if not others:
        return (*strike.notes[:-1], strike.notes[-1] + 1)
    return next((keys for keys in others if keys != strike.notes), strike.notes)


def _written(made: Made, strike: TimedStrike) -> float:
    """The written length of a strike in pulses."""
    bar = made.arrangement.bars[strike.group.position]
    hits = [hit for hit in bar_strikes(made.recipe.pattern, bar, "left") if hit.chord == strike.group.chord]
    return hits[strike.number].ticks / bar.meter.pulse_ticks


def _melody(rng: random.Random, made: Made) -> list[Press]:
    """Notes in eighths and longer, high above the shells."""
    if not made.presses:
        return []
    time_s, end_s = made.presses[0].time_s, max(p.time_s for p in made.presses)
    top = max(note for bar in made.arrangement.bars for chord in bar.chords for note in chord.notes)
    notes = []
    while time_s < end_s:
        notes.append(Press(time_s, top + 8 + rng.randrange(14), round(rng.gauss(78, 8)), 0.2))
        time_s += rng.choice([0.25, 0.3, 0.5, 0.6, 1.0])
    return notes


def _note_events(made: Made, visits: list[Visit], by_bar: list[list[TimedStrike]], starts: list[float]) -> None:
    """What was begun again or left out, from the order of the bars."""
    spans: list[list[TrueChord]] = []
    place = 0
    for visit in visits:
        count = len({s.group.chord for s in by_bar[visit.position][: visit.cut]})
        spans.append(made.chords[place : place + count])
        place += count
    silent = [number for number, visit in enumerate(visits) if visit.silent]
    if silent:
        after = next(span[0] for span in spans[silent[-1] + 1 :] if span)
        first = spans[silent[0]][0]
        made.events.append(TrueEvent("left out", after.due_s, first.index, bars=silent[-1] - silent[0] + 1))
    for number, visit in enumerate(visits):
        kinds = [key for key in visit.waits if key < 0]
        later = [span[0] for span in spans[number:] if span]
        if not kinds or not later:
            continue
        first = later[0]  # bars without a chord are silent
        if -1 in kinds:
            made.events.append(TrueEvent("again", first.due_s, first.index))
        else:
            bars = int(visit.waits[-2])
            index = made.arrangement.bars[visit.position - bars].index
            made.events.append(TrueEvent("left out", first.due_s, index, bars=bars))
