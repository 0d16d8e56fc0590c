"""The right hand on the stand: which notes of the melody are due now and next, and the bars of now and next as they are written.

What a drill hides of a bar, it hides of its melody: the marks on the keys first, then the names, but for the first note of each phrase, then
that too. Every note that is drawn is taken from here or from `draw.cues`.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from companion.arranging.choice import FILL, TREMOLO
from companion.base.latest import latest
from companion.chart.model import PlacedChord
from companion.chart.phrases import melody_phrases
from companion.export.notation import Span, quarters
from companion.export.score import HIDDEN, ScoreBar, Sung, score_of
from companion.groove.keys_struck import keys_struck
from companion.groove.model import GrooveChord
from companion.groove.patterns import kinds_struck, lowest_struck, strikes_early
from companion.hands.left.model import Choice
from companion.hands.left.struck import pitches_struck
from companion.practice.drills.fading import Cue
from companion.session.ornaments import with_fills
from companion.session.right_hand import RightHandNote, played_notes, right_hand
from companion.session.stand import Stand
from companion.theory.pitch import Pitch
from companion.tui.draw.keyboard import KeyNote
from companion.tui.draw.staff import StaffBar, staff_range
from companion.tui.draw.view import View
from companion.tui.draw.words import signs

MOST_WHITE_KEYS = 26  # of three columns each in eighty; what is wider is shown phrase by phrase


def notes_of(stand: Stand, index: int) -> tuple[RightHandNote, ...]:
    """The notes of the melody that begin in a bar of the chorus."""
    bar = stand.bars[index]
    return tuple(note for note in played_notes(stand) if bar.start_tick <= note.note.start_tick < bar.end_tick)


def shown_notes(view: View, index: int) -> tuple[RightHandNote, ...]:
    """Those of a bar that may be seen: with less than the names of notes, down to the chord's root letter, only what opens a phrase."""
    notes = notes_of(view.stand, index)
    cue = view.cue(index)
    if cue >= Cue.NAMES:
        return notes
    opening = _openings(view.stand) if cue >= Cue.ROOT else frozenset()
    return tuple(note for note in notes if note.note.start_tick in opening)


@latest
def _openings(stand: Stand) -> frozenset[int]:
    return frozenset(phrase.start_tick for phrase in melody_phrases(stand.melody, stand.bars))


def due(view: View) -> tuple[tuple[RightHandNote, ...], tuple[RightHandNote, ...]]:
    """The note of now, held ones too, and the one after it, whatever the cues; () for none."""
    here = notes_of(view.stand, view.here)
    if view.counting_in:
        return (), here[:1]
    tick = _tick(view)
    if view.waiting is not None:
        names = {midi % 12 for midi in view.waiting.right}
        now = [note for note in here if note.note.start_tick >= tick and note.midi % 12 in names]
    else:
        end = tick + view.stand.bars[view.here].meter.pulse_ticks
        now = [note for note in here if tick <= note.note.start_tick < end] or [
            note for note in played_notes(view.stand) if note.note.start_tick <= tick < note.note.end_tick
        ]
    last = now[0].note.start_tick if now else tick
    after = [note for note in here if note.note.start_tick > last]
    return tuple(now[:1]), tuple(after[:1]) or notes_of(view.stand, view.stand.next_index(view.here))[:1]


def _tick(view: View) -> int:
    """Of the pulse of now, or of the chord that is waited for."""
    bar = view.stand.bars[view.here]
    if view.waiting is not None:
        return bar.start_tick + bar.meter.ticks(bar.chords[view.chord_no].beat)
    pulse = view.beat.pulse if view.sounding and view.beat is not None else 0
    return bar.start_tick + pulse * bar.meter.pulse_ticks


def right_keys(view: View) -> tuple[tuple[KeyNote, ...], tuple[KeyNote, ...]]:
    """Now and next for the drawn keyboard, as far as it may mark them; nothing where the right hand is not played."""
    if view.hands == "left":
        return (), ()
    now, coming = (
        tuple(key for note in notes if _is_marked(view, note) for key in _key_notes(note)) for notes in due(view)
    )
    return now, coming


def graces(view: View) -> dict[int, int]:
    """For the drawn keyboard: the key of each grace before what it marks of the right hand -> the key that it slides into."""
    if view.hands == "left":
        return {}
    slides = _slides(view.stand)
    return {
        slides[note.note.start_tick].midi: note.midi
        for notes in due(view)
        for note in notes
        if note.note.start_tick in slides and _is_marked(view, note)
    }


def _is_marked(view: View, note: RightHandNote) -> bool:
    index = next(bar.index for bar in reversed(view.stand.bars) if bar.start_tick <= max(0, note.note.start_tick))
    return view.cue(index) >= Cue.KEYS


def _key_notes(note: RightHandNote) -> tuple[KeyNote, ...]:
    """From the lowest, the melody last."""
    assert note.note.pitch is not None
    under = (
        KeyNote(other.midi, signs(other.name.rstrip("0123456789")), str(other.finger), "", "right")
        for other in note.company
    )
    return (*under, KeyNote(note.midi, signs(note.note.pitch.tone.name), str(note.finger), "", "right"))


def _struck_keys(stand: Stand) -> list[int]:
    """Every key of the right hand."""
    return [key for note in played_notes(stand) for key in (note.midi, *(other.midi for other in note.company))]


def key_window(view: View) -> tuple[int, int]:
    """The lowest and the highest key to be seen: those of the chosen hands in the whole song, where they fit, else in the phrase of now."""
    hand = view.stand.hand
    lowest, high = lowest_struck(view.pattern, hand.lowest_root), hand.highest_top
    low = lowest
    sung = _struck_keys(view.stand) if view.hands != "left" else []
    if not sung:
        return low, high
    if view.hands == "right":
        low, high = min(sung), max(sung)
    low, high = min(low, *sung), max(high, *sung)
    if (high - low) * 7 // 12 <= MOST_WHITE_KEYS:
        return low, high
    tick = view.stand.bars[view.here].start_tick
    phrases = melody_phrases(view.stand.melody, view.stand.bars)
    phrase = next((each for each in phrases if tick < each.end_tick), phrases[-1])
    keys = [note.pitch.midi for note in phrase.notes if note.pitch is not None]
    return (min(keys), max(keys)) if view.hands == "right" else (min(lowest, *keys), max(hand.highest_top, *keys))


# --- as it is written


def written_bars(view: View, count: int) -> list[StaffBar]:
    """So many bars from the one of now on, with what may be seen of them, and what is due now in the first."""
    indices = [view.here]
    while len(indices) < count:
        indices.append(view.stand.next_index(indices[-1]))
    bars = []
    for place, index in enumerate(indices):
        seen, is_whole = shown_notes(view, index), view.cue(index) >= Cue.NAMES
        notes = notes_of(view.stand, index)
        fingers = [_fingers(note, with_company=is_whole) if note in seen else "" for note in notes]
        marks = [_mark(view.stand, note) for note in notes] if is_whole else []
        bars.append(StaffBar(_seen(view, index), _now_of(view) if not place else None, fingers, marks))
    return bars


def _fingers(note: RightHandNote, *, with_company: bool) -> str:
    """From the lowest: "1-4"."""
    under = [str(other.finger) for other in note.company] if with_company else []
    return "-".join([*under, str(note.finger)])


def _mark(stand: Stand, note: RightHandNote) -> Pitch | str | None:
    """See StaffBar."""
    return _marks(stand).get(note.note.start_tick)


@latest
def _slides(stand: Stand) -> dict[int, Pitch]:
    """The grace before a note, by the tick at which the note begins, for a pass of the loop."""
    notes = right_hand(stand)
    return {notes[number].note.start_tick: slide.pitch for number, slide in stand.ornaments().slides.items()}


@latest
def _marks(stand: Stand) -> dict[int, Pitch | str]:
    """By the tick at which the note begins, for a pass of the loop."""
    there, notes = stand.ornaments(), right_hand(stand)
    tremolos = {notes[number].note.start_tick: TREMOLO for number in there.tremolos}
    fills = {fill.notes[0].tick: FILL for fill in there.fills.values()}
    return {**fills, **tremolos, **_slides(stand)}


def _now_of(view: View) -> tuple[Fraction, Fraction] | None:
    """From and to, in quarters from the bar line, what is due now."""
    if not view.sounding:
        return None
    bar, tick, ticks = view.stand.bars[view.here], _tick(view), 1
    if view.waiting is None:
        ticks = bar.meter.pulse_ticks
    elif now := due(view)[0]:
        tick = now[0].note.start_tick
    return quarters(tick - bar.start_tick), quarters(tick - bar.start_tick + ticks)


def _seen(view: View, index: int) -> ScoreBar:
    """A bar as far as its cue lets it be seen."""
    score, cue = _score_bar(view.stand, index), view.cue(index)
    if cue >= Cue.NAMES:
        return score
    whole = (Span(Fraction(0), score.quarters, HIDDEN),)
    symbols = tuple(replace(symbol, root_only=cue < Cue.SYMBOL) for symbol in score.symbols) if cue >= Cue.ROOT else ()
    starts = {quarters(note.note.start_tick - view.stand.bars[index].start_tick) for note in shown_notes(view, index)}
    melody = tuple(span if span.start in starts else replace(span, what=HIDDEN) for span in score.melody)
    return replace(score, symbols=symbols, left=whole, melody=melody if starts else whole)


@latest
def _bars_of(stand: Stand) -> dict[int, ScoreBar]:
    """The bars of this stand that were drawn, by index; another stand begins with none."""
    return {}


def _score_bar(stand: Stand, index: int) -> ScoreBar:
    known = _bars_of(stand)
    if index not in known:
        played = with_fills(stand.melody, stand.ornaments())
        # What is struck early is written in the bar before, so there its neighbours count.
        beside = (index - 1, index, index + 1) if strikes_early(stand.pattern) else (index,)
        loop = tuple(each for each in beside if each == index or each in stand.loop)
        whole = score_of(replace(stand, loop=loop), written_pattern=True, played=played)
        bar = _with_company(stand, index, next(bar for bar in whole.bars if bar.number == index + 1))
        ends = index + 1 == len(stand.bars) or stand.bars[index + 1].bar == 1
        known[index] = replace(bar, ends_section=ends)
    return known[index]


def _with_company(stand: Stand, index: int, bar: ScoreBar) -> ScoreBar:
    """The bar with what sounds under each note of its melody, held ones as long as their chord."""
    if not stand.harmonised:
        return bar
    line = stand.bars[index].start_tick
    under: dict[Fraction, tuple[Pitch, ...]] = {}
    for voiced, note in zip(stand.harmonised, right_hand(stand), strict=True):
        start = voiced.note.start_tick
        if start >= line or voiced.added_end_tick > line:
            under[quarters(max(start, line) - line)] = tuple(Pitch.parse(other.name) for other in note.company)
    melody = tuple(
        replace(span, what=replace(span.what, under=under.get(span.start, ()))) if isinstance(span.what, Sung) else span
        for span in bar.melody
    )
    return replace(bar, melody=melody)


@latest
def lines_of(stand: Stand) -> tuple[int, int]:
    """The lines of the staves (see `staff_range`) that hold all of the song for the hands that are played, so that they stand still."""
    right = played_notes(stand) if stand.hands != "left" else ()
    pitches = [note.note.pitch for note in right if note.note.pitch is not None]
    pitches += [Pitch.parse(other.name) for note in right for other in note.company]
    if stand.hands != "right":
        chords = (chord for bar in stand.bars for chord in stand.choices_at(bar.index))
        pitches += [pitch.plain for placed, choice in chords for pitch in _struck(stand.pattern, placed, choice)]
    return staff_range(pitches, stand.hands)


def _struck(pattern: str, placed: PlacedChord, choice: Choice) -> tuple[Pitch, ...]:
    """All that a rhythm may strike of a chord."""
    if choice.shell is None:
        return ()
    chord = GrooveChord(0, 0, placed.chord, choice.shell.midi)
    keys = {key for kind in kinds_struck(pattern) for key in keys_struck(kind, chord)}
    return pitches_struck(choice, placed.chord, sorted(keys))


def has_melody(stand: Stand) -> bool:
    """Whether there is anything for the right hand."""
    return any(note.pitch is not None for note in stand.melody)
