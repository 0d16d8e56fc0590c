"""Whole tunes with all their ornaments, as the commands make them: every note that `companion arrange --json` tells of is found by music21 and partitura in
the MusicXML file and by mido in the MIDI file, and no other.

MusicXML 4.0: a grace has no duration, its time is the note's before it; a tremolo of two chords is written as both, each with half of the time. What a
stroke's company lasts is not in the JSON, so of that only the onset is compared, and that it is no longer than the melody note.
"""

from __future__ import annotations

import json
import re
import warnings
from collections.abc import Iterable
from dataclasses import dataclass, replace

import music21
import pytest
from cli.calls import companion
from export.readers import Note, by_mido
from shipped import PATHS

from companion.chart.reader import read_chart

OWN = ("--voices", "3", "--ornaments", "slide tremolo fill walk", "--intro", "vamp", "--ending", "tag", "--seed", "3")
# A pickup that lies in the last bar of the introduction; a blues; 12/8.
IN_SUITE = ("half-a-word-before", "left-sock-blues", "goose-weather")
SONGS = [
    pytest.param(path.stem, marks=() if path.stem in IN_SUITE else pytest.mark.deep)
    for path in PATHS
    if read_chart(path).sections[read_chart(path).form[0]].melody
]


@dataclass
class Told:
    """A stroke of the JSON, in quarters from the first bar line. top: its highest key alone may be longer than the others."""

    onset: float
    length: float
    keys: tuple[int, ...]
    staff: int
    ornament: str | None

    @property
    def end(self) -> float:
        return self.onset + self.length


def told(bars: list[dict], song) -> list[Told]:
    """All strokes in order. A pickup's beats are counted in the bar before the first of the form; without an introduction that is the bar before everything.
    The meters are the chart's: an introduction has that of the first section, an ending that of the last."""
    meters = {name: section.meter.name for name, section in song.sections.items()}
    meters |= {"Intro": meters[song.form[0]], "Ending": meters[song.form[-1]]}
    found, line = [], 0.0
    for bar in bars:
        beats, unit = map(int, meters[bar["section"]].split("/"))
        quarters, bar_quarters = 4 / unit, 4 * beats / unit
        is_pickup = bar["bar"] == 0
        here = line - bar_quarters if is_pickup else line
        for staff, hand in ((1, "right"), (2, "left")):
            for stroke in bar[hand]:
                onset = here + (stroke["beat"] - 1) * quarters
                length = stroke["beats"] * quarters
                found.append(Told(onset, length, tuple(stroke["midi"]), staff, stroke.get("ornament")))
        line += 0.0 if is_pickup else bar_quarters
    return sorted(found, key=lambda each: (each.onset, each.staff))


def at(quarters: float) -> int:
    """In ticks of 1/960."""
    return round(quarters * 960)


@dataclass
class Tremolo:
    """From and to quarters; the keys of its halves, the first one first."""

    onset: float
    end: float
    staff: int
    halves: tuple[tuple[int, ...], tuple[int, ...]]


def written(strokes: Iterable[Told]) -> tuple[list[Told], list[Tremolo], set[tuple[int, int]]]:
    """How the strokes stand on paper: what a grace took is given back; tremolos; and (tick of the note after it, key) of the graces."""
    slides = [each for each in strokes if each.ornament == "slide"]
    graces = {(at(slide.end), key) for slide in slides for key in slide.keys}
    taken = {(at(slide.onset), slide.staff): slide.length for slide in slides}
    plain: list[Told | list[Told]] = []
    runs: dict[int, list[Told]] = {}  # by staff, the tremolo that goes on
    for stroke in strokes:
        if stroke.ornament == "slide":
            continue
        whole = replace(stroke, length=stroke.length + taken.get((at(stroke.end), stroke.staff), 0.0))
        run = runs.get(stroke.staff, [])
        goes_on = run and at(run[-1].end) == at(stroke.onset) and stroke.keys != run[-1].keys
        if stroke.ornament == "tremolo" and goes_on and (len(run) == 1 or stroke.keys == run[-2].keys):
            run.append(whole)
        elif stroke.ornament == "tremolo":
            runs[stroke.staff] = [whole]
            plain.append(runs[stroke.staff])
        else:
            plain.append(whole)
    whole = [each for each in plain if isinstance(each, Told)]
    trembling = [
        Tremolo(each[0].onset, each[-1].end, each[0].staff, (each[0].keys, each[1].keys))
        for each in plain
        if not isinstance(each, Told)
    ]
    return whole, trembling, graces


def check(read: list[Note], strokes: list[Told], tremolos: list[Tremolo]) -> int:
    """The same keys at the same time, the highest of each stroke exactly as long; how many chords the tremolos are written with."""
    chords = 0
    for tremolo in tremolos:
        inside = [
            note for note in read if note[3] == tremolo.staff and at(tremolo.onset) <= at(note[0]) < at(tremolo.end)
        ]
        read = [note for note in read if note not in inside]
        line, turn = at(tremolo.onset), 0
        while line < at(tremolo.end):  # where one value is not long enough, another pair follows
            chord = [note for note in inside if at(note[0]) == line]
            assert tuple(sorted(note[2] for note in chord)) == tuple(sorted(tremolo.halves[turn % 2]))
            (length,) = {at(note[1]) for note in chord}
            line, turn = line + length, turn + 1
        assert line == at(tremolo.end) and turn % 2 == 0
        chords += turn
    expected = {(at(each.onset), key, each.staff): each for each in strokes for key in each.keys}
    found = {(at(onset), key, staff): length for onset, length, key, staff in read}
    assert len(found) == len(read) and sorted(found) == sorted(expected)
    for place, length in found.items():
        stroke = expected[place]
        if place[1] == max(stroke.keys) or stroke.staff == 2:
            assert at(length) == at(stroke.length), place
        else:
            assert 0 < at(length) <= at(stroke.length), place
    return chords


def sounding(notes: Iterable[tuple[float, float, int, int, bool, bool]]) -> list[Note]:
    """Ties taken out. notes: onset, length, key, staff, tied from before, tied on."""
    held: dict[tuple[float, int, int], list] = {}
    found: list[list] = []
    for onset, length, key, staff, is_tied, goes_on in sorted(notes):
        note = held.pop((at(onset), key, staff), None) if is_tied else None
        if note is None:
            note = [onset, 0.0, key, staff]
            found.append(note)
        note[1] += length
        if goes_on:
            held[at(onset + length), key, staff] = note
    assert not held, "a tie that leads to no note"
    return [tuple(note) for note in found]


def by_music21(text: str) -> tuple[list[Note], set[tuple[int, int]]]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = music21.converter.parse(text, format="musicxml", forceSource=True)
    notes, graces = [], set()
    for staff, part in enumerate(score.parts, 1):
        for element in part.flatten().notes:
            if isinstance(element, music21.harmony.ChordSymbol):
                continue
            for note in element.notes if element.isChord else [element]:
                kind = note.tie.type if note.tie else ""
                if element.duration.isGrace:
                    graces.add((at(float(element.offset)), note.pitch.midi))
                else:
                    length = float(element.quarterLength)
                    tied, on = kind in ("stop", "continue"), kind in ("start", "continue")
                    notes.append((float(element.offset), length, note.pitch.midi, staff, tied, on))
    return sounding(notes), graces


def by_partitura(path) -> tuple[list[Note], set[tuple[int, int]]]:
    partitura = pytest.importorskip("partitura")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        part = partitura.load_musicxml(str(path), force_note_ids=True)[0]
        array = part.note_array(include_staff=True)
        small = part.note_array(include_grace_notes=True)
    notes = [
        (float(n["onset_quarter"]), float(n["duration_quarter"]), int(n["pitch"]), int(n["staff"]))
        for n in array
        if n["duration_quarter"]
    ]
    graces = {(at(float(n["onset_quarter"])), int(n["pitch"])) for n in small if n["is_grace"]}
    return notes, graces


@pytest.mark.xdist_group("music21")
@pytest.mark.parametrize("song_id", SONGS)
def test_all_that_is_told_is_read_back(song_id: str, paths, tmp_path) -> None:
    song = read_chart(next(path for path in PATHS if path.stem == song_id))
    bars = json.loads(companion("arrange", song_id, *OWN, "--pattern", "whole", "--json").stdout)["bars"]
    strokes = told(bars, song)
    kinds = {stroke.ornament for stroke in strokes}
    assert ("slide" in kinds and kinds & {"fill", "tremolo"}) or song_id not in IN_SUITE
    sheet, midi = tmp_path / "tune.musicxml", tmp_path / "tune.mid"
    companion("export", song_id, sheet, "--hands", "both")
    companion("export", song_id, midi, "--parts", "left,right", "--pattern", "whole", "--count-in", "1")
    plain, tremolos, graces = written(strokes)
    text = sheet.read_text(encoding="utf-8")
    for read, small in (by_music21(text), by_partitura(sheet)):
        chords = check(read, plain, tremolos)
        assert small == graces
    # A tremolo has its sign, a grace its stroke (MusicXML 4.0, "tremolo", "grace").
    assert text.count("<tremolo ") == chords
    assert len(re.findall('<grace slash="yes"', text)) >= len(graces)
    check_midi(midi.read_bytes(), strokes, song)


def check_midi(data: bytes, strokes: list[Told], song) -> None:
    """Every stroke as it is played, graces and each half of a tremolo too; where eighths swing, what stands between two beats comes up to a sixth of a beat later."""
    counted = song.meter.bar_ticks / 960
    pulse = song.meter.pulse_ticks / 960
    is_swung = song.feel == "swing" and not song.meter.is_compound
    read = sorted((onset - counted, key, staff, length) for onset, length, key, staff in by_mido(data))
    _, tremolos, _ = written(strokes)
    said = sorted((stroke.onset, key, stroke.staff) for stroke in strokes for key in stroke.keys)
    for tremolo in tremolos if is_swung else ():  # one that lasts to a note that swings has room for a stroke more
        keys = {*tremolo.halves[0], *tremolo.halves[1]}
        inside = [
            [note for note in notes if note[2] == tremolo.staff and note[1] in keys and first <= note[0] < last]
            for notes, first, last in (
                (read, tremolo.onset - 0.001, tremolo.end + (pulse / 6 if tremolo.end % pulse else 0.0) - 0.001),
                (said, tremolo.onset, tremolo.end),
            )
        ]
        played, due = (len({round(note[0], 2) for note in notes}) for notes in inside)
        assert due <= played <= due + 1
        read, said = ([note for note in notes if note not in out] for notes, out in zip((read, said), inside))
    assert len(read) == len(said)
    assert sorted((key, staff) for _, key, staff, _ in read) == sorted((key, staff) for _, key, staff in said)
    most = pulse / 6 + 0.01 if is_swung else 0.001
    by_key: dict[tuple[int, int], list[float]] = {}
    for onset, key, staff in said:
        by_key.setdefault((key, staff), []).append(onset)
    for onset, key, staff, length in read:
        due = by_key[key, staff].pop(0)
        assert -0.001 <= onset - due <= most, (onset, due, key)
        if due % pulse == 0 and is_swung:
            assert abs(onset - due) < 0.001, "beats stay where they are"
        assert length > 0
