"""Dance tunes made at random, with what a musician reads in them: form, bars, notes and chords.

A tune is a few strains of four or eight bars, each with or without an upbeat, repeated or not, with or without two endings. The
same tune is written as ABC (2.1) and as MusicXML (4.0); the answer is kept from the making of it, not from a reading.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from fractions import Fraction

from musicxml_made import BACKWARD, DIVISIONS, FORWARD, Measure, Score, attributes, ending, harmony, note

from companion.theory.key import Key
from companion.theory.pitch import Pitch, Tone

KEYS = ("C", "G", "D", "A", "E", "F", "Bb", "Eb", "Am", "Em", "Bm", "Dm", "Gm", "F#m")
METERS = {"4/4": 8, "3/4": 6, "6/8": 6, "2/4": 4, "9/8": 9, "2/2": 8}  # eighths in a bar
_LENGTHS = (1, 1, 1, 2, 2, 3, 4)


@dataclass
class Note:
    """eighths: how long. pitch: None for a rest."""

    eighths: Fraction
    pitch: Pitch | None


@dataclass
class Bar:
    notes: list[Note]
    chord: str = ""

    @property
    def eighths(self) -> Fraction:
        return sum((each.eighths for each in self.notes), Fraction(0))


@dataclass
class Strain:
    """upbeat: None without one. endings: two bars, or none. is_repeated: so are its upbeat and endings."""

    upbeat: Bar | None
    bars: list[Bar]
    endings: list[Bar] = field(default_factory=list)
    is_repeated: bool = True

    def played(self) -> list[Bar]:
        once = ([self.upbeat] if self.upbeat else []) + self.bars
        if self.endings:
            return [*once, self.endings[0], *once, self.endings[1]]
        return once * 2 if self.is_repeated else once


@dataclass
class Tune:
    key: Key
    meter: str
    strains: list[Strain]

    @property
    def form(self) -> str:
        names = []
        ends = 0
        for letter, strain in zip("ABCDE", self.strains):
            if strain.endings:
                suffix = f"-{ends + 1}" if ends else ""
                names += [letter, f"End1{suffix}", letter, f"End2{suffix}"]
                ends += 1
            else:
                names += [letter] * (2 if strain.is_repeated else 1)
        return " ".join(names)

    def played(self) -> list[Bar]:
        return [bar for strain in self.strains for bar in strain.played()]

    def sounding(self) -> list[tuple[Fraction, Fraction, int]]:
        """(start, length in quarters, MIDI number) of each note of the chorus, from the first whole bar on."""
        at = -self.strains[0].upbeat.eighths / 2 if self.strains[0].upbeat else Fraction(0)
        found = []
        for bar in self.played():
            for each in bar.notes:
                if each.pitch:
                    found.append((at, each.eighths / 2, each.pitch.midi))
                at += each.eighths / 2
        return found

    def chords(self) -> list[str]:
        """The chord of each whole bar in playing order."""
        found, sounds = [], ""
        full = METERS[self.meter]
        for strain in self.strains:
            short = full - strain.upbeat.eighths if strain.upbeat else full
            for bar in strain.played():
                sounds = bar.chord or sounds
                if bar.eighths in (full, short) and bar is not strain.upbeat:
                    found.append(sounds)
        return found


def make(seed: int) -> Tune:
    """The tune of that number."""
    dice = random.Random(seed)
    key = Key.parse(dice.choice(KEYS))
    meter = dice.choice(list(METERS))
    full = METERS[meter]
    has_upbeats = dice.random() < 0.7
    upbeat = dice.choice((1, 2)) if has_upbeats else 0
    strains = []
    count = dice.choice((2, 2, 2, 3))
    for _ in range(count):
        repeated = dice.random() < 0.8 or count == 1
        ends = repeated and dice.random() < 0.4
        bars = [_bar(dice, key, full) for _ in range(dice.choice((3, 7)))]
        last = full - upbeat
        lasts = [_bar(dice, key, last) for _ in range(2 if ends else 1)]
        first = _bar(dice, key, upbeat) if upbeat else None
        if first:
            first.chord = ""
        bars[0].chord = bars[0].chord or _chord(dice, key)
        for each in lasts:
            each.chord = each.chord or _chord(dice, key)
        strains.append(Strain(first, bars if ends else bars + lasts, lasts if ends else [], repeated))
    return Tune(key, meter, strains)


def _bar(dice: random.Random, key: Key, eighths: int) -> Bar:
    notes: list[Note] = []
    left = Fraction(eighths)
    while left:
        length = Fraction(min(left, dice.choice(_LENGTHS)))
        pitch = None if dice.random() < 0.05 else _pitch(dice, key)
        notes.append(Note(length, pitch))
        left -= length
    if not any(each.pitch for each in notes):
        notes[0].pitch = _pitch(dice, key)
    return Bar(notes, _chord(dice, key) if dice.random() < 0.7 else "")


def _pitch(dice: random.Random, key: Key) -> Pitch:
    letter = dice.choice("CDEFGAB")
    alter = key.signature(letter)
    if dice.random() < 0.08:
        alter = max(-1, min(1, alter + dice.choice((-1, 1))))
    return Pitch(Tone(letter, alter), dice.choice((4, 4, 5)))


def _chord(dice: random.Random, key: Key) -> str:
    return key.tonic.degree(dice.choice(("1", "4", "5", "2", "6"))).name + dice.choice(("", "m", "7", "maj7", "m7"))


# --- written


def abc(tune: Tune) -> str:
    body = ""
    for strain in tune.strains:
        opens = "|:" if strain.is_repeated else ""
        body += "\n" + opens
        cells = ([strain.upbeat] if strain.upbeat else []) + strain.bars
        body += "|".join(_abc_bar(bar, tune.key) for bar in cells)
        if strain.endings:
            first, second = (_abc_bar(bar, tune.key) for bar in strain.endings)
            body += f"|1 {first}:|2 {second}||"
        else:
            body += ":|" if strain.is_repeated else "||"
    return f"X:1\nT:A Tune Made at Random\nM:{tune.meter}\nL:1/8\nQ:120\nK:{tune.key.name}{body}\n"


def _abc_bar(bar: Bar, key: Key) -> str:
    text = f'"{bar.chord}"' if bar.chord else ""
    signs: dict[str, int] = {}
    for each in bar.notes:
        length = "" if each.eighths == 1 else str(each.eighths)
        if each.pitch is None:
            text += "z" + length
            continue
        letter, alter = each.pitch.tone.letter, each.pitch.tone.alter
        if signs.get(letter, key.signature(letter)) != alter:
            text += {-1: "_", 0: "=", 1: "^"}[alter]
            signs[letter] = alter
        text += (letter.lower() if each.pitch.octave == 5 else letter) + length
    return text


def musicxml(tune: Tune) -> str:
    measures: list[Measure] = []
    for strain in tune.strains:
        cells = ([strain.upbeat] if strain.upbeat else []) + strain.bars + strain.endings
        made = [Measure(_xml_bar(bar), float(bar.eighths / 2)) for bar in cells]
        if strain.is_repeated:
            made[0].left = FORWARD
            made[-1].right = BACKWARD
        else:
            made[-1].right = "<bar-style>light-light</bar-style>"
        if strain.endings:
            made[-2].left, made[-2].right = ending("1", "start"), ending("1", "stop") + BACKWARD
            made[-1].left, made[-1].right = ending("2", "start"), ending("2", "discontinue")
        measures += made
    mode = tune.key.mode
    measures[0].attributes = attributes(tune.meter, tune.key.fifths, mode)
    return Score(measures, "A Tune Made at Random").xml()


def _xml_bar(bar: Bar) -> str:
    text = ""
    if bar.chord:
        kinds = {"": "major", "m": "minor", "7": "dominant", "maj7": "major-seventh", "m7": "minor-seventh"}
        root = bar.chord[:2] if bar.chord[1:2] in ("b", "#") and bar.chord[1:2] else bar.chord[:1]
        text = harmony(root, kinds[bar.chord[len(root) :]])
    for each in bar.notes:
        name = f"{each.pitch.tone.name}{each.pitch.octave}" if each.pitch else ""
        text += note(name, int(each.eighths * DIVISIONS / 2))
    return text
