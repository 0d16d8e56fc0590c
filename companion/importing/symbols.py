"""Chords as MusicXML tells them -> chord symbols.

A chord there is a kind and degrees that are added, altered or taken away. The text beside the kind is only how one
program prints it ("13sus" may stand beside a plain dominant): it is kept where it says just the tones, else the symbol is
built from them, and read once more to see that it means just these. Where a kind is unknown the text is tried.

Source: MusicXML 4.0, W3C Community Group Report, elements <kind>, <degree>, <degree-alter>, <degree-type>.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from companion.errors import ChordError
from companion.theory.pitch import Tone, degree_interval
from companion.theory.qualities import ADDITIONS, ALTERATIONS, COMMON_QUALITIES, MUSICXML_KINDS, OMISSIONS
from companion.theory.symbols import parse_chord

# The usual symbol of each kind that has tones of its own.
KIND_QUALITIES = {
    "major": "", "minor": "m", "augmented": "aug", "diminished": "dim", "dominant": "7", "major-seventh": "maj7",
    "minor-seventh": "m7", "diminished-seventh": "dim7", "augmented-seventh": "aug7", "half-diminished": "m7b5",
    "major-minor": "m(maj7)", "major-sixth": "6", "minor-sixth": "m6", "dominant-ninth": "9", "major-ninth": "maj9",
    "minor-ninth": "m9", "dominant-11th": "11", "major-11th": "maj11", "minor-11th": "m11", "dominant-13th": "13",
    "major-13th": "maj13", "minor-13th": "m13", "suspended-second": "sus2", "suspended-fourth": "sus4", "power": "5",
}  # fmt: skip
# Kinds that files carry though the standard does not know them -> the kind that is meant.
ODD_KINDS = {
    "minor-major": "major-minor", "dominant-seventh": "dominant", "half-diminished-seventh": "half-diminished",
    "minor-major-seventh": "major-minor", "augmented-dominant": "augmented-seventh", "none-chord": "none",
    "maj": "major", "min": "minor", "dim": "diminished", "aug": "augmented", "maj7": "major-seventh",
    "min7": "minor-seventh", "7": "dominant", "6": "major-sixth", "sus4": "suspended-fourth", "sus2": "suspended-second",
}  # fmt: skip
_SIGNS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
_ALTERED = frozenset(ALTERATIONS.values())

ReadDegree = tuple[str, int, int]  # add, alter or subtract; number; semitones


def symbol_of(
    root: Tone, kind: str, degrees: Iterable[ReadDegree] = (), bass: Tone | None = None, text: str = ""
) -> tuple[str | None, str]:
    """The symbol, None where no chord can be written, and what is to be said about it, "" where it is exact.

    kind: as the file has it; text: what the file prints beside the root, kept where it says the same tones, and tried where the
    kind says nothing.
    """
    slash = f"/{bass.name}" if bass is not None and bass != root else ""
    degrees = list(degrees)
    known, said = kind, ""
    if kind not in MUSICXML_KINDS:
        known = ODD_KINDS.get(kind, next((name for name in MUSICXML_KINDS if name.lower() == kind.lower()), ""))
        if known and MUSICXML_KINDS[known]:
            said = f"the kind {kind!r} is not in the standard; read as {known!r}"
    tones = MUSICXML_KINDS.get(known, ())
    if not tones and known == "other" and any(how == "add" for how, _, _ in degrees):
        tones = ("1",)
    if not tones:
        return _from_text(root, kind, text, slash)
    target, odd = _apply(tones, degrees)
    printed = _as_printed(root, text, slash, frozenset(target))
    if printed and not odd:
        return printed, said
    if not degrees and known in KIND_QUALITIES:
        quality, exact = KIND_QUALITIES[known], True
    else:
        quality, exact = quality_of(frozenset(target))
    symbol = root.name + quality + slash
    if not exact or odd:
        wanted = " ".join(sorted(target, key=_height)) + ("".join(f", {word}" for word in odd))
        said = f"no symbol has just the tones {wanted} above {root}; {symbol} stands in its place"
    return symbol, said


def _as_printed(root: Tone, text: str, slash: str, target: frozenset[str]) -> str:
    """The symbol as the file prints it, where that says just these tones: C7sus stays C7sus. "" where it does not."""
    if not text.strip():
        return ""
    try:
        chord = parse_chord(root.name + text.strip() + slash)
    except ChordError:
        return ""
    return chord.symbol if chord.root == root and frozenset(chord.degrees) == target else ""


def _from_text(root: Tone, kind: str, text: str, slash: str) -> tuple[str | None, str]:
    words = text.strip()
    if words:
        for candidate in (root.name + words + slash, root.name + f"({words})" + slash, words):
            try:
                chord = parse_chord(candidate)
            except ChordError:
                continue
            if chord.root == root:
                return chord.symbol, f"the kind {kind!r} has no tones of its own; read from its text {words!r}"
    return None, f"the chord on {root.name} of the kind {kind!r} has no symbol; N.C. stands in its place"


def _apply(tones: Iterable[str], degrees: Iterable[ReadDegree]) -> tuple[set[str], list[str]]:
    """The degrees of the chord, and those that no degree of ours can name."""
    target, odd = list(tones), []
    for how, number, alter in degrees:
        if how == "add" and number == 5 and alter and "5" in target:
            how = "alter"  # some programs write a flat fifth so; nobody plays it beside the perfect one
        here = [degree for degree in target if degree_interval(degree)[0] == number]
        if how == "subtract" or (how == "alter" and here):
            target = [degree for degree in target if degree not in here]
        if how == "subtract":
            continue
        if how == "alter" and here:
            natural = degree_interval(here[0])[1]  # the first is the kind's own, whatever was added beside it
        else:
            # Added degrees count from the dominant chord: its seventh is the minor one.
            natural = _natural(number) - (number == 7)
        sign = natural + alter - _natural(number)
        if sign in _SIGNS and 1 <= number <= 13:
            target.append(_SIGNS[sign] + str(number))
        else:
            odd.append(f"{how} {number} {alter:+d}")
    return set(target), odd


def _natural(number: int) -> int:
    return degree_interval(str(number))[1] if 1 <= number <= 99 else 0


def _height(degree: str) -> tuple[int, int]:
    number, semitones = degree_interval(degree)
    return semitones, number


@lru_cache(maxsize=1024)
def quality_of(target: frozenset[str]) -> tuple[str, bool]:
    """The shortest quality that means just these degrees, and True; else the nearest one, and False."""
    exact: list[tuple[int, int, str]] = []
    near: list[tuple[int, int, str]] = []
    for base in COMMON_QUALITIES:
        degrees = frozenset(parse_chord("C" + base).degrees)
        weight = sum(4 if degree_interval(degree)[0] in (3, 7) else 1 for degree in degrees ^ target)
        near.append((weight, len(base), base))
        words = _words(degrees, target)
        if words is None:
            continue
        for quality in _spellings(base, words):
            if _means(quality, target):
                exact.append((len(words), len(quality), quality))
    return (min(exact)[2], True) if exact else (min(near)[2], False)


def _words(degrees: frozenset[str], target: frozenset[str]) -> list[str] | None:
    """What must stand behind a quality of `degrees` to make it `target`; None where it cannot be said."""
    missing, extra = target - degrees, degrees - target
    words = []
    for degree in sorted(missing, key=_height):
        if degree in _ALTERED:
            words.append(degree if degree != "7" else "(maj7)")
        elif degree in ADDITIONS:
            words.append(f"add{degree}")
        else:
            return None
    replaced = {degree_interval(degree)[0] for degree in missing if degree in _ALTERED}
    for degree in sorted(extra, key=_height):
        number = degree_interval(degree)[0]
        if number in replaced:
            continue
        if number not in OMISSIONS:
            return None
        words.append(f"omit{number}")
    return words


def _spellings(base: str, words: list[str]) -> list[str]:
    if not words:
        return [base]
    return [base + "".join(words), f"{base}({','.join(words)})", base + "".join(f"({word})" for word in words)]


def _means(quality: str, target: frozenset[str]) -> bool:
    try:
        chord = parse_chord("C" + quality)
    except ChordError:
        return False
    return chord.root == Tone("C") and chord.bass is None and frozenset(chord.degrees) == target
