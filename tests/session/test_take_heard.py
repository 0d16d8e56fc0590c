"""A recording whose free hearing takes what still rings for struck again: what is sure says the rhythm."""

from __future__ import annotations

import numpy as np

from companion.chart.reader import parse_chart
from companion.practice.marking.expected import expected_strikes, steady_starts
from companion.session.stand import Stand
from companion.session.take_heard import hear_take
from companion.sound.listening.piano import general_piano
from companion.sound.listening.verdicts import MISSING, NOT_SURE, RIGHT, HeardNote, Verdict
from companion.sound.listening.whole import Struck

CHART = """
title = "Kettle Song"
key = "C"
meter = "4/4"
tempo = 120
form = "A"

[section.A]
bars = "Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | C6 | C6 |"
"""


def strikes(stand):
    return expected_strikes(stand.arrangement(), steady_starts(stand.arrangement(), 1.0, 120.0))


def test_a_rhythm_that_only_what_rings_speaks_for_is_given_up(settings, monkeypatch):
    stand = Stand.put(parse_chart(CHART, id="kettle-song"), settings).change(pattern="four")
    played = {round(strike.due_s, 2) for strike in strikes(stand.change(pattern="two"))}

    def named(notes):
        return tuple(HeardNote(note, 0.9) for note in notes)

    def verdicts_of(sound, piano, dues, thresholds=None):
        said = []
        for number, due in enumerate(dues):
            came = round(due.time_s, 2) in played
            kind = RIGHT if came else (NOT_SURE, MISSING)[number // 2 % 2]
            said.append(Verdict(due, kind, named(due.notes) if came else (), due.time_s if came else None, 0.9))
        return said

    heard_free = [Struck(strike.due_s, named(strike.notes), 1.0) for strike in strikes(stand)]
    monkeypatch.setattr("companion.sound.listening.whole.struck_in", lambda sound, piano: heard_free)
    monkeypatch.setattr("companion.sound.listening.whole.verdicts_of", verdicts_of)
    heard = hear_take(stand, np.zeros(16_000, dtype=np.float32), general_piano())
    assert heard.marked.take.arrangement.pattern == "two"
    assert (heard.strikes, heard.unsure) == (len(played), 0)
    assert heard.marked.together.figures.share_right == 1.0
    # Named by the student, the rhythm stands.
    told = hear_take(stand, np.zeros(16_000, dtype=np.float32), general_piano(), "four")
    assert told.marked.take.arrangement.pattern == "four" and told.unsure > 0
