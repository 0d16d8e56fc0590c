"""What a teacher beside the keyboard says of a key that is not in the shell that free time waits for: at once, in one line, naming the key that was
struck and the note that belongs there.

Notes are MIDI numbers; a name has its octave only where the octave is what is wrong.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from companion.hands.left.model import Choice, Shell
from companion.practice.reach import SMASH_KEYS
from companion.theory.chord import Chord
from companion.theory.key import Key
from companion.theory.pitch import LETTERS, Pitch, Tone

_TIMES = ("", "an octave", "two octaves", "three octaves", "four octaves", "five octaves")


def answer(choice: Choice, astray: Collection[int], down: Collection[int], key: Key) -> str:
    """A sentence on the keys that went astray, "" where none did. astray: see free_time.strays; down: all keys held; key: that the song
    is in, which spells what is in no chord tone."""
    shell, chord = choice.shell, choice.slot.chord
    if shell is None or chord is None or not astray:
        return ""
    astray = sorted(astray)
    struck = set(astray) | (set(down) & set(shell.midi))
    if len(astray) >= SMASH_KEYS:
        return f"Too many keys at once: the shell is {_tones(shell)}."
    off = {note - due for note, due in zip(astray, shell.midi)} if len(astray) == len(shell.midi) else set()
    if len(off) == 1 and (octaves := _octaves(*off)):
        return f"The right notes, {octaves}: the shell is {' '.join(shell.names)}."
    other = next((option for option in choice.options if set(option.midi) == struck and option != shell), None)
    if other is not None:
        return _other_shell(other, shell)
    missing = [pitch for pitch in (shell.lower, shell.upper) if pitch.midi not in down] or [shell.lower, shell.upper]
    return _wrong_notes(shell, chord, astray, missing, key)


def melody_answer(note: int, due_note: int, due: Tone, chord: Chord, key: Key, *, is_melody: bool = True) -> str:
    """A sentence on a key that was struck for a note of the melody. due: by its name; due_note: as it is played, maybe in another octave.
    is_melody: else it lies under the melody."""
    octaves = _octaves(note - due_note)
    if octaves:
        return f"{due.name} is {octaves} {'for' if is_melody else 'under'} the melody."
    return f"{spelled(note, chord, key).name}: {'the melody has' if is_melody else 'under the melody lies'} {due.name}."


def missing_answer(missing: Sequence[Tone]) -> str:
    """A chord of the right hand was let go before these were down, at least one."""
    return f"The right hand's chord has {' and '.join(tone.name for tone in missing)} too."


def found_with(along: Sequence[int], symbol: str, chord: Chord, key: Key) -> str:
    """The shell is there, and something with it. along: the keys that were struck along, at least one."""
    names = " ".join(spelled(note, chord, key).name for note in along)
    return f"{symbol} is there, with {names} struck along."


def _other_shell(other: Shell, shell: Shell) -> str:
    if other.kind == shell.kind:
        return f"That {other.kind} lies elsewhere: here it is {' '.join(shell.names)}."
    return f"{_tones(other)} is the {other.kind}, a shell too: here it is the {shell.kind}, {_tones(shell)}."


def _wrong_notes(shell: Shell, chord: Chord, astray: Sequence[int], missing: Sequence[Pitch], key: Key) -> str:
    """The nearest of the stray keys for each note that is missing; the lower for the lower one."""
    if len(missing) == 1 or len(astray) == 1:
        note, due = min(
            ((note, due) for note in astray for due in missing), key=lambda pair: (abs(pair[0] - pair[1].midi), pair[0])
        )
        octaves = _octaves(note - due.midi)
        if octaves:
            return f"{spelled(note, chord, key).at_or_above(note).name} is {octaves}: the {_part(shell, due)} is {due.name}."
        return f"{spelled(note, chord, key).name}: the {_part(shell, due)} is {due.tone.name}."
    names = " ".join(spelled(note, chord, key).name for note in astray)
    lower, upper = (f"the {_part(shell, due)}{is_} {due.tone.name}" for due, is_ in zip(missing, (" is", "")))
    return f"{names}: {lower}, {upper}."


def _part(shell: Shell, pitch: Pitch) -> str:
    """ "root", "third"; a bass that is not the root is the bass."""
    lower, _, upper = shell.kind.partition("-")
    return lower if pitch == shell.lower else upper


def _octaves(off: int) -> str:
    """ "an octave too high", "" where it is no whole octave."""
    times, rest = divmod(abs(off), 12)
    return "" if rest or not times else f"{_TIMES[min(times, len(_TIMES) - 1)]} too {'high' if off > 0 else 'low'}"


def _tones(shell: Shell) -> str:
    return f"{shell.lower.tone.name} {shell.upper.tone.name}"


def spelled(note: int, chord: Chord, key: Key) -> Tone:
    """A key's name as a musician reading this chord would say it: a tone of the chord as the chord spells it, a note of the key as the key
    does, else with flats in keys of flats, with sharps in keys of sharps."""
    pc = note % 12
    scale = (Tone(letter, key.signature(letter)) for letter in LETTERS)
    known = next((tone for tone in (*chord.tones, *scale, *map(Tone, LETTERS)) if tone.pc == pc), None)
    if known is not None:
        return known
    if key.fifths > 0:
        return next(Tone(letter, 1) for letter in LETTERS if Tone(letter, 1).pc == pc)
    if key.fifths < 0:
        return Key.usual(pc).tonic
    return Key.usual(pc, "minor").tonic
