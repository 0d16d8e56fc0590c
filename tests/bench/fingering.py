"""The right hand's fingers: against every fingering tried on phrases kept aside, and what they take on our songs in every key.

.venv/bin/python tests/bench/fingering.py [phrases]
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from hands.right_oracle import best, points

from companion.chart.melody import chorus_melody
from companion.chart.phrases import melody_phrases
from companion.chart.reader import read_chart
from companion.chart.transpose import transpose
from companion.hands.right.fingering import HandPhrase, finger_phrases, least_fingering
from companion.theory.key import Key

SONGS = Path(__file__).parents[2] / "songs"
KEPT_SEED = 10_000  # the tests' own are below
IMPRACTICAL = 1000


def a_line(chance: random.Random, length: int) -> tuple[int, ...]:
    keys = [chance.randint(60, 80)]
    while len(keys) < length:
        keys.append(keys[-1] + chance.choice((0, 1, 2, 1, 2, 3, 4, 5, 7, 9, 12)) * chance.choice((1, -1)))
    return tuple(keys)


def against_all(phrases: int) -> int:
    """How many of so many random phrases of four to six notes are fingered as the least of all fingerings."""
    equal = 0
    for number in range(phrases):
        chance = random.Random(KEPT_SEED + number)
        lines = [a_line(chance, chance.choice((4, 4, 5, 5, 6)))]
        if number % 3 == 0:
            up = chance.randint(1, 11)
            lines.append(tuple(key + up for key in lines[0]))
        equal += least_fingering(lines, {}) == best(lines)
    return equal


def phrases_of(song) -> list[HandPhrase]:
    found = []
    for phrase in melody_phrases(chorus_melody(song), song.unroll()):
        keys = tuple(note.pitch.midi for note in phrase.notes if note.pitch)
        found.append(HandPhrase(keys, tuple(note.start_tick for note in phrase.notes), song.key))
    return found


def main() -> None:
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    print(f"equal to the least of all fingerings: {against_all(wanted)} of {wanted} random phrases")
    times, notes, cost, impractical = [], 0, 0, 0
    for path in sorted(SONGS.glob("*.toml")):
        song = read_chart(path)
        for pc in range(12):
            phrases = phrases_of(transpose(song, Key.usual(pc, song.key.mode)))
            start = time.process_time()
            fingers = finger_phrases(phrases)
            times.append(1000 * (time.process_time() - start))
            for phrase, found in zip(phrases, fingers, strict=True):
                paid = points(found, phrase.keys)
                notes, cost, impractical = (
                    notes + len(found),
                    cost + paid % IMPRACTICAL,
                    impractical + paid // IMPRACTICAL,
                )
    print(
        f"{len(times)} choruses, {notes} notes: median {statistics.median(times):.1f} ms, slowest {max(times):.1f} ms a chorus"
    )
    print(f"{cost / notes:.2f} points a note, {impractical} steps that no hand takes legato")


if __name__ == "__main__":
    main()
