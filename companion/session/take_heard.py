"""A recorded sound as a take: listened to twice. First for whatever was struck, from which song, start and tempo are found; then for the very strikes that were due
then, with careful thresholds. Where that is not sure the shell that was due stands in its place, so that the take stays whole, and is taken out of the marks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from companion.base.text import plural
from companion.practice.marking.playthrough import Pass
from companion.practice.model import Press, StrikeMark
from companion.session.stand import Stand
from companion.session.take_file import Recording
from companion.session.take_marks import MarkedTake, mark_recording
from companion.session.unsure import melody_where_sure

if TYPE_CHECKING:
    from companion.sound.listening.piano import Piano
    from companion.sound.listening.spectra import Array
    from companion.sound.listening.verdicts import Due, Thresholds, Verdict

_LIKELY = 0.8  # of a key by which song, pattern and beat are found: at a note of the melody what rings below may seem struck again
_DOUBTED = "missing", "not sure"
_DOUBTED_SHARE = 0.15  # of the strikes; our own choice, a good take has less than half of that
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


def hear_take(
    stand: Stand, sound: Array, piano: Piano | None, pattern: str | None = None, tempo_bpm: float | None = None
) -> HeardTake:
    """piano: None for one worked out from the recording itself."""
    from companion.sound.listening.verdicts import UNLEARNED
    from companion.sound.listening.whole import piano_from, struck_in

    known = piano or piano_from(sound)
    struck = struck_in(sound, known)
    free = [Press(each.onset_s, key.midi) for each in struck for key in each.notes]
    recording = _in_turn(free)
    likely = [Press(each.onset_s, key.midi) for each in struck for key in each.notes if key.confidence >= _LIKELY]
    found = mark_recording(stand, _in_turn(likely), pattern, tempo_bpm) if likely else None
    if found is None:
        return HeardTake(None, recording)
    thresholds = None if piano else UNLEARNED
    dues, verdicts = _listened(sound, known, found, thresholds)
    # What rings may have seemed struck again between the strikes: then another rhythm fits what is sure better.
    if pattern is None and sum(verdict.kind in _DOUBTED for verdict in verdicts) > _DOUBTED_SHARE * len(verdicts):
        came = [press for verdict in verdicts if verdict.kind not in _DOUBTED for press in _presses(verdict)]
        again = mark_recording(stand, _in_turn(came), None, tempo_bpm) if came else None
        if again is not None and again.take.arrangement.pattern != found.take.arrangement.pattern:
            found = again
            dues, verdicts = _listened(sound, known, found, thresholds)
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
        for press in free
        if press.note > top + 2 and (press.time_s, press.note) not in inside and stand.hands != "left"
    ]
    unsure = [verdict.due.time_s for verdict in verdicts if verdict.kind == "not sure"]
    sure = _in_turn(presses)
    marked = mark_recording(stand, sure, found.take.arrangement.pattern, tempo_bpm, unsure) if presses else None
    if marked is not None and stand.hands != "left":
        certain = {(each.onset_s, key.midi) for each in struck for key in each.notes if key.confidence >= _OUTSIDE_SURE}
        certain |= {(verdict.onset_s, key.midi) for verdict in verdicts if verdict.onset_s for key in verdict.notes}
        passes, gone = melody_where_sure(marked.passes, certain)
        marked = replace(marked, passes=passes, not_sure=(*marked.not_sure, *gone))
    return HeardTake(marked, sure, len(verdicts), len(unsure))


def _listened(
    sound: Array, piano: Piano, found: MarkedTake, thresholds: Thresholds | None
) -> tuple[list[Due], list[Verdict]]:
    """What was due by a take's marks, and what is to be heard of it."""
    from companion.sound.listening.whole import verdicts_of

    dues = [due for each in found.passes for due in _dues(each)]
    dues = [due for number, due in enumerate(dues) if not number or due.time_s > dues[number - 1].time_s]
    return dues, verdicts_of(sound, piano, dues, thresholds)


def _in_turn(presses: Sequence[Press]) -> Recording:
    return Recording(tuple(sorted(presses, key=lambda press: (press.time_s, press.note))))


def _dues(each: Pass) -> list[Due]:
    from companion.session.by_microphone import due_with
    from companion.sound.listening.verdicts import Due

    strikes = [strike for chord in each.marks.chords for strike in chord.strikes]
    left = sorted((strike for strike in strikes if strike.expected.part == "left"), key=_due_s)
    right = [strike.expected for strike in strikes if strike.expected.part == "right"]
    return [
        Due(
            number,
            _due_s(strike),
            strike.expected.notes,
            due_with(strike.expected, right),
            strike.expected.window_s,
        )
        for number, strike in enumerate(left)
    ]


def _due_s(strike: StrikeMark) -> float:
    return strike.expected.due_s


def _presses(verdict: Verdict) -> Sequence[Press]:
    """What stands for a verdict among the presses of a take."""
    if verdict.kind == "not sure":
        return [Press(verdict.due.time_s, note) for note in verdict.due.notes]
    if verdict.onset_s is None:
        return []
    return [Press(verdict.onset_s, note.midi) for note in verdict.notes]
