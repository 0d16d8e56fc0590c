"""What goes with the melody on the drawn keyboard: every note of it with its finger, as far as the cue lets it be seen."""

from __future__ import annotations

from desk import put
from tui.conftest import beat

from companion.arranging.choice import ArrangementChoice
from companion.tui.draw.need import keys_of
from companion.tui.draw.view import View

TUNE = """
title = "Both"
key = "F"
meter = "4/4"
tempo = 100
form = "A"
[section.A]
bars = "F6 | D7"
melody = "a4 c'4 | ^f8"
"""


def test_the_company_is_shown_under_the_melody_with_its_fingers(settings) -> None:
    alone = put(TUNE, settings, pattern="four").with_hands("both")
    stand = alone.change(arranged=ArrangementChoice(3))
    for number, index, pulse in ((0, 0, 0), (1, 0, 2), (2, 1, 0)):
        view = View(stand, playing=True, beat=beat(index, pulse))
        shown = {note.midi: note.finger for note in keys_of(view).now if note.hand == "right"}
        voicing = stand.harmonised[number].voicing
        assert tuple(sorted(shown.items())) == tuple(zip(voicing.keys, map(str, voicing.fingers), strict=True))
        assert all(keys_of(view).window[0] <= key <= keys_of(view).window[1] for key in voicing.keys)
    only = View(alone, playing=True, beat=beat(0, 0))
    assert [note.midi for note in keys_of(only).now if note.hand == "right"] == [81]
