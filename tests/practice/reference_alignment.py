"""The same made-up takes aligned by a published method as a reference: the dual dynamic time warping of parangonar, a research library of music
alignment (S. Peter, Apache 2.0; its own default for a score and a performance of it). It is given the form as often as it was gone
through, without jumps, and pairs single keys with single notes, pitch by pitch. Where it differs, `cause` says why."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable
from typing import Any

from offline import keep_partitura_offline
from practice.marking_trials import Way, mark
from practice.takes import SONGS, Made, make
from practice.tunes import SHELL_PATTERNS

from companion.session.take_marks import MarkedTake

Place = tuple[int, int, int]  # which time through, strike of the form, note


def ours(made: Made, marked: MarkedTake) -> dict[int, Place]:
    """Key of the take -> the note of the form it was taken for."""
    number = {(press.time_s, press.note + marked.semitones): key for key, press in enumerate(made.presses)}
    number |= {(press.time_s, press.note): key for key, press in enumerate(made.presses)}
    form, found = marked.take.form, {}
    for step in marked.take.alignment.steps:
        for press in marked.take.strokes[step.stroke].presses:
            if press.note in form.strikes[step.strike].notes:
                found[number[press.time_s, press.note]] = (step.turn, step.strike, press.note)
    return found


def theirs(made: Made, marked: MarkedTake) -> dict[int, Place]:
    """The same by the reference."""
    import numpy as np

    keep_partitura_offline()
    from parangonar import DualDTWNoteMatcher  # seconds, most of them its own imports

    form = marked.take.form
    turns = max(step.turn for step in marked.take.alignment.steps) + 1
    score: list[Any] = [
        (form.pulses[place] + turn * form.length, 0.5, note, False, f"{turn} {place} {note}")
        for turn in range(turns)
        for place, strike in enumerate(form.strikes)
        for note in strike.notes
    ]
    played: list[Any] = [
        (press.time_s, press.held_s or 0.3, press.note, press.velocity, str(key))
        for key, press in enumerate(made.presses)
    ]
    beats = [("onset_beat", "f4"), ("duration_beat", "f4"), ("pitch", "i4"), ("is_grace", "?"), ("id", "U32")]
    seconds = [("onset_sec", "f4"), ("duration_sec", "f4"), ("pitch", "i4"), ("velocity", "i4"), ("id", "U32")]
    pairs = DualDTWNoteMatcher()(np.array(score, dtype=beats), np.array(played, dtype=seconds))
    matches = [pair for pair in pairs if pair["label"] == "match"]
    return {int(pair["performance_id"]): _place(pair["score_id"]) for pair in matches}


def _place(name: str) -> Place:
    turn, strike, note = map(int, name.split())
    return turn, strike, note


def compare(made: Made, marked: MarkedTake) -> tuple[int, Counter[str]]:
    """On how many keys both agree, and the causes of the differences."""
    one, other = ours(made, marked), theirs(made, marked)
    keys = one.keys() | other.keys()
    differ = [key for key in sorted(keys) if one.get(key) != other.get(key)]
    return len(keys) - len(differ), Counter(cause(made, marked, key, one.get(key), other.get(key)) for key in differ)


ROLL_S = 0.12  # of the way that rolls
REFERENCE_WAYS = ("steady", "tempo wanders by 4 %", "three waits", "rolled by 120 ms", "two restarts, one skip")


def compare_takes(way: Way, seeds: Iterable[int]) -> tuple[int, Counter[str]]:
    """A take for every seed (see compare)."""
    same, causes = 0, Counter[str]()
    for seed in seeds:
        rng = random.Random(seed)
        made = make(rng.choice(SONGS), way(rng, rng.choice(SHELL_PATTERNS)), seed)
        marked = mark(made)
        assert marked
        agreed, differ = compare(made, marked)
        same, causes = same + agreed, causes + differ
    return same, causes


def cause(made: Made, marked: MarkedTake, key: int, one: Place | None, other: Place | None) -> str:
    """Why they differ. "went elsewhere": in a bar begun again, or within four bars of a jump, which the reference knows nothing of. "a slip": in
    a chord that was played wrong, whose keys it takes for those of another. "the same key in a row": it pairs the keys of one pitch by their
    time in the whole take, so in a row of them all shift by one where one was waited for or is missing. "another chord than was played", "left out, though it was
    played": after a chord that is missing it takes the next for it, or for nothing; so was the take made up, and ours has the right one. "rolled past half the way": two strikes are nearer than twice the roll, or the keys of one come among those
    of the other; a roll never goes past half the way to the next strike, so ours leaves some out. "" for no cause known."""
    press, beat_s = made.presses[key], marked.beat_s
    if any(event.kind != "waited" and abs(event.time_s - press.time_s) < 16.0 * beat_s for event in made.events):
        return "went elsewhere"
    near = min(made.chords, key=lambda chord: abs(chord.due_s - press.time_s))
    before = max((c for c in made.chords if c.due_s <= press.time_s + 0.2), key=lambda c: c.due_s, default=near)
    if not before.counted or not near.counted:
        return "went elsewhere"
    if before.slip or near.slip:
        return "a slip"
    strikes = marked.take.form.strikes
    taken = strikes[one[1]].group if one else None
    if taken and (taken.index, taken.chord) == (before.index, before.chord):
        if other is None:
            return "left out, though it was played"
        if strikes[other[1]].group != taken:
            return "another chord than was played"
    if _is_in_a_row(marked, press.note, one or other, other or one):
        return "the same key in a row"
    pulses = marked.take.form.pulses
    if one is None and other and other[1]:
        together = [each for each in made.presses if abs(each.time_s - press.time_s) < 2.0 * ROLL_S]
        own = [number for number, each in enumerate(together) if each.note in strikes[other[1]].notes]
        is_near = (pulses[other[1]] - pulses[other[1] - 1]) * beat_s < 2.0 * ROLL_S
        if is_near or own[-1] - own[0] >= len(own):
            return "rolled past half the way"
    return ""


def _is_in_a_row(marked: MarkedTake, note: int, one: Place | None, other: Place | None) -> bool:
    """Whether every strike from one to the other holds the note, and the strike beside where only one of them takes the key."""
    strikes = marked.take.form.strikes
    assert one and other
    low, high = sorted(turn * len(strikes) + strike for turn, strike, _ in (one, other))
    if low == high:
        return any(note in strikes[(low + step) % len(strikes)].notes for step in (-1, 1))
    return all(note in strikes[place % len(strikes)].notes for place in range(low, high + 1))
