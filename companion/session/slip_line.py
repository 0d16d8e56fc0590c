"""What slipped in a take, a line for each chord of the left hand and each note of the melody, with the notes by their names.

A slip of the right hand is found by the note of the melody; what lies with it is "under the melody".
"""

from __future__ import annotations

from collections.abc import Sequence

from companion.chart.model import FormBar
from companion.hands.hand import pitch_name
from companion.practice.drills.free_answers import spelled
from companion.practice.marking.summary import reason_words, slip_words
from companion.practice.model import ChordMark, StrikeMark, WrongNote
from companion.session.stand import Stand
from companion.theory.chord import Chord

_KIND_WORDS = {
    "other shell": "from another shell",
    "neighbour": "a neighbour",
    "wrong octave": "the wrong octave",
    "other": "",
}


def slip_line(stand: Stand, mark: ChordMark, bars: Sequence[FormBar] | None = None) -> str:
    """ "A bar 2   melody F#5 under the melody: D5 missing". stand: in the key that was played; bars: by the mark's index, None for those of the chorus."""
    bar = (bars or stand.bars)[mark.index]
    placed = bar.chords[mark.chord]
    strike = next((strike for strike in mark.strikes if strike.verdict == mark.verdict), mark.strikes[0])
    names = _Names(stand, placed.chord, max(strike.expected.notes) if mark.part == "right" else None)
    symbol = placed.symbol if names.melody is None else f"melody {names.of(names.melody)}"
    words = slip_words(mark.verdict, mark.offset_ms, strike.expected.beat_s)
    if mark.reason:
        words = reason_words(mark.reason, words, [names.of(note) for note in strike.played])
    elif mark.verdict in ("wrong", "missing"):
        words = _of_notes(strike, names) or words
    slipped = [each.expected.number + 1 for each in mark.strikes if each.verdict != "right"]
    where = f" (strike {', '.join(map(str, slipped))} of {len(mark.strikes)})" if len(mark.strikes) > 1 else ""
    return f"  {bar.section} bar {bar.bar:<3} {symbol:<10} {words}{where}"


class _Names:
    """Names of keys. melody: the key of the note of the melody, None in the left hand."""

    def __init__(self, stand: Stand, chord: Chord | None, melody: int | None) -> None:
        self._stand, self._chord, self.melody = stand, chord, melody

    def of(self, note: int) -> str:
        """A note of the melody as it is written there, in whatever octave; any other as the chord or the key has it."""
        if note == self.melody:
            for each in self._stand.melody:
                if each.pitch is not None and (each.pitch.midi - note) % 12 == 0:
                    return each.pitch.tone.at_or_above(note).name
        if self._chord is None:
            return pitch_name(note)
        return spelled(note, self._chord, self._stand.key).at_or_above(note).name

    def under(self, note: int) -> str:
        """What goes before what is said of a due note: nothing but where it lies under the melody."""
        return "" if self.melody in (None, note) else "under the melody: "


def _of_notes(strike: StrikeMark, names: _Names) -> str:
    """Which notes were wrong and which were missing, where not all of them were."""
    said = [names.under(wrong.instead_of) + _wrong_words(wrong, names) for wrong in strike.wrong]
    if strike.missing and (strike.keys or strike.wrong):
        lacking: dict[str, list[str]] = {}
        for note in strike.missing:
            lacking.setdefault(names.under(note), []).append(names.of(note))
        said += [f"{under}{' '.join(notes)} missing" for under, notes in lacking.items()]
    return "; ".join(said)


def _wrong_words(wrong: WrongNote, names: _Names) -> str:
    kind = _KIND_WORDS[wrong.kind]
    return f"{names.of(wrong.note)} instead of {names.of(wrong.instead_of)}" + (f", {kind}" if kind else "")
