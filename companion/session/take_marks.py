"""A recorded take marked against the song on the stand: found, in which key, by which clock, pass by pass, and what a teacher would
say of it. A take of another song is told from one of this song."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from companion.arranging.choice import MOST_CHORUSES
from companion.chart.model import FormBar, Song
from companion.errors import ShellError
from companion.groove.model import Arrangement
from companion.groove.names import PATTERN_NAMES
from companion.practice.marking.clock import click_clock, steady_clock
from companion.practice.marking.expected import ShellOptions
from companion.practice.marking.form import Form, shells_of
from companion.practice.marking.habits import Played
from companion.practice.marking.marks import figures_of
from companion.practice.marking.ornaments import ornament_words, without_tremolos
from companion.practice.marking.other_hand import as_asked, as_melody, as_one_hand, melody_keys, with_melody
from companion.practice.marking.playthrough import Clock, Pass, passes_of
from companion.practice.marking.strokes import strokes_of
from companion.practice.marking.take import TRANSPOSITIONS, Take, find_take, left_hand
from companion.practice.marking.teacher import ChartWords, what_a_teacher_would_say
from companion.practice.model import ChordMark, PassMarks, Press
from companion.session.passes import shell_options
from companion.session.performance import Row, loop_row, whole_row
from companion.session.stand import Stand
from companion.session.take_file import Recording
from companion.session.unsure import without_unsure
from companion.store.settings import Settings
from companion.theory.key import Key

OCTAVES = (0, 12, -12, 24, -24)
# From this likeness on no other song is looked for; another must fit so many times better to be named.
SURE, BETTER = 0.8, 1.2
OTHERS_TRIED = 3


@dataclass(frozen=True, slots=True)
class MarkedTake:
    """stand: the song in the key it was played in; bars: of all that was looked for, by the index that the marks have, in the order that they are played in; semitones: how far above the chart's key. passes: of all takes in the file, in
    turn. says: what a teacher would say; ornaments: of slides and tremolos, "" where none came. tempo_bpm: of the take, or of the click it was played to; has_click: whether a click was
    the clock."""

    stand: Stand
    take: Take
    semitones: int
    passes: tuple[Pass, ...]
    says: tuple[str, ...]
    tempo_bpm: float
    has_click: bool
    bars: tuple[FormBar, ...]
    order: tuple[int, ...]
    ornaments: str = ""
    not_sure: tuple[tuple[int, ChordMark], ...] = ()

    @property
    def together(self) -> PassMarks:
        """All passes end to end."""
        chords = tuple(chord for each in self.passes for chord in each.marks.chords)
        extra = tuple(press for each in self.passes for press in each.marks.extra)
        return PassMarks(chords, extra, figures_of(chords, len(extra)))

    @property
    def absent(self) -> str:
        """ "left" or "right" where that hand was asked for and is in none of the passes, else ""."""
        hands = {each.absent for each in self.passes}
        return hands.pop() if len(hands) == 1 else ""

    @property
    def beat_s(self) -> float:
        """Seconds of one beat."""
        return 60.0 / self.tempo_bpm


def mark_recording(
    stand: Stand,
    recording: Recording,
    pattern: str | None = None,
    tempo_bpm: float | None = None,
    unsure_s: Sequence[float] = (),
) -> MarkedTake | None:
    """Mark a recording against the loop on the stand; None where the loop is not in it, in neither hand. pattern: None for whichever fits best, the
    stand's own first. tempo_bpm: of a steady click it was played to. unsure_s: when strikes came of which the presses are no more than a guess."""
    patterns = [pattern] if pattern else sorted(PATTERN_NAMES, key=lambda name: name != stand.pattern)
    found = _best(stand, recording, patterns, tempo_bpm)
    if found is None:
        return _melody_alone(stand, recording, tempo_bpm)
    stand, row, take = found.stand, found.row, found.take
    clock, passes = _passes(take, recording, tempo_bpm)
    tempo_heard_bpm = tempo_bpm or take.tempo_bpm
    whole = replace(row.arrangement, pattern=take.arrangement.pattern)
    right = [key for each in passes for key in melody_keys(each, whole, recording.presses, tempo_heard_bpm)]
    if right:  # what the right hand struck never marks the left
        take = found.without(frozenset(right), recording.presses).take
        clock, passes = _passes(take, recording, tempo_bpm, frozenset(right))
    passes, not_sure = without_unsure(passes, unsure_s)
    says = what_a_teacher_would_say(played_of(row, take, passes), words_of(row.bars, row.order))
    if stand.hands != "left":
        passes = tuple(with_melody(each, whole, recording.presses, tempo_heard_bpm) for each in passes)
        passes = as_asked(passes, stand.hands)
    has_click = clock is not None
    ornaments = ornament_words([each.marks for each in passes], recording.presses)
    return MarkedTake(
        stand, take, found.semitones, passes, says, tempo_heard_bpm, has_click, row.bars, row.order, ornaments, not_sure
    )


def _passes(
    take: Take, recording: Recording, tempo_bpm: float | None, not_its: Collection[tuple[float, int]] = ()
) -> tuple[Clock | None, tuple[Pass, ...]]:
    clock = steady_clock(take, tempo_bpm) if tempo_bpm else click_clock(take, recording.clicks_s)
    return clock, passes_of(take, clock, None if clock else 0.0, not_its)


def _melody_alone(stand: Stand, recording: Recording, tempo_bpm: float | None) -> MarkedTake | None:
    """A recording of the melody without the left hand, in any octave."""
    row = loop_row(stand)
    melody = replace(row, arrangement=as_one_hand(row.arrangement))
    take = _take(stand, melody, {}, recording.presses, [stand.pattern], OCTAVES)
    if take is None:
        return None
    clock, found = _passes(take, recording, tempo_bpm)
    passes = as_asked([as_melody(each) for each in found], stand.hands)
    return MarkedTake(
        stand, take, take.semitones, passes, (), tempo_bpm or take.tempo_bpm, clock is not None, stand.bars, stand.loop
    )


def played_of(row: Row, take: Take, passes: Sequence[Pass]) -> Played:
    """What habits are read from: all that keeps time."""
    sections = {bar.index: (bar.section, bar.occurrence) for bar in row.bars}
    marks = [_in_time(each.marks) for each in passes]
    return Played(take.arrangement, marks, [each.events for each in passes], sections)


def _in_time(marks: PassMarks) -> PassMarks:
    return replace(
        marks, chords=tuple(mark for mark in marks.chords if not any(each.expected.free for each in mark.strikes))
    )


def chart_words(stand: Stand) -> ChartWords:
    """The chart's words for a teacher's sentences."""
    return words_of(stand.bars, stand.loop)


def words_of(bars: Sequence[FormBar], order: Sequence[int]) -> ChartWords:
    """The same of bars by their index, in the order they are played in."""
    symbols = {(index, number): placed.symbol for index in order for number, placed in enumerate(bars[index].chords)}
    return ChartWords(symbols, {index: f"{bars[index].section} bar {bars[index].bar}" for index in order})


@dataclass(frozen=True, slots=True)
class _Found:
    """A take, found in a row of bars on a stand in the key it was played in, so many semitones above the chart's."""

    stand: Stand
    row: Row
    options: ShellOptions
    take: Take
    semitones: int

    def without(self, keys: Collection[tuple[float, int]], presses: Sequence[Press]) -> _Found:
        """Found anew without keys, second and note, that turned out to be the other hand's, where that makes more of it come."""
        if not any((press.time_s, press.note) in keys for stroke in self.take.strokes for press in stroke.presses):
            return self
        rest = [press for press in presses if (press.time_s, press.note) not in keys]
        take = _take(self.stand, self.row, self.options, rest, [self.take.arrangement.pattern], (0,))
        return self if take is None or take.came <= self.take.came else replace(self, take=take)


def _best(stand: Stand, recording: Recording, patterns: Sequence[str], tempo_bpm: float | None) -> _Found | None:
    """The loop, or the whole tune once through with what stands before and behind it, whichever has more in the take. Where nothing stands there they differ in the last bar alone, in
    what leads back or rests: then whichever is right more often."""
    presses = recording.presses
    loop, whole = _find(stand, loop_row, presses, patterns), _find(stand, whole_row, presses, patterns)
    several = {stand.arranged.choruses, 1 if whole is None else _choruses(whole)} - {1}
    more = [_find(stand, partial(whole_row, choruses=count), presses, patterns) for count in several]
    if loop is not None and whole is not None and loop.row.order == whole.row.order:

        def right(each: _Found) -> int:
            figures = [one.marks.figures for one in _passes(each.take, recording, tempo_bpm)[1]]
            return sum(one.right - one.extra for one in figures)

        loop, whole = max(loop, whole, key=right), None
    found = [each for each in (loop, whole, *more) if each is not None]
    return max(found, key=lambda found: (found.take.came, found.take.alignment.score), default=None)


def _choruses(whole: _Found) -> int:
    """How often the form was played between introduction and ending: begun again from its end."""
    form = [place for place, index in enumerate(whole.row.order) if index < len(whole.stand.bars)]
    positions = [whole.take.form.strikes[step.strike].group.position for step in whole.take.alignment.steps]
    jumps = [step.jumped for step in whole.take.alignment.steps]
    again = sum(
        jumped and before >= form[-1] - 1 and form[0] <= here <= form[0] + 1
        for before, here, jumped in zip(positions, positions[1:], jumps[1:], strict=False)
    )
    return min(MOST_CHORUSES, 1 + again)


def _find(
    stand: Stand, row_of: Callable[[Stand], Row | None], presses: Sequence[Press], patterns: Sequence[str]
) -> _Found | None:
    """The take, in the key it was played in: with the shells that the companion gives there, or with the chart's own moved
    along, whichever fits better."""
    row = row_of(stand)
    if row is None:
        return None
    take = _take(stand, row, shell_options(stand), presses, patterns, TRANSPOSITIONS)
    if take is None or take.semitones == 0:
        return None if take is None else _Found(stand, row, shell_options(stand), take, 0)
    moved = take.semitones
    way: tuple[Stand, Row, ShellOptions, int] = (stand, row, shell_options(stand), moved)
    pattern = take.arrangement.pattern
    if moved % 12:
        try:
            there = stand.with_key(Key.usual(stand.key.tonic.pc + moved, stand.key.mode))
        except ShellError:
            there = stand
        way = (there, row, shell_options(stand), moved)
        row_there = row_of(there)
        again = _take(there, row_there, shell_options(there), presses, patterns, OCTAVES) if row_there else None
        if row_there and again and again.likeness >= take.likeness:
            way = (there, row_there, shell_options(there), again.semitones)
            pattern = again.arrangement.pattern
    put, row, shells, shift = way
    options = {place: tuple(_moved(shell, shift) for shell in choices) for place, choices in shells.items()}
    row = replace(row, arrangement=_moved_arrangement(row.arrangement, shift))
    take = _take(put, row, options, presses, [pattern], (0,))
    return None if take is None else _Found(put, row, options, take, moved)


def _take(
    stand: Stand,
    row: Row,
    options: ShellOptions,
    presses: Sequence[Press],
    patterns: Sequence[str],
    semitones: Sequence[int],
) -> Take | None:
    return find_take(
        without_tremolos(presses, row.arrangement),
        row.arrangement,
        patterns,
        stand.tempo_bpm,
        sections=row.opens,
        options=options,
        semitones=semitones,
    )


def _moved(notes: Sequence[int], semitones: int) -> tuple[int, ...]:
    return tuple(note + semitones for note in notes)


def _moved_arrangement(arrangement: Arrangement, semitones: int) -> Arrangement:
    if not semitones:
        return arrangement
    bars = tuple(
        replace(
            bar,
            chords=tuple(replace(chord, notes=_moved(chord.notes, semitones), moved=semitones) for chord in bar.chords),
            coming=_moved(bar.coming, semitones),
            written=tuple(
                replace(strike, notes=_moved(strike.notes, semitones)) if strike.part == "left" else strike
                for strike in bar.written
            ),
        )
        for bar in arrangement.bars
    )
    return replace(arrangement, bars=bars)


# --- another song


def fits_better(
    songs: Callable[[], Iterable[Song]], settings: Settings, recording: Recording, likeness: float, not_this: str
) -> Song | None:
    """The song that a take is of, if that is plainly another one: it must fit far better than `likeness`. Few are looked at closely:
    those whose shells come most. songs: read only where another may be meant."""
    if likeness >= SURE:
        return None
    ranked = []
    for song in songs():
        if song.id == not_this:
            continue
        try:
            stand = Stand.put(song, settings)
        except ShellError:
            continue
        arrangement = stand.arrangement()
        shells = shells_of(Form.of(arrangement, stand.tempo_bpm))
        strokes = strokes_of(left_hand(sorted(recording.presses, key=lambda press: press.time_s), arrangement))
        share = sum(any(shell <= stroke.notes for shell in shells) for stroke in strokes) / max(1, len(strokes))
        ranked.append((share, song.id, stand))
    best: tuple[float, Song] | None = None
    for _, _, stand in sorted(ranked, key=lambda entry: (-entry[0], entry[1]))[:OTHERS_TRIED]:
        take = _take(stand, loop_row(stand), shell_options(stand), recording.presses, list(PATTERN_NAMES), (0,))
        if take and take.likeness > BETTER * likeness and (best is None or take.likeness > best[0]):
            best = take.likeness, stand.song
    return best[1] if best else None
