"""Why this shell: a sentence that a musician would say, computed from the degrees of both chords.

What the hand travels and what that costs is for the details; here the notes are told by what they are in their chords.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from companion.hands.left.model import Shell, Slot
from companion.theory.chord import Chord
from companion.theory.pitch import Tone, degree_interval

_ORDINALS = {
    2: "second",
    3: "third",
    4: "fourth",
    5: "fifth",
    6: "sixth",
    7: "seventh",
    9: "ninth",
    11: "eleventh",
    13: "thirteenth",
}
_SIGNS = {
    -3: " triple flat",
    -2: " double flat",
    -1: " flat",
    0: "",
    1: " sharp",
    2: " double sharp",
    3: " triple sharp",
}


OPENS = "The chorus starts here"


@dataclass(frozen=True, slots=True)
class Case:
    """What the reason draws on.

    before, chord_before: the shell and chord that the hand leaves, None for the only chord of a chorus. opens: whether this chord is the
    first, so that `before` is the last of the chorus. rests: whether it is a root-fifth that was chosen. under_melody: whether the melody
    left no room for a higher one that there is.
    """

    slot: Slot
    shell: Shell
    before: Shell | None
    chord_before: Chord | None
    opens: bool
    rests: bool
    under_melody: bool = False


def why(case: Case) -> str:
    """One sentence or two, with a full stop: what becomes of the upper note."""
    parts = [_head(case), _motion(case)]
    if case.under_melody:
        parts.append("A higher shell would come too close to the melody.")
    if case.slot.pin is not None and case.slot.pin.reason:
        parts.append(_sentence(case.slot.pin.reason))
    return " ".join(part for part in parts if part)


def as_before(bars: Sequence[int | None], differ: Sequence[int | None]) -> str:
    """What is said of a phrase that comes again. bars: of each of its chords; differ: those of the chords with another shell."""
    if not differ:
        return "as before"
    if set(differ) == {bars[-1]}:
        return "as before, only the last bar differs"
    if set(differ) == {bars[0]}:
        return "as before, only the first bar differs"
    if set(differ) == {bars[0], bars[-1]}:
        return "as before, only the first and the last bar differ"
    return "not quite as before, for the hand would move more"


def ordinal(number: int) -> str:
    """A degree's number in words: "third"."""
    return _ORDINALS.get(number, "root" if number == 1 else str(number))


def spoken(tone: Tone) -> str:
    """A tone in words: "B flat"."""
    return tone.letter + _SIGNS[tone.alter]


def respelled(shell: Shell, chord: Chord) -> str:
    """For the details: the true name of a note that is written as lead sheets write it, "" where it is its own."""
    tones = (chord.bass or chord.root, *chord.tones)
    words = []
    for pitch in (shell.lower, shell.upper):
        true = next((tone for tone in tones if tone.pc == pitch.tone.pc and abs(tone.alter) > 1), None)
        if true is not None:
            words.append(
                f"{spoken(pitch.tone)} is {spoken(true)} by its true name, {degree_of(chord, true)} of {chord}"
            )
    return "; ".join(words)


def degree_of(chord: Chord, tone: Tone) -> str:
    """What a tone is in a chord: "the third", "the root"; "the bass" for a foreign slash bass."""
    if tone.pc == chord.root.pc:
        return "the root"
    for degree in chord.degrees:
        if chord.root.degree(degree).pc == tone.pc:
            number = degree_interval(degree)[0]
            if chord.family == "sus" and number == 11:
                number = 4
            return f"the {_ORDINALS.get(number, degree)}"
    return "the bass"


def _head(case: Case) -> str:
    chord = case.slot.chord
    assert chord is not None
    if case.rests:
        asked = "Pinned: r" if case.slot.pin else "R"
        return f"{asked}oot and fifth, where {chord.symbol} rests."
    if case.slot.pin is not None:
        return f"Pinned: {_what(case)}."
    return ""


def _what(case: Case) -> str:
    """The upper note and what it is: "F, the third of Dm7", "G, the fifth of C, over E"."""
    chord, shell = case.slot.chord, case.shell
    assert chord is not None
    top = shell.upper.tone
    if shell.top == "octave":
        return f"{spoken(top)} doubled an octave above"
    if not _is_over(chord):
        return f"{spoken(top)}, {degree_of(chord, top)} of {_named(chord)}"
    return f"{spoken(top)}, {degree_of(chord, top)} of {_named(chord)}, over {spoken(shell.lower.tone)}"


def _named(chord: Chord) -> str:
    """The chord's symbol without its slash bass."""
    return chord.symbol.rpartition("/")[0] if chord.bass is not None and "/" in chord.symbol else chord.symbol


def _motion(case: Case) -> str:
    """How the upper note arrives."""
    before, chord_before, chord, shell = case.before, case.chord_before, case.slot.chord, case.shell
    assert chord is not None
    if case.rests:
        return ""
    if before is None or chord_before is None:
        return "" if case.slot.pin else _sentence(_what(case))
    step = shell.midi[1] - before.midi[1]
    if case.opens or abs(step) > 2:  # who begins comes from nowhere
        starts = OPENS if case.opens else "The hand starts a new line here"
        return f"{starts}." if case.slot.pin else f"{starts}: {_what(case)}."
    if chord == chord_before and before.midi == shell.midi:
        return "Both notes stay."
    old, new = degree_of(chord_before, before.upper.tone), degree_of(chord, shell.upper.tone)
    names = spoken(before.upper.tone), spoken(shell.upper.tone)
    over = f", over {spoken(shell.lower.tone)}" if _is_over(chord) else ""
    if step == 0:
        stays = f"{names[0]} stays" if names[0] == names[1] else f"{names[0]} stays and is now called {names[1]}"
        if old == new:
            both = "" if _named(chord) == _named(chord_before) else f" of {_named(chord_before)} and"
            return f"{stays}: {old}{both} of {_named(chord)}{over}."
        return f"{stays}: it was {old} of {_named(chord_before)}, it is {new} of {_named(chord)}{over}."
    way = f"{'rises' if step > 0 else 'falls'} a {'half' if abs(step) == 1 else 'whole'} step to {names[1]}"
    becomes = f"from {old[4:]} to {new[4:]}" if old == new else f"{old} becomes {new}"
    return f"{names[0]} {way}: {becomes}" + (f" of {_named(chord)}{over}." if over else ".")


def _is_over(chord: Chord) -> bool:
    return chord.bass is not None and chord.bass.pc != chord.root.pc


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:] + "." * (not words.endswith((".", "!", "?")))
