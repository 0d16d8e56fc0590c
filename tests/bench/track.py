"""How fast a practice track is made: one buffer against laying segment upon segment with pydub's own overlay.

    python tests/bench/track.py

Both mix the same notes of about three minutes. Goals: 50 times as fast as the overlay, 100 times real time.
"""

from __future__ import annotations

import sys
import time
import warnings
from pathlib import Path

import numpy as np

REPOSITORY = Path(__file__).parent.parent.parent
sys.path.insert(0, str(REPOSITORY))

from companion.chart.reader import read_chart
from companion.export.options import ExportOptions
from companion.export.performance import perform
from companion.export.track import RATE, mix
from companion.groove.timeline import Timeline
from companion.session.stand import Stand
from companion.sound.mixer import VOICE_LEVELS, velocity_gain
from companion.sound.voices import render
from companion.store.paths import find_paths
from companion.store.settings import shipped_settings

SONG, CHORUSES, RUNS = "ferry-at-half-past-six", 3, 5


def overlaid(performance: Timeline) -> object:
    """The way of pydub's documentation: a silent segment, and every note laid upon it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pydub import AudioSegment
    segments = {}
    seconds = performance.seconds([event.tick for event in performance.events])
    ends = performance.seconds([event.tick + event.ticks for event in performance.events])
    track = AudioSegment.silent(round(performance.seconds([performance.end_tick])[0] * 1000) + 1500, frame_rate=RATE)
    for event, start, end in zip(performance.events, seconds, ends, strict=True):
        key = (event.part, event.note, event.velocity, event.ticks)
        if key not in segments:
            gain = VOICE_LEVELS[event.part] * velocity_gain(event.velocity)
            samples = render(event.part, event.note, RATE)[: round((end - start + 0.1) * RATE)] * gain * 0.5
            data = np.round(samples * 32767).astype("<i2").tobytes()
            segments[key] = AudioSegment(data, sample_width=2, frame_rate=RATE, channels=1)
        track = track.overlay(segments[key], position=round(start * 1000))
    return track


def timed(action) -> tuple[float, float]:
    """(seconds on the clock, seconds of the processor)."""
    clock, processor = time.perf_counter(), time.process_time()
    action()
    return time.perf_counter() - clock, time.process_time() - processor


def main() -> int:
    stand = Stand.put(read_chart(REPOSITORY / "songs" / f"{SONG}.toml"), shipped_settings(find_paths()))
    performance = perform(stand, ExportOptions(choruses=CHORUSES))
    length = performance.seconds([performance.end_tick])[0]
    print(f"{len(performance.events)} notes in {length:.0f} seconds of music")
    cold = timed(lambda: mix(performance))
    best = min(timed(lambda: mix(performance)) for _ in range(RUNS))
    slow = timed(lambda: overlaid(performance))
    rows = (("one buffer, voices made first", cold), ("one buffer, best of 5", best), ("segment upon segment", slow))
    print(f"{'':32}{'clock s':>9}{'processor s':>13}{'times real time':>17}")
    for name, (clock, processor) in rows:
        print(f"{name:32}{clock:9.2f}{processor:13.2f}{length / processor:17.0f}")
    faster = slow[1] / best[1]
    print(f"one buffer is {faster:.0f} times as fast (goal 50) and {length / best[1]:.0f} times real time (goal 100)")
    return 0 if faster >= 50 and length / best[1] >= 100 else 1


if __name__ == "__main__":
    sys.exit(main())
