"""The song on the stand as a whole tune: what both hands play in each bar, and why."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace

from companion.arranging.beginnings import DOMINANT, OWN, arpeggio, intro
from companion.arranging.cadences import last_chord
from companion.arranging.endings import ending, low_root, shares
from companion.arranging.model import ENDING, FORM, INTRO, ArrangedBar, ArrangedStroke
from companion.arranging.phrase_ends import EndInBar
from companion.base.latest import latest
from companion.chart.loops import WHOLE_FORM
from companion.chart.melody import MelodyNote, NotePlace, chorus_melody
from companion.chart.model import FormBar, Song
from companion.groove.model import GrooveBar, GrooveChord
from companion.groove.ornamented import grace_ticks, halves, tremolo_ticks
from companion.groove.strikes import bar_strikes, struck_early
from companion.hands.left.reason import OPENS, spoken
from companion.hands.left.struck import fingers_struck, pitches_struck
from companion.hands.right.company_reason import company_names, why_company
from companion.hands.right.tremolos import Tremolo
from companion.session.note_places import bar_at, note_places, sounding
from companion.session.ornaments import NONE, Ornaments, is_led_on
from companion.session.right_hand import right_hand
from companion.session.stand import Stand
from companion.session.stand_groove import end_strikes
from companion.theory.meter import Meter

_PICKUP = -1


def arranged(stand: Stand, choruses: int = 1) -> tuple[ArrangedBar, ...]:
    """Every bar: the introduction, a pickup, the form so many times, the ending. All choruses but the last lead back to the first bar. The loop on the stand is of no
    account."""
    after = ending_bars(stand)
    once = _form(stand, FORM, ornaments_once(stand, after))
    if choruses == 1:
        return (*intro_bars(stand), *once, *after)
    whole = stand if stand.loop_name == WHOLE_FORM else stand.with_loop(range(len(stand.bars)), WHOLE_FORM)
    back = _form(whole, FORM, whole.ornaments())
    form = [bar for number in range(1, choruses) for bar in _chorus(whole, back, number)]
    return (*intro_bars(stand), *form, *_chorus(whole, once, choruses), *after)


def _chorus(stand: Stand, bars: tuple[ArrangedBar, ...], number: int) -> Iterator[ArrangedBar]:
    """The bars of a chorus, from 1: sections are counted on, and a pickup is played before the first alone."""
    for bar in bars:
        if number == 1 or bar.bar > 0:
            before = (number - 1) * stand.song.form.count(bar.section)
            yield replace(bar, occurrence=bar.occurrence + before)


def ornaments_once(stand: Stand, ending_after: tuple[ArrangedBar, ...]) -> Ornaments:
    """Those of the form played once, with that ending behind it."""
    first = ending_after[0] if ending_after else None
    then = (first.chords[0], min(first.left[0].keys)) if first is not None and first.left else None
    return stand.ornaments(once=True, then=then)


def intro_bars(stand: Stand) -> tuple[ArrangedBar, ...]:
    """The introduction that was chosen, () for none. What arpeggiates stays alone."""
    song = intro(stand.song, stand.arranged.intro)
    if song is None:
        return ()
    bars = _told(_form(_beside(stand, song), INTRO), "The introduction")
    return _arpeggiated(bars, arpeggio(stand.song)) if stand.arranged.intro == DOMINANT else bars


_LEFT_FINGERS, _RIGHT_FINGERS = (5, 3, 2, 1), (1, 2, 3, 4, 5)  # of a seventh chord, broken upwards (common practice)
_BOTH_HANDS = "The dominant, broken over two octaves: the left hand begins, the right one goes on."


def _arpeggiated(bars: tuple[ArrangedBar, ...], run: Sequence[MelodyNote]) -> tuple[ArrangedBar, ...]:
    """The bars with a run before their one held note, shared by both hands; the left one's shell waits for that note, and is held to the end of the bar."""
    found, line = [], 0
    for bar in bars:
        end = line + bar.meter.bar_ticks
        own = [
            (
                number,
                ArrangedStroke(
                    note.start_tick - line,
                    note.ticks,
                    (note.pitch.midi,),
                    (note.pitch.name,),
                    ((*_LEFT_FINGERS, *_RIGHT_FINGERS)[number],),
                    _BOTH_HANDS if number == 0 else "",
                ),
            )
            for number, note in enumerate(run)
            if line <= note.start_tick < end and note.pitch is not None
        ]
        octave = len(_LEFT_FINGERS)
        shells = tuple(each for each in bar.left if line + each.tick >= run[-1].end_tick)
        shells = _once(shells, bar.meter) if line <= run[-1].end_tick else ()
        held = tuple(replace(each, fingers=_RIGHT_FINGERS[-1:]) if len(each.keys) == 1 else each for each in bar.right)
        left = (*(stroke for number, stroke in own if number < octave), *shells)
        right = (*(stroke for number, stroke in own if number >= octave), *held)
        found.append(replace(bar, left=left, right=right))
        line = end
    return tuple(found)


def ending_bars(stand: Stand) -> tuple[ArrangedBar, ...]:
    """The ending that was chosen, () for none; it slows down, and its last bar is the low root alone."""
    choice = stand.arranged
    song = ending(stand.song, choice.ending)
    if song is None:
        return ()
    bars = _told(_form(_beside(stand, song), ENDING), "The ending")
    meter, is_own = bars[-1].meter, choice.ending == OWN
    slowing = shares(len(bars), meter, choice.slows_to, choice.curve, held=0 if is_own else 2)
    found = [
        replace(bar, shares=pulses, tempo_bpm=bar.tempo_bpm * pulses[0])
        for bar, pulses in zip(bars, slowing, strict=True)
    ]
    if is_own:
        return tuple(found)
    found[-2] = replace(found[-2], left=_once(found[-2].left, meter), right=_once(found[-2].right, meter))
    root, tone = low_root(stand.song), last_chord(stand.song).root
    why = f"{spoken(tone)} alone, low: the end."
    last = ArrangedStroke(0, meter.bar_ticks, (root,), (tone.at_or_above(root).name,), (5,), why)
    found[-1] = replace(found[-1], left=(last,), right=())
    return tuple(found)


def _beside(stand: Stand, song: Song) -> Stand:
    """The introduction or ending on a stand of its own, its quick notes alone."""
    return stand.beside(song, replace(stand.arranged, notes=_quick(song), bars={}))


@latest
def _quick(song: Song) -> dict[NotePlace, tuple[str, ...]]:
    """No company for each of them."""
    notes = chorus_melody(song)
    places = zip(note_places(song.unroll(), notes), sounding(notes), strict=True)
    return {place: () for place, note in places if note.ticks < song.meter.pulse_ticks}


def _told(bars: tuple[ArrangedBar, ...], what: str) -> tuple[ArrangedBar, ...]:
    """It starts here, not the chorus; and its quick notes are alone by nature, not by choice."""

    def told(stroke: ArrangedStroke) -> ArrangedStroke:
        why = "" if len(stroke.keys) == 1 else stroke.why.replace(OPENS, f"{what} starts here")
        return replace(stroke, why=why)

    return tuple(replace(bar, left=tuple(map(told, bar.left)), right=tuple(map(told, bar.right))) for bar in bars)


def _once(strokes: tuple[ArrangedStroke, ...], meter: Meter) -> tuple[ArrangedStroke, ...]:
    """The first of them, held through the bar."""
    return tuple(replace(stroke, ticks=meter.bar_ticks - stroke.tick, inner_ticks=None) for stroke in strokes[:1])


def _form(stand: Stand, stretch: str, ornaments: Ornaments = NONE) -> tuple[ArrangedBar, ...]:
    right = _right(stand, ornaments)
    grooves = struck_early(_groove_bar(stand, bar, ornaments) for bar in stand.bars)
    bars = [
        ArrangedBar(
            stretch,
            bar.section,
            bar.occurrence,
            bar.bar,
            bar.meter,
            stand.tempo_bpm,
            bar.chords,
            _left(stand, bar, ornaments.ends.get(bar.index), grooves[number : number + 2]),
            tuple(right.get(bar.index, ())),
        )
        for number, bar in enumerate(stand.bars)
    ]
    if _PICKUP in right:
        first = stand.bars[0]
        pickup = tuple(right[_PICKUP])
        bars.insert(0, ArrangedBar(stretch, first.section, 1, 0, first.meter, stand.tempo_bpm, (), (), pickup))
    return tuple(bars)


def _groove_bar(stand: Stand, bar: FormBar, ornaments: Ornaments) -> GrooveBar:
    chords = tuple(
        GrooveChord(
            bar.meter.ticks(placed.beat),
            bar.meter.ticks(placed.beats),
            placed.chord,
            choice.shell.midi if choice.shell else (),
        )
        for placed, choice in stand.choices_at(bar.index)
    )
    end = ornaments.ends.get(bar.index)
    pattern_ticks = None if end is None else end.tick
    return GrooveBar(bar.index, bar.meter, chords, pattern_ticks=pattern_ticks, holds=ornaments.holds(bar))


def _left(stand: Stand, bar: FormBar, end: EndInBar | None, grooves: Sequence[GrooveBar]) -> tuple[ArrangedStroke, ...]:
    """The shells in the pattern, the first strike of a chord says why; then what ends a phrase, where something does. grooves: of the bar and of
    the one after it, where there is one."""
    placed = [*stand.choices_at(bar.index), *(stand.choices_at(grooves[1].index)[:1] if len(grooves) > 1 else ())]
    strokes = []
    for strike in bar_strikes(stand.pattern, grooves[0], "left"):
        if strike.held:
            continue
        chord, choice = placed[strike.chord]
        after = bar_strikes(stand.pattern, grooves[1], "left")[:1] if strike.goes_on else ()
        ticks = strike.ticks + sum(held.ticks for held in after)
        names = tuple(pitch.name for pitch in pitches_struck(choice, chord.chord, strike.notes))
        why = choice.why if strike.number == 0 else ""
        strokes.append(
            ArrangedStroke(strike.tick, ticks, strike.notes, names, fingers_struck(choice, strike.notes), why)
        )
    if is_led_on(stand.song, bar):
        symbols = " ".join(placed.symbol for placed in stand.song.unroll()[bar.index].chords)
        strokes[-1] = replace(strokes[-1], why=f"{strokes[-1].why} Your chart has {symbols} in this bar.".strip())
    if end is None:
        return tuple(strokes)
    if not end.end.pitches and strokes:
        strokes[-1] = replace(strokes[-1], why=f"{strokes[-1].why} {end.end.why}".strip())
    for number, (strike, pitch, finger) in enumerate(zip(end_strikes(end), end.end.pitches, end.end.fingers)):
        why = "" if number else end.end.why
        strokes.append(ArrangedStroke(strike.tick, strike.ticks, strike.notes, (pitch.name,), (finger,), why))
    return tuple(strokes)


def _right(stand: Stand, ornaments: Ornaments) -> dict[int, list[ArrangedStroke]]:
    """By the index of the bar, or _PICKUP, the strokes that begin there; a grace in the bar of its note."""
    found: dict[int, list[ArrangedStroke]] = defaultdict(list)

    def add(stroke: ArrangedStroke, start_tick: int, before_ticks: int = 0) -> None:
        bar = bar_at(stand.bars, start_tick)
        index, line = (_PICKUP, 0) if bar is None else (bar.index, bar.start_tick)
        found[index].append(replace(stroke, tick=start_tick - before_ticks - line))

    strokes = list(_melody_strokes(stand))
    for number, (note, stroke) in enumerate(strokes):
        bar = bar_at(stand.bars, note.start_tick)
        meter = stand.song.meter if bar is None else bar.meter
        slide = ornaments.slides.get(number)
        if slide is not None:
            ticks = grace_ticks(ornaments.slide_ms, meter, stand.tempo_bpm)
            pitch = slide.pitch
            grace = ArrangedStroke(0, ticks, (pitch.midi,), (pitch.name,), (slide.finger,), slide.why, ornament="slide")
            add(grace, note.start_tick, ticks)
        ticks = ornaments.held_ticks(number, note)
        if number + 1 in ornaments.slides:
            after = strokes[number + 1][0].start_tick
            ticks = min(ticks, after - grace_ticks(ornaments.slide_ms, meter, stand.tempo_bpm) - note.start_tick)
        inner = stroke.inner_ticks if stroke.inner_ticks is not None and stroke.inner_ticks < ticks else None
        for at, turn in _in_turns(
            replace(stroke, ticks=ticks, inner_ticks=inner), ornaments.tremolos.get(number), meter, stand.tempo_bpm
        ):
            add(turn, note.start_tick + at)
        fill = ornaments.fills.get(number)
        for at, each in enumerate(fill.notes if fill is not None else ()):
            why = "" if at or fill is None else fill.why
            name = (each.pitch.name,)
            add(
                ArrangedStroke(0, each.ticks, (each.pitch.midi,), name, (each.finger,), why, ornament="fill"), each.tick
            )
    return found


def _in_turns(
    stroke: ArrangedStroke, tremolo: Tremolo | None, meter: Meter, tempo_bpm: float
) -> Iterator[tuple[int, ArrangedStroke]]:
    """A stroke as it is; in a tremolo stroke by stroke, with its reason once. Each with its tick from the first."""
    if tremolo is None:
        yield 0, stroke
        return
    both = halves(stroke.keys, tremolo.turns)
    onsets = tremolo_ticks(stroke.ticks, meter, tempo_bpm)
    for number, (at, until) in enumerate(zip(onsets, (*onsets[1:], stroke.ticks), strict=True)):
        places = [stroke.keys.index(key) for key in both[number % 2]]
        yield (
            at,
            replace(
                stroke,
                ticks=until - at,
                keys=both[number % 2],
                names=tuple(stroke.names[place] for place in places),
                fingers=tuple(stroke.fingers[place] for place in places),
                why="" if number else f"{stroke.why} {tremolo.why}".strip(),
                melody=stroke.melody if stroke.melody in both[number % 2] else None,
                ornament="tremolo",
                inner_ticks=None,
            ),
        )


def _melody_strokes(stand: Stand) -> Iterator[tuple[MelodyNote, ArrangedStroke]]:
    """Each melody note with its company, as long as it is written; the stroke's tick is not set."""
    for note in stand.harmonised:
        keys = note.voicing.keys
        inner = note.added_ticks if note.voicing.added and note.added_ticks < note.note.ticks else None
        why = why_company(note.stroke, note.voicing, stand.arranged.voices)
        names = (*company_names(note.stroke, note.voicing), str(note.note.pitch))
        yield (
            note.note,
            ArrangedStroke(0, note.note.ticks, keys, names, note.voicing.fingers, why, keys[-1], inner_ticks=inner),
        )
    for single in () if stand.harmonised else right_hand(stand):
        names, finger = (str(single.note.pitch),), (single.finger,)
        yield single.note, ArrangedStroke(0, single.note.ticks, (single.midi,), names, finger, melody=single.midi)
