"""Takes of a whole arrangement, from its introduction to its last low note, exact or as hands play it, with all that was done in them known.

A player keeps the time of the arrangement but for the ritardando, whose pace is the player's own; strikes lie about the beat, chords are rolled behind
the melody, graces and the strokes of a tremolo are as long as fingers make them.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from dataclasses import replace

from voices_played import ROLL_S, SPREAD_S, STARTS_AT_S, Slip

from companion.groove.model import HAND_PARTS, Stretch
from companion.groove.timeline import timeline
from companion.practice.marking.expected import steady_starts, strikes
from companion.practice.model import Press
from companion.session.performance import loop_row, performance, whole_row

HELD = (0.60, 0.95)
SHAKE_S = 0.008  # how far a stroke of a tremolo or a grace is off by itself


def whole_events(stand, choruses=1):
    """(part, second, second it ends, key) of both hands, and the second from which it slows down."""
    asked = replace(performance(stand, choruses), parts=HAND_PARTS, count_in_bars=1)
    whole = timeline(asked, [stand.tempo_bpm] * choruses)
    events = [event for event in whole.events if event.part in HAND_PARTS]
    starts = whole.seconds(event.tick for event in events)
    ends = whole.seconds(event.tick + event.ticks for event in events)
    slow = [
        bar.tick + number * bar.meter.pulse_ticks
        for bar in whole.bars
        if bar.stretch is Stretch.ENDING
        for number, share in enumerate(asked.ending[bar.position].shares)
        if share < 1
    ]
    slows_s = whole.seconds(slow[:1])[0] if slow else 1e9
    return [
        (event.part, start, end, event.note) for event, start, end in zip(events, starts, ends, strict=True)
    ], slows_s


def exact(stand, choruses=1):
    """As it is written."""
    events, _ = whole_events(stand, choruses)
    return sorted(
        (Press(start, key, 64, end - start) for _, start, end, key in events),
        key=lambda press: (press.time_s, press.note),
    )


def strikes_asked(stand):
    """(part, second as in whole_events) of every strike that is asked for -> its keys: no grace, of a tremolo the first stroke."""
    row = whole_row(stand) or loop_row(stand)
    counted_s = row.arrangement.bars[0].meter.pulses * 60.0 / stand.tempo_bpm
    begun = steady_starts(row.arrangement, counted_s, stand.tempo_bpm)
    sounding = {
        part: sorted({start for hand, start, *_ in whole_events(stand)[0] if hand == part}) for part in HAND_PARTS
    }
    return {
        (part, round(min(sounding[part], key=lambda start: abs(start - each.due_s)), 4)): each.notes
        for part in HAND_PARTS
        for each in strikes(row.arrangement, begun, part)
    }


def of_hands(stand, seed, slips_in=0.0, pace=None):
    """As hands play it, and by the written second what slipped. slips_in: so many of the right hand's strikes. pace: of the ritardando, the player's own
    share of the written tempo; None draws one every two seconds."""
    due = strikes_asked(stand)
    rng, presses, slips = random.Random(seed), [], {}
    events, slows_s = whole_events(stand)
    lines = [(slows_s + 2.0 * number, pace or rng.uniform(0.7, 1.2)) for number in range(40)]

    def own_s(time_s):
        """The second as the player has it."""
        if time_s <= slows_s:
            return time_s
        at = bisect_right([start for start, _ in lines], time_s) - 1
        return slows_s + sum(2.0 / each for _, each in lines[:at]) + (time_s - lines[at][0]) / lines[at][1]

    strokes = {}
    for part, start, end, key in events:
        strokes.setdefault((part, round(start, 4)), []).append((start, end, key))
    off_s = 0.0
    for (part, at_s), keys in strokes.items():
        melody, here = max(key for *_, key in keys), {key for *_, key in keys}
        asked = due.get((part, at_s))
        off_s = rng.gauss(0.0, SPREAD_S) if asked or part == "left" else off_s + rng.gauss(0.0, SHAKE_S)
        slip = _slip(rng, asked, here) if asked and part == "right" and rng.random() < slips_in else None
        if slip is not None:
            slips[at_s] = slip
        held = rng.uniform(*HELD)
        for start, end, key in keys:
            roll_s = rng.uniform(0.0, ROLL_S) if part == "right" and key != melody and asked else 0.0
            if slip is not None and key == slip.key:
                if slip.kind == "missing":
                    continue
                key = slip.played
            begins, ends = own_s(start), own_s(end)
            presses.append(Press(STARTS_AT_S + begins + off_s + roll_s, key, 64, held * (ends - begins)))
    return sorted(presses, key=lambda press: press.time_s), slips


def _slip(rng, asked, here):
    """As often of the melody as of what lies under it; a key in its place is none that is due."""
    melody = max(asked)
    key = melody if len(asked) == 1 or rng.random() < 0.5 else rng.choice(sorted(set(asked) - {melody}))
    if rng.random() < 0.5:
        return Slip("missing", key, melody)
    beside = [each for each in (key - 2, key - 1, key + 1, key + 2) if each not in here]
    return Slip("wrong", key, melody, rng.choice(beside)) if beside else None
