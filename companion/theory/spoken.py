"""Chord names as musicians say them: "C minor seven", "B flat seven", "F sharp minor seven flat five".

Spoken by degrees, so that every spelling of a symbol is said alike. Each name has shorter forms, for when there is little time: without
bass and alterations ("G thirteen"), then root and quality alone ("F sharp half dim"). Common practice throughout.
"""

from __future__ import annotations

from functools import lru_cache

from companion.theory.chord import Chord
from companion.theory.pitch import Tone
from companion.theory.qualities import ALTERED

NO_CHORD = "no chord"
COUNTED = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_SIGNS = {-2: "double flat", -1: "flat", 0: "", 1: "sharp", 2: "double sharp"}
_STEPS = {"2": "two", "4": "four", "6": "six", "9": "nine", "11": "eleven", "13": "thirteen"}
_ALTERED_STEPS = {
    "b5": "flat five", "#5": "sharp five", "b6": "flat six", "b9": "flat nine", "#9": "sharp nine", "#11": "sharp eleven",
    "b13": "flat thirteen",
}  # fmt: skip
_NEEDED = {"three": {"3", "b3"}, "five": {"5", "b5", "#5"}}
# Every word that is spoken, with more than one syllable.
SYLLABLES = {
    "double": 2, "seven": 2, "eleven": 3, "twelve": 1, "thirteen": 2, "minor": 2, "major": 2, "diminished": 3, "augmented": 3,
    "altered": 2, "over": 2,
}  # fmt: skip


@lru_cache(maxsize=512)
def spoken_forms(chord: Chord | None) -> tuple[str, ...]:
    """The name in words, the whole of it first, then ever shorter ones. None: no chord is played."""
    if chord is None:
        return (NO_CHORD,)
    root = tone_words(chord.root)
    plain, short, more = _quality(chord)
    bass = f"over {tone_words(chord.bass)}" if chord.bass is not None else ""
    half = {"b3", "b5", "b7"} <= set(chord.degrees)  # without its flat five it would be another chord
    without = "half diminished" if half else plain
    forms = (_joined(root, plain, more, bass), _joined(root, plain, more), _joined(root, without), _joined(root, short))
    shorter = [forms[0]]
    for form in forms:
        if syllables(form) < syllables(shorter[-1]):
            shorter.append(form)
    return tuple(shorter)


def syllables(words: str) -> int:
    """How many syllables the words have, of those that are spoken here."""
    return sum(SYLLABLES.get(word, 1) for word in words.split())


def tone_words(tone: Tone) -> str:
    """ "B flat"."""
    return _joined(tone.letter, _SIGNS[tone.alter])


def _joined(*words: str) -> str:
    return " ".join(filter(None, words))


def _quality(chord: Chord) -> tuple[str, str, str]:
    """(triad and figure, quality alone, what is altered, added or left out)."""
    degrees = set(chord.degrees)
    if chord.degrees == ALTERED:
        return "altered", "alt", ""
    if chord.family == "sus":
        return _sus(degrees)
    if chord.family == "power" and not degrees & {"7", "b7"}:
        return ("five", "five", "") if "5" in degrees else ("", "", "")
    figure, used = _figure(degrees)
    if {"b3", "b5"} <= degrees and "b7" not in degrees:
        major = "major" if "7" in degrees else ""
        return _joined("diminished", major, figure), "dim", _rest(degrees, used | {"b5"})
    if {"3", "#5"} <= degrees and not degrees & {"b7", "7", "6"}:
        return _joined("augmented", figure), "aug", _rest(degrees, used | {"#5"})
    third = "minor" if "b3" in degrees else ""
    seventh = "major" if "7" in degrees else ""
    whole = _joined(third, seventh, figure)
    if third:
        short = "half dim" if {"b5", "b7"} <= degrees else "minor"
    else:
        short = seventh or ("seven" if "b7" in degrees else "six" if "6" in degrees else "")
    return whole, short, _rest(degrees, used)


def _figure(degrees: set[str]) -> tuple[str, set[str]]:
    """(the figure in words, the degrees that it says): the highest plain third of those stacked on a seventh, else a sixth."""
    if degrees & {"7", "b7", "bb7"}:
        highest = next((step for step in ("13", "11", "9") if step in degrees), "")
        return _STEPS.get(highest, "seven"), {"9", "11", "13"}
    if "6" in degrees:
        return ("six nine", {"6", "9"}) if "9" in degrees else ("six", {"6"})
    return "", set()


def _sus(degrees: set[str]) -> tuple[str, str, str]:
    steps = degrees & {"2", "4"}
    kind = "sus two four" if len(steps) == 2 else "sus two" if "2" in steps else "sus"
    figure, used = _figure(degrees)
    whole = _joined("major" if "7" in degrees else "", figure, kind)
    return whole, "sus", _rest(degrees | {"3"}, used | steps)


def _rest(degrees: set[str], said: set[str]) -> str:
    """What is left to say: alterations, additions and omissions, in order of their number."""
    altered = [words for step, words in _ALTERED_STEPS.items() if step in degrees - said]
    added = [f"add {words}" for step, words in _STEPS.items() if step in degrees - said]
    left_out = [f"no {name}" for name, steps in _NEEDED.items() if not degrees & steps]
    return _joined(*altered, *added, *left_out)
