"""Why these notes go with a melody note, or why none does: sentences that a musician would say."""

from __future__ import annotations

from companion.hands.left.reason import ordinal, spoken
from companion.hands.right import voicing_rules as rules
from companion.hands.right.voicings import LIGHT, MelodyStroke, Voicing, most_notes
from companion.theory.chord import Chord
from companion.theory.pitch import degree_interval

_INTERVALS = {3: "third", 4: "third", 8: "sixth", 9: "sixth"}


def why_company(stroke: MelodyStroke, voicing: Voicing, voices: int) -> str:
    """A sentence for each added note, from the highest, each with a full stop; one for why there is none. "" where none was asked for."""
    if voicing.added:
        return " ".join(_why(key, stroke, voicing) for key in reversed(voicing.added))
    if voices == 1:
        return ""
    if not stroke.chords:
        return "Alone: no chord sounds."
    if stroke.pin == ():
        return "Alone, as you chose."
    if most_notes(stroke, voices) == 1:
        return "Alone: the next note comes too soon."
    lowest = max((rules.LOWEST_ADDED, *(key + rules.ABOVE_SHELL for key in stroke.shell)))
    if stroke.key - rules.UNDER_MELODY < lowest:
        return "Alone: there is no room between the left hand and the melody."
    if stroke.place == LIGHT:
        return "Alone: a light beat between chords."
    return "Alone: no note of the chord fits under it."


def company_names(stroke: MelodyStroke, voicing: Voicing) -> tuple[str, ...]:
    """The added notes spelled from their chord, with octaves."""
    chord = stroke.chords[0] if stroke.chords else None
    return tuple(
        chord.root.degree(degree_of(key, chord)).at_or_above(key).plain.name
        for key in voicing.added
        if chord is not None
    )


def degree_of(key: int, chord: Chord) -> str:
    """The degree that a key is in a chord, the chord's own before a tension that is added. Raises StopIteration for a stranger."""
    degrees = rules.addable_degrees(chord, tensions=True)
    return next(degree for degree in degrees if rules.pc_of(chord, degree) == key % 12)


def _why(key: int, stroke: MelodyStroke, voicing: Voicing) -> str:
    chord = stroke.chords[0]
    degree = degree_of(key, chord)
    head = f"{spoken(chord.root.degree(degree))}: the {_words(degree)} of {chord.symbol}"
    left = {low % 12 for low in stroke.shell}
    if degree not in chord.degrees:
        return f"{head}, a colour it takes."
    if degree in rules.guide_degrees(chord) and key % 12 not in left:
        return f"{head}, which the left hand leaves out."
    above = voicing.keys[voicing.keys.index(key) + 1] - key
    under = "the melody" if key == voicing.added[-1] else "the next"
    if above in _INTERVALS:
        return f"{head}, a {_INTERVALS[above]} under {under}."
    return f"{head}, to fill the chord."


def _words(degree: str) -> str:
    number, _ = degree_interval(degree)
    sign = {"b": "flat ", "#": "sharp "}.get(degree[0], "") if number in (5, 9, 11, 13) else ""
    return sign + ordinal(number)
