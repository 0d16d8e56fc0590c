"""Writing melodies in the notation that melody.py reads, and moving a written one to another key.

What is written keeps to signs on which every reader of ABC agrees: an accidental stands wherever an earlier one of
the same letter in the bar could leave a doubt, and a note held over a barline has its accidental again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import pairwise
from math import lcm

from companion.chart.grid import grid
from companion.chart.melody import ACCIDENTAL_SIGNS, UNIT_TICKS, MelodyNote, scan_melody
from companion.theory.key import Key, move_tone
from companion.theory.meter import Meter
from companion.theory.pitch import LETTER_SEMITONES, Pitch
from companion.theory.symbols import readable, scale_of

_SIGN_OF = {alter: sign for sign, alter in ACCIDENTAL_SIGNS.items()}
# One bar's piece of a note: ticks, pitch, whether it is held on into the next piece.
_Piece = tuple[int, Pitch | None, bool]


def write_melody(notes: Iterable[MelodyNote], meter: Meter, key: Key, bar_count: int, pickup_ticks: int = 0) -> str:
    """The text of a melody of `bar_count` bars; `parse_melody` reads the same notes from it.

    Gaps are filled with rests. pickup_ticks: the song's pickup, in the melody of its first section; it is written
    where a note starts in it.
    """
    pickup, cells = melody_cells(notes, meter, key, bar_count, pickup_ticks)
    # A bar line at the beginning says that the first bar is no pickup.
    text = f"{pickup} |\n" if pickup else "| " if pickup_ticks else ""
    return text + grid(len(cells), lambda first, columns: cells[first : first + columns])


def melody_cells(
    notes: Iterable[MelodyNote], meter: Meter, key: Key, bar_count: int, pickup_ticks: int = 0
) -> tuple[str, list[str]]:
    """The text of the pickup, "" where no note starts in it, and of each bar; see `write_melody`."""
    notes = list(notes)
    has_pickup = pickup_ticks > 0 and any(note.start_tick < 0 for note in notes)
    bars = _bars(notes, -pickup_ticks if has_pickup else 0, meter, bar_count)
    cells = [_bar_text(pieces, meter, key, -pickup_ticks % meter.pulse_ticks if at < 0 else 0) for at, pieces in bars]
    return (cells.pop(0) if has_pickup else ""), cells


def _bars(notes: list[MelodyNote], start: int, meter: Meter, bar_count: int) -> list[tuple[int, list[_Piece]]]:
    """(start_tick, pieces) of each bar, notes cut at the barlines."""
    edges = ([start] if start else []) + [number * meter.bar_ticks for number in range(bar_count + 1)]
    spans = list(_filled(notes, edges[0], edges[-1]))
    bars, at = [], 0
    for left, right in pairwise(edges):
        pieces: list[_Piece] = []
        while at < len(spans) and spans[at].start_tick < right:
            span = spans[at]
            end = span.end_tick
            pieces.append(
                (
                    min(end, right) - max(span.start_tick, left),
                    span.pitch,
                    span.pitch is not None and (end > right or span.is_tied),
                )
            )
            if end > right:
                break
            at += 1
        bars.append((left, pieces))
    return bars


def _filled(notes: list[MelodyNote], start: int, end: int) -> Iterator[MelodyNote]:
    at = start
    for note in sorted(notes, key=lambda note: note.start_tick):
        ticks = min(note.end_tick, end) - max(note.start_tick, at)
        if ticks > 0:
            begin = max(note.start_tick, at)
            if begin > at:
                yield MelodyNote(at, begin - at, None)
            yield MelodyNote(begin, ticks, note.pitch, note.is_tied and begin + ticks == end)
            at = begin + ticks
    if at < end:
        yield MelodyNote(at, end - at, None)


def _bar_text(pieces: list[_Piece], meter: Meter, key: Key, at: int) -> str:
    """The notes of a bar, grouped by the pulse. at: where in a pulse the bar starts."""
    accidentals = Accidentals(key)
    words: list[str] = []
    while pieces:
        group, pieces = _first_group(pieces)
        odd = lcm(*(_odd(ticks) for ticks, _, _ in group))
        stretch = Fraction(odd, 1 << odd.bit_length() - 1)  # 3/2, 5/4, 15/8
        word = "" if odd == 1 else _tuplet_sign(odd, len(group))
        for ticks, pitch, is_tied in group:
            word += (accidentals.write(pitch) if pitch else "z") + _length_text(ticks * stretch / UNIT_TICKS)
            word += "-" if is_tied else ""
        is_on_pulse = at % meter.pulse_ticks == 0
        if words and not is_on_pulse and not word.startswith("("):
            words[-1] += word
        else:
            words.append(word)
        at += sum(ticks for ticks, _, _ in group)
    return " ".join(words)


def _first_group(pieces: list[_Piece]) -> tuple[list[_Piece], list[_Piece]]:
    """The first note, or as many notes as make one tuplet, and the rest."""
    total = 0
    for number, (ticks, _, _) in enumerate(pieces, 1):
        total += ticks
        if _odd(total) == 1 or number == len(pieces):
            return pieces[:number], pieces[number:]
    raise AssertionError("a bar has notes")


def _odd(ticks: int) -> int:
    """What keeps a length from being a plain note value: 3 in an eighth of a triplet, 1 in an eighth."""
    below = Fraction(ticks, UNIT_TICKS).denominator
    while below % 2 == 0:
        below //= 2
    return below


def _tuplet_sign(odd: int, count: int) -> str:
    if odd == count == 3:
        return "(3"
    return f"({odd}:{1 << odd.bit_length() - 1}:{count}"


def _length_text(units: Fraction) -> str:
    if units == 1:
        return ""
    if units.denominator == 1:
        return str(units)
    above = "" if units.numerator == 1 else str(units.numerator)
    return f"{above}/{units.denominator}"


class Accidentals:
    """Which accidentals a bar's notes need in writing."""

    def __init__(self, key: Key) -> None:
        self.key = key
        self._anywhere: dict[str, int] = {}  # letter -> the last sign written for it
        self._here: dict[tuple[str, int], int] = {}  # the same for one octave

    def write(self, pitch: Pitch) -> str:
        """Sign, letter and octave of the bar's next note."""
        letter, alter = pitch.tone.letter, pitch.tone.alter
        known = self.key.signature(letter)
        anywhere = self._anywhere.get(letter, known)
        here = self._here.get((letter, pitch.octave), known)
        sign = ""
        if not alter == anywhere == here:
            sign = _SIGN_OF[alter]
            self._anywhere[letter] = self._here[letter, pitch.octave] = alter
        if pitch.octave >= 5:
            return sign + letter.lower() + "'" * (pitch.octave - 5)
        return sign + letter + "," * (4 - pitch.octave)


def move_pitch(pitch: Pitch, old: Key, new: Key, semitones: int) -> Pitch:
    """The pitch `semitones` away, spelled in `new` as it was in `old`, without double signs and strange white keys."""
    tone = readable(move_tone(pitch.tone, old.tonic, new.tonic), scale_of(new))
    natural = pitch.midi + semitones - tone.alter - LETTER_SEMITONES[tone.letter]
    return Pitch(tone, natural // 12 - 1)


def move_melody(text: str, meter: Meter, old: Key, new: Key, semitones: int, pickup_ticks: int) -> str | None:
    """The melody in another key, its lengths and its lines as they were written; None where it cannot be read.

    semitones: how far it moves, the distance of the tonics up to whole octaves. pickup_ticks: see `parse_melody`.
    """
    bars, faults = scan_melody(text, (), meter, old, None, pickup_ticks)
    if faults:
        return None
    parts: list[str] = []
    done = 0
    for bar in bars:
        accidentals = Accidentals(new)
        for written in bar.notes:
            if written.pitch is not None:
                moved = move_pitch(written.pitch, old, new, semitones)
                if not 0 <= moved.midi <= 127:
                    return None
                parts += text[done : written.span[0]], accidentals.write(moved)
                done = written.span[1]
    return "".join(parts) + text[done:]
