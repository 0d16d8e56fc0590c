"""The information fields of an ABC tune that a lead sheet needs: meter, unit length, tempo, key, parts.

Source: The abc music standard 2.1, chapter 3, "Information fields". Every function raises ValueError where a field says
something else; the reader remarks upon it.
"""

from __future__ import annotations

import re
from fractions import Fraction

from companion.chart.melody import ACCIDENTAL_SIGNS
from companion.importing.score import key_of_signature
from companion.theory.key import Key
from companion.theory.meter import TICKS_PER_QUARTER, Meter
from companion.theory.pitch import LETTERS, Tone

# Fields that tell of the tune and not of its notes (ABC 2.1, 3.1): nothing of them belongs into a chart.
INFORMATION = frozenset("ABCDFGHNORSZXIr")
_MOST_PARTS = 200
# Modes -> how many sharps they have more than major on the same tonic; minor-like ones are read as minor keys.
_MODES = {
    "": (0, "major"), "maj": (0, "major"), "ion": (0, "major"), "m": (-3, "minor"), "min": (-3, "minor"),
    "aeo": (-3, "minor"), "mix": (-1, "mixolydian"), "dor": (-2, "dorian"), "phr": (-4, "phrygian"),
    "lyd": (1, "lydian"), "loc": (-5, "locrian"),
}  # fmt: skip
_KEY_SIGN = re.compile(r"(?<![\^_=])(\^\^?|__?|=)([A-Ga-g])(?![A-Za-z])")
_KEY = re.compile(r"([A-G][#b]?)\s*([A-Za-z]*)")


def meter_of(text: str) -> Meter:
    """ "6/8", "C", "C|", "(2+3)/8"."""
    named = {"C": "4/4", "C|": "2/2"}.get(text.strip())
    if named:
        return Meter.parse(named)
    above, _, below = text.strip().partition("/")
    figures = re.findall(r"\d{1,2}", above)
    if not figures or re.sub(r"[\d+() ]", "", above):
        raise ValueError(text)
    return Meter.parse(f"{sum(map(int, figures))}/{below.strip()}")


def unit_ticks_of(text: str) -> int:
    """ "1/8" -> ticks."""
    match = re.fullmatch(r"\s*1(?:/(\d{1,3}))?\s*", text)
    ticks = Fraction(4 * TICKS_PER_QUARTER, int(match[1] or 1)) if match and int(match[1] or 1) else Fraction(1, 2)
    if ticks.denominator != 1:
        raise ValueError(text)
    return int(ticks)


def usual_unit_ticks(meter: Meter) -> int:
    """A sixteenth where the meter is shorter than 3/4, else an eighth (ABC 2.1, 3.1.7)."""
    return TICKS_PER_QUARTER // (4 if Fraction(meter.beats, meter.unit) < Fraction(3, 4) else 2)


def quarter_bpm_of(text: str) -> float:
    """ "1/4=120", "3/8=50 "Slowly"", "120": quarters a minute."""
    plain = re.sub(r'"[^"]*"', "", text).strip()
    beat, equals, number = plain.rpartition("=")
    quarters = sum((Fraction(word) for word in beat.split()), Fraction(0)) * 4 if equals else Fraction(1)
    bpm = float(number) * float(quarters)
    if not 0 < bpm < 10_000:
        raise ValueError(text)
    return bpm


def key_of(text: str) -> tuple[Key, int, str]:
    """The key that rules the notes, its sharps (flats are negative), and "major", "minor" or another mode's name."""
    words = text.strip()
    if words.lower() in ("", "none") or words[:2] in ("HP", "Hp") or words.startswith("exp"):
        return Key(Tone("C")), 0, ""
    match = _KEY.match(words)
    if match is None:
        raise ValueError(text)
    # Behind the tonic a mode may stand, and then clefs and the like: "Am", "D dorian", "G clef=treble".
    mode = match[2].lower()
    if (
        re.match(r"clef|treble|bass|alto|tenor|oct|trans|middle|staff|name|exp", mode)
        or words[match.end() :][:1] == "="
    ):
        mode = ""
    short = mode if mode == "m" else mode[:3]
    if short not in _MODES:
        raise ValueError(text)
    more, name = _MODES[short]
    fifths = Key(Tone.parse(match[1])).fifths + more
    if abs(fifths) > 7:
        raise ValueError(text)
    # Any key with the same signature rules the notes alike.
    return key_of_signature(fifths), fifths, name


def key_signs_of(text: str) -> dict[str, int]:
    """Letter -> alteration of the accidentals that a K: field gives beside its key; with "exp" they are all there are (ABC 2.1,
    3.1.14). The pipes' HP has no signature, and Hp F and C sharp, G natural."""
    words = text.strip()
    if words[:2] in ("HP", "Hp"):
        return {letter: int(words[1] == "p" and letter in "FC") for letter in LETTERS}
    found = {match[2].upper(): ACCIDENTAL_SIGNS[match[1]] for match in _KEY_SIGN.finditer(words.partition("clef")[0])}
    return (dict.fromkeys(LETTERS, 0) if re.search(r"\bexp\b", words) else {}) | found


def parts_of(text: str) -> tuple[str, ...]:
    """ "A2(BC)2.A" -> A A B C B C A (ABC 2.1, 3.1.9)."""
    groups: list[list[str]] = [[]]
    last: list[str] = []
    for token in re.findall(r"[A-Za-z()]|\d{1,2}|[. ]", text):
        if token == "(":
            groups.append([])
        elif token == ")":
            if len(groups) == 1:
                raise ValueError(text)
            last = groups.pop()
            groups[-1] += last
        elif token.isdigit():
            groups[-1] += last * (int(token) - 1)
            last = []
        elif token.isalpha():
            last = [token]
            groups[-1] += last
        if sum(map(len, groups)) > _MOST_PARTS:
            raise ValueError(text)
    if len(groups) > 1:
        raise ValueError(text)
    return tuple(groups[0])
