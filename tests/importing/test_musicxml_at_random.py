"""MusicXML files made at random come in whole; COMPANION_MANY=1000 in the environment makes a thousand of them."""

from __future__ import annotations

import os
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from musicxml_made import (
    DIVISIONS,
    Measure,
    Score,
    attributes,
    harmony,
    note,
    read,
)

from companion.importing.symbols import KIND_QUALITIES
from companion.theory.pitch import Tone, degree_interval
from companion.theory.qualities import MUSICXML_KINDS

pytest.importorskip("music21")

MANY = int(os.environ.get("COMPANION_MANY", "40"))
BAR = 4 * DIVISIONS
ROOTS = ("C", "C#", "Db", "D", "D#", "Eb", "E", "F", "F#", "Gb", "G", "G#", "Ab", "A", "A#", "Bb", "B", "Cb")


# --- at random


@st.composite
def chords(draw):
    """(root, kind, degrees, bass) of a chord; degrees as files add them."""
    kind = draw(st.sampled_from([kind for kind in MUSICXML_KINDS if kind != "none"]))
    degree = st.tuples(
        st.sampled_from(("add", "alter", "subtract")), st.sampled_from((3, 4, 5, 6, 7, 9, 11, 13)), st.integers(-1, 1)
    )
    degrees = draw(st.one_of(st.just([]), st.just([]), st.lists(degree, max_size=3)))
    bass = draw(st.sampled_from(("", "", "", *ROOTS)))
    return draw(st.sampled_from(ROOTS)), kind, tuple(degrees), bass


@st.composite
def scores(draw):
    """A score with chords on any quarters of its bars; and for each bar its (quarter, chord)."""
    meter = draw(st.sampled_from(("4/4", "3/4", "5/4", "2/4", "6/8", "12/8")))
    beats, unit = map(int, meter.split("/"))
    quarters = Fraction(4 * beats, unit)
    measures, plan = [], []
    for _ in range(draw(st.integers(1, 6))):
        at = sorted(draw(st.sets(st.integers(0, int(quarters) - 1), max_size=3)))
        bar = [(quarter, draw(chords())) for quarter in at]
        body = "".join(harmony(*chord, offset=quarter * DIVISIONS) for quarter, chord in bar)
        pitch = draw(st.sampled_from(("C5", "Bb4", "F#5", "")))
        measures.append(Measure(body + note(pitch, int(quarters * DIVISIONS))))
        plan.append(bar)
    measures[0].attributes = attributes(meter, draw(st.integers(-7, 7)), draw(st.sampled_from(("major", "minor"))))
    return Score(measures).xml(), plan


# Semitones of an added degree without alteration (MusicXML 4.0, <degree-alter>: "major and perfect intervals except for a
# minor seventh").
ADDED = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10, 9: 14, 11: 17, 13: 21}


def tones_of(kind: str, degrees) -> set[int]:
    """Pitch classes above the root, by the words of the standard."""
    tones = [degree_interval(degree) for degree in MUSICXML_KINDS[kind] or ("1",)]
    for how, value, alter in degrees:
        here = [tone for tone in tones if tone[0] == value]
        if how in ("subtract", "alter"):
            tones = [tone for tone in tones if tone not in here]
        if how == "alter" and here:
            tones.append((value, here[0][1] + alter))
        elif how != "subtract":
            tones.append((value, ADDED[value] + alter))
    return {semitones % 12 for _, semitones in tones}


@pytest.mark.timeout(120 + MANY)
# Neither shrunk nor explained: each file takes music21 a tenth of a second.
@settings(
    max_examples=MANY, suppress_health_check=list(HealthCheck), phases=(Phase.explicit, Phase.reuse, Phase.generate)
)
@given(scores())
def test_made_files_come_in_whole(made):
    """Every chord stands where the file has it, or a remark names its bar."""
    from music21 import converter, stream
    from music21 import harmony as harmony_of_music21

    xml, plan = made
    song, remarks = read(xml)
    told = {int(remark.split(":")[0][4:]) for remark in remarks if remark.startswith("bar ")}
    bars = song.unroll()
    assert len(bars) == len(plan)
    has_degrees = any(degrees for bar in plan for _, (_, _, degrees, _) in bar)
    if has_degrees:  # music21 gives a file up that takes away a degree which is not there
        measures = [None] * len(plan)
    else:
        measures = converter.parse(xml, format="musicxml").parts[0].getElementsByClass(stream.Measure)
    for number, (bar, wanted, measure) in enumerate(zip(bars, plan, measures), 1):
        symbols = [None] * len(wanted)
        if measure is not None:
            symbols = list(measure.recurse().getElementsByClass(harmony_of_music21.ChordSymbol))
            assert len(symbols) == len(wanted)
        for (quarter, (root, kind, degrees, bass)), symbol in zip(wanted, symbols):
            beat = Fraction(quarter * bar.meter.unit, 4)
            placed = next(placed for placed in bar.chords if placed.beat <= beat < placed.beat + placed.beats)
            if placed.chord is None:
                assert number in told
                continue
            assert placed.beat == beat
            assert placed.chord.root.pc == Tone.parse(root).pc
            assert (placed.chord.bass or placed.chord.root).pc == Tone.parse(bass or root).pc
            tones = {semitone % 12 for semitone in placed.chord.semitones}
            assert tones == tones_of(kind, degrees) or number in told
            if kind in KIND_QUALITIES and symbol is not None:
                low = {placed.chord.bass.pc} if placed.chord.bass else set()
                assert placed.chord.pitch_classes | low == {int(pitch.ps) % 12 for pitch in symbol.pitches}
