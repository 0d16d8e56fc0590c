"""A recorded sound as a take: listened to twice. First for whatever was struck, from which song, start and tempo are found; then for the very strikes that were due
then, with careful thresholds. Where that is not sure the shell that was due stands in its place, so that the take stays whole, and is taken out of the marks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import TYPE_CHECKING

from companion.base.text import plural
from companion.practice.marking.expected import expected_strikes
from companion.practice.model import Expected, Press
from companion.session.performance import loop_row, whole_row
from companion.session.stand import Stand
from companion.session.take_file import Recording
from companion.session.take_marks import MarkedTake, mark_recording
from companion.session.unsure import melody_where_sure

if TYPE_CHECKING:
    from companion.sound.listening.piano import Piano
    from companion.sound.listening.spectra import Array
    from companion.sound.listening.verdicts import Due, Thresholds, Verdict
    from companion.sound.listening.whole import Struck

_LIKELY = 0.8  # of a key by which song, pattern and beat are found: at a note of the melody what rings below may seem struck again
_DOUBTED = "missing", "not sure"
_DOUBTED_SHARE = 0.15  # of the strikes; our own choice, a good take has less than half of that
_IN_PLACE = 0.5  # of the strikes right where the clock says: with fewer the player may have been elsewhere in the tune (our own choice)
_LATEST_S = 0.25  # that devices hear a strike; as with a click, less than half a beat at 120 a minute
_OUTSIDE_SURE = 0.95  # of a key that nothing was due for


@dataclass(frozen=True, slots=True)
class HeardTake:
    """marked: None where the song is not in it. recording: what was struck, as far as it is sure; strikes: how many were due, unsure: of how many it
    is not sure what was struck."""

    marked: MarkedTake | None
    recording: Recording
    strikes: int = 0
    unsure: int = 0


def heard_words(heard: HeardTake, piano: str | None) -> str:
    """How surely a take was heard, and what would help. piano: the name of the one it was heard with."""
    by = f"with the piano {piano}" if piano else "without a piano learned before"
    words = f"Listened {by}: not sure of {heard.unsure} of {plural(heard.strikes, 'strike')}."
    if not piano and heard.unsure > heard.strikes / 10:
        words += " More is sure with a piano that was learned: companion listen --scale SCALE.wav --as NAME"
    return words


@dataclass(frozen=True, slots=True)
class KnownClock:
    """Of a recording whose whole time is known, in seconds from its start. clicks_s: of every pulse; bars_s: when each bar of the whole tune began, as many as were reached; late_s: how much later
    what was struck lies in it, None where that is to be found."""

    clicks_s: tuple[float, ...]
    bars_s: tuple[float, ...]
    late_s: float | None = 0.0

    def later(self, late_s: float) -> KnownClock:
        """As what was struck lies."""
        moved = [tuple(at_s + late_s for at_s in times) for times in (self.clicks_s, self.bars_s)]
        return KnownClock(moved[0], moved[1])


def hear_take(
    stand: Stand,
    sound: Array,
    piano: Piano | None,
    pattern: str | None = None,
    tempo_bpm: float | None = None,
    clock: KnownClock | None = None,
) -> HeardTake:
    """piano: None for one worked out from the recording itself. clock: where it is known when each strike was due, else that is found first."""
    from companion.sound.listening import RATE
    from companion.sound.listening.verdicts import RIGHT, UNLEARNED
    from companion.sound.listening.whole import piano_from, struck_in, verdicts_of

    known = piano or piano_from(sound)
    thresholds = None if piano else UNLEARNED
    struck = struck_in(sound, known)
    dues: list[Due] = []
    if clock is not None:
        left, right = _asked(stand, clock)
        late_s = _lateness_s(struck, left) if clock.late_s is None else clock.late_s
        clock = clock.later(late_s)
        dues = [replace(due, time_s=due.time_s + late_s) for due in _dues(left, right)]
        dues = [due for due in dues if due.time_s + due.window_s < len(sound) / RATE]  # it was broken off
    clicks_s = clock.clicks_s if clock is not None else ()
    verdicts = verdicts_of(sound, known, dues, thresholds) if dues else []
    if sum(verdict.kind == RIGHT for verdict in verdicts) < _IN_PLACE * len(verdicts) or not verdicts:
        found = _found(stand, sound, known, struck, pattern, tempo_bpm, clicks_s, thresholds)
        if found is None:
            return HeardTake(None, _in_turn([Press(each.onset_s, key.midi) for each in struck for key in each.notes]))
        pattern, dues, verdicts = found
    return _marked(stand, struck, dues, verdicts, pattern or stand.pattern, tempo_bpm, clicks_s)


def _found(
    stand: Stand,
    sound: Array,
    piano: Piano,
    struck: Sequence[Struck],
    pattern: str | None,
    tempo_bpm: float | None,
    clicks_s: tuple[float, ...],
    thresholds: Thresholds | None,
) -> tuple[str, list[Due], list[Verdict]] | None:
    """The take found in what was struck, and then listened for: its pattern, what was due and what is to be heard of it. None where it is not there."""
    likely = [Press(each.onset_s, key.midi) for each in struck for key in each.notes if key.confidence >= _LIKELY]
    found = mark_recording(stand, _in_turn(likely, clicks_s), pattern, tempo_bpm) if likely else None
    if found is None:
        return None
    dues, verdicts = _listened(sound, piano, found, thresholds)
    # What rings may have seemed struck again between the strikes: then another rhythm fits what is sure better.
    if pattern is None and sum(verdict.kind in _DOUBTED for verdict in verdicts) > _DOUBTED_SHARE * len(verdicts):
        came = [press for verdict in verdicts if verdict.kind not in _DOUBTED for press in _presses(verdict)]
        again = mark_recording(stand, _in_turn(came, clicks_s), None, tempo_bpm) if came else None
        if again is not None and again.take.arrangement.pattern != found.take.arrangement.pattern:
            found = again
            dues, verdicts = _listened(sound, piano, found, thresholds)
    return found.take.arrangement.pattern, dues, verdicts


def _marked(
    stand: Stand,
    struck: Sequence[Struck],
    dues: Sequence[Due],
    verdicts: Sequence[Verdict],
    pattern: str,
    tempo_bpm: float | None,
    clicks_s: tuple[float, ...],
) -> HeardTake:
    """What is to be heard, marked, and without what is not sure."""
    presses = [press for verdict in verdicts for press in _presses(verdict)]
    top = max((max(due.notes) for due in dues), default=0)
    presses += [
        Press(each.onset_s, key.midi)
        for each in struck
        if all(abs(each.onset_s - due.time_s) > due.window_s for due in dues)
        # At a note of the melody what rings below may seem struck again.
        and (stand.hands == "left" or all(key.midi <= top + 2 for key in each.notes))
        for key in each.notes
        if key.confidence >= _OUTSIDE_SURE
    ]
    # The right hand's keys lie above; they were heard without knowing when they are due.
    inside = {(press.time_s, press.note) for press in presses}
    presses += [
        press
        for press in (Press(each.onset_s, key.midi) for each in struck for key in each.notes)
        if press.note > top + 2 and (press.time_s, press.note) not in inside and stand.hands != "left"
    ]
    unsure = [verdict.due.time_s for verdict in verdicts if verdict.kind == "not sure"]
    sure = _in_turn(presses, clicks_s)
    marked = mark_recording(stand, sure, pattern, tempo_bpm, unsure) if presses else None
    if marked is not None and stand.hands != "left":
        certain = {(each.onset_s, note) for each in struck for note in _surely_struck(each)}
        certain |= {(verdict.onset_s, key.midi) for verdict in verdicts if verdict.onset_s for key in verdict.notes}
        passes, gone = melody_where_sure(marked.passes, certain)
        marked = replace(marked, passes=passes, not_sure=(*marked.not_sure, *gone))
    return HeardTake(marked, sure, len(verdicts), len(unsure))


def _surely_struck(struck: Struck) -> list[int]:
    """Of what was heard without knowing what was due: keys that are no partials of a lower one."""
    from companion.sound.listening.engine import PARTIALS_ABOVE

    partials = {key.midi + step for key in struck.notes for step in PARTIALS_ABOVE}
    return [key.midi for key in struck.notes if key.confidence >= _OUTSIDE_SURE and key.midi not in partials]


def _listened(
    sound: Array, piano: Piano, found: MarkedTake, thresholds: Thresholds | None
) -> tuple[list[Due], list[Verdict]]:
    """What was due by a take's marks, and what is to be heard of it."""
    from companion.sound.listening.whole import verdicts_of

    dues: list[Due] = []
    for each in found.passes:
        asked = [strike.expected for chord in each.marks.chords for strike in chord.strikes]
        dues += _dues(*([strike for strike in asked if strike.part == part] for part in ("left", "right")))
    dues = [due for number, due in enumerate(dues) if not number or due.time_s > dues[number - 1].time_s]
    return dues, verdicts_of(sound, piano, dues, thresholds)


def _in_turn(presses: Sequence[Press], clicks_s: tuple[float, ...] = ()) -> Recording:
    return Recording(tuple(sorted(presses, key=lambda press: (press.time_s, press.note))), clicks_s)


def _asked(stand: Stand, clock: KnownClock) -> tuple[list[Expected], list[Expected]]:
    """What each hand is to strike in the whole tune."""
    row = whole_row(stand, stand.arranged.choruses) or loop_row(stand)
    asked = expected_strikes(
        row.arrangement, [(start_s, stand.tempo_bpm) for start_s in clock.bars_s], parts=("left", "right")
    )
    hands = ["left"] if stand.hands == "left" else ["left", "right"]
    left, right = ([strike for strike in asked if strike.part == part and part in hands] for part in ("left", "right"))
    return ([] if stand.hands == "right" else left), right


def _lateness_s(struck: Sequence[Struck], asked: Sequence[Expected]) -> float:
    """How late strikes are heard, in the middle, as nobody tells how long a device takes (see sound.listening.lateness): by what was struck around the time it was due and has a note of it."""
    late = []
    for strike in asked:
        near = [each for each in struck if abs(each.onset_s - strike.due_s) <= _LATEST_S]
        mine = [each.onset_s - strike.due_s for each in near if any(key.midi in strike.notes for key in each.notes)]
        late += [min(mine, key=abs)] if mine else []
    return median(late) if late else 0.0


def _dues(left: Sequence[Expected], right: Sequence[Expected]) -> list[Due]:
    """What is to be listened for: the left hand's strikes, each with the notes of the melody that are due with it."""
    from companion.session.by_microphone import due_with
    from companion.sound.listening.verdicts import Due

    return [
        Due(number, strike.due_s, strike.notes, due_with(strike, right), strike.window_s)
        for number, strike in enumerate(sorted(left, key=lambda strike: strike.due_s))
    ]


def _presses(verdict: Verdict) -> Sequence[Press]:
    """What stands for a verdict among the presses of a take."""
    if verdict.kind == "not sure":
        return [Press(verdict.due.time_s, note) for note in verdict.due.notes]
    if verdict.onset_s is None:
        return []
    return [Press(verdict.onset_s, note.midi) for note in verdict.notes]
