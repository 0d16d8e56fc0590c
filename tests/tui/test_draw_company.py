"""What goes with the melody on the drawn keyboard: every note of it with its finger, as far as the cue lets it be seen."""

from __future__ import annotations

from desk import put
from tui.conftest import beat

from companion.arranging.choice import FILL, KINDS, TREMOLO, ArrangementChoice
from companion.export.score import Sung
from companion.session.right_hand import played_notes, right_hand
from companion.theory.pitch import Pitch
from companion.tui.draw.melody import lines_of, written_bars
from companion.tui.draw.need import keys_of
from companion.tui.draw.staff import draw_staff
from companion.tui.draw.strip import ROWS, draw_strip
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


ORNATE = """
title = "Ornate"
key = "F"
meter = "4/4"
tempo = 80
form = "A"
[section.A]
bars = "F6 | C7 | F6 | C7"
melody = "a4 c'4 | ^f8 | a8 | g8"
"""


def named(rows, label):
    """The words of the rows with that label, without bar lines."""
    return [
        [word for word in "".join(text for text, _ in row[1:]).split() if word != "│"]
        for row in rows
        if row[0][0].strip() == label
    ]


def test_strip_and_staff_have_the_company_note_by_note(settings) -> None:
    alone = put(TUNE, settings, pattern="four").with_hands("both")
    stand = alone.change(arranged=ArrangementChoice(3))
    bars = written_bars(View(stand), 2)
    strip = draw_strip(bars, 79, 3)
    want = [[str(Pitch.parse(other.name)) for other in reversed(note.company)] for note in right_hand(stand)]
    assert len(strip) == ROWS + 2 and all(want)
    flats = {"♭": "b", "♯": "#"}
    found = ["".join(flats.get(sign, sign) for sign in word) for row in named(strip, "under") for word in row]
    assert sorted(found) == sorted(name for names in want for name in names)
    fingers = ["-".join(str(finger) for finger in note.voicing.fingers) for note in stand.harmonised]
    assert named(strip, "finger") == [fingers]
    for bar, notes in zip(bars, (right_hand(stand)[:2], right_hand(stand)[2:]), strict=True):
        struck = [span.what for span in bar.score.melody if isinstance(span.what, Sung)]
        assert [[str(pitch) for pitch in sung.under] for sung in struck] == [
            [other.name for other in note.company] for note in notes
        ]
    plain = written_bars(View(alone), 2)
    assert len(draw_strip(plain, 79)) == ROWS and all(not bar.marks or not any(bar.marks) for bar in plain)
    heads = [
        sum(
            sign in "█▇▄▀━╭╰"
            for row in draw_staff(each, 79, lines_of(one), "right")
            for text, _ in row
            for sign in text
        )
        for each, one in ((bars, stand), (plain, alone))
    ]
    assert heads[0] > heads[1]


def test_slides_fills_and_tremolos_stand_where_they_are_played(settings) -> None:
    chosen = ArrangementChoice(3, ornaments=KINDS)
    stand = put(ORNATE, settings, pattern="four").with_hands("both").change(arranged=chosen)
    there = stand.ornaments()
    assert there.slides or there.fills
    bars = written_bars(View(stand), 4)
    marks = [mark for bar in bars for mark in bar.marks]
    assert [mark for mark in marks if isinstance(mark, Pitch)] == [
        there.slides[at].pitch for at in sorted(there.slides)
    ]
    notes = right_hand(stand)
    at = min(there.slides)
    bar = next(bar for bar in stand.bars if bar.start_tick <= notes[at].note.start_tick < bar.end_tick)
    pulse = (notes[at].note.start_tick - bar.start_tick) // bar.meter.pulse_ticks
    view = View(stand, playing=True, beat=beat(bar.index, pulse))
    assert keys_of(view).graces[there.slides[at].pitch.midi] == notes[at].midi, "on the keyboard too"
    assert not keys_of(View(stand.with_hands("left"), playing=True, beat=beat(bar.index, pulse))).graces
    assert marks.count(FILL) == len(there.fills)
    assert marks.count(TREMOLO) == len(there.tremolos)
    sung = [
        span.what.pitch.midi
        for bar in bars
        for span in bar.score.melody
        if isinstance(span.what, Sung) and not span.what.from_before
    ]
    assert sung == [note.midi for note in played_notes(stand)], "what fills is written too, a finger to each note"
    assert all(len(bar.fingers) == len(bar.marks) for bar in bars)
