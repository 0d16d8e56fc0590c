"""Lead sheets that come with music21, imported whole and held against music21's own reading.

They are read from the installed package, nothing of them is copied here. music21 is under the BSD licence; its
corpus/license.txt says that the music of the corpus is distributed with its encoders' permission, to the makers' best
knowledge out of copyright in the United States, or licensed for use. "leadSheet/fosterBrownHair" says "Public Domain"
of itself (Stephen Foster, 1854). musicxml/lilypondTestSuite says in its __init__.py that it is under the MIT
licence.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest
from shipped import spread

from companion.chart.melody import chorus_melody, section_melody
from companion.importing import import_file
from companion.importing.guard import read_file, scan, xml_of
from companion.importing.musicxml import read_musicxml
from companion.importing.symbols import KIND_QUALITIES
from companion.theory.symbols import parse_chord

music21 = pytest.importorskip("music21")
PACKAGE = Path(music21.__file__).parent
FOSTER = PACKAGE / "corpus" / "leadSheet" / "fosterBrownHair.mxl"
SYMBOLS = PACKAGE / "corpus" / "demos" / "ComprehensiveChordSymbolsTestFile.mxl"
ALL_TYPES = PACKAGE / "musicxml" / "lilypondTestSuite" / "71f-AllChordTypes.xml"
# file -> bars and chord symbols, counted by music21 10.5.1.
COUNTS = {FOSTER: (35, 40), SYMBOLS: (57, 57), ALL_TYPES: (10, 38)}
NAMES = {
    "dominant-seventh": "dominant",
    "half-diminished-seventh": "half-diminished",
    "minor-major-seventh": "major-minor",
}


imported = cache(
    import_file
)  # each file takes a second, and as much for music21 to read: those that look at the same follow each other
at_the_same = pytest.mark.xdist_group("corpus")


@cache
def theirs(path):
    """music21's measures, each with (offset, chord symbol)."""
    from music21 import converter, harmony, stream

    score = converter.parse(path, forceSource=True)
    return [
        [(Fraction(symbol.offset), symbol) for symbol in measure.recurse().getElementsByClass(harmony.ChordSymbol)]
        for measure in score.parts[0].getElementsByClass(stream.Measure)
    ]


@at_the_same
@pytest.mark.parametrize("path", spread([*COUNTS], 2), ids=lambda path: path.stem)
def test_bars_and_chord_symbols_are_those_that_music21_counts(path):
    measures = theirs(path)
    xml = xml_of(read_file(path))
    sheet = read_musicxml(xml, scan(xml))
    song = imported(path).song
    assert len(measures) == len(sheet.bars) == COUNTS[path][0]
    assert sum(map(len, measures)) == COUNTS[path][1]
    for measure, bar in zip(measures, sheet.bars):
        ours = [chord for chord in bar.chords if chord[1] is not None]
        assert len(bar.chords) >= len(measure)
        assert {offset for offset, _ in ours} <= {offset for offset, _ in measure}
    # In the chart every bar stands once, in the sections as they are written.
    bars = [bar for section in song.sections.values() for bar in section.bars]
    assert len(bars) == len(measures)
    for measure, bar in zip(measures, bars):
        for offset, symbol in measure:
            placed = next(placed for placed in bar.chords if placed.beat <= offset < placed.beat + placed.beats)
            if placed.chord is None:
                continue  # listed, see below
            assert placed.beat == offset
            root = symbol.root()
            assert (placed.chord.root.letter, placed.chord.root.alter) == (root.step, root.alter)


@at_the_same
@pytest.mark.parametrize("path", spread([*COUNTS], 3, 2), ids=lambda path: path.stem)
def test_the_tones_are_those_that_music21_hears(path):
    compared = 0
    song = imported(path).song
    bars = [bar for section in song.sections.values() for bar in section.bars]
    for measure, bar in zip(theirs(path), bars):
        for offset, symbol in measure:
            kind = NAMES.get(symbol.chordKind, symbol.chordKind)
            placed = next(placed for placed in bar.chords if placed.beat <= offset < placed.beat + placed.beats)
            if placed.chord is None or kind not in KIND_QUALITIES or symbol.getChordStepModifications():
                continue
            bass = {placed.chord.bass.pc} if placed.chord.bass else set()
            assert placed.chord.pitch_classes | bass == {int(pitch.ps) % 12 for pitch in symbol.pitches}, symbol.figure
            compared += 1
    assert compared >= 29


@at_the_same
def test_the_song_has_its_form_endings_and_melody():
    result = imported(FOSTER)
    song = result.song
    assert song.title == "Jeanie With The Light Brown Hair"
    assert song.form == ("A", "B", "End1", "B", "End2")  # an opening bar, thirty repeated ones, two endings of two
    assert [len(song.sections[name].bars) for name in song.sections] == [1, 30, 2, 2]
    assert song.sections["End1"].bars[1].chords[-1].chord is None  # the words N.C. in the file
    notes = [note for note in section_melody(song, "B") if note.pitch]
    from music21 import converter, stream

    part = converter.parse(FOSTER, forceSource=True).parts[0]
    measures = list(part.getElementsByClass(stream.Measure))[1:31]
    written = [
        note for measure in measures for note in measure.notes
        if note.isNote and not (note.tie and note.tie.type in ("stop", "continue"))
    ]  # fmt: skip
    assert [note.pitch.midi for note in notes] == [note.pitch.midi for note in written]
    assert sum(note.ticks for note in chorus_melody(song)) == (1 + 30 + 2 + 30 + 2) * 4 * 960
    assert all("bar" in note or "left out" in note or "taken" in note for note in result.notes)


@at_the_same
def test_what_is_no_standard_chord_is_listed_by_bar():
    notes = imported(SYMBOLS).notes
    assert any(note.startswith("bar 11: the kind 'minor-major' is not in the standard") for note in notes)
    assert any(note.startswith("bar 56:") and "tristan" in note for note in notes)
    for bar, kind in ((7, "Neapolitan"), (7, "Italian"), (7, "French"), (7, "German"), (8, "Tristan"), (8, "other")):
        assert any(note.startswith(f"bar {bar}:") and kind in note for note in imported(ALL_TYPES).notes)
    # Without its root a chord has no shell; the file's last one takes the root away.
    assert any(
        note.startswith("bar 10: no symbol has just the tones 3 5 b6 above C") for note in imported(ALL_TYPES).notes
    )


@pytest.mark.parametrize("name", spread(sorted(path.name for path in ALL_TYPES.parent.glob("*.xml")), 4))
def test_every_file_of_the_suite_ends_in_a_chart_or_in_a_sentence(name):
    """The suite holds nearly all that MusicXML can say, some of it against the standard on purpose."""
    from musicxml_made import read

    from companion.errors import SheetError

    try:
        song, _ = read(xml_of(read_file(ALL_TYPES.parent / name)), name)
    except SheetError as error:
        assert len(str(error)) > 20
        return
    assert song.unroll()
    for section in song.sections:
        section_melody(song, section)


@at_the_same
def test_a_bar_with_several_chords_keeps_their_lengths():
    bar = imported(ALL_TYPES).song.sections["A"].bars[8]
    assert [(placed.chord.symbol, placed.beats) for placed in bar.chords] == [
        ("F#/C#", 2), ("Fbb/C", Fraction(1, 2)), ("G#/D#", Fraction(1, 2)), ("C", 1),
    ]  # fmt: skip
    assert parse_chord("Fbb/C").root.alter == -2
