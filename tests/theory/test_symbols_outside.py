"""Chord tones against three reference libraries and two tables from outside the project.

music21 10.5 (spelled tones), pychord 1.4 (spelled tones) and mir_eval 0.8 (pitch classes; its shorthands are those of
Harte, Sandler, Abdallah & Gomez, "Symbolic representation of musical chords", ISMIR 2005). Where a library cannot
write a quality its column is None. Where it reads one otherwise than the trade does, the reason stands in DISAGREEMENTS
and a test makes sure that the disagreement is still as told.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import pytest
from strategies import ROOT_NAMES

from companion.errors import ChordError
from companion.theory.pitch import Tone, degree_interval
from companion.theory.qualities import MUSICXML_KINDS
from companion.theory.symbols import parse_chord

ROOTS = ROOT_NAMES[:17]  # without the odd names of white keys, which not every library reads

# quality as lead sheets write it | its tones on C (common practice) | Harte | music21 | pychord
TABLE = [
    ("", "C E G", "maj", "", ""),
    ("m", "C Eb G", "min", "m", "m"),
    ("-", "C Eb G", "min", "m", "-"),
    ("dim", "C Eb Gb", "dim", "dim", "dim"),
    ("o", "C Eb Gb", "dim", "o", "dim"),
    ("aug", "C E G#", "aug", "aug", "aug"),
    ("+", "C E G#", "aug", "+", "aug"),
    ("(b5)", "C E Gb", "maj(*5,b5)", None, "(b5)"),
    ("5", "C G", "5", "power", "5"),
    ("sus", "C F G", "sus4", "sus", "sus"),
    ("sus4", "C F G", "sus4", "sus4", "sus4"),
    ("sus2", "C D G", "sus2", "sus2", "sus2"),
    ("7", "C E G Bb", "7", "7", "7"),
    ("maj7", "C E G B", "maj7", "maj7", "maj7"),
    ("M7", "C E G B", "maj7", "M7", "M7"),
    ("Δ", "C E G B", "maj7", "maj7", "maj7"),
    ("△7", "C E G B", "maj7", "maj7", "maj7"),
    ("m7", "C Eb G Bb", "min7", "m7", "m7"),
    ("-7", "C Eb G Bb", "min7", "m7", "m7"),
    ("mM7", "C Eb G B", "minmaj7", "mM7", "mM7"),
    ("m(maj7)", "C Eb G B", "minmaj7", "minmaj7", "mmaj7"),
    ("-Δ7", "C Eb G B", "minmaj7", "mM7", "mM7"),
    ("m#7", "C Eb G B", "minmaj7", "mM7", "mM7"),
    ("m7b5", "C Eb Gb Bb", "hdim7", "m7b5", "m7b5"),
    ("ø", "C Eb Gb Bb", "hdim7", "ø7", "m7-5"),
    ("ø7", "C Eb Gb Bb", "hdim7", "ø7", "m7b5"),
    ("dim7", "C Eb Gb Bbb", "dim7", "dim7", "dim7"),
    ("°7", "C Eb Gb Bbb", "dim7", "o7", "dim7"),
    ("+7", "C E G# Bb", "aug(b7)", "+7", "7#5"),
    ("aug7", "C E G# Bb", "aug(b7)", "aug7", "7#5"),
    ("7+", "C E G# Bb", "aug(b7)", "7+", "7+5"),
    ("7#5", "C E G# Bb", "aug(b7)", "7#5", "7#5"),
    ("+M7", "C E G# B", "aug(7)", "+M7", "maj7+5"),
    ("maj7#5", "C E G# B", "aug(7)", "augmaj7", "M7+5"),
    ("7b5", "C E Gb Bb", "7(*5,b5)", "7b5", "7b5"),
    ("maj7b5", "C E Gb B", "maj7(*5,b5)", "M7b5", None),
    ("m7#5", "C Eb G# Bb", "min7(*5,#5)", "m7#5", "m7#5"),
    ("dim(maj7)", "C Eb Gb B", "dim(7)", None, None),
    ("6", "C E G A", "maj6", "6", "6"),
    ("m6", "C Eb G A", "min6", "m6", "m6"),
    ("69", "C E G A D", "maj6(9)", "6add9", "69"),
    ("6/9", "C E G A D", "maj6(9)", "6add9", "69"),
    ("m6/9", "C Eb G A D", "min6(9)", "m6add9", "m69"),
    ("6b5", "C E Gb A", "maj6(*5,b5)", None, "6b5"),
    ("7sus4", "C F G Bb", "sus4(b7)", "7sus4", "7sus4"),
    ("7sus", "C F G Bb", "sus4(b7)", "7sus", "7sus4"),
    ("9sus4", "C F G Bb D", "sus4(b7,9)", "7sus4add9", "9sus4"),
    ("9sus", "C F G Bb D", "sus4(b7,9)", "7sus4add9", "9sus4"),
    ("13sus", "C F G Bb D A", "sus4(b7,9,13)", None, None),
    ("sus4add9", "C F G D", "sus4(9)", "sus4add9", "sus4add9"),
    ("add9", "C E G D", "maj(9)", "add9", "add9"),
    ("(add9)", "C E G D", "maj(9)", "add9", "add9"),
    ("m(add9)", "C Eb G D", "min(9)", "madd9", "madd9"),
    ("2", "C D E G", "maj(2)", None, "2"),
    ("add2", "C D E G", "maj(2)", None, "add9"),
    ("add4", "C E F G", "maj(4)", "add4", "add4"),
    ("add11", "C E G F", "maj(11)", "add11", "add11"),
    ("(no3)", "C G", "maj(*3)", None, "5"),
    ("omit5", "C E", "maj(*5)", None, "omit5"),
    ("m(no5)", "C Eb", "min(*5)", None, "m(no5)"),
    ("9", "C E G Bb D", "9", "9", "9"),
    ("maj9", "C E G B D", "maj9", "M9", "maj9"),
    ("m9", "C Eb G Bb D", "min9", "m9", "m9"),
    ("mM9", "C Eb G B D", "minmaj7(9)", "mM9", None),
    ("ø9", "C Eb Gb Bb D", "hdim7(9)", "ø9", None),
    ("dim9", "C Eb Gb Bbb D", "dim7(9)", "dim9", None),
    ("11", "C E G Bb D F", "11", "11", "11"),
    ("m11", "C Eb G Bb D F", "min11", "m11", "m11"),
    ("maj11", "C E G B D F", "maj9(11)", "M11", None),
    ("13", "C E G Bb D F A", "13", "13", "13"),
    ("maj13", "C E G B D F A", "maj13", "M13", "maj13"),
    ("m13", "C Eb G Bb D F A", "min13", "m13", None),
    ("+9", "C E G# Bb D", "aug(b7,9)", "+9", "9#5"),
    ("9b5", "C E Gb Bb D", "9(*5,b5)", "9b5", "9b5"),
    ("9+5", "C E G# Bb D", "9(*5,#5)", "9#5", "9+5"),
    ("7b9", "C E G Bb Db", "7(b9)", "7b9", "7b9"),
    ("7-9", "C E G Bb Db", "7(b9)", "7b9", "7-9"),
    ("7#9", "C E G Bb D#", "7(#9)", "7#9", "7#9"),
    ("7+9", "C E G Bb D#", "7(#9)", "7#9", "7+9"),
    ("7#11", "C E G Bb F#", "7(#11)", "7#11", "7#11"),
    ("7b13", "C E G Bb Ab", "7(b13)", "7b13", "7b13"),
    ("7b9b13", "C E G Bb Db Ab", "7(b9,b13)", "7b9b13", None),
    ("7(b9,#11)", "C E G Bb Db F#", "7(b9,#11)", "7b9#11", "7b9#11"),
    ("7b9#9", "C E G Bb Db D#", "7(b9,#9)", "7b9#9", "7b9#9"),
    ("7b9b5", "C E Gb Bb Db", "7(*5,b5,b9)", "7b9b5", "7b9b5"),
    ("7b9#5", "C E G# Bb Db", "7(*5,#5,b9)", "7b9#5", "7b9#5"),
    ("7#9b5", "C E Gb Bb D#", "7(*5,b5,#9)", "7#9b5", "7#9b5"),
    ("7#9#5", "C E G# Bb D#", "7(*5,#5,#9)", "7#9#5", "7#9#5"),
    ("m7b9", "C Eb G Bb Db", "min7(b9)", "m7b9", None),
    ("9#11", "C E G Bb D F#", "9(#11)", "9#11", "9#11"),
    ("maj7#11", "C E G B F#", "maj7(#11)", "maj7#11", "maj7#11"),
    ("13b9", "C E G Bb Db F A", "7(b9,11,13)", None, "13b9"),
    ("13#9", "C E G Bb D# F A", "7(#9,11,13)", None, "13#9"),
    ("13#11", "C E G Bb D F# A", "7(9,#11,13)", None, "13#11"),
    ("7(13)", "C E G Bb A", "7(13)", "7add13", None),
    ("m7(11)", "C Eb G Bb F", "min7(11)", "m7add11", "m7add11"),
    ("maj7add13", "C E G B A", "maj7(13)", "maj7add13", "maj7add13"),
    ("mb6", "C Eb G Ab", "min(b6)", None, None),
    ("alt", "C E Gb G# Bb Db D#", "7(*5,b5,#5,b9,#9)", None, None),
    ("7alt", "C E Gb G# Bb Db D#", "7(*5,b5,#5,b9,#9)", None, None),
]

# Where a library reads a symbol otherwise: library, its symbol, what it reads, what the trade reads, the reason.
DISAGREEMENTS = [
    ("music21", "C69", "C A D", "C E G A D", "leaves third and fifth out"),
    ("music21", "C2", "C D", "C D E G", "takes the 2 for the only tone above the root"),
    ("music21", "C13b9", "C E G Bb D F A", "C E G Bb Db F A", "keeps the natural 9 and leaves the flat one out"),
    ("music21", "C13#9", "C E G Bb D F A", "C E G Bb D# F A", "keeps the natural 9 and leaves the sharp one out"),
    ("music21", "C13#11", "C E G Bb D F A", "C E G Bb D F# A", "keeps the natural 11 and leaves the sharp one out"),
    ("music21", "C#m#7", "C# E G# C", "C# E G# B#", "spells the major seventh as an octave"),
    ("music21", "C-7", "Cb Eb Gb Bbb", "C Eb G Bb", "its flat sign is the minus sign"),
    ("music21", "Bb7", "B D# F# A", "Bb D F Ab", "does not know b as the flat of a root"),
    ("pychord", "C6/9", "E G A C", "C E G A D", "takes the 9 for a bass note"),
    ("pychord", "C7b9b13", "C E G Bb Db F Ab", "C E G Bb Db Ab", "stacks an 11 that the symbol does not name"),
    ("pychord", "C4", "C E G F", None, "reads an added 11; on a lead sheet it may also mean sus4, so it is asked for"),
]
IDS = [row[0] or "major" for row in TABLE]


@cache
def music21_tones(root: str, quality: str) -> frozenset[str]:
    from music21 import harmony  # writes flats as "-"

    symbol = harmony.ChordSymbol(root.replace("b", "-") + quality)
    return frozenset(pitch.name.replace("-", "b") for pitch in symbol.pitches)


@cache
def pychord_tones(root: str, quality: str) -> frozenset[str]:
    from pychord import Chord

    return frozenset(Chord(root + quality).components())


def mir_eval_pitch_classes(root: str, quality: str) -> set[int]:
    from mir_eval.chord import encode

    number, bitmap, _ = encode(f"{root}:{quality}", reduce_extended_chords=True)
    return {(number + semitone) % 12 for semitone, sounds in enumerate(bitmap) if sounds}


def names(chord) -> frozenset[str]:
    return frozenset(tone.name for tone in chord.tones)


@pytest.mark.parametrize("row", TABLE, ids=IDS)
def test_a_row_is_read_as_the_trade_and_the_libraries_read_it(row):
    """music21 on four or five roots, the rows taking turns, as it needs seven milliseconds a chord; the others on all."""
    quality, tones, harte, of_music21, of_pychord = row
    on_c = parse_chord("C" + quality)
    assert names(on_c) == set(tones.split())
    assert len(on_c.tones) == len(tones.split())
    for number, root in enumerate(ROOTS):
        chord = parse_chord(root + quality)
        assert chord.pitch_classes == mir_eval_pitch_classes(root, harte), root
        if of_pychord is not None:
            assert names(chord) == pychord_tones(root, of_pychord), root
        if of_music21 is not None and number % 4 == TABLE.index(row) % 4:
            assert names(chord) == music21_tones(root, of_music21), root


@pytest.mark.parametrize(("library", "symbol", "theirs", "ours", "reason"), DISAGREEMENTS)
def test_every_disagreement_is_as_told(library, symbol, theirs, ours, reason):
    """A library that mends its reading fails here, and its row moves to the table."""
    if library == "music21":
        from music21 import harmony

        read = {pitch.name.replace("-", "b") for pitch in harmony.ChordSymbol(symbol).pitches}
    else:
        read = set(pychord_tones("", symbol))
    assert read == set(theirs.split())
    if ours is None:
        with pytest.raises(ChordError):
            parse_chord(symbol)
    else:
        assert names(parse_chord(symbol)) == set(ours.split()) != read


def test_every_quality_of_pychord_is_read_alike():
    """Its table of 104 qualities is the widest of the three; only the rows named above are read otherwise."""
    from pychord.constants.qualities import DEFAULT_QUALITIES

    told = {"2": "a ninth there, a second here", "4": "refused here", "7b9b13": "an 11 there"}
    for quality, degrees in DEFAULT_QUALITIES:
        if quality not in told:
            rising = sorted(degrees, key=lambda degree: degree_interval(degree)[1])
            assert parse_chord("C" + quality).degrees == tuple(rising), quality


def test_every_written_form_of_music21_is_read_alike():
    """Its chord table with all the abbreviations it takes; the sixth chords of harmony lessons are no chord symbols."""
    from music21 import harmony

    no_symbols = {"Neapolitan", "Italian", "French", "German", "Tristan", "pedal", "power"}
    told = {"dom7dim5": "no lead sheet's spelling", "ob9": "here o is the triad alone", "dimb9": "the same"}
    for kind, (degrees, spellings) in harmony.CHORD_TYPES.items():
        for spelling in spellings:
            if kind in no_symbols or spelling in told:
                continue
            expected = {degree.replace("-", "b") for degree in degrees.split(",")}
            assert set(parse_chord("C" + spelling).degrees) == expected, spelling


# The kind-value table of MusicXML 4.0 (W3C Music Notation Community Group, "The <kind> element"), in semitones above the
# root. The schema describes each kind in words; the semitones follow from them. None: no tones fixed by the name alone.
KINDS = {
    "major": (0, 4, 7), "minor": (0, 3, 7), "augmented": (0, 4, 8), "diminished": (0, 3, 6),
    "dominant": (0, 4, 7, 10), "major-seventh": (0, 4, 7, 11), "minor-seventh": (0, 3, 7, 10),
    "diminished-seventh": (0, 3, 6, 9), "augmented-seventh": (0, 4, 8, 10), "half-diminished": (0, 3, 6, 10),
    "major-minor": (0, 3, 7, 11), "major-sixth": (0, 4, 7, 9), "minor-sixth": (0, 3, 7, 9),
    "dominant-ninth": (0, 4, 7, 10, 14), "major-ninth": (0, 4, 7, 11, 14), "minor-ninth": (0, 3, 7, 10, 14),
    "dominant-11th": (0, 4, 7, 10, 14, 17), "major-11th": (0, 4, 7, 11, 14, 17), "minor-11th": (0, 3, 7, 10, 14, 17),
    "dominant-13th": (0, 4, 7, 10, 14, 17, 21), "major-13th": (0, 4, 7, 11, 14, 17, 21),
    "minor-13th": (0, 3, 7, 10, 14, 17, 21), "suspended-second": (0, 2, 7), "suspended-fourth": (0, 5, 7),
    "Neapolitan": None, "Italian": None, "French": None, "German": None, "Tristan": None,
    "pedal": (0,), "power": (0, 7), "other": None, "none": None,
}  # fmt: skip
SYMBOL_OF_KIND = {
    "major": "C", "minor": "Cm", "augmented": "C+", "diminished": "Cdim", "dominant": "C7", "major-seventh": "Cmaj7",
    "minor-seventh": "Cm7", "diminished-seventh": "Cdim7", "augmented-seventh": "C+7", "half-diminished": "Cø7",
    "major-minor": "CmMaj7", "major-sixth": "C6", "minor-sixth": "Cm6", "dominant-ninth": "C9", "major-ninth": "Cmaj9",
    "minor-ninth": "Cm9", "dominant-11th": "C11", "major-11th": "Cmaj11", "minor-11th": "Cm11", "dominant-13th": "C13",
    "major-13th": "Cmaj13", "minor-13th": "Cm13", "suspended-second": "Csus2", "suspended-fourth": "Csus4",
    "power": "C5",
}  # fmt: skip


def test_musicxml_kinds():
    for kind, semitones in KINDS.items():
        assert tuple(degree_interval(degree)[1] for degree in MUSICXML_KINDS[kind]) == (semitones or ()), kind
        if kind in SYMBOL_OF_KIND:
            assert parse_chord(SYMBOL_OF_KIND[kind]).degrees == MUSICXML_KINDS[kind], kind


def test_musicxml_kinds_are_those_of_the_schema():
    """The schema that music21 carries is MusicXML 2.0's; the list has stayed the same since (from memory for 4.0)."""
    import music21

    schema = ElementTree.parse(Path(music21.__file__).parent / "musicxml" / "musicxml.xsd")
    space = {"xs": "http://www.w3.org/2001/XMLSchema"}
    values = schema.findall(".//xs:simpleType[@name='kind-value']/xs:restriction/xs:enumeration", space)
    assert {value.get("value") for value in values} == set(MUSICXML_KINDS) == set(KINDS)


def test_the_score_of_all_chord_types():
    """Every <harmony> of the LilyPond project's test 71f with a plain kind has the tones music21 gives it."""
    import music21

    score = Path(music21.__file__).parent / "musicxml" / "lilypondTestSuite" / "71f-AllChordTypes.xml"
    kinds = {element.text for element in ElementTree.parse(score).iter("kind")}
    assert len(kinds & set(MUSICXML_KINDS)) >= 30
    for kind in kinds & set(SYMBOL_OF_KIND):
        read = music21.harmony.ChordSymbol(root="C", kind=kind)
        assert names(parse_chord(SYMBOL_OF_KIND[kind])) == {pitch.name.replace("-", "b") for pitch in read.pitches}


@pytest.mark.parametrize("bass", ["E", "Bb", "F#", "Db"])
def test_slash_bass_is_the_lowest_note_music21_hears(bass):
    from music21 import harmony

    for root in ROOTS:
        chord = parse_chord(f"{root}7/{bass}")
        read = harmony.ChordSymbol(f"{root}7/{bass}".replace("b", "-"))
        assert chord.bass == Tone.parse(read.bass().name.replace("-", "b")), root
        assert chord.tones[0] == Tone.parse(read.root().name.replace("-", "b")), root
