"""A performance that is over: kept, marked, told of, and heard again."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from companion.base.text import plural
from companion.errors import PianoError
from companion.groove.counting import bars_counted
from companion.practice.marking.apart import by_hand
from companion.practice.planning.lessons import HAND_WORDS
from companion.session.performance import performance
from companion.session.performing import Performed
from companion.session.stand import Stand
from companion.session.take_file import read_recording
from companion.session.take_marks import MarkedTake, mark_recording
from companion.session.take_words import take_words
from companion.sound.messages import SPOKEN_RATE, Say
from companion.store.paths import Paths
from companion.store.performances import Kept, folder_of, keep_performance
from companion.store.pianos import read_piano
from companion.theory.meter import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from companion.sound.listening.piano import Piano

# Heard again about as loud as the built-in sound, and the room's noise by 20 dB louder at most (our own choice).
_PEAK, _MOST_LOUDER = 0.5, 10.0
NOT_FOUND = "The tune was not to be found in what was played, so nothing is marked."


def length_words(seconds: float) -> str:
    """ "3 min 5 s"."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"


def keep_unmarked(stand: Stand, performed: Performed, paths: Paths) -> Path:
    """Write it at once, as when the app is being left in the middle of it. Raises WriteError."""
    return _keep(folder_of(paths, stand.original.id), stand, performed, [_head(stand, performed)])


def keep_and_mark(stand: Stand, performed: Performed, paths: Paths, piano: str = "") -> Kept:
    """It is written before it is marked, so that nothing that follows can lose it. piano: the name of the acoustic one that the microphone recorded, "" for one never learned. Raises
    WriteError, TakeError."""
    folder = folder_of(paths, stand.original.id)
    head = _head(stand, performed)
    path = keep_unmarked(stand, performed, paths)
    marked, heard_how = _marked(stand, performed, path, paths, piano)
    words = (head, *_marks(marked), *heard_how)
    at_length = "\n\n".join((take_words(marked), *heard_how)) if marked is not None else NOT_FOUND
    _keep(folder, stand, performed, words, at_length)
    return Kept(path, performed.performed_at, words, at_length)


def is_achieved(performed: Performed, kept: Kept) -> bool:
    """Whether the tune was performed to its end. Of sound alone nobody knows before it is heard whether anything was played."""
    return performed.whole and (performed.sound is None or kept.at_length != NOT_FOUND)


def _marked(
    stand: Stand, performed: Performed, path: Path, paths: Paths, piano: str
) -> tuple[MarkedTake | None, list[str]]:
    """The marks, and of sound how it was heard."""
    sound = performed.sound
    if sound is None:
        return mark_recording(stand, read_recording(path), stand.pattern), []
    from companion.session.sound_file import read_sound
    from companion.session.take_heard import KnownClock, hear_take, heard_words
    from companion.sound.listening import RATE

    samples = read_sound(sound.path)
    rate = len(samples) / RATE / sound.seconds  # of the microphone's clock
    pulses = [((sound.began_s + at_s) * rate, opens) for at_s, opens in performed.pulses]
    counted = bars_counted(performance(stand), 0, stand.tempo_bpm)
    bars_s = [at_s for at_s, opens in pulses if opens][counted:]
    clock = KnownClock(tuple(at_s for at_s, _ in pulses), tuple(bars_s), sound.late_s) if performed.clocked else None
    learned = _learned(paths, piano)
    heard = hear_take(stand, samples, learned, stand.pattern, clock=clock)
    return heard.marked, [heard_words(heard, piano if learned else None)] if heard.marked is not None else []


def _learned(paths: Paths, name: str) -> Piano | None:
    """None also for one that cannot be read: how it was heard is told."""
    from companion.sound.listening.piano import from_bytes

    try:
        return from_bytes(read_piano(paths, name)[1], name) if name else None
    except PianoError:
        return None


def sound_again(path: Path) -> tuple[Say, float]:
    """What the microphone recorded, for the sound process, and its seconds. A soft one is made louder. Raises TakeError."""
    import numpy as np

    from companion.session.sound_file import read_sound, resampled
    from companion.sound.listening import RATE

    sound = read_sound(path)
    louder = min(_MOST_LOUDER, _PEAK / float(np.abs(sound).max()))
    full = np.clip(resampled(sound * np.float32(louder), RATE, SPOKEN_RATE), -1.0, 1.0)
    return Say((full * 32767).astype("<i2").tobytes()), len(full) / SPOKEN_RATE


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
    by = ", by the microphone" if performed.sound is not None else ""
    return f"{HAND_WORDS[stand.hands].capitalize()}, {stand.key}, tempo {stand.tempo_bpm:g}, {length_words(performed.seconds)}, {end}{by}."


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
