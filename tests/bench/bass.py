"""What the bass does beside the student's left hand, on every song of ours in twelve keys. Run by hand: python tests/bench/bass.py [turns]

Prints for each style what `tests/bass_checker.py` counts in a turn or more of the whole form, in twelve keys with four to the bar and in the song's own with every other pattern, and the songs where the bass
strikes the student's own key most often. `processor` is what the slowest bar cost, in ms, when it was laid out for the first time.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

from bass_checker import COUNTS, counted
from shell_figures import keys_of
from shipped import SONGS

from companion.groove.names import BASS_STYLES, PATTERN_NAMES
from companion.groove.timeline import bar_events, timeline
from companion.session.stand import Stand
from companion.store.paths import find_paths
from companion.store.settings import shipped_settings

TEMPO_BPM = 120.0


def main() -> None:
    turns = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    settings = shipped_settings(find_paths())
    print(f"{'':26}" + "".join(f"{name:>8}" for name in COUNTS))
    for style in [style for style in BASS_STYLES if style != "off"]:
        slowest_ms = 0.0
        songs: dict[str, Counter[str]] = {}
        by_pattern: dict[str, Counter[str]] = {name: Counter() for name in PATTERN_NAMES}
        for original, song in ((each, moved) for each in SONGS for moved in keys_of(each)):
            arranged = Stand.put(song, settings).change(bass=style, demonstrate=True).arrangement()
            arranged = replace(arranged, feel="straight", count_in_bars=0, pickup_ticks=0, pickup=())
            slowest_ms = max(slowest_ms, *_bar_costs_ms(replace(arranged, parts=("bass",))))
            for pattern in PATTERN_NAMES if song.key == original.key else ("four",):
                asked = replace(arranged, parts=("bass", "left"), pattern=pattern)
                # One bar more, as the last one leads to the first.
                events = timeline(asked, [TEMPO_BPM] * (turns + 1)).events
                bars = (*asked.bars * turns, asked.bars[0])
                end = sum(bar.meter.bar_ticks for bar in bars)
                of_song = counted(bars, [event for event in events if event.tick < end], style == "walking")
                by_pattern[pattern].update(of_song)
                if pattern == "four":
                    songs.setdefault(song.title, Counter()).update(of_song)
        for pattern, counts in by_pattern.items():
            if counts:
                print(f"{style + ', ' + pattern:26}" + "".join(f"{counts[name]:>8}" for name in COUNTS))
        worst = sorted(songs.items(), key=lambda each: -each[1]["own"] / each[1]["onsets"])[:4]
        print("  most often: " + "; ".join(f"{title} {_share(counts)}" for title, counts in worst if counts["own"]))
        print(f"  all: {_share(sum(songs.values(), Counter()))}; processor {slowest_ms:.1f} ms")


def _bar_costs_ms(arrangement) -> list[float]:
    costs = []
    for position in range(len(arrangement.bars)):
        before = time.process_time()
        bar_events(arrangement, 0, position, TEMPO_BPM)
        costs.append(1000 * (time.process_time() - before))
    return costs


def _share(counts: Counter[str]) -> str:
    return f"{counts['own']} of {counts['onsets']} ({100 * counts['own'] / counts['onsets']:.1f} %)"


if __name__ == "__main__":
    main()
