"""A melody played in, read as it was written: against what was to be played, and the reading against every other one."""

from __future__ import annotations

import itertools
import random
from fractions import Fraction

import pytest
from melodies_played import play_in, read_again

from companion.authoring.played_in import melody_of, read_played, spelled
from companion.chart.reader import read_chart
from companion.practice.model import Press
from companion.store.paths import shipped_folder
from companion.theory.key import Key
from companion.theory.meter import Meter
from companion.theory.symbols import parse_chord

FOUR = Meter(4, 4)


@pytest.fixture(scope="session")
def songs():
    return [read_chart(path) for path in sorted((shipped_folder() / "songs").glob("*.toml"))]


def test_what_is_played_in_with_human_timing_comes_out_as_written(songs) -> None:
    """95 of 100 bars is the goal; tests/bench/played_in.py has 500 melodies."""
    wrong = bars = 0
    for seed in range(1000, 1016):
        played = play_in(songs, seed)
        _, got = read_again(played)
        bars += len(played.written)
        wrong += sum(got.get(bar) != notes for bar, notes in played.written.items())
    assert wrong <= 0.05 * bars


def places():
    """Where a note may begin in two pulses: whole, halves, thirds, quarters; with how its pulse is divided."""
    for pulse in range(2):
        yield Fraction(pulse), pulse, 1
        for division in (2, 3, 4):
            for part in range(1, division):
                yield pulse + Fraction(part, division), pulse, division


def cost_of(way, times, pulse_s):
    """By the head of the module: squares of the deviations in spreads, 0.4 for each note inside a pulse, a pulse's division once, a brushed key."""
    cost, divided, last = 0.0, {}, None
    for place, time_s in zip(way, times, strict=True):
        if place is None:
            cost += 7.0
            continue
        at, pulse, division = place
        away = time_s - float(at) * pulse_s
        if abs(away) > pulse_s / 2 or (last is not None and at <= last):
            return None
        if division > 1 and divided.setdefault(pulse, division) != division:
            return None
        last = at
        cost += (away / 0.03) ** 2 / 2 + (0.4 if division > 1 else 0.0)
    return cost + sum({2: 0.0, 3: 3.0, 4: 3.5}[division] for division in divided.values())


@pytest.mark.parametrize("seed", range(6))
def test_no_other_reading_costs_less(seed) -> None:
    """Every way to lay four keys in two pulses, tried one by one; straight and with the click, so that nothing is to be found out but the
    places. A reading with a lateness of its own may cost less, never more."""
    rng = random.Random(seed)
    times = sorted(rng.uniform(-0.05, 1.0) for _ in range(4))
    times = [times[0], *(later for earlier, later in itertools.pairwise(times) if later - earlier > 0.04)]
    ways = itertools.product([*places(), None], repeat=len(times))
    costs = [cost for way in ways if (cost := cost_of(way, times, 0.5)) is not None]
    reading = read_played([Press(time_s, 60 + n) for n, time_s in enumerate(times)], 120.0, FOUR, 1, swings=False)
    assert reading.cost <= min(costs) + 1e-9
    if reading.late_s == 0.0:
        assert reading.cost == pytest.approx(min(costs))


def test_swing_is_taken_out_and_said() -> None:
    """Eighths at 2:1 in 120 are written as eighths; a triplet stays one."""
    times = [0.0, 1 / 3, 0.5, 0.5 + 1 / 3, 1.0, 1 + 1 / 6, 1 + 1 / 3, 1.5]
    reading = read_played([Press(time_s, 60 + n, 64, 0.1) for n, time_s in enumerate(times)], 120.0, FOUR, 1)
    assert reading.ratio == 2.0
    starts = [0, Fraction(1, 2), 1, Fraction(3, 2), 2, 2 + Fraction(1, 3), 2 + Fraction(2, 3), 3]
    assert [note.start for note in reading.notes] == starts


def test_a_brushed_key_and_a_rolled_one_are_no_notes() -> None:
    """A key 45 ms after another lies on no place of its own; of two within 40 ms the upper one is the tune."""
    steady = [Press(1.0 + 0.5 * number, 64) for number in range(6)]
    presses = [Press(0.0, 60), Press(0.012, 67), Press(0.5, 62), Press(0.545, 61), *steady]
    reading = read_played(presses, 120.0, FOUR, 2, swings=False)
    assert [note.midi for note in reading.notes] == [67, 62, *[64] * 6] and reading.brushed == 1


def test_nothing_played_is_no_melody() -> None:
    reading = read_played([], 120.0, FOUR, 2)
    assert reading.notes == () and melody_of(reading, FOUR, Key.parse("C")) == ()


def test_keys_are_spelled_by_key_then_chord() -> None:
    """Common practice: B flat in F, F sharp in G; the third of E7 in F is G sharp, not A flat; C sharp else in D, D flat in A flat."""
    assert spelled(70, Key.parse("F")).name == "Bb4"
    assert spelled(68, Key.parse("F"), parse_chord("E7")).name == "G#4"
    assert spelled(68, Key.parse("F"), parse_chord("Fm7")).name == "Ab4"
    assert spelled(61, Key.parse("D")).name == "C#4" and spelled(61, Key.parse("Ab")).name == "Db4"


def test_a_foreign_note_that_rises_by_a_half_step_is_raised() -> None:
    """G, G sharp, A in F; common practice."""
    presses = [Press(number * 0.5, midi) for number, midi in enumerate((67, 68, 69, 68, 67))]
    reading = read_played(presses, 120.0, FOUR, 2, swings=False)
    names = [note.pitch.name for note in melody_of(reading, FOUR, Key.parse("F"))]
    assert names == ["G4", "G#4", "A4", "Ab4", "G4"]
