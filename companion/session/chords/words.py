"""What is said of a key that is not in the chord that is looked for, and of a round of chords when it is over."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from companion.base.text import plural
from companion.hands.root_position import INVERSION_WORDS, CloseChord
from companion.practice.drills.free_answers import spelled
from companion.practice.marking.root_position import APART, LIFT, LOWEST, OCTAVE, OPEN, ORDER, OTHER, Hearing
from companion.session.chords.shown import Done
from companion.theory.key import Key
from companion.theory.pitch import Tone, degree_interval

_NUMBERS = {1: "root", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh"}
SLOWEST_SHOWN = 3


def degree_word(degree: str) -> str:
    """ "b3" -> "third"."""
    return _NUMBERS[degree_interval(degree)[0]]


def answer(hearing: Hearing, close: CloseChord, key: Key) -> str:
    """One sentence on the last key, "" where it was right. key: that the song is in, for the name of a key that is in no chord."""
    struck = spelled(hearing.note, close.chord, key)
    match hearing.said:
        case word if word == OTHER:
            due = _nearest(hearing, close)
            return f"{struck.name}: {due}."
        case word if word == ORDER:
            return f"Not {struck.name} yet: {_part(close, hearing.notes[0])} comes next."
        case word if word == OCTAVE:
            return f"{struck.name} in another octave: all lie within one."
        case word if word == LOWEST:
            return _lowest(struck, close)
        case word if word == OPEN:
            return "The right notes, but apart: all lie within an octave."
        case word if word == APART:
            return "Those are the keys. Now strike them all at once."
        case word if word == LIFT:
            return "Let go, then strike all of them anew."
    return ""


def _lowest(struck: Tone, close: CloseChord) -> str:
    """The tone that was lowest, and the position that makes."""
    degrees = sorted(close.degrees, key=lambda degree: degree_interval(degree)[1])
    tones = [close.chord.root.degree(degree) for degree in degrees]
    names = [tone.pc for tone in tones]
    heard = f", the {INVERSION_WORDS[names.index(struck.pc)]}" if struck.pc in names else ""
    wanted = close.pitches[0].tone.name
    return f"The right notes with {struck.name} lowest{heard}: here {wanted} is lowest."


def _nearest(hearing: Hearing, close: CloseChord) -> str:
    """The note of the step that is not held and lies nearest to the key that was struck: "the third is E"."""
    held = {note % 12 for note, _ in hearing.fresh} - {hearing.note % 12}
    missing = [note for note in hearing.notes if note % 12 not in held] or list(hearing.notes)

    def away(note: int) -> int:
        off = (hearing.note - note) % 12
        return min(off, 12 - off)

    return _part(close, min(missing, key=away), is_word=" is")


def _part(close: CloseChord, note: int, is_word: str = ",") -> str:
    """ "the third, E" of a MIDI number whose pitch class is in the chord."""
    for degree in close.degrees:
        tone = close.chord.root.degree(degree)
        if tone.pc == note % 12:
            return f"the {degree_word(degree)}{is_word} {tone.name}"
    return "another note"


def found_words(done: Done) -> str:
    """How the chord before went: "Bb6: 1.4 s"."""
    if not done.heard:
        return f"{done.item.symbol}: {done.find_s:.1f} s, you say"
    return f"{done.item.symbol}: {done.find_s:.1f} s" + ("" if done.right else ", not at once")


def wrong_words(done: Done) -> str:
    """A chord that was wrong by the student's word."""
    return f"{done.item.symbol} was wrong: it comes again."


_VERDICTS = {"rolled": "not together", "missing": "not heard"}


def verdict_words(done: Done) -> str:
    """How a chord went with the click."""
    return f"{done.item.symbol}: {_VERDICTS.get(done.verdict, done.verdict)}"


def told_lines(slips: Sequence[str], chords: int) -> tuple[str, ...]:
    """A round in time that no keyboard heard. slips: symbols of those that slipped by the student's word; chords: how many went by."""
    if not chords:
        return ()
    if not slips:
        return (f"{plural(chords, 'chord')} went by. No key was heard, and none slipped, you say.",)
    return (f"{len(slips)} of {plural(chords, 'chord')} slipped, you say: {', '.join(dict.fromkeys(slips))}.",)


def round_lines(found: Sequence[tuple[str, float, bool]]) -> tuple[str, ...]:
    """A round in which the companion waited. found: (symbol, seconds, right at once) of each chord."""
    if not found:
        return ()
    usual_s = median(find_s for _, find_s, _ in found)
    right = sum(at_once for _, _, at_once in found)
    pace = f"{60 / usual_s:.0f} chords a minute" if usual_s >= 0.5 else "faster than one can count"
    lines = [f"{right} of {plural(len(found), 'chord')} right at once, {usual_s:.1f} s each as a rule ({pace})."]
    slowest: dict[str, float] = {}
    for symbol, find_s, _ in found:
        slowest[symbol] = max(find_s, slowest.get(symbol, 0.0))
    slow = sorted(slowest.items(), key=lambda each: -each[1])[:SLOWEST_SHOWN]
    if len(found) > 1:
        lines.append("Slowest: " + ", ".join(f"{symbol} {find_s:.1f} s" for symbol, find_s in slow) + ".")
    return tuple(lines)


def timed_lines(marks: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """A round in time. marks: (symbol, verdict) of each chord."""
    if not marks:
        return ()
    right = sum(verdict == "right" for _, verdict in marks)
    lines = [f"{right} of {plural(len(marks), 'chord')} right and in time."]
    counts = {verdict: [symbol for symbol, each in marks if each == verdict] for _, verdict in marks}
    for verdict in ("missing", "wrong", "rolled", "late", "early"):
        if symbols := list(dict.fromkeys(counts.get(verdict, []))):
            lines.append(f"{_VERDICTS.get(verdict, verdict).capitalize()}: {', '.join(symbols)}.")
    return tuple(lines)
