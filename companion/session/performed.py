"""A performance that is over: kept, marked, told of, and played back beside the one before."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

from companion.base.text import plural
from companion.practice.marking.apart import by_hand
from companion.practice.planning.lessons import HAND_WORDS
from companion.session.performing import Performed
from companion.session.stand import Stand
from companion.session.take_file import read_recording
from companion.session.take_marks import MarkedTake, mark_recording
from companion.session.take_words import take_words
from companion.store.paths import Paths
from companion.store.performances import Kept, folder_of, keep_performance
from companion.theory.meter import TICKS_PER_QUARTER

NOT_FOUND = "The tune was not to be found in what was played, so nothing is marked."


def length_words(seconds: float) -> str:
    """ "3 min 5 s"."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"


def keep_unmarked(stand: Stand, performed: Performed, paths: Paths) -> Path:
    """Write it at once, as when the app is being left in the middle of it. Raises WriteError."""
    return _keep(folder_of(paths, stand.original.id), stand, performed, [_head(stand, performed)])


def keep_and_mark(stand: Stand, performed: Performed, paths: Paths) -> Kept:
    """It is written before it is marked, so that nothing that follows can lose it. Raises
    WriteError, TakeError."""
    folder = folder_of(paths, stand.original.id)
    head = _head(stand, performed)
    path = keep_unmarked(stand, performed, paths)
    marked = mark_recording(stand, read_recording(path), stand.pattern)
    words = (head, *_marks(marked))
    at_length = take_words(marked) if marked is not None else NOT_FOUND
    _keep(folder, stand, performed, words, at_length)
    return Kept(path, performed.performed_at, words, at_length)


def _keep(folder: Path, stand: Stand, performed: Performed, words: Sequence[str], at_length: str = "") -> Path:
    return keep_performance(
        folder,
        performed.performed_at,
        performed.keys,
        performed.pedals,
        performed.pulses,
        Fraction(stand.song.meter.pulse_ticks, TICKS_PER_QUARTER),
        clocked=performed.clocked,
        words=words,
        at_length=at_length,
    )


def _head(stand: Stand, performed: Performed) -> str:
    end = "to the end" if performed.whole else "broken off"
    return f"{HAND_WORDS[stand.hands].capitalize()}, {stand.key}, tempo {stand.tempo_bpm:g}, {length_words(performed.seconds)}, {end}."


def _marks(marked: MarkedTake | None) -> list[str]:
    if marked is None:
        return [NOT_FOUND]
    hands = [
        f"{HAND_WORDS[part]} {own.figures.right} of {own.figures.chords} right"
        for part, own in by_hand(marked.together).items()
    ]
    said = [f"{', '.join(hands).capitalize()}."] if hands else []
    events = [event.kind for each in marked.passes for event in each.events]
    happened = [
        f"{words} {plural(events.count(kind), 'time')}"
        for kind, words in (("waited", "waited"), ("began again", "began again"), ("left out", "left something out"))
        if kind in events
    ]
    return [
        *said,
        *([f"{', '.join(happened).capitalize()}."] if happened else []),
        *filter(None, [marked.ornaments]),
        *marked.says[:1],
    ]
