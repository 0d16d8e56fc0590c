"""How true the marks of recordings are: takes of students made up (practice/takes.py), played by sampled pianos in made-up rooms, written as WAV, FLAC, MP3 or OGG,
and marked as `companion mark SONG TAKE` does it, with a piano that was learned from its scale and without one. Run by hand:

    python tests/bench/recordings.py [kept] [takes of each way, 2 unless told] [-only words of a way] [-v]

Pianos: LOOKED_AT of tests/pianos_sampled.py; with "kept" KEPT. Of 100 clean chords: right, false (anything else that was told), not sure. Of 100 slips: found (told as
anything but right), passed as right; the rest is not sure. named: of waits, bars begun again and bars left out, at their place. lost: takes in which the song was not
found; right song: takes that are marked as another song are refused ("is not ... but").
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from pathlib import Path

import numpy as np
import soundfile

TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

import listening_takes as takes
from listening_conditions import Condition
from listening_rooms import Place, noise_of
from pianos_sampled import KEPT, LOOKED_AT, RATE, bank, is_here
from practice.marking_trials import Tally, count_events
from practice.take_plans import Recipe
from practice.takes import SONGS, Made, TrueChord, make, stand_of

from companion.session.sound_file import read_sound
from companion.session.take_heard import HeardTake, hear_take
from companion.session.take_marks import fits_better
from companion.sound.listening.scale import learn
from companion.store.library import read_songs
from companion.store.paths import find_paths
from companion.store.settings import load_settings

LONGEST_BARS, LONGEST_S = 16, 75.0  # of a chorus, and of a take: what takes longer shows nothing more
NEAR_S = 1.5
ENDINGS = (".wav", ".flac", ".mp3", ".ogg")
ROOM = Condition("recording", noise_db=-38.0, tempi=(60.0, 160.0))
Way = Callable[[str, float], Recipe]
WAYS: dict[str, Way] = {
    "steady": lambda p, j: Recipe(p, choruses=2, jitter_ms=j, slips=3),
    "a wait": lambda p, j: Recipe(p, choruses=2, jitter_ms=j, slips=3, waits=1),
    "begun again twice": lambda p, j: Recipe(p, choruses=2, jitter_ms=j, slips=2, restarts=2),
    "two takes in one file": lambda p, j: Recipe(p, choruses=1, jitter_ms=j, slips=2, takes=2),
    "from another bar": lambda p, j: Recipe(p, choruses=2, jitter_ms=j, slips=2, start_bar=3),
    "another key": lambda p, j: Recipe(p, choruses=2, jitter_ms=j, slips=2, transpose=3),
    "both hands": lambda p, j: Recipe(p, choruses=2, jitter_ms=j, slips=2, melody=True),
}


@cache
def short_songs(with_melody: bool) -> tuple[str, ...]:
    stands = {song: stand_of(song, "four") for song in SONGS}
    return tuple(
        song
        for song, stand in stands.items()
        if len(stand.bars) <= LONGEST_BARS and (stand.melody is not None or not with_melody)
    )


def made_take(way: str, seed: int) -> Made:
    """One of bearable length."""
    rng = random.Random(f"{way} {seed}")
    while True:
        pattern = rng.choice(("four", "two", "charleston", "whole"))
        recipe = WAYS[way](pattern, rng.uniform(12.0, 25.0))
        made = make(rng.choice(short_songs(recipe.melody)), recipe, seed + rng.randrange(1000))
        if made.presses[-1].time_s < LONGEST_S and all(takes_key(press.note) for press in made.presses):
            return made


def takes_key(note: int) -> bool:
    return 30 <= note <= 86


def recorded(made: Made, piano: str, path: Path, seed: int) -> np.ndarray:
    """Writes the take; returns the scale of the same piano in the same place."""
    rng = np.random.default_rng((seed, sum(map(ord, piano))))
    place, from_bank = Place.some(ROOM, rng), bank(piano)
    sound = np.zeros(int((made.presses[-1].time_s + 3.0) * RATE), dtype=np.float32)
    for press in made.presses:
        held_s = press.held_s if press.held_s is not None else 0.3
        takes.add(sound, from_bank, press.note, int(np.clip(press.velocity, 25, 115)), press.time_s, held_s)
    loud = float(np.sqrt(np.square(sound).mean()) + 1e-9)
    heard = place.heard(sound, rng) + noise_of(ROOM, len(sound), loud, rng)
    scale = place.heard(takes.scale_sound(from_bank, rng), rng)
    scale += noise_of(ROOM, len(scale), loud, rng)
    gain = 0.7 / float(np.abs(heard).max())
    soundfile.write(path, heard * gain, RATE)
    return (scale * gain).astype(np.float32)


def trial(job: tuple[str, str, int]) -> dict[str, tuple[Counter, list[str]]]:
    """Of one take: counts, and what went wrong, with a piano that was learned and without."""
    way, piano, seed = job
    made = made_take(way, seed)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"take{ENDINGS[seed % len(ENDINGS)]}"
        scale = recorded(made, piano, path, seed)
        sound = read_sound(path)
    stand = made.stand.change(pattern="four", hands="both" if made.recipe.melody else "left")
    name = f"{way} {piano} {seed} {made.stand.song.id} {made.recipe.pattern} {path.suffix}"
    return {
        kind: counted(made, hear_take(stand, sound, known), name)
        for kind, known in (("learned", learn(scale)), ("unknown", None))
    }


def counted(made: Made, heard: HeardTake, name: str) -> tuple[Counter, list[str]]:
    counts: Counter = Counter(takes=1, strikes=heard.strikes, unsure=heard.unsure)
    faults: list[str] = []
    marked = heard.marked
    if marked is None:
        return counts + Counter(lost=1), [f"{name}: lost"]
    settings = load_settings(find_paths())
    counts["another song"] += bool(
        fits_better(
            lambda: read_songs(find_paths(), settings),
            settings,
            heard.recording,
            marked.take.likeness,
            made.stand.song.id,
        )
    )
    told = [(chord, "") for each in marked.passes for chord in each.marks.chords if chord.part == "left"]
    told += [(chord, "not sure") for _, chord in marked.not_sure]
    for true in made.chords:
        if not true.counted:
            continue
        verdict = _verdict(told, true)
        kind = "not sure" if verdict == "not sure" else "right" if verdict == "right" else "other"
        counts["slip " + kind if true.slip else "clean " + kind] += 1
        if (true.slip and kind == "right") or (not true.slip and kind == "other"):
            faults.append(f"{name}: {true.symbol} at {true.due_s:.1f} s is {true.slip or 'clean'}, told {verdict}")
    tally = Tally()
    count_events(tally, made, [event for each in marked.passes for event in each.events], name)
    counts.update(events=tally.events, named=tally.named)
    return counts, faults + tally.faults


def _verdict(told: list, true: TrueChord) -> str:
    near = [
        (abs(mark.strikes[0].expected.due_s - true.due_s), unsure or mark.verdict)
        for mark, unsure in told
        if (mark.index, mark.chord) == (true.index, true.chord)
        and abs(mark.strikes[0].expected.due_s - true.due_s) < NEAR_S
    ]
    return min(near)[1] if near else "not marked"


def row(counts: Counter) -> str:
    clean = sum(counts[f"clean {kind}"] for kind in ("right", "other", "not sure")) or 1
    slips = sum(counts[f"slip {kind}"] for kind in ("right", "other", "not sure")) or 1
    return (
        f"{counts['takes']:4} {counts['lost']:4} {counts['another song']:4} |{clean:6} {counts['clean right'] / clean:7.1%} {counts['clean other'] / clean:7.2%} "
        f"{counts['clean not sure'] / clean:7.1%} |{slips:5} {counts['slip other'] / slips:7.1%} {counts['slip right'] / slips:7.1%} |{counts['named']:4} of {counts['events']}"
    )


def main() -> None:
    words = sys.argv[1:]
    only = words[words.index("-only") + 1] if "-only" in words else ""
    count = next((int(word) for word in words if word.isdigit()), 2)
    pianos = [name for name in (KEPT if "kept" in words else LOOKED_AT) if is_here(name)]
    ways = [way for way in WAYS if only in way]
    jobs = [(way, pianos[number % len(pianos)], number) for way in ways for number in range(count)]
    print(f"pianos: {', '.join(pianos)}; {count} takes of each way")
    print(
        f"{'':34} takes lost other song | clean   right   false  unsure |slips   found  passed | waits, restarts named"
    )
    sums: dict[tuple[str, str], Counter] = {}
    with ProcessPoolExecutor(2) as pool:
        for (way, _, number), done in zip(jobs, pool.map(trial, jobs)):
            for kind, (counts, faults) in done.items():
                for key in ((way, kind), ("all", kind)):
                    sums[key] = sums.get(key, Counter()) + counts
                if "-v" in words:
                    print(*(f"{kind}: {fault}" for fault in faults), sep="\n", flush=True)
            if number == count - 1:
                for kind in done:
                    print(f"{way + ', ' + kind:34} {row(sums[way, kind])}", flush=True)
    for kind in ("learned", "unknown"):
        print(f"{'all, ' + kind:34} {row(sums['all', kind])}")


if __name__ == "__main__":
    main()
