"""The harmonised right hand over our songs in every key: faults by the checker that knows nothing of the solver, company, milliseconds a chorus.

.venv/bin/python tests/bench/harmony.py [songs]
.venv/bin/python tests/bench/harmony.py phrases 100 [first seed]    made-up phrases, each solved by trying all there is
"""

from __future__ import annotations

import statistics
import sys
import time
from collections import Counter
from itertools import pairwise
from pathlib import Path
from random import Random

TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

from harmony_checker import faults
from harmony_of_songs import chords_of, struck_of, tick_ms_of
from phrases_harmonised import a_phrase, costs, is_for_costs
from shipped import SONGS

from companion.arranging.choice import ArrangementChoice
from companion.hands.right.company_reason import why_company
from companion.hands.right.voicings import is_due
from companion.session.stand import Stand
from companion.store.paths import find_paths
from companion.store.settings import load_settings
from companion.theory.key import Key


def inner_movement(notes):
    """(semitones that the added notes move from chord to chord, how many do) within phrases of chords no more than two bars apart: each from the nearest of the chord before."""
    moved = []
    for before, after in pairwise(notes):
        if before.voicing.added and after.voicing.added and after.note.start_tick - before.note.start_tick <= 3840:
            moved += [min(abs(key - old) for old in before.voicing.added) for key in after.voicing.added]
    return moved


def weak(note, bars):
    """Whether it begins off the strong beats of its bar."""
    bar = next((bar for bar in bars if bar.start_tick <= note.note.start_tick < bar.end_tick), bars[0])
    at = (note.note.start_tick - bar.start_tick) % bar.meter.bar_ticks
    return at % bar.meter.pulse_ticks != 0 or at // bar.meter.pulse_ticks not in bar.meter.strong_pulses


def against_everything(count: int, first: int) -> None:
    """Print for each number of voices how many phrases cost the least there is."""
    for voices in (2, 3, 4):
        chance, tried, equal = Random(first + voices), 0, 0
        while tried < count:
            made, plain = a_phrase(chance, 6 if tried % 17 == 0 else 3)
            if is_for_costs(made):
                own, least = costs(made, plain, voices)
                tried, equal = tried + 1, equal + (own == least)
        print(f"{voices} voices: {equal} of {tried} phrases cost the least of all there is", flush=True)


def main() -> None:
    """Print a line for each number of voices, and what the notes without company lack."""
    settings = load_settings(find_paths({"COMPANION_HOME": "/nonexistent"}))
    if sys.argv[1:2] == ["phrases"]:
        count, first = (int(word) for word in (*sys.argv[2:], *("100", "70000")[len(sys.argv) - 2 :]))
        against_everything(count, first)
        return
    songs = SONGS[: int(sys.argv[1])] if len(sys.argv) > 1 else SONGS
    for voices, tensions in ((2, False), (3, False), (3, True), (4, True)):
        times, due, company, found, moved, light, heavy = [], 0, 0, 0, [], [], []
        alone = Counter()
        for song in songs:
            stand = Stand.put(song, settings)
            for pc in range(12):
                chorus = stand.with_key(Key.usual(pc, song.key.mode)).change(
                    arranged=ArrangementChoice(voices, tensions)
                )
                start = time.process_time()
                notes = chorus.harmonised
                times.append(1000 * (time.process_time() - start))
                found += len(faults(struck_of(notes), chords_of(chorus, tensions), tick_ms_of(chorus), voices))
                due += sum(is_due(note.stroke, voices) for note in notes)
                company += sum(len(note.voicing.keys) > 1 for note in notes)
                alone.update(
                    why_company(note.stroke, note.voicing, voices)
                    for note in notes
                    if is_due(note.stroke, voices) and not note.voicing.added
                )
                move = inner_movement(notes)
                moved += move
                for note in notes:
                    if is_due(note.stroke, voices):
                        (light if weak(note, chorus.bars) else heavy).append(len(note.voicing.added))
        print(
            f"{voices} voices{', tensions' if tensions else ''}: {len(times)} choruses, {found} faults, {100 * company / due:.1f} % of "
            f"{due} notes due have company; median {statistics.median(times):.0f}, slowest {max(times):.0f} ms of processor time; "
            f"added notes move {statistics.fmean(moved):.2f} semitones from chord to chord, {100 * sum(m == 0 for m in moved) / len(moved):.0f} % stay, "
            f"{100 * sum(m > 4 for m in moved) / len(moved):.1f} % leap; on strong beats {statistics.fmean(heavy):.2f} are added, on weak {statistics.fmean(light):.2f}"
        )
        for why, times_said in alone.most_common():
            print(f"    {times_said:5} {why}", flush=True)


if __name__ == "__main__":
    main()
