"""How many chord symbols are read in a second, beside pychord and music21 in the same run.

    python tests/bench/parser.py

Every root of the trade with every quality that all three libraries read. Ours keeps what it has read, so it is measured with nothing kept at
the start of a round, with the qualities kept but every symbol new (as in a new song), and with all read before; then new ones with their tones
spelled, which is what the libraries do too.
Goal: 100,000 a second.
"""

from __future__ import annotations

import os
import re
import sys
import time
import warnings
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from companion.theory.symbols import _read_quality, parse_chord

ROOTS = ["C", "C#", "Db", "D", "D#", "Eb", "E", "F", "F#", "Gb", "G", "G#", "Ab", "A", "A#", "Bb", "B"]
QUALITIES = (
    "", "m", "5", "dim", "aug", "+", "sus2", "sus4", "6", "m6", "7", "maj7", "M7", "m7", "mM7", "m7b5", "dim7", "7#5", "7b5", "7sus4",
    "9", "maj9", "m9", "7b9", "7#9", "11", "m11", "13", "7#11", "add9", "6/9", "69", "m7/G", "7/E", "maj7/B", "/G", "m/A",
)  # fmt: skip
SECONDS = 1.0  # how long each is measured at least


def readers() -> dict[str, Callable[[str], object]]:
    """Library -> what reads a symbol there. music21 writes a flat as "-"."""
    from music21 import harmony
    from pychord import Chord

    def flats(symbol: str) -> str:
        return re.sub("(^|/)([A-G])b", r"\1\2-", symbol)

    return {
        "ours": lambda symbol: parse_chord(symbol).tones,
        "pychord": lambda symbol: Chord(symbol).components(),
        "music21": lambda symbol: harmony.ChordSymbol(flats(symbol)).pitches,
    }


def reads(reader: Callable[[str], object], symbol: str) -> bool:
    try:
        return bool(reader(symbol))
    except Exception:  # each library has its own
        return False


def rate(reader: Callable[[str], object], symbols: list[str], renew: Callable[[], None] | None) -> float:
    """Symbols a second. renew: called, off the clock, before each round."""
    spent_s, count = 0.0, 0
    while spent_s < SECONDS:
        if renew:
            renew()
        started_s = time.perf_counter()
        for symbol in symbols:
            reader(symbol)
        spent_s += time.perf_counter() - started_s
        count += len(symbols)
    return count / spent_s


def main() -> int:
    warnings.simplefilter("ignore")
    known = readers()
    symbols = [f"{root}{quality}" for quality in QUALITIES for root in ROOTS]
    common = [symbol for symbol in symbols if all(reads(reader, symbol) for reader in known.values())]
    print(f"{len(common)} of {len(symbols)} symbols are read by all three; load average {os.getloadavg()[0]:.1f}")

    def forget_all() -> None:
        parse_chord.cache_clear()
        _read_quality.cache_clear()

    new = rate(known["ours"], common, parse_chord.cache_clear)
    least = rate(parse_chord, common, forget_all)
    rates = {
        "ours, nothing kept": least,
        "ours, new symbols": rate(parse_chord, common, parse_chord.cache_clear),
        "ours, read before": rate(parse_chord, common, None),
        "ours, new, with tones": new,
        "pychord": rate(known["pychord"], common, None),
        "music21": rate(known["music21"], common, None),
    }
    print(f"{'':24}{'symbols a second':>18}{'ours with tones is faster by':>30}")
    for name, found in rates.items():
        print(f"{name:24}{found:18,.0f}{new / found:29.1f}x")
    print("goal for ours: 100,000 a second")
    return 0 if least >= 100_000 else 1


if __name__ == "__main__":
    sys.exit(main())
