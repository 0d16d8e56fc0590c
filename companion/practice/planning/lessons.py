"""How far the student is in a lesson. A step is done when enough clean passes of its kind are in the log.

A pass counts for a step when it was clean, went over the whole of its section (or form), with its hands, in its rhythm,
at its tempo or faster, and from the chord symbols alone or without cues where the step asks for that. A step in free time also takes a clean pass at
any tempo and in any rhythm: who can play it in time has found the notes, and without a keyboard to listen to there is
no free time. What was played before the lesson was written counts too.

A step to listen to is done once all its bars were heard at one go, one to swing once its phrase was played swung from memory.
A lesson without a step to swing offers one at its end, in a song in swing feel with a melody that can: to who played the song with the
right hand, and to nobody else. A song without a lesson then goes on layer by layer to a performance (layers.py)."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from companion.chart.lesson import SYMBOLS, Lesson, Step, StepCues
from companion.chart.loops import loop_name
from companion.chart.melody import chorus_melody
from companion.chart.model import Song
from companion.chart.phrases import melody_phrases
from companion.groove.patterns import pattern_words
from companion.practice.planning.layers import FRAME, LAYER_WORDS, LAYERS, PERFORMANCE, SWING, LayersKnown
from companion.practice.planning.totals import BY_HEART, FROM_SYMBOLS, SHOWN, Tally
from companion.theory.meter import TICKS_PER_QUARTER

HAND_WORDS = {"left": "left hand", "both": "both hands", "right": "right hand"}
# What a song without a lesson is learned by: share of its tempo, rhythm, cues, clean passes (common practice: notes
# first, small parts first, slow first, then from the symbols, from memory, up to tempo).
_SECTION_WAY: tuple[tuple[float | None, str, StepCues, int], ...] = (
    (None, "whole", True, 2),
    (0.6, "four", True, 3),
    (0.6, "four", SYMBOLS, 2),
    (0.65, "four", False, 2),
)
_FORM_WAY: tuple[tuple[float | None, str, StepCues, int], ...] = (
    (0.7, "four", True, 2),
    (0.75, "four", SYMBOLS, 2),
    (0.8, "four", False, 2),
    (1.0, "four", True, 2),
)
# Of a layer: share of the tempo, and passes in which the left hand loses little.
_USUAL_LAYER_WAY = (0.7, 2)
_LAYER_WAY = {FRAME: (0.7, 1), PERFORMANCE: (1.0, 1)}
_SWUNG_SHARE = 0.7  # of the song's tempo
MOST_SWUNG_BARS = 4  # of a phrase (common practice: what one can hear, play and keep at once)
NO_LAYERS = LayersKnown()
_CUE_WORDS: dict[StepCues, str] = {True: "", SYMBOLS: "from symbols", False: "from memory"}
_SWING_NOTE = "Hear it straight and play it, hear it swing and play it, and at last from memory."
_LEAST_BY_HEART: dict[StepCues, int] = {True: SHOWN, SYMBOLS: FROM_SYMBOLS, False: BY_HEART}


@dataclass(frozen=True, slots=True)
class Swung:
    """A phrase that was played swung from memory. loop: indices in the chorus. tempo_bpm: the fastest."""

    loop: tuple[int, ...]
    tempo_bpm: float


@dataclass(frozen=True, slots=True)
class StepState:
    """number: of the step, from 1. clean: passes that count, at most those wanted. done: enough of them."""

    number: int
    step: Step
    clean: int
    done: bool


def lesson_of(song: Song) -> Lesson:
    """The song's lesson; where it has none, steps that any song can be learned by."""
    return song.lesson if song.lesson and song.lesson.steps else Lesson(steps=usual_steps(song))


def usual_steps(song: Song) -> tuple[Step, ...]:
    """The song heard once, each section on its own, then the form. A song of one section has no form beside it."""
    names = tuple(dict.fromkeys(song.form))
    parts = [(name, way) for name in names for way in _SECTION_WAY] if len(names) > 1 else []
    parts += [("", way) for way in (_FORM_WAY if parts else _SECTION_WAY[:1] + _FORM_WAY)]
    steps = (
        Step(section, "left", pattern, None if share is None else float(round(share * song.tempo_bpm)), cues, passes)
        for section, (share, pattern, cues, passes) in parts
    )
    return (Step("", "left", "four", float(song.tempo_bpm), passes=1, listen=True), *steps)


def lesson_states(
    song: Song,
    kept: Iterable[Tally],
    heard: Collection[tuple[int, ...]] = (),
    swung: Collection[Swung] = (),
    layers: LayersKnown = NO_LAYERS,
) -> tuple[StepState, ...]:
    """Where the steps of the song's lesson stand. kept: its tallies. heard: the loops that were listened to, to their end; swung: what was
    played swung from memory; layers: what is known of them."""
    kept = tuple(kept)
    bars = len(song.unroll())
    states = []
    steps = lesson_of(song).steps
    if any(tally.way.hands != "left" for tally in kept) and not any(step.swing for step in steps):
        steps = (*steps, *_offered_to_swing(song), *_layer_steps(song))
    for number, step in enumerate(steps, 1):
        if step.listen or step.swing:
            loop = step_loop(step, song)
            done = was_swung(loop, step.tempo_bpm or 0.0, swung) if step.swing else was_heard(loop, heard)
            states.append(StepState(number, step, int(done), done))
            continue
        if step.layer:
            done = layers.is_done(step.layer)
            states.append(StepState(number, step, step.passes if done else 0, done))
            continue
        clean = sum(tally.clean for tally in kept if counts_for(step, tally, bars))
        states.append(StepState(number, step, min(clean, step.passes), clean >= step.passes))
    return tuple(states)


def _offered_to_swing(song: Song) -> tuple[Step, ...]:
    names = [name for name in song.form if song.sections[name].melody]
    if song.feel != "swing" or not any(song.sections[n].meter.pulse_ticks == TICKS_PER_QUARTER for n in names):
        return ()
    tempo_bpm = float(round(_SWUNG_SHARE * song.tempo_bpm))
    return (Step("", "right", "four", tempo_bpm, passes=1, note=_SWING_NOTE, swing=True),)


def _layer_steps(song: Song) -> Iterator[Step]:
    """How the usual lesson goes on after hands together, to the performance."""
    if (song.lesson and song.lesson.steps) or not any(song.sections[name].melody for name in song.form):
        return
    swings = bool(_offered_to_swing(song))
    for layer in LAYERS:
        if layer == SWING and not swings:
            continue
        share, passes = _LAYER_WAY.get(layer, _USUAL_LAYER_WAY)
        yield Step("", "both", "four", float(round(share * song.tempo_bpm)), True, passes, layer=layer)


def step_loop(step: Step, song: Song) -> tuple[int, ...]:
    """The bars that a step is practised on; indices in the chorus. Of one to swing: the first phrase of the melody in its section, four bars
    at most."""
    bars = step_bars(step.section, song)
    if not step.swing:
        return bars
    form = song.unroll()
    begins = [phrase.first_bar for phrase in melody_phrases(chorus_melody(song), form)]
    can = [at for at in begins if at in bars and form[at].meter.pulse_ticks == TICKS_PER_QUARTER]
    first = can[0] if can else bars[0]
    section = form[first]
    end = min((at for at in begins if at > first), default=len(form))
    same = [b.index for b in form[first:end] if (b.section, b.occurrence) == (section.section, section.occurrence)]
    return tuple(same[:MOST_SWUNG_BARS])


def step_bars(section: str, song: Song) -> tuple[int, ...]:
    """The bars of a section as they come first, "" for the whole form; indices in the chorus."""
    return tuple(bar.index for bar in song.unroll() if not section or (bar.section == section and bar.occurrence == 1))


def was_heard(bars: Collection[int], heard: Iterable[tuple[int, ...]]) -> bool:
    """Whether one of the loops that were listened to holds these bars."""
    return any(set(bars) <= set(loop) for loop in heard)


def was_swung(bars: Collection[int], tempo_bpm: float, swung: Iterable[Swung]) -> bool:
    """Whether these bars were played swung from memory, at that tempo or faster."""
    return any(set(bars) <= set(each.loop) and each.tempo_bpm > tempo_bpm - 0.5 for each in swung)


def counts_for(step: Step, tally: Tally, bars: int) -> bool:
    """Whether clean passes of this way are what the step asks for. bars: of the chorus."""
    way = tally.way
    if way.hands != step.hands or way.by_heart < _LEAST_BY_HEART[step.cues]:
        return False
    if step.tempo_bpm is not None and (way.tempo_bpm < int(step.tempo_bpm + 0.5) or way.pattern != step.pattern):
        return False  # a pass in free time has tempo 0
    return step.section in way.sections if step.section else len(way.loop) >= bars and len(set(way.loop)) == bars


def step_words(step: Step, song: Song) -> str:
    """What to do, in a line: "section A, left hand, four to the bar, at 66, from memory, 3 clean passes", "listen to section A, at 66"."""
    if step.listen:
        where = f"section {step.section}" if step.section else "the whole form"
        return f"listen to {where}, {pattern_words(step.pattern, song.meter)}, at {step.tempo_bpm:g}"
    if step.swing:
        where = loop_name(step_loop(step, song))
        return f"the melody of {where} straight, then swinging, {HAND_WORDS[step.hands]}, at {step.tempo_bpm:g}"
    if step.layer:
        first = "" if step.layer == PERFORMANCE else ", first to be heard"
        return f"{LAYER_WORDS[step.layer]}, the whole form, {HAND_WORDS[step.hands]}, at {step.tempo_bpm:g}{first}"
    parts = [
        f"section {step.section}" if step.section else "the whole form",
        HAND_WORDS[step.hands],
        "in free time" if step.tempo_bpm is None else pattern_words(step.pattern, song.meter),
        "" if step.tempo_bpm is None else f"at {step.tempo_bpm:g}",
        _CUE_WORDS[step.cues],
        "1 clean pass" if step.passes == 1 else f"{step.passes} clean passes",
    ]
    return ", ".join(filter(None, parts))
