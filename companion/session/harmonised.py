"""The right hand with its voices: the melody on the stand, harmonised over the shells of the chorus."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from companion.base.latest import latest
from companion.chart.melody import MelodyNote, NotePlace
from companion.chart.model import FormBar, Song
from companion.chart.phrases import melody_phrases
from companion.hands.left.model import Part
from companion.hands.limits import Limit
from companion.hands.right.harmonise import Harmoniser, VoicedPhrase
from companion.hands.right.voicing_rules import FAR_LEAP_MS
from companion.hands.right.voicings import LAST, LIGHT, MelodyStroke, Voicing
from companion.session.note_places import as_written, bar_at, note_places, sounding
from companion.store.own_melody import Fingers
from companion.theory.chord import Chord
from companion.theory.meter import TICKS_PER_QUARTER

PUSH_TICKS = (
    TICKS_PER_QUARTER // 2
)  # a note so shortly before a chord that lasts into it as long or longer is pushed ahead of it


@dataclass(frozen=True, slots=True)
class HarmonisedNote:
    """A melody note with its company. stroke: what it was harmonised from. added_end_tick: where the added notes end, with their chord at the latest."""

    note: MelodyNote
    stroke: MelodyStroke
    voicing: Voicing
    added_end_tick: int

    @property
    def added_ticks(self) -> int:
        """How long they are held."""
        return self.added_end_tick - self.note.start_tick


@dataclass(frozen=True, slots=True)
class ChordSpan:
    """A chord in the chorus, and the keys of its shell."""

    start_tick: int
    end_tick: int
    chord: Chord | None
    shell: tuple[int, ...]


@latest  # asked for each time a loop is played or drawn
def harmonised(
    song: Song,
    bars: tuple[FormBar, ...],
    part: Part,
    written: tuple[MelodyNote, ...],
    played: tuple[MelodyNote, ...],
    own_fingers: Fingers,
    voices: int,
    tensions: bool,
    notes_chosen: Mapping[NotePlace, tuple[str, ...]],
    limits: tuple[Limit, ...],
) -> tuple[HarmonisedNote, ...]:
    """Every note of one chorus of the melody as it is played, in order, its company legal against the shells of `part` at the song's own tempo. See
    session.stand.Stand. notes_chosen: the degrees that the student wants under a note; other choices of an arrangement change nothing here."""
    notes, places = sounding(played), note_places(bars, written)
    of_written = as_written(written, played)
    strokes, ends = _strokes(song, bars, part, notes)
    strokes = [replace(stroke, pin=notes_chosen.get(places[at])) for stroke, at in zip(strokes, of_written)]
    own = [own_fingers.get(places[at]) for at in of_written]
    phrases, at = [], 0
    for phrase in melody_phrases(played, bars):
        first, count = bars[phrase.first_bar], len(phrase.notes)
        held = {place: finger for place, finger in enumerate(own[at : at + count]) if finger is not None}
        upbeat = sum(note.start_tick < first.start_tick for note in phrase.notes)
        strokes[at : at + count] = _in_phrase(strokes[at : at + count], phrase.notes, bars)
        key = song.sections[first.section].key
        phrases.append(VoicedPhrase(tuple(strokes[at : at + count]), key, held, upbeat if upbeat < count else 0))
        at += count
    harmoniser = Harmoniser(voices, tensions, limits)
    voicings = [voicing for phrase in harmoniser.harmonise(phrases) for voicing in phrase]
    return tuple(map(HarmonisedNote, notes, strokes, voicings, ends))


def _in_phrase(
    strokes: Sequence[MelodyStroke], notes: Sequence[MelodyNote], bars: Sequence[FormBar]
) -> tuple[MelodyStroke, ...]:
    """Each told whether it is the phrase's last, or light: off the strong beats, no longer than a pulse until the next, and shortly after another or the phrase's first."""
    found = []
    for number, (stroke, note) in enumerate(zip(strokes, notes, strict=True)):
        bar = bar_at(bars, note.start_tick)
        if number + 1 == len(notes):
            found.append(replace(stroke, place=LAST))
            continue
        if bar is not None:
            pulse, rest = divmod(note.start_tick - bar.start_tick, bar.meter.pulse_ticks)
            is_weak = bool(rest) or pulse not in bar.meter.strong_pulses
            near = notes[number + 1].start_tick - note.start_tick <= bar.meter.pulse_ticks
            since = note.start_tick - notes[number - 1].start_tick if number else 0
            if is_weak and near and since <= 2 * bar.meter.pulse_ticks:
                stroke = replace(stroke, place=LIGHT)
        found.append(stroke)
    return tuple(found)


def _strokes(
    song: Song, bars: Sequence[FormBar], part: Part, notes: Sequence[MelodyNote]
) -> tuple[list[MelodyStroke], list[int]]:
    """Of each note, and where its company ends."""
    spans = spans_of(bars, part)
    starts = [span.start_tick for span in spans]
    rooms = _rooms_ms(song, bars, notes)
    strokes, ends = [], []
    for number, note in enumerate(notes):
        first = max(0, bisect_right(starts, note.start_tick) - 1)
        here, end = _sounding(spans, first, note)
        chords = tuple(dict.fromkeys(span.chord for span in here if span.chord is not None))
        # What stands before the first bar line has no shell under it.
        is_bare = note.start_tick < 0 or any(span.chord is None for span in here)
        shell = tuple(key for span in here for key in span.shell)
        strokes.append(
            MelodyStroke(
                _midi(note),
                note.start_tick,
                rooms[number],
                () if is_bare else chords,
                shell,
                _leap(notes, rooms, number),
            )
        )
        ends.append(end)
    return strokes, ends


def spans_of(bars: Sequence[FormBar], part: Part) -> list[ChordSpan]:
    """Every chord of the chorus with its shell, end to end."""
    placed = [(bar, chord) for bar in bars for chord in bar.chords]
    return [
        ChordSpan(
            bar.start_tick + bar.meter.ticks(chord.beat),
            bar.start_tick + bar.meter.ticks(chord.beat + chord.beats),
            chord.chord,
            choice.shell.midi if choice.shell is not None else (),
        )
        for (bar, chord), choice in zip(placed, part.choices, strict=True)
    ]


def _sounding(spans: Sequence[ChordSpan], first: int, note: MelodyNote) -> tuple[list[ChordSpan], int]:
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


def _rooms_ms(song: Song, bars: Sequence[FormBar], notes: Sequence[MelodyNote]) -> list[float]:
    """From each note to the next, the last one to the first of the chorus that follows."""
    tick_ms = 60_000.0 / song.tempo_bpm / bars[0].meter.pulse_ticks
    starts = [note.start_tick for note in notes]
    following = [*starts[1:], *(bars[-1].end_tick + start for start in starts[:1])]
    return [(after - start) * tick_ms for start, after in zip(starts, following)]


def _leap(notes: Sequence[MelodyNote], rooms: Sequence[float], number: int) -> int:
    """Semitones to the farther of the neighbours that are nearer in time than a far leap takes."""
    near = [
        other for other, room in ((number - 1, rooms[number - 1]), (number + 1, rooms[number])) if room < FAR_LEAP_MS
    ]
    inside = [notes[other] for other in near if 0 <= other < len(notes)]
    return max((abs(_midi(other) - _midi(notes[number])) for other in inside), default=0)


def _midi(note: MelodyNote) -> int:
    assert note.pitch is not None
    return note.pitch.midi
