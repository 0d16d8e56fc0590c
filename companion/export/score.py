"""The loop as a score: bars with the written notes of the left hand and the melody, and what the reader may see of
each.

The one shape from which MusicXML, the engraved sheet and the faded sheet are made.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from companion.chart.melody import MelodyNote
from companion.chart.model import FormBar, PlacedChord
from companion.export.notation import Span, filled, quarters
from companion.export.written_out import Struck
from companion.groove.keys_struck import SHELL
from companion.groove.model import GrooveBar, Strike
from companion.groove.strikes import PICKUP, NoteInBar, bar_strikes, melody_by_bar
from companion.hands.left.model import Choice
from companion.hands.left.struck import fingers_struck, pitches_struck
from companion.practice.drills.fading import FULL, Cue
from companion.session.right_hand import right_hand
from companion.session.stand import Stand
from companion.theory.chord import Chord
from companion.theory.key import Key
from companion.theory.meter import Meter
from companion.theory.pitch import Pitch

HIDDEN = "hidden"  # a span that lasts, but of which nothing may be seen
Placed = tuple[tuple[PlacedChord, Choice], ...]


@dataclass(frozen=True, slots=True)
class Fingered:
    """The shell to write. fingers: "5-2", "" where it was struck before."""

    lower: Pitch
    upper: Pitch
    fingers: str


@dataclass(frozen=True, slots=True)
class Sung:
    """A note of the melody within one bar. from_before, goes_on: tied over the bar line at its start, at its end. finger: 1 to 5 where
    one is printed, and the note begins here. under: what sounds with it below, from the lowest."""

    pitch: Pitch
    from_before: bool = False
    goes_on: bool = False
    finger: int | None = None
    under: tuple[Pitch, ...] = ()


@dataclass(frozen=True, slots=True)
class Symbol:
    """A chord symbol above the bar. start: in quarters from the bar line. chord: None for N.C. root_only: all that
    may be seen is the root's letter."""

    start: Fraction
    chord: Chord | None
    root_only: bool = False


@dataclass(frozen=True, slots=True)
class MoreVoice:
    """A voice beside the first of a hand, in one bar. hand: "left" or "right"."""

    hand: str
    spans: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class ScoreBar:
    """number: as printed, 0 for a pickup. section: the mark above it, "" inside a section. ends_section: a double bar
    line follows. left: spans of Fingered, Struck or HIDDEN; melody: spans of Sung; both fill the bar. notes: (start, words)
    where the notes are named in words instead of written. length: of a pickup, in quarters; None for a whole bar. opens_repeat: a repeat begins here;
    closes_repeat: how often what it closes is played, 0 where none ends; ending: 1 for a bar of the first ending and so on, 0 for none. more: voices beside the first of
    each staff. words: said above it, "" for none; tempo_bpm: where it begins, None for the tune's."""

    number: int
    meter: Meter
    key: Key
    section: str
    ends_section: bool
    symbols: tuple[Symbol, ...]
    left: tuple[Span, ...]
    melody: tuple[Span, ...]
    notes: tuple[tuple[Fraction, str], ...] = ()
    length: Fraction | None = None
    opens_repeat: bool = False
    closes_repeat: int = 0
    ending: int = 0
    more: tuple[MoreVoice, ...] = ()
    words: str = ""
    tempo_bpm: float | None = None

    @property
    def quarters(self) -> Fraction:
        """How long the bar is written, in quarters."""
        return quarters(self.meter.bar_ticks) if self.length is None else self.length


@dataclass(frozen=True, slots=True)
class Score:
    """title, feel: for the head. tempo_bpm: pulses a minute. hands: whose notes are written, one of chart.lesson.HANDS. choruses: how often the form is played, of which the last
    is printed."""

    title: str
    key: Key
    tempo_bpm: float
    feel: str
    bars: tuple[ScoreBar, ...]
    hands: str = "both"
    choruses: int = 1

    @property
    def has_melody(self) -> bool:
        """Whether any bar has a note of a melody."""
        return any(span.what is not None for bar in self.bars for span in bar.melody)


@dataclass(frozen=True, slots=True)
class _Melody:
    """What is sung in a bar. fingers: by the tick at which a note begins."""

    pieces: Sequence[NoteInBar]
    fingers: Mapping[int, int]

    def spans(self, start_tick: int, ticks: int) -> tuple[Span, ...]:
        """From a tick of the bar so many on, filled with rests; () where it has no note."""
        spans = []
        for piece in self.pieces:
            assert piece.note.pitch is not None  # rests are no pieces
            start, end = (quarters(tick - start_tick) for tick in (piece.tick, piece.tick + piece.ticks))
            finger = None if piece.held else self.fingers.get(piece.note.start_tick)
            spans.append(Span(start, end - start, Sung(piece.note.pitch, piece.held, piece.goes_on, finger)))
        return filled(spans, quarters(ticks)) if spans else ()


def score_of(
    stand: Stand,
    written_pattern: bool = False,
    cues: Mapping[int, Cue] | None = None,
    hands: str | None = None,
    *,
    fingers: bool = False,
    played: Sequence[MelodyNote] | None = None,
) -> Score:
    """The stand's loop as a score. hands: whose notes are written, None for all there are. fingers: whether the melody has them too. played: the melody, None for
    that of the stand.

    written_pattern: the left hand's rhythm written out, else each shell once for as long as its chord.
    cues: what may be seen of each bar of the chorus by its index; None shows all.
    """
    # A faded sheet leaves the melody out: it is no cue of the drill, and would tell of the chords.
    melody = {} if cues else melody_by_bar(stand.melody if played is None else played, stand.bars)
    cues = cues or {}
    by_tick = {note.note.start_tick: note.finger for note in right_hand(stand)} if fingers else {}
    grooves = stand.arrangement().bars if written_pattern else (None,) * len(stand.loop)
    bars = [
        _bar(stand, _Melody(melody.get(index, ()), by_tick), position, groove, cues.get(index, FULL))
        for position, (index, groove) in enumerate(zip(stand.loop, grooves, strict=True))
    ]
    pickup = (
        [_pickup(stand, _Melody(melody.get(PICKUP, ()), by_tick), not cues)]
        if stand.loop[0] == 0 and stand.song.pickup
        else []
    )
    song = stand.song
    return Score(song.title, song.key, stand.tempo_bpm, song.feel, tuple(pickup + bars), hands or "both")


def printed_name(pitch: Pitch) -> str:
    """ "E♭3": flats and sharps as in print."""
    return pitch.name.replace("b", "♭").replace("#", "♯")


def _bar(stand: Stand, melody: _Melody, position: int, groove: GrooveBar | None, cue: Cue) -> ScoreBar:
    index = stand.loop[position]
    bar = stand.bars[index]
    placed = stand.choices_at(index)
    ends = index + 1 == len(stand.bars) or stand.bars[index + 1].bar == 1
    symbols, names = [], []
    for chord, choice in placed:
        start = _quarters(chord.beat, bar.meter)
        is_printed = bool(start or not position or stand.loop[position - 1] != index - 1 or not _is_early(stand, index))
        if cue >= Cue.ROOT and is_printed:
            symbols.append(Symbol(start, chord.chord, root_only=cue == Cue.ROOT))
        if cue == Cue.NAMES and choice.shell:
            names.append((start, " ".join(map(printed_name, (choice.shell.lower, choice.shell.upper)))))
    whole = Span(Fraction(0), quarters(bar.meter.bar_ticks))
    shells = _left(stand, bar, placed, groove) if cue >= FULL else _hidden(bar, placed, cue)
    return ScoreBar(
        number=index + 1,
        meter=bar.meter,
        key=stand.song.sections[bar.section].key,
        section=bar.section if bar.bar == 1 or position == 0 else "",
        ends_section=ends or position + 1 == len(stand.loop),
        symbols=tuple(symbols),
        left=shells,
        melody=melody.spans(0, bar.meter.bar_ticks) or (whole,),
        notes=tuple(names),
    )


def _left(stand: Stand, bar: FormBar, placed: Placed, groove: GrooveBar | None) -> tuple[Span, ...]:
    """The shells of a bar, each for its chord's length or in the pattern's rhythm, with rests between."""
    spans: list[Span] = []
    starts = {}
    for chord, choice in placed:
        start, length = _quarters(chord.beat, bar.meter), _quarters(chord.beats, bar.meter)
        starts[bar.meter.ticks(chord.beat)], starts[bar.meter.ticks(chord.beat + chord.beats)] = start, start + length
        spans.append(Span(start, length, _fingered(choice)))
    if groove is None:
        return tuple(spans)
    struck: list[Span] = []
    for strike in bar_strikes(stand.pattern, groove, "left"):
        chord, choice = (*placed, *_coming(stand, bar))[strike.chord]
        # The groove counts whole ticks; a chord's own places are exact.
        start, end = (starts.get(tick, quarters(tick)) for tick in (strike.tick, strike.end_tick))
        struck.append(Span(start, end - start, _struck(strike, chord, choice)))
    return filled(struck, quarters(bar.meter.bar_ticks))


def _coming(stand: Stand, bar: FormBar) -> Placed:
    """The chord that the next bar of the loop begins with, which may be struck early."""
    loop = list(stand.loop)
    after = loop[loop.index(bar.index) + 1 :][:1]
    return stand.choices_at(after[0])[:1] if after else ()


def _struck(strike: Strike, chord: PlacedChord, choice: Choice) -> Fingered | Struck | None:
    again = strike.number > 0
    if choice.shell is None or (strike.keys == SHELL and not strike.held and not strike.goes_on):
        return _fingered(choice, again)
    fingers = () if strike.held or (again and strike.keys == SHELL) else fingers_struck(choice, strike.notes)
    return Struck(pitches_struck(choice, chord.chord, strike.notes), fingers, strike.held, strike.goes_on)


def _hidden(bar: FormBar, placed: Placed, cue: Cue) -> tuple[Span, ...]:
    """Room without notes. Where no symbol is seen, not even how many chords there are."""
    if cue < Cue.ROOT:
        return (Span(Fraction(0), quarters(bar.meter.bar_ticks), HIDDEN),)
    return tuple(
        Span(_quarters(chord.beat, bar.meter), _quarters(chord.beats, bar.meter), HIDDEN) for chord, _ in placed
    )


def _fingered(choice: Choice, again: bool = False) -> Fingered | None:
    if choice.shell is None:
        return None
    return Fingered(choice.shell.lower, choice.shell.upper, "" if again else choice.fingers)


def _pickup(stand: Stand, melody: _Melody, has_symbols: bool) -> ScoreBar:
    """The bar before the first one: the tune comes in, the left hand waits. has_symbols: whether its chords are shown."""
    first = stand.bars[0]
    whole = Span(Fraction(0), _quarters(stand.song.pickup, first.meter))
    key = stand.song.sections[first.section].key
    ticks = first.meter.ticks(stand.song.pickup)
    sung = melody.spans(-ticks, ticks) or (whole,)
    chords = stand.song.sections[first.section].pickup_chords if has_symbols else ()
    symbols = tuple(Symbol(_quarters(placed.beat, first.meter), placed.chord) for placed in chords)
    return ScoreBar(0, first.meter, key, "", False, symbols, (whole,), sung, length=whole.length)


def _is_early(stand: Stand, index: int) -> bool:
    """Whether the first chord of a bar was struck less than a pulse before it: it is printed where it is struck, once."""
    return index > 0 and is_early(
        stand.bars[index - 1].chords, stand.bars[index - 1].meter, stand.bars[index].chords[0]
    )


def is_early(before: Sequence[PlacedChord], meter: Meter, first: PlacedChord) -> bool:
    """Whether a bar's first chord was struck at the end of the bar before, less than a pulse early. before, meter: of that bar."""
    return len(before) > 1 and meter.ticks(before[-1].beats) < meter.pulse_ticks and before[-1].chord == first.chord


def _quarters(beats: Fraction, meter: Meter) -> Fraction:
    return beats * Fraction(4, meter.unit)
