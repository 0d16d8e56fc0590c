"""The facts behind chord symbols, one row a fact: what each sign on a lead sheet stands for.

Degrees are those of `pitch.degree_interval`: the major scale's steps above the root with a sign.

Definitions where practice is divided:

- 9, 11 and 13 stack every third below them, so a 13 holds the 11, as the kinds of MusicXML do. Players leave the 11 out
  above a major third; it stays in the definition so that files pass in and out unchanged and because a shell
  takes only the third or the seventh of it. `Chord.degree(11)` tells who wants to avoid it.
- The triangle alone is a major seventh (common practice in jazz; some textbooks use it for a plain major triad).
- alt is the dominant seventh with both altered fifths and both altered ninths. No standard spells it out;
  the third and the seventh, all a shell needs, are beyond dispute (common practice).
- +7 is an augmented triad with a minor seventh, -7 a minor seventh chord; behind a figure + and - are sharp and flat.
"""

from __future__ import annotations

from dataclasses import dataclass

# One letter or sign for every sign that print and keyboards offer in its place (code points from the Unicode charts).
SIGNS = {
    "♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "##", "×": "##", "＃": "#",
    "−": "-", "–": "-", "‐": "-", "‑": "-", "＋": "+",
    "∆": "Δ", "△": "Δ", "▵": "Δ", "▲": "Δ",
    "Ø": "ø", "∅": "ø", "⌀": "ø",
    "°": "o", "º": "o", "˚": "o", "○": "o",
    "¹": "1", "²": "2", "³": "3", "⁴": "4", "⁵": "5", "⁶": "6", "⁷": "7", "⁹": "9", "⁺": "+", "⁻": "-",
    "（": "(", "）": ")", "，": ",", "\u00a0": " ",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Triad:
    """spellings: how lead sheets write it. third, fifth: its degrees. seventh: the one a figure 7 or more brings along.
    figures: which figures may follow. implied: the figure understood where none is written."""

    spellings: tuple[str, ...]
    third: str
    fifth: str
    seventh: str
    figures: tuple[str, ...]
    implied: str = ""


# Common practice throughout; the tones are checked against outside references in the tests.
TRIADS = (
    Triad(("", "dom"), "3", "5", "b7", ("", "2", "5", "6", "69", "7", "9", "11", "13")),
    Triad(("m", "mi", "min", "minor", "Mi", "Min", "Minor", "MI", "MIN", "-"),
          "b3", "5", "b7", ("", "2", "6", "69", "7", "9", "11", "13")),
    Triad(("dim", "Dim", "DIM", "o"), "b3", "b5", "bb7", ("", "7", "9", "11")),
    Triad(("ø",), "b3", "b5", "b7", ("7", "9", "11", "13"), implied="7"),
    Triad(("aug", "Aug", "AUG", "+"), "3", "#5", "b7", ("", "7", "9", "11", "13")),
)  # fmt: skip

# The words for a major seventh; behind another triad they raise its seventh (mMaj7, +M7, dim(maj7)).
MAJOR_WORDS = ("maj", "ma", "major", "Maj", "Ma", "Major", "MAJ", "MA", "M", "Δ")
MAJOR_FIGURES = ("", "6", "69", "7", "9", "11", "13")

# What a figure adds to the triad; "7" is the triad's own seventh.
FIGURES = {
    "": (),
    "2": ("2",),
    "5": (),
    "6": ("6",),
    "69": ("6", "9"),
    "7": ("7",),
    "9": ("7", "9"),
    "11": ("7", "9", "11"),
    "13": ("7", "9", "11", "13"),
}

# An alteration -> the degree it brings in place of the plain one. A bare + behind a figure is the raised fifth (C7+);
# the raised seventh belongs to minor chords (Cm#7, Cm+7 for CmMaj7).
ALTERATIONS = {
    "b5": "b5", "-5": "b5", "#5": "#5", "+5": "#5", "+": "#5",
    "b6": "b6",
    "#7": "7", "+7": "7",
    "b9": "b9", "-9": "b9", "#9": "#9", "+9": "#9",
    "#11": "#11", "+11": "#11", "#4": "#11", "+4": "#11",
    "b13": "b13", "-13": "b13",
}  # fmt: skip

ADDITIONS = ("2", "4", "6", "9", "11", "13", "b9", "#9", "#11", "b13", "b6")
OMISSIONS = (3, 5, 7, 9, 11)
ALTERED = ("1", "3", "b5", "#5", "b7", "b9", "#9")

# The kind values of MusicXML's <kind> element -> degrees; empty where the kind names no fixed tones above a root
# (MusicXML 4.0, W3C Community Group Report, "kind-value"; functional sixth chords and the like are not stacked on a root).
MUSICXML_KINDS = {
    "major": ("1", "3", "5"),
    "minor": ("1", "b3", "5"),
    "augmented": ("1", "3", "#5"),
    "diminished": ("1", "b3", "b5"),
    "dominant": ("1", "3", "5", "b7"),
    "major-seventh": ("1", "3", "5", "7"),
    "minor-seventh": ("1", "b3", "5", "b7"),
    "diminished-seventh": ("1", "b3", "b5", "bb7"),
    "augmented-seventh": ("1", "3", "#5", "b7"),
    "half-diminished": ("1", "b3", "b5", "b7"),
    "major-minor": ("1", "b3", "5", "7"),  # a minor triad with a major seventh, whatever the name suggests
    "major-sixth": ("1", "3", "5", "6"),
    "minor-sixth": ("1", "b3", "5", "6"),
    "dominant-ninth": ("1", "3", "5", "b7", "9"),
    "major-ninth": ("1", "3", "5", "7", "9"),
    "minor-ninth": ("1", "b3", "5", "b7", "9"),
    "dominant-11th": ("1", "3", "5", "b7", "9", "11"),
    "major-11th": ("1", "3", "5", "7", "9", "11"),
    "minor-11th": ("1", "b3", "5", "b7", "9", "11"),
    "dominant-13th": ("1", "3", "5", "b7", "9", "11", "13"),
    "major-13th": ("1", "3", "5", "7", "9", "11", "13"),
    "minor-13th": ("1", "b3", "5", "b7", "9", "11", "13"),
    "suspended-second": ("1", "2", "5"),
    "suspended-fourth": ("1", "4", "5"),
    "power": ("1", "5"),
    "pedal": ("1",),
    "Neapolitan": (),
    "Italian": (),
    "French": (),
    "German": (),
    "Tristan": (),
    "other": (),
    "none": (),
}

# Spellings offered where a symbol is not understood, the usual ones of every family.
COMMON_QUALITIES = (
    "", "m", "dim", "aug", "5", "6", "m6", "6/9", "m6/9", "7", "9", "11", "13", "maj7", "maj9", "maj11", "maj13",
    "m7", "m9", "m11", "m13", "mMaj7", "m(maj7)", "m7b5", "dim7", "aug7", "maj7#5", "maj7#11", "sus", "sus2", "sus4",
    "7sus4", "9sus4", "13sus4", "7b5", "7#5", "7b9", "7#9", "7#11", "7b13", "7alt", "(add9)", "add9", "m(add9)",
    "(no3)", "(no5)", "(b5)", "(#5)", "(#11)", "7(b9,b13)", "13b9", "13#11", "9#11",
)  # fmt: skip


def family_of(degrees: tuple[str, ...]) -> str:
    """What a chord of these degrees offers a shell. A suspension comes first, because it has no
    third to play; then the seventh, a diminished one apart; then the sixth; then the triad."""
    has_third = "3" in degrees or "b3" in degrees
    if not has_third and ("2" in degrees or "4" in degrees):
        return "sus"
    if "bb7" in degrees:
        return "diminished"
    if "b7" in degrees or "7" in degrees:
        return "seventh"
    if "6" in degrees:
        return "sixth"
    if not has_third:
        return "power"
    return "diminished" if "b3" in degrees and "b5" in degrees else "triad"
