"""MusicXML against its schema and against music21, which reads the same bars and chords without a warning."""

from __future__ import annotations

import warnings
from dataclasses import replace
from fractions import Fraction
from xml.etree import ElementTree

import music21
import pytest
from chart_strategies import songs
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings

from companion.chart.melody import chorus_melody
from companion.errors import ShellError
from companion.export.formats import export
from companion.export.harmony import kind_of
from companion.export.musicxml import musicxml_text
from companion.export.options import ExportOptions
from companion.export.score import score_of
from companion.groove.names import PATTERN_NAMES
from companion.session.stand import Stand
from companion.theory.key import Key
from companion.theory.pitch import Tone, degree_interval
from companion.theory.qualities import COMMON_QUALITIES, MUSICXML_KINDS
from companion.theory.symbols import parse_chord


def read(text: str) -> music21.stream.Score:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return music21.converter.parse(text, format="musicxml", forceSource=True)


def assert_valid(schema, text: str):
    """The root of what was written, read by lxml."""
    from lxml import etree

    root = etree.fromstring(text.encode())
    assert schema.validate(root), schema.error_log
    return root


@pytest.fixture(scope="module")
def both(all_stands) -> list[tuple[Stand, music21.stream.Score]]:
    """Every song and what music21 reads of it. That takes it half a second a song, so the tests that look at these are in a group."""
    return [(stand, read(musicxml_text(score_of(stand)))) for stand in all_stands]


read_by_music21 = pytest.mark.xdist_group("music21")


def staves(score: music21.stream.Score) -> list[music21.stream.PartStaff]:
    return list(score.parts)


def tone_of(pitch: music21.pitch.Pitch) -> Tone:
    return Tone(pitch.step, int(pitch.alter))


def test_every_song_and_every_pattern_is_valid(all_stands, musicxml_schema) -> None:
    """The patterns in turn: each is written in several songs, and the first song in every one."""
    for number, stand in enumerate(all_stands):
        assert_valid(musicxml_schema, musicxml_text(score_of(stand)))
        for pattern in [list(PATTERN_NAMES)[number % len(PATTERN_NAMES)]] if number else PATTERN_NAMES:
            assert_valid(musicxml_schema, musicxml_text(score_of(stand.change(pattern=pattern), written_pattern=True)))


@read_by_music21
def test_music21_reads_the_same_bars_chords_and_shells(both) -> None:
    for stand, score in both:
        _, lower = staves(score)
        bars = [bar for bar in lower.getElementsByClass("Measure") if bar.number > 0]
        assert len(bars) == len(stand.bars)
        for chart_bar, bar in zip(stand.bars, bars, strict=True):
            assert bar.barDuration.quarterLength == Fraction(chart_bar.meter.bar_ticks, 960)
            shells = [
                (chord.offset, [pitch.nameWithOctave.replace("-", "b") for pitch in chord.pitches])
                for chord in bar.recurse().getElementsByClass(music21.chord.Chord)
                if not isinstance(chord, music21.harmony.Harmony) and not (chord.tie and chord.tie.type != "start")
            ]
            said = [
                (
                    placed.beat * 4 / chart_bar.meter.unit,
                    [note.name for note in (choice.shell.lower, choice.shell.upper)],
                )
                for placed, choice in stand.choices_at(chart_bar.index)
                if choice.shell
            ]
            assert shells == said, (stand.song.id, chart_bar.index)


@read_by_music21
def test_music21_reads_the_same_chord_symbols(both) -> None:
    for stand, score in both:
        heard = []
        for bar in staves(score)[0].getElementsByClass("Measure"):
            if bar.number > 0:
                found = bar.recurse().getElementsByClass(music21.harmony.ChordSymbol)
                heard += [(bar.number, symbol.getOffsetInHierarchy(bar), symbol) for symbol in found]
        said = [
            (bar.index + 1, placed.beat * 4 / bar.meter.unit, placed.chord)
            for bar in stand.bars
            for placed in bar.chords
        ]
        assert [(number, offset) for number, offset, _ in heard] == [(number, at) for number, at, _ in said]
        for (_, _, symbol), (_, _, chord) in zip(heard, said, strict=True):
            if chord is None:
                assert isinstance(symbol, music21.harmony.NoChord)
                continue
            assert tone_of(symbol.root()) == chord.root
            assert tone_of(symbol.bass()) == (chord.bass or chord.root)
            assert {pitch.pitchClass for pitch in symbol.pitches} >= chord.pitch_classes & {
                chord.root.pc, *(chord.tone(n).pc for n in (3, 7) if chord.tone(n))
            }  # fmt: skip


@read_by_music21
def test_the_melody_stands_on_top(both) -> None:
    for stand, score in both:
        notes = [note for note in chorus_melody(stand.song) if note.pitch is not None]
        upper = staves(score)[0].stripTies()
        found = [note for note in upper.recurse().notes if isinstance(note, music21.note.Note)]
        assert [(tone_of(note.pitch), note.pitch.midi) for note in found] == [
            (note.pitch.tone, note.pitch.midi) for note in notes
        ]
        assert [note.quarterLength for note in found] == [Fraction(note.ticks, 960) for note in notes]


def test_fingering_and_text_as_written(on_stand) -> None:
    stand = on_stand("stop-at-the-level-crossing")
    root = ElementTree.fromstring(musicxml_text(score_of(stand)))
    kinds = [harmony.find("kind") for harmony in root.iter("harmony")]
    chords = [placed.chord for bar in stand.bars for placed in bar.chords]
    for kind, chord in zip(kinds, chords, strict=True):
        if chord is None:
            assert (kind.text, kind.get("text")) == ("none", "N.C.")
        else:
            assert chord.symbol.startswith(chord.root.name + kind.get("text"))
    fingers = [finger.text for finger in root.iter("fingering")]
    said = [finger for choice in stand.part.choices if choice.shell for finger in choice.fingers.split("-")]
    assert fingers == said


def test_keys_meters_and_the_pickup_change_where_the_chart_says(on_stand) -> None:
    upper = staves(read(musicxml_text(score_of(on_stand("next-landing-but-one")))))[0]
    keys = [(bar.number, bar.keySignature.sharps) for bar in upper.getElementsByClass("Measure") if bar.keySignature]
    stand = on_stand("next-landing-but-one")
    changes, before = [], None
    for bar in stand.bars:
        fifths = stand.song.sections[bar.section].key.fifths
        if fifths != before:
            changes.append((bar.index + 1, fifths))
        before = fifths
    assert keys == changes and len(changes) > 1
    upper = staves(read(musicxml_text(score_of(on_stand("half-a-word-before")))))[0]
    first = upper.getElementsByClass("Measure")[0]
    assert (first.number, first.duration.quarterLength) == (0, 1)


# Degrees that alter, add or subtract, as the standard's own page on <degree> counts them: an altered degree from the
# kind's own, an added one from the dominant chord's (MusicXML 4.0, "degree-value", "degree-type").
KINDS = [
    ("Cmaj7", "major-seventh", []), ("C7", "dominant", []), ("Cm7", "minor-seventh", []), ("Cm7b5", "half-diminished",
    []), ("Cdim7", "diminished-seventh", []), ("CmMaj7", "major-minor", []), ("C6", "major-sixth", []), ("C5",
    "power", []), ("C13", "dominant-13th", []), ("Csus4", "suspended-fourth", []), ("C7b9", "dominant", [(9, -1,
    "add")]), ("C7#5", "augmented-seventh", []), ("C6/9", "major-sixth", [(9, 0, "add")]), ("C7b5", "dominant", [(5,
    -1, "alter")]), ("C7sus4", "dominant", [(3, 0, "subtract"), (4, 0, "add")]), ("Cadd9", "major", [(9, 0, "add")]),
    ("C9#11", "dominant-ninth", [(11, 1, "add")]),
]  # fmt: skip


@pytest.mark.parametrize(("symbol", "kind", "degrees"), KINDS)
def test_kinds_and_degrees(symbol: str, kind: str, degrees: list) -> None:
    found, said = kind_of(parse_chord(symbol))
    assert (found, [(degree.value, degree.alter, degree.type) for degree in said]) == (kind, degrees)


@pytest.mark.parametrize("quality", COMMON_QUALITIES)
def test_kind_and_degrees_say_the_whole_chord(quality: str) -> None:
    """Undone by the standard's rules they give the chord's semitones again."""
    chord = parse_chord(f"C{quality}" if quality[:1] not in ("b", "#") else f"C({quality})")
    kind, degrees = kind_of(chord)
    semitones = [degree_interval(degree) for degree in MUSICXML_KINDS[kind]]
    for degree in degrees:
        if degree.type == "subtract":
            semitones = [pair for pair in semitones if pair[0] != degree.value]
        elif degree.type == "alter":
            semitones = [(n, s + degree.alter if n == degree.value else s) for n, s in semitones]
        else:
            plain = 10 if degree.value == 7 else degree_interval(str(degree.value))[1]
            semitones.append((degree.value, plain + degree.alter))
    assert sorted(s for _, s in semitones) == sorted(chord.semitones)


@hypothesis_settings(max_examples=10, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(song=songs())
def test_any_song_is_valid(song, settings, musicxml_schema) -> None:
    try:
        stand = Stand.put(replace(song, pins={}), settings)
    except ShellError:
        return
    for written_pattern in (False, True):
        score = score_of(stand, written_pattern)
        root = assert_valid(musicxml_schema, musicxml_text(score))
        divisions = int(root.find(".//divisions").text)
        for bar, measure in zip(score.bars, root.iter("measure"), strict=True):
            for voice in ("1", "5"):
                sounding = [
                    int(note.find("duration").text)
                    for note in measure.iter("note")
                    if note.find("voice").text == voice and note.find("chord") is None
                ]
                assert sum(sounding) == bar.quarters * divisions


def test_in_every_key(on_stand, musicxml_schema) -> None:
    """A song in major and one in minor."""
    for stand in map(on_stand, ("ferry-at-half-past-six", "slate-roof-in-the-rain")):
        for pc in range(12):
            moved = stand.with_key(Key.usual(pc, stand.song.key.mode))
            root = assert_valid(musicxml_schema, musicxml_text(score_of(moved)))
            assert int(root.find(".//fifths").text) == moved.key.fifths


def test_written_through_the_command_room(on_stand, settings, tmp_path) -> None:
    stand = on_stand("two-spoons")
    assert export(stand, tmp_path / "two.musicxml", ExportOptions(), settings) == [tmp_path / "two.musicxml"]
    assert (tmp_path / "two.musicxml").read_text(encoding="utf-8") == musicxml_text(score_of(stand))
