"""Melodies and chords read with nothing of the companion, as a second opinion: plain ABC in eighths, and the few chord symbols
of the songs. Pitches are MIDI numbers, times and lengths are in eighths."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path

SHARPS = "FCGDAEB"
TONICS = {"C": 0, "G": 1, "D": 2, "A": 3, "F": -1, "Bb": -2, "Eb": -3, "Ab": -4, "Db": -5}
TONES = {
    "": (0, 4, 7),
    "6": (0, 4, 7, 9),
    "m6": (0, 3, 7, 9),
    "maj7": (0, 4, 7, 11),
    "7": (0, 4, 7, 10),
    "7b9": (0, 4, 7, 10, 1),
    "m7": (0, 3, 7, 10),
    "m7b5": (0, 3, 6, 10),
    "dim7": (0, 3, 6, 9),
    "7sus4": (0, 5, 7, 10),
}
_NOTE = re.compile(r"(\^\^?|__?|=)?([A-Ga-gz])([',]*)(\d*)(-?)")
_SEMITONES = dict(zip("CDEFGAB", (0, 2, 4, 5, 7, 9, 11)))
_SIGNS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}


def signature(fifths: int) -> dict[str, int]:
    """Letter -> alteration, so many sharps or, below 0, flats."""
    return dict.fromkeys(SHARPS[: max(0, fifths)], 1) | dict.fromkeys(SHARPS[::-1][: max(0, -fifths)], -1)


def fifths_of(key: str) -> int:
    """Of "Bb" or "F#m"; a minor key has three fewer."""
    minor = key.endswith("m")
    tonic = key.removesuffix("m")
    return {**TONICS, "E": 4, "B": 5, "F#": 6}[tonic] - 3 * minor


def bar_notes(bar: str, known: dict[str, int]) -> list[tuple[int | None, int, bool]]:
    """(pitch or None, eighths, whether it is tied on) of each note of a bar."""
    here = dict(known)
    notes = []
    for sign, letter, octave, length, tie in _NOTE.findall(bar):
        if letter == "z":
            notes.append((None, int(length or 1), False))
            continue
        if sign:
            here[letter.upper()] = _SIGNS[sign]
        pitch = 60 + 12 * letter.islower() + 12 * (octave.count("'") - octave.count(","))
        pitch += _SEMITONES[letter.upper()] + here.get(letter.upper(), 0)
        notes.append((pitch, int(length or 1), bool(tie)))
    return notes


@dataclass(frozen=True)
class Note:
    """start, length: in eighths from the section's first bar line. pitch: None for a rest."""

    start: int
    length: int
    pitch: int | None


@dataclass(frozen=True)
class Strain:
    """A section. notes: ties joined. chords: (start in eighths, pitch classes, whether anything is played)."""

    name: str
    bars: int
    bar_length: int
    notes: tuple[Note, ...]
    chords: tuple[tuple[int, frozenset[int]], ...]

    def chord_at(self, eighth: int) -> frozenset[int]:
        """The tones of the chord there."""
        return [tones for start, tones in self.chords if start <= max(0, eighth)][-1]

    def phrases(self) -> list[list[Note]]:
        """Groups of four bars; what follows a rest in a group's last bar leads into the next one, and at the end into another section."""
        groups: list[list[Note]] = [[] for _ in range(max(1, self.bars // 4))]
        edge = 4 * self.bar_length
        for note in self.notes:
            group = min(len(groups) - 1, max(0, note.start) // edge)
            rests = [rest.start for rest in self.notes if rest.pitch is None]
            last_bar = (4 * group + 3 if group < len(groups) - 1 else self.bars - 1) * self.bar_length
            leads_on = any(last_bar <= rest < note.start for rest in rests)
            if note.pitch is not None and group + leads_on < len(groups):
                groups[group + leads_on].append(note)
        return groups


def strains(path: Path) -> dict[str, Strain]:
    """The sections of a chart file."""
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    found = {}
    for name, section in data["section"].items():
        beats, unit = map(int, section.get("meter", data["meter"]).split("/"))
        length = beats * 8 // unit
        known = signature(fifths_of(section.get("key", data["key"])))
        chords = _chords(section["bars"], beats, unit)
        found[name] = Strain(
            name, len(_cells(section["bars"])), length, _notes(section["melody"], known, length), chords
        )
    return found


def form(path: Path) -> list[str]:
    """The names of the sections in playing order."""
    names: list[str] = tomllib.loads(path.read_text(encoding="utf-8"))["form"].split()
    return names


def _cells(text: str) -> list[str]:
    return [cell.strip() for line in text.splitlines() for cell in line.split("|") if cell.strip()]


def _notes(text: str, known: dict[str, int], bar_length: int) -> tuple[Note, ...]:
    notes: list[Note] = []
    at, tied = 0, False
    for number, bar in enumerate(_cells(text)):
        read = bar_notes(bar, known)
        if number == 0 and (short := sum(length for _, length, _ in read)) < bar_length:
            at = -short  # a pickup
        for pitch, length, goes_on in read:
            if tied and notes[-1].pitch == pitch:
                notes[-1] = Note(notes[-1].start, notes[-1].length + length, pitch)
            else:
                notes.append(Note(at, length, pitch))
            at, tied = at + length, goes_on
    return tuple(notes)


def _chords(text: str, beats: int, unit: int) -> tuple[tuple[int, frozenset[int]], ...]:
    chords: list[tuple[int, frozenset[int]]] = []
    at, bar_length = 0, beats * 8 // unit
    for cell in _cells(text):
        words = cell.split()
        if words == ["%"]:
            chords.append((at, chords[-1][1]))
            at += bar_length
            continue
        lengths = _lengths(words, beats, unit)
        for word, length in zip((word for word in words if word != "/"), lengths, strict=True):
            chords.append((at, _tones(word.partition(":")[0])))
            at += length
    return tuple(chords)


def _lengths(words: list[str], beats: int, unit: int) -> list[int]:
    """How many eighths each chord of a bar lasts."""
    if "/" in words:  # a slash is a pulse: as many as there are words
        pulse = beats * 8 // unit // len(words)
        starts = [number for number, word in enumerate(words) if word != "/"]
        return [pulse * (end - start) for start, end in zip(starts, [*starts[1:], len(words)])]
    if ":" in words[0]:
        return [int(word.partition(":")[2]) * 8 // unit for word in words]
    return [beats * 8 // unit // len(words)] * len(words)


def _tones(symbol: str) -> frozenset[int]:
    if symbol == "N.C.":
        return frozenset()
    match = re.fullmatch(r"([A-G])([#b]?)(.*?)(?:/[A-G][#b]?)?", symbol)
    assert match is not None, symbol
    root = _SEMITONES[match[1]] + {"#": 1, "b": -1, "": 0}[match[2]]
    return frozenset((root + tone) % 12 for tone in TONES[match[3]])
