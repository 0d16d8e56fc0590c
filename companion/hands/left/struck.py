"""The names and fingers of what a pattern strikes of a shell: all of it, one key, or one that stands for it (its root an octave lower, the fifth)."""

from __future__ import annotations

from collections.abc import Sequence

from companion.hands.left.model import Choice
from companion.theory.chord import Chord
from companion.theory.pitch import Pitch

LITTLE, THUMB = 5, 1


def pitches_struck(choice: Choice, chord: Chord | None, keys: Sequence[int]) -> tuple[Pitch, ...]:
    """keys: MIDI numbers, spelled as the shell is, or as the chord's fifth. choice: with a shell."""
    assert choice.shell is not None
    fifth = chord.tone(5) if chord is not None else None
    tones = [choice.shell.lower.tone, choice.shell.upper.tone, *([fifth] if fifth is not None else [])]
    named = {tone.pc: tone for tone in reversed(tones)}
    return tuple(named[key % 12].at_or_above(key) for key in keys)


def fingers_struck(choice: Choice, keys: Sequence[int]) -> tuple[int, ...]:
    """The shell's own fingers where its keys are struck; else the thumb for what lies above its lower key, the little finger below
    (common practice)."""
    assert choice.shell is not None
    own = dict(zip(choice.shell.midi, (int(finger) for finger in choice.fingers.split("-")), strict=True))
    return tuple(own.get(key, THUMB if key > choice.shell.lower.midi else LITTLE) for key in keys)
