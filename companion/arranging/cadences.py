"""The chords that lead to another: II and V of any chord, and I and VI of a key. All common practice."""

from __future__ import annotations

from companion.chart.model import Song
from companion.theory.chord import Chord
from companion.theory.key import Key
from companion.theory.pitch import Tone
from companion.theory.symbols import parse_chord


def chord_on(tone: Tone, quality: str) -> Chord:
    """A chord by its root and what stands behind it; a root that nobody writes gets its usual name."""
    plain = tone if abs(tone.alter) < 2 else Key.usual(tone.pc).tonic
    return parse_chord(plain.name + quality)


def first_chord(song: Song) -> Chord | None:
    """The first chord of the form that is played."""
    return next((placed.chord for bar in song.unroll() for placed in bar.chords if placed.chord is not None), None)


def is_minor(chord: Chord) -> bool:
    """Whether its third is minor."""
    return "b3" in chord.degrees


def dominant_of(chord: Chord) -> Chord:
    """The dominant seventh a fifth above: with a flat ninth before a minor chord, else with a ninth."""
    return chord_on(chord.root.degree("5"), "7b9" if is_minor(chord) else "9")


def two_of(chord: Chord) -> Chord:
    """The second degree that comes before its dominant: half-diminished before a minor chord."""
    return chord_on(chord.root.degree("2"), "m7b5" if is_minor(chord) else "m7")


def of_tonic(key: Key) -> tuple[Chord, Chord, Chord]:
    """I, VI and the last I of a key."""
    if key.mode == "minor":
        return chord_on(key.tonic, "m6"), chord_on(key.tonic.degree("6"), "m7b5"), chord_on(key.tonic, "m6/9")
    return chord_on(key.tonic, "maj7"), chord_on(key.tonic.degree("6"), "m7"), chord_on(key.tonic, "6/9")


def is_blues(song: Song) -> bool:
    """Whether the first chord is a dominant seventh on the keynote."""
    chord = first_chord(song)
    return chord is not None and chord.root.pc == song.key.tonic.pc and {"3", "b7"} <= set(chord.degrees)


def last_chord(song: Song) -> Chord:
    """What a tune ends on: six-nine, on a straight feel the major seventh; in minor the minor six-nine; on a blues the thirteenth."""
    key = song.key
    if is_blues(song):
        return chord_on(key.tonic, "13")
    if key.mode == "major" and song.feel == "straight":
        return chord_on(key.tonic, "maj7")
    return of_tonic(key)[2]
