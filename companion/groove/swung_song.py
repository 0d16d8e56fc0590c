"""The melody of a song in the version that the student chose: section by section, as a section's melody is the same each time it comes."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from companion.base.latest import latest
from companion.chart.melody import MelodyNote, chorus_melody, section_melody
from companion.chart.model import Song
from companion.groove.swung import Changes, SectionMelody, bars_touched, fits, swung_notes, version_of
from companion.groove.swung_choice import SwungChoice
from companion.theory.chord import Chord
from companion.theory.meter import TICKS_PER_QUARTER


@latest
def played_melody(song: Song, choice: SwungChoice) -> tuple[MelodyNote, ...]:
    """The melody of one chorus in the version chosen; see `chorus_melody`."""
    if choice.is_straight:
        return chorus_melody(song)
    own = {name: swung_section(song, name, choice).played for name in dict.fromkeys(song.form)}
    return chorus_melody(song, own.__getitem__)


def can_swing(song: Song) -> bool:
    """Whether any section of the song is in a meter that can."""
    return any(song.sections[name].meter.pulse_ticks == TICKS_PER_QUARTER for name in song.form)


@dataclass(frozen=True, slots=True)
class SwungSection:
    """A section's melody, notes and rests end to end: as it is written, and in the version chosen. changes: by the index of the note, rests not
    counted."""

    written: tuple[MelodyNote, ...]
    played: tuple[MelodyNote, ...]
    changes: Changes


def swung_section(song: Song, name: str, choice: SwungChoice) -> SwungSection:
    """A section of the song in the version chosen."""
    written = section_melody(song, name)
    tune = _tune(song, name, written)
    changes = _changes(song, name, choice, tune)
    played = tuple(_with_rests(swung_notes(tune, changes), written)) if changes else written
    return SwungSection(written, played, changes)


def _changes(song: Song, name: str, choice: SwungChoice, tune: SectionMelody) -> Changes:
    bars = range(1, len(song.sections[name].bars) + 1)
    kept = {bar: choice.bars[name, bar] for bar in bars if (name, bar) in choice.bars}
    straight = {bar for bar, version in kept.items() if version is None}
    made = {version: version_of(tune, name, version) for version in {choice.whole, *kept.values()} if version}
    taken: Changes = {}
    # Bars that the student keeps come first: what does not go with them gives way.
    for bar in [*kept, *(bar for bar in bars if bar not in kept)]:
        version = kept.get(bar, choice.whole)
        for change in made[version].values() if version else ():
            # Nothing is written into a bar that the student put back to straight, also not from the bar after.
            if change.bar == bar and not straight & bars_touched(tune, change) and fits(tune, taken, change):
                taken[change.note] = change
    return taken


def _tune(song: Song, name: str, written: Sequence[MelodyNote]) -> SectionMelody:
    """The section as the rules see it. written: its melody."""
    section = song.sections[name]
    meter = section.meter
    starts = [
        (at * meter.bar_ticks + meter.ticks(placed.beat), placed.chord)
        for at, bar in enumerate(section.bars)
        for placed in bar.chords
    ]
    ticks = [tick for tick, _ in starts]

    def chord_at(tick: int) -> Chord | None:
        return starts[max(0, bisect_right(ticks, tick) - 1)][1]

    notes = tuple(note for note in written if note.pitch is not None)
    end = len(section.bars) * meter.bar_ticks
    return SectionMelody(notes, meter, chord_at, end - max(_pickups_after(song, name), default=0))


def _pickups_after(song: Song, name: str) -> Iterable[int]:
    """Ticks of the pickups that take the place of the section's end, where another section follows."""
    for before, after in zip(song.form, song.form[1:]):
        if before == name:
            section = song.sections[after]
            yield section.meter.ticks(section.pickup)


def _with_rests(notes: Sequence[MelodyNote], written: Sequence[MelodyNote]) -> Iterable[MelodyNote]:
    """The notes with rests between them, from the start of what is written to its end."""
    at, end = written[0].start_tick, written[-1].end_tick
    for note in notes:
        if note.start_tick > at:
            yield MelodyNote(at, note.start_tick - at, None)
        yield note
        at = note.end_tick
    if at < end:
        yield MelodyNote(at, end - at, None)
