"""The melody on the stand note by note: where each stands, with which finger it is played, which degree of its chord it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from companion.base.latest import latest
from companion.chart.melody import MelodyNote, NotePlace
from companion.chart.model import FormBar, PlacedChord, Song
from companion.hands.right.company_reason import company_names
from companion.session.harmonised import HarmonisedNote
from companion.session.melody_fingers import played_fingers, written_fingers
from companion.session.note_places import bar_at, sounding
from companion.session.stand import Stand
from companion.theory.degrees import degree_in
from companion.theory.meter import Meter


@dataclass(frozen=True, slots=True)
class CompanyNote:
    """A note under the melody. midi: its key; name: spelled, with its octave; finger: 1 to 5."""

    midi: int
    name: str
    finger: int


@dataclass(frozen=True, slots=True)
class RightHandNote:
    """A note of the melody as it is played, held ones whole. section, occurrence: which coming of a section it begins in; bar: of that section from 1,
    0 for the song's pickup. beat: from 1, beats: its length, both in the meter's unit, exact. finger: 1 to 5. chord: that sounds where it begins,
    None for none. degree: in that chord, such as "b7", None without one. company: what goes with it."""

    note: MelodyNote
    section: str
    occurrence: int
    bar: int
    beat: Fraction
    beats: Fraction
    finger: int
    chord: PlacedChord | None
    degree: str | None
    company: tuple[CompanyNote, ...] = ()

    @property
    def midi(self) -> int:
        """MIDI number."""
        assert self.note.pitch is not None
        return self.note.pitch.midi


def right_hand(stand: Stand) -> tuple[RightHandNote, ...]:
    """Every note of one chorus of the melody, in order; () without a melody."""
    return _right_hand(stand.song, stand.bars, stand.written, stand.melody, stand.own_fingers, stand.harmonised)


def played_notes(stand: Stand) -> tuple[RightHandNote, ...]:
    """The same with the fills of the loop among them, each melody note let go before one begins."""
    notes, fills = right_hand(stand), stand.ornaments()
    if not fills.fills:
        return notes
    found = []
    for number, note in enumerate(notes):
        ticks = fills.held_ticks(number, note.note)
        found.append(note if ticks == note.note.ticks else replace(note, note=replace(note.note, ticks=ticks)))
        for each in fills.fills[number].notes if number in fills.fills else ():
            pitched = MelodyNote(each.tick, each.ticks, each.pitch)
            found.append(_placed(stand.song, stand.bars, pitched, each.finger))
    return tuple(found)


def written_notes(stand: Stand) -> tuple[RightHandNote, ...]:
    """The same of the melody straight as it is written, and as high."""
    fingers = written_fingers(stand.song, stand.bars, stand.written, stand.own_fingers)
    notes = zip(sounding(stand.written), fingers, strict=True)
    return tuple(_placed(stand.song, stand.bars, note, finger) for note, finger in notes)


@latest  # asked for each time something is drawn
def _right_hand(
    song: Song,
    bars: tuple[FormBar, ...],
    written: tuple[MelodyNote, ...],
    played: tuple[MelodyNote, ...],
    own: Mapping[NotePlace, int],
    voiced: tuple[HarmonisedNote, ...],
) -> tuple[RightHandNote, ...]:
    if voiced:
        return tuple(
            replace(_placed(song, bars, note.note, note.voicing.fingers[-1]), company=_company(note)) for note in voiced
        )
    fingers = played_fingers(song, bars, written, played, own)
    return tuple(_placed(song, bars, note, finger) for note, finger in zip(sounding(played), fingers, strict=True))


def _company(note: HarmonisedNote) -> tuple[CompanyNote, ...]:
    names = company_names(note.stroke, note.voicing)
    return tuple(map(CompanyNote, note.voicing.added, names, note.voicing.fingers))


def _placed(song: Song, bars: Sequence[FormBar], note: MelodyNote, finger: int) -> RightHandNote:
    bar = bar_at(bars, note.start_tick)
    meter = bars[0].meter if bar is None else bar.meter
    from_line = note.start_tick + meter.bar_ticks if bar is None else note.start_tick - bar.start_tick
    chord = _chord_at(_pickup_chords(song, bars[0].meter) if bar is None else bar.chords, from_line, meter)
    assert note.pitch is not None
    return RightHandNote(
        note,
        bars[0].section if bar is None else bar.section,
        1 if bar is None else bar.occurrence,
        0 if bar is None else bar.bar,
        1 + Fraction(from_line, meter.beat_ticks),
        Fraction(note.ticks, meter.beat_ticks),
        finger,
        chord,
        degree_in(note.pitch.tone, chord.chord) if chord is not None and chord.chord is not None else None,
    )


def _chord_at(chords: Sequence[PlacedChord], tick: int, meter: Meter) -> PlacedChord | None:
    """tick: from the bar line."""
    before = [placed for placed in chords if meter.ticks(placed.beat) <= tick]
    return before[-1] if before else None


def _pickup_chords(song: Song, meter: Meter) -> list[PlacedChord]:
    """Of the song's pickup, their beats counted as in the bar before the first one."""
    first = song.sections[song.form[0]]
    start = meter.beats - song.pickup
    return [PlacedChord(placed.chord, start + placed.beat, placed.beats) for placed in first.pickup_chords]
