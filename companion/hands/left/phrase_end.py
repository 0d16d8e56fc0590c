"""What the left hand does at the end of a phrase: it goes by what follows (common practice).

The same root again: the dominant leads back to it. Another root: the hand walks there by step. Nothing: it rests. All in single notes that change no chord;
walking in shells does, so that is another matter (`passing_chords`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from companion.hands.left.reason import spoken
from companion.hands.left.walks import MOST_NOTES, Way, fits, half_step, left_fingers, walk
from companion.theory.chord import Chord
from companion.theory.degrees import degree_in
from companion.theory.key import Key
from companion.theory.pitch import Pitch, Tone
from companion.theory.symbols import parse_chord

DOMINANT, WALK, REST = "dominant", "walk", "rest"
PHRASE_ENDS = (DOMINANT, WALK, REST)


@dataclass(frozen=True, slots=True)
class Last:
    """The last chord of a phrase and what follows. shell: its keys. after: the next chord, None where nothing follows or none sounds; after_low: the lower
    key of its shell. above: for each pulse of the chord, the keys of the right hand that sound in it. key: that it is in."""

    chord: Chord
    shell: tuple[int, ...]
    after: Chord | None
    after_low: int | None
    above: tuple[tuple[int, ...], ...]
    lowest: int
    key: Key


@dataclass(frozen=True, slots=True)
class PhraseEnd:
    """kind: one of PHRASE_ENDS. pitches, fingers: of the last pulses of the chord, one note each, none where the hand rests after its first strike."""

    kind: str
    pitches: tuple[Pitch, ...]
    fingers: tuple[int, ...]
    why: str


def phrase_end(last: Last) -> PhraseEnd | None:
    """What suits what follows; None where no note fits or there is no time, so that the pattern goes on."""
    if last.after is None or last.after_low is None:
        return PhraseEnd(REST, (), (), "No chord follows: the hand rests.")
    if len(last.above) < 2:
        return None
    goal = (last.after.bass or last.after.root).at_or_above(last.after_low).plain
    most = min(MOST_NOTES, len(last.above) // 2 + (len(last.above) > 3))
    way = Way(last.chord, min(last.shell), goal, last.lowest, last.above[-most:])
    name = f"{spoken(goal.tone)}, the root of {last.after.symbol}"
    if last.after.bass is not None and last.after.bass.pc != last.after.root.pc:
        name = f"{spoken(goal.tone)}, the bass of {last.after.symbol}"
    if last.chord.root.pc == last.after.root.pc:
        pitches = _dominant(way, last.after)
        if not pitches:
            return None
        root, *leading = (spoken(pitch.tone) for pitch in pitches)
        head = f"{root}, the dominant, and {leading[0]} lead" if leading else f"{root}, the dominant, leads"
        return _told(last, DOMINANT, pitches, f"{head} back to {name}.")
    pitches = walk(way)
    line = " ".join(spoken(pitch.tone) for pitch in pitches)
    return _told(last, WALK, pitches, f"{line}: by step to {name}.") if pitches else None


def _told(last: Last, kind: str, pitches: tuple[Pitch, ...], why: str) -> PhraseEnd:
    return PhraseEnd(kind, pitches, left_fingers([pitch.midi for pitch in pitches], last.key), why)


def _dominant(way: Way, after: Chord) -> tuple[Pitch, ...]:
    """The fifth of the coming root, below it if the hand goes so low, there with its third, the half step below the root, where there are beats for two."""
    fifth = after.root.degree("5")
    below, above = fifth.at_or_above(way.goal.midi - 5).plain, fifth.at_or_above(way.goal.midi).plain
    for line in ((below, half_step(way.goal, below=True)), (below,), (above,)):
        if len(line) <= len(way.above) and fits(way, line):
            return line
    return ()


# --- shells that walk: the chart is changed


def passing_chords(chord: Chord, after: Chord, pulses: int) -> tuple[Chord, ...]:
    """The chords, one a pulse at the end, that lead from a major chord at rest to the fourth above it: II and III minor seventh; back to itself: its dominant
    for half of the time. () where neither suits or there is no time."""
    is_home = "3" in chord.degrees and "b7" not in chord.degrees and chord.bass is None
    above = (after.root.pc - chord.root.pc) % 12
    if is_home and above == 5 and pulses >= 3:
        return _on(chord.root, ("2", "m7"), ("3", "m7"))
    if is_home and above == 0 and pulses >= 2:
        return _on(chord.root, ("5", "7"))
    return ()


def _on(root: Tone, *steps: tuple[str, str]) -> tuple[Chord, ...]:
    tones = [(root.degree(degree), quality) for degree, quality in steps]
    plain = [(tone if abs(tone.alter) < 2 else Key.usual(tone.pc).tonic, quality) for tone, quality in tones]
    return tuple(parse_chord(tone.name + quality) for tone, quality in plain)


def melody_agrees(chord: Chord, melody: Sequence[Pitch], tensions: Sequence[str]) -> bool:
    """Whether every melody note that sounds with a chord is one of its own tones or a tension that it takes."""
    allowed = {*chord.degrees, *tensions}
    return all(degree_in(pitch.tone, chord) in allowed for pitch in melody)
