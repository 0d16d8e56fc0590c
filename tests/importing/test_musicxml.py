"""MusicXML of our own making: every kind of chord, every way through the bars, and files that say odd things.

Outside references: the MusicXML 4.0 Community Group Report (kinds and degrees), and music21 (BSD licence), which reads
the same files, realises the same chords and expands the same repeats. Ways through the bars are common practice.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from musicxml_made import (
    BACKWARD,
    DIVISIONS,
    FORWARD,
    Measure,
    Score,
    attributes,
    chorus,
    ending,
    harmony,
    note,
    read,
    sign,
    words,
)

from companion.chart.melody import section_melody
from companion.importing.signs import steering_of
from companion.importing.symbols import KIND_QUALITIES, quality_of, symbol_of
from companion.theory.pitch import Tone
from companion.theory.qualities import MUSICXML_KINDS
from companion.theory.symbols import parse_chord

pytest.importorskip("music21")
BAR = 4 * DIVISIONS
ROOTS = ("C", "C#", "Db", "D", "D#", "Eb", "E", "F", "F#", "Gb", "G", "G#", "Ab", "A", "A#", "Bb", "B", "Cb")
# Roots and kinds as labels of bars: no two alike.
LABELS = [(root, kind) for kind in ("major", "minor-seventh", "dominant", "major-seventh") for root in ROOTS]
FIRST = attributes()


def labelled(*measures: Measure) -> str:
    """A score whose bar n carries the n-th label."""
    for number, measure in enumerate(measures):
        measure.body = harmony(*LABELS[number]) + measure.body + note("C5", BAR)
    measures[0].attributes = measures[0].attributes or FIRST
    return Score(list(measures)).xml()


def played(xml: str) -> list[int]:
    """Numbers of the labelled bars, from 1, in playing order."""
    song, _ = read(xml)
    names = [root + KIND_QUALITIES[kind] for root, kind in LABELS]
    return [names.index(symbols[0]) + 1 for symbols in chorus(song)]


# --- chords


@pytest.mark.parametrize("kind", KIND_QUALITIES)
def test_a_kind_is_a_symbol_of_just_its_tones(kind):
    for root in ROOTS:
        symbol, said = symbol_of(Tone.parse(root), kind)
        assert said == "" and set(parse_chord(symbol).degrees) == set(MUSICXML_KINDS[kind])
        assert parse_chord(symbol).root == Tone.parse(root)


# kind, degrees (type, value, alter), the usual symbol. MusicXML 4.0, <degree>: an added degree counts from the dominant
# chord, so that 7 with no alteration is the minor seventh; an altered one from the chord's own; common practice for
# the spelling.
DEGREES = (
    ("dominant", [("add", 9, -1)], "C7b9"),
    ("dominant", [("add", 9, 1), ("alter", 5, -1)], "C7#9b5"),
    ("dominant", [("alter", 5, 1)], "C7#5"),
    ("dominant", [("add", 11, 1)], "C7#11"),
    ("dominant", [("add", 13, -1)], "C7b13"),
    ("major", [("add", 9, 0)], "Cadd9"),
    ("major", [("add", 6, 0), ("add", 9, 0)], "C6/9"),
    ("major-sixth", [("add", 9, 0)], "C6/9"),
    ("suspended-fourth", [("add", 7, 0)], "C7sus4"),
    ("suspended-fourth", [("add", 7, 0), ("add", 9, 0)], "C9sus4"),
    ("minor", [("add", 7, 1)], "Cm(maj7)"),
    ("minor-seventh", [("alter", 5, -1)], "Cm7b5"),
    ("minor-seventh", [("add", 5, -1)], "Cm7b5"),  # as music21 10.5 writes it; nobody plays it beside the perfect fifth
    ("major-seventh", [("alter", 5, 1)], "Cmaj7#5"),
    ("major-seventh", [("add", 11, 1)], "Cmaj7#11"),
    ("dominant-ninth", [("alter", 9, -1)], "C7b9"),
    ("dominant-13th", [("alter", 9, -1), ("subtract", 11, 0)], "C7b9add13"),
    ("half-diminished", [("add", 5, 0), ("alter", 5, 1)], "Cm7"),  # the chord's own is altered, not the added one
    ("major", [("subtract", 3, 0)], "C5"),
    ("dominant", [("subtract", 3, 0), ("add", 4, 0)], "C7sus4"),
    ("dominant", [("subtract", 5, 0)], "C7(no5)"),
    ("other", [("add", 3, 0), ("add", 5, 0), ("add", 7, 0)], "C7"),
    ("dominant", [("alter", 5, -1), ("add", 5, 1), ("add", 9, -1), ("add", 9, 1)], "C7alt"),
)  # fmt: skip


@pytest.mark.parametrize(("kind", "degrees", "usual"), DEGREES)
def test_degrees(kind, degrees, usual):
    symbol, said = symbol_of(Tone("C"), kind, degrees)
    assert said == "" and set(parse_chord(symbol).degrees) == set(parse_chord(usual).degrees)
    assert len(symbol) <= len(usual) + 4


def test_a_chord_that_no_symbol_means_is_told():
    symbol, said = symbol_of(Tone("C"), "major", [("subtract", 1, 0), ("add", 13, -1)])
    assert parse_chord(symbol) and "no symbol has just the tones" in said
    assert symbol_of(Tone("C"), "French") == (None, said_of("French"))
    assert symbol_of(Tone("C"), "wobbly") == (None, said_of("wobbly"))


def said_of(kind: str) -> str:
    return f"the chord on C of the kind {kind!r} has no symbol; N.C. stands in its place"


def test_the_text_is_tried_only_where_the_kind_says_nothing():
    assert symbol_of(Tone("C"), "dominant", [], text="13sus")[0] == "C7"
    assert symbol_of(Tone("C"), "other", [], text="7alt")[0] == "C7alt"
    assert symbol_of(Tone("C"), "wobbly", [], text="m9")[0] == "Cm9"
    assert symbol_of(Tone("C"), "other", [], text="D7")[0] is None


@given(
    st.sets(
        st.sampled_from(("b3", "3", "4", "b5", "5", "#5", "6", "bb7", "b7", "7", "b9", "9", "#9", "11", "#11", "13"))
    )
)
def test_a_quality_is_exact_or_says_that_it_is_not(degrees):
    target = frozenset(degrees | {"1"})
    quality, exact = quality_of(target)
    assert (frozenset(parse_chord("C" + quality).degrees) == target) == exact


# --- ways through the bars

WAYS = (
    ("no repeat", [Measure(), Measure()], [1, 2]),
    ("a repeat", [Measure(left=FORWARD), Measure(right=BACKWARD), Measure()], [1, 2, 1, 2, 3]),
    ("a repeat without a beginning", [Measure(), Measure(right=BACKWARD), Measure()], [1, 2, 1, 2, 3]),
    ("two repeats, the second without a beginning",
     [Measure(left=FORWARD), Measure(right=BACKWARD), Measure(), Measure(right=BACKWARD)], [1, 2, 1, 2, 3, 4, 3, 4]),
    ("three times", [Measure(), Measure(left=FORWARD, right='<repeat direction="backward" times="3"/>'), Measure()],
     [1, 2, 2, 2, 3]),
    ("two endings", [
        Measure(left=FORWARD), Measure(left=ending("1", "start"), right=ending("1", "stop") + BACKWARD),
        Measure(left=ending("2", "start"), right=ending("2", "stop")), Measure()], [1, 2, 1, 3, 4]),
    ("endings of two bars", [
        Measure(), Measure(left=ending("1", "start")), Measure(right=ending("1", "stop") + BACKWARD),
        Measure(left=ending("2", "start")), Measure(right=ending("2", "stop")), Measure()], [1, 2, 3, 1, 4, 5, 6]),
    ("an ending for the first two times", [
        Measure(left=FORWARD), Measure(left=ending("1, 2", "start"), right=ending("1, 2", "stop") + BACKWARD),
        Measure(left=ending("3", "start"), right=ending("3", "stop"))], [1, 2, 1, 2, 1, 3]),
    ("a repeat behind endings", [
        Measure(), Measure(left=ending("1", "start"), right=ending("1", "stop") + BACKWARD),
        Measure(left=ending("2", "start"), right=ending("2", "stop")), Measure(), Measure(right=BACKWARD)],
     [1, 2, 1, 3, 4, 5, 4, 5]),
    ("D.C. al Fine", [
        Measure(), Measure(words("Fine")), Measure(), Measure(words("D.C. al Fine"))], [1, 2, 3, 4, 1, 2]),
    ("D.S. al Coda", [
        Measure(), Measure(sign("segno")), Measure(words("To Coda")), Measure(words("D.S. al Coda")),
        Measure(sign("coda"))], [1, 2, 3, 4, 2, 3, 5]),
    ("the coda sign at both ends of the leap", [
        Measure(), Measure(sign("coda")), Measure(words("D.C. al Coda")), Measure(sign("coda")), Measure()],
     [1, 2, 3, 1, 2, 4, 5]),
    ("steering by sound alone", [
        Measure(), Measure('<direction><direction-type><words/></direction-type><sound segno="s"/></direction>'),
        Measure('<sound tocoda="c"/>'), Measure('<sound dalsegno="s"/>'), Measure('<sound coda="c"/>')],
     [1, 2, 3, 4, 2, 3, 5]),
    ("repeats are not taken again after D.C.", [
        Measure(left=FORWARD, right=BACKWARD), Measure(words("Fine")), Measure(words("D.C. al Fine"))], [1, 1, 2, 3, 1, 2]),
    ("after D.C. only the last ending is played", [
        Measure(), Measure(left=ending("1", "start"), right=ending("1", "stop") + BACKWARD),
        Measure(words("Fine"), left=ending("2", "start"), right=ending("2", "stop")), Measure(words("D.C. al Fine"))],
     [1, 2, 1, 3, 4, 1, 3]),
    ("D.C. without a goal goes to the end", [Measure(), Measure(words("D.C."))], [1, 2, 1, 2]),
)  # fmt: skip


@pytest.mark.parametrize(("name", "measures", "expected"), WAYS, ids=[way[0] for way in WAYS])
def test_ways_through_the_bars(name, measures, expected):
    bars = [Measure(measure.body, measure.quarters, measure.left, measure.right) for measure in measures]
    assert played(labelled(*bars)) == expected


# music21 10.5 does not know where a second repeat begins that no sign opens.
EXPANDED = [way for way in WAYS[:8] if "second" not in way[0]]


@pytest.mark.parametrize(("name", "measures", "expected"), EXPANDED, ids=[way[0] for way in EXPANDED])
def test_music21_goes_the_same_way(name, measures, expected):
    from music21 import converter, stream

    bars = [Measure(measure.body, measure.quarters, measure.left, measure.right) for measure in measures]
    part = converter.parse(labelled(*bars), format="musicxml").parts[0]
    assert [measure.number for measure in part.expandRepeats().getElementsByClass(stream.Measure)] == expected


DEAD_ENDS = (
    ("D.S.", "bar 2: D.S. leads to no segno; left out"),
    ("D.C. al Coda", "bar 2: al Coda finds no coda, or no sign To Coda; played to the end"),
    ("D.C. al Fine", "bar 2: al Fine finds no Fine; played to the end"),
    ("Fine", "bar 2: Fine has no D.C. or D.S.; left out"),
    ("To Coda", "bar 2: To Coda has no D.C. or D.S.; left out"),
    ("with feeling", "bar 2: the words 'with feeling' are left out"),
)


@pytest.mark.parametrize(("text", "expected"), DEAD_ENDS)
def test_signs_that_lead_nowhere_are_told(text, expected):
    _, remarks = read(labelled(Measure(), Measure(words(text)), Measure()))
    assert expected in remarks


def test_bars_that_are_never_reached_are_told():
    cut = labelled(Measure(words("Fine")), Measure(words("D.C. al Fine")), Measure())
    assert "bar 3: no repeat or leap ever reaches it; left out" in read(cut)[1]


def test_words_as_engravers_set_them():
    for text in ("D.C. al Fine", "Da Capo al Fine", "DC al Fine", "d.c. al fine", "D. C. al Fine."):
        assert steering_of(text).jump == "start" and steering_of(text).until == "fine", text
    for text in ("D.S. al Coda", "Dal Segno al Coda", "DS al Coda", "D.S. al 𝄌"):
        assert steering_of(text).jump == "segno" and steering_of(text).until == "coda", text
    assert steering_of("To Coda").to_coda and steering_of("Coda").is_coda and steering_of("Fine").is_fine
    assert steering_of("Allegro") is None and steering_of("") is None


# --- bars


def test_a_pickup_sections_meters_and_keys():
    mark = "<direction><direction-type><rehearsal>{}</rehearsal></direction-type></direction>"
    score = Score([
        Measure(note("G4", DIVISIONS), attributes=FIRST),
        Measure(mark.format("Verse 1") + harmony("C", "major") + note("C5", BAR)),
        Measure(harmony("G", "dominant") + note("B4", BAR)),
        Measure(harmony("Ab", "major") + note("C5", 3 * DIVISIONS), attributes=attributes("3/4", -4)),
        Measure(mark.format("12") + note("Ab4", 3 * DIVISIONS)),
    ], first_number=0)  # fmt: skip
    song, remarks = read(score.xml())
    assert (song.pickup, song.form) == (1, ("Verse-1", "A", "Part12"))
    assert [(section.meter.name, section.key.name) for section in song.sections.values()] == [
        ("4/4", "C"), ("3/4", "Ab"), ("3/4", "Ab"),
    ]  # fmt: skip
    assert chorus(song) == [["C"], ["G7"], ["Ab"], ["Ab"]]  # a bar without a symbol keeps the chord before
    notes = section_melody(song, "Verse-1")
    assert [(note.start_tick, note.pitch.name) for note in notes] == [(-960, "G4"), (0, "C5"), (3840, "B4")]
    assert not [remark for remark in remarks if "bar" in remark]


def test_a_bar_cut_by_a_repeat_sign_is_one_bar():
    """The tune with a pickup whose repeat ends three beats into bar 4 (common practice in songs and dances)."""
    three = 3 * DIVISIONS
    score = Score([
        Measure(note("G4", DIVISIONS), attributes=FIRST),
        Measure(harmony("C", "major") + note("C5", BAR)),
        Measure(harmony("G", "major") + note("D5", three), right=BACKWARD),
        Measure(note("E5", DIVISIONS)),
        Measure(harmony("F", "major") + note("F5", BAR)),
        Measure(harmony("C", "major") + note("C5", three)),
    ], first_number=0)  # fmt: skip
    song, remarks = read(score.xml())
    assert song.pickup == 1
    assert chorus(song) == [["C"], ["G"], ["C"], ["G"], ["F"], ["C"]]
    assert {section.meter.name for section in song.sections.values()} == {"4/4"}
    assert not [remark for remark in remarks if "holds" in remark]


def test_odd_bars_get_the_meter_that_they_have_and_are_told():
    score = Score([
        Measure(harmony("C", "major") + note("C5", BAR), attributes=FIRST),
        Measure(harmony("G", "major") + note("D5", 2 * DIVISIONS)),
        Measure(harmony("C", "major") + note("C5", BAR)),
        Measure(harmony("C", "major") + note("C5", 3 * DIVISIONS)),
    ])  # fmt: skip
    song, remarks = read(score.xml())
    assert [section.meter.name for section in song.sections.values()] == ["4/4", "2/4", "4/4"]
    assert "bar 2: it holds 2 beats where 4/4 has 4; it stands in a section of its own in 2/4" in remarks
    assert "bar 4: it holds 3 beats where 4/4 has 4; filled up with a rest" in remarks


def test_what_a_melody_cannot_hold_is_told():
    stacked = note("C5", BAR) + note("E5", BAR).replace("<note>", "<note><chord/>")
    grace = "<note><grace/><pitch><step>D</step><octave>5</octave></pitch><voice>1</voice></note>" + note("C5", BAR)
    drum = f"<note><unpitched/><duration>{BAR}</duration><voice>1</voice></note>"
    song, remarks = read(Score([Measure(stacked, attributes=FIRST), Measure(grace), Measure(drum)]).xml())
    assert [note.pitch and note.pitch.name for note in section_melody(song, "A")] == ["E5", "C5", None]
    assert any(remark.startswith("bar 1: the lower notes") for remark in remarks)
    assert "bar 2: grace notes are left out of the melody" in remarks
    assert "bar 3: notes without a pitch are left out of the melody" in remarks


def test_ties_and_triplets_are_exact():
    half = 2 * DIVISIONS
    tie = "<tie type='start'/>", "<tie type='stop'/>"
    third = DIVISIONS * 2 // 3
    triplet = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
    measures = [
        Measure(note("C5", half) + note("D5", half, tie[0]), attributes=FIRST),
        Measure(note("D5", half, tie[1]) + "".join(note(name, third, triplet) for name in ("E5", "F5", "G5"))),
    ]
    song, _ = read(Score(measures).xml())
    assert [(note.pitch.name, note.ticks) for note in section_melody(song, "A")] == [
        ("C5", 1920), ("D5", 3840), ("E5", 640), ("F5", 640), ("G5", 640),
    ]  # fmt: skip


def test_a_part_in_b_flat_comes_in_as_it_sounds():
    steps = "<transpose><diatonic>-1</diatonic></transpose>"
    song, remarks = read(Score([Measure(harmony("D", "major"), attributes=attributes(fifths=2, more=steps))]).xml())
    assert (
        song.key.name == "D"
        and "how far the part is transposed is not said in semitones; left as it is written" in remarks
    )
    trumpet = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    score = Score(
        [Measure(harmony("D", "minor-seventh") + note("D5", BAR), attributes=attributes(fifths=2, more=trumpet))]
    )
    song, remarks = read(score.xml())
    assert (song.key.name, chorus(song), section_melody(song, "A")[0].pitch.name) == ("C", [["Cm7"]], "C5")
    assert any("transposing instrument; moved from D to C" in remark for remark in remarks)


def test_minor_is_told_by_the_mode_or_else_by_the_last_chord():
    bar = harmony("A", "minor") + note("A4", BAR)
    assert read(Score([Measure(bar, attributes=attributes(mode="minor"))]).xml())[0].key.name == "Am"
    bare = attributes().replace("<mode>major</mode>", "")
    assert read(Score([Measure(bar, attributes=bare)]).xml())[0].key.name == "Am"
    assert read(Score([Measure(bar, attributes=attributes())]).xml())[0].key.name == "C"
    song, remarks = read(Score([Measure(bar, attributes=attributes(mode="dorian"))]).xml())
    assert (
        song.key.name == "Dm" and "a chart has no dorian mode; Dm taken, with signs where the notes differ" in remarks
    )


def test_tempo_counts_the_pulses_of_the_meter():
    beat = "<direction><direction-type><metronome><beat-unit>quarter</beat-unit>{}<per-minute>{}</per-minute></metronome></direction-type></direction>"
    six = Measure(beat.format("<beat-unit-dot/>", 56) + note("C5", 3 * DIVISIONS), attributes=attributes("6/8"))
    assert read(Score([six]).xml())[0].tempo_bpm == 56
    four = Measure(beat.format("", 132) + words("Swing") + note("C5", BAR), attributes=FIRST)
    assert (read(Score([four]).xml())[0].tempo_bpm, read(Score([four]).xml())[0].feel) == (132, "swing")
    bossa = Measure(words("Bossa nova") + note("C5", BAR), attributes=FIRST)
    song, remarks = read(Score([bossa]).xml())
    assert song.feel == "straight" and "the file has no tempo; 120 taken" in remarks


def test_a_number_of_a_bar_is_shown_as_text():
    """Told in a remark, and printed."""
    xml = Score([Measure(words("x"))]).xml().replace('number="1"', 'number="1&#x9b;\u202e"')
    _, remarks = read(xml)
    assert all(remark.isprintable() for remark in remarks) and any("\\x9b\\u202e" in remark for remark in remarks)
