"""The right hand with its voices: the melody on the stand, harmonised over the shells of the chorus."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from companion.chart.melody import MelodyNote
from companion.chart.model import FormBar
from companion.chart.phrases import melody_phrases
from companion.hands.left.model import Choice
from companion.hands.right.harmonise import Harmoniser, VoicedPhrase
from companion.hands.right.voicing_rules import FAR_LEAP_MS
from companion.hands.right.voicings import MelodyStroke, Voicing
from companion.session.right_hand import note_places
from companion.session.stand import Stand
from companion.store.own_melody import NotePlace
from companion.theory.chord import Chord
from companion.theory.meter import TICKS_PER_QUARTER

PUSH_TICKS = (
    TICKS_PER_QUARTER // 2
)  # a note so shortly before a chord that lasts into it as long or longer is pushed ahead of it
Pins = Mapping[NotePlace, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class HarmonisedNote:
    """A melody note with its company. stroke: what it was harmonised from. added_end_tick: where the added notes end, with their chord at the latest."""

    note: MelodyNote
    stroke: MelodyStroke
    voicing: Voicing
    added_end_tick: int


@dataclass(frozen=True, slots=True)
class _Span:
    start_tick: int
    end_tick: int
    chord: Chord | None
    shell: tuple[int, ...]


def harmonised(stand: Stand, harmoniser: Harmoniser, pins: Pins | None = None) -> tuple[HarmonisedNote, ...]:
    """Every note of one chorus of the melody as it is played, in order, its company legal against the shells on the stand at the song's own tempo.
    pins: place of the note -> degrees under it from the lowest, () for none."""
    notes = [note for note in stand.melody if note.pitch is not None]
    strokes, ends = _strokes(stand, notes, pins or {})
    own = [stand.own_fingers.get(place) for place in note_places(stand.bars, notes)]
    phrases, at = [], 0
    for phrase in melody_phrases(stand.melody, stand.bars):
        first, count = stand.bars[phrase.first_bar], len(phrase.notes)
        held = {place: finger for place, finger in enumerate(own[at : at + count]) if finger is not None}
        upbeat = sum(note.start_tick < first.start_tick for note in phrase.notes)
        key = stand.song.sections[first.section].key
        phrases.append(VoicedPhrase(tuple(strokes[at : at + count]), key, held, upbeat if upbeat < count else 0))
        at += count
    voicings = [voicing for phrase in harmoniser.harmonise(phrases) for voicing in phrase]
    return tuple(map(HarmonisedNote, notes, strokes, voicings, ends))


def _strokes(stand: Stand, notes: Sequence[MelodyNote], pins: Pins) -> tuple[list[MelodyStroke], list[int]]:
    spans = _spans(stand.bars, stand.part.choices)
    starts = [span.start_tick for span in spans]
    places = note_places(stand.bars, notes)
    rooms = _rooms_ms(stand, notes)
    strokes, ends = [], []
    for number, note in enumerate(notes):
        first = max(0, bisect_right(starts, note.start_tick) - 1)
        here, end = _sounding(spans, first, note)
        chords = tuple(dict.fromkeys(span.chord for span in here if span.chord is not None))
        # What stands before the first bar line has no shell under it.
        is_bare = note.start_tick < 0 or any(span.chord is None for span in here)
        assert note.pitch is not None
        strokes.append(
            MelodyStroke(
                note.pitch.midi,
                note.start_tick,
                rooms[number],
                () if is_bare else chords,
                tuple(key for span in here for key in span.shell),
                _leap(notes, rooms, number),
                pins.get(places[number]),
            )
        )
        ends.append(end)
    return strokes, ends


def _spans(bars: Sequence[FormBar], choices: Sequence[Choice]) -> list[_Span]:
    placed = [(bar, chord) for bar in bars for chord in bar.chords]
    return [
        _Span(
            bar.start_tick + bar.meter.ticks(chord.beat),
            bar.start_tick + bar.meter.ticks(chord.beat + chord.beats),
            chord.chord,
            choice.shell.midi if choice.shell is not None else (),
        )
        for (bar, chord), choice in zip(placed, choices, strict=True)
    ]


def _sounding(spans: Sequence[_Span], first: int, note: MelodyNote) -> tuple[list[_Span], int]:
    """The chords that sound while the added notes do, and where these end: with the chord they begin on, or with the next where the note is
    pushed ahead of it; the same chord once more is the same chord."""
    here, end = [spans[first]], spans[first].end_tick
    is_pushed = end - note.start_tick <= PUSH_TICKS and note.end_tick - end >= end - note.start_tick
    for span in spans[first + 1 :]:
        if span.start_tick >= note.end_tick or span.chord is None:
            break
        if span.chord != here[-1].chord:
            if not is_pushed:
                break
            is_pushed = False
        here.append(span)
        end = span.end_tick
    return here, min(end, note.end_tick)


def _rooms_ms(stand: Stand, notes: Sequence[MelodyNote]) -> list[float]:
    """From each note to the next, the last one to the first of the chorus that follows."""
    tick_ms = 60_000.0 / stand.song.tempo_bpm / stand.bars[0].meter.pulse_ticks
    starts = [note.start_tick for note in notes]
    following = [*starts[1:], *(stand.bars[-1].end_tick + start for start in starts[:1])]
    return [(after - start) * tick_ms for start, after in zip(starts, following)]


def _leap(notes: Sequence[MelodyNote], rooms: Sequence[float], number: int) -> int:
    """Semitones to the farther of the neighbours that are nearer in time than a far leap takes."""
    near = [
        other for other, room in ((number - 1, rooms[number - 1]), (number + 1, rooms[number])) if room < FAR_LEAP_MS
    ]
    own = notes[number].pitch
    assert own is not None
    return max(
        (abs(pitch.midi - own.midi) for other in near if 0 <= other < len(notes) and (pitch := notes[other].pitch)),
        default=0,
    )
