"""Notes from a MIDI keyboard into a song that is written: one by one as they are pressed, or a stretch played in with the click."""

from __future__ import annotations

import re
from dataclasses import replace

from companion.authoring.draft import Draft
from companion.authoring.draft_melody import bars_of
from companion.authoring.draft_song import key_of, meter_of, read_section
from companion.authoring.played_in import Reading, melody_of, read_played, spelled
from companion.chart.melody import BarReader, MelodyFault, MelodyToken
from companion.chart.melody_text import Accidentals, write_melody
from companion.practice.model import Press
from companion.session.stand import Stand
from companion.sound.messages import BeatReport, Finished, NoteIn
from companion.theory.chord import Chord
from companion.theory.key import Key
from companion.theory.meter import Meter

_LAST_LENGTH = re.compile(r"[A-Ga-gz][,']*([\d/]*)-?\s*$")


def notes_in(text: str, meter: Meter, key: Key) -> list[MelodyToken] | None:
    """The notes of a bar as typed, however long they are together; None where they cannot be read."""
    try:
        return BarReader(meter, key, forgives_ties=True).notes(text) if text.strip() else []
    except MelodyFault:
        return None


def with_key_pressed(draft: Draft, midi: int) -> Draft:
    """The note of that key behind those of the bar, as long as the one before it; in the next bar where this one is full. Nothing changes
    where the bar cannot be read yet."""
    meter, key = meter_of(draft.page, draft.at[0]), key_of(draft.page, draft.at[0])
    notes = notes_in(draft.text, meter, key)
    length = _LAST_LENGTH.search(draft.text)
    if notes is None:
        return draft
    if sum(note.ticks for note in notes) >= meter.bar_ticks:
        after = draft.next_bar()
        if after.at == draft.at:
            return draft
        draft, notes = after, notes_in(after.text, meter, key)
        if notes is None or sum(note.ticks for note in notes) >= meter.bar_ticks:
            return draft
    accidentals = Accidentals(key)
    for note in notes:
        if note.pitch is not None:
            accidentals.write(note.pitch)
    at = sum(note.ticks for note in notes)
    chord = next((chord for start, chord in reversed(chords_of(draft, draft.at[1], 1)) if start <= at), None)
    return draft.type(accidentals.write(spelled(midi, key, chord)) + (length[1] if length else "2"))


def chords_of(draft: Draft, first: int, bars: int) -> list[tuple[int, Chord | None]]:
    """The chords of some bars of this section, each with the tick it begins at, from the first of these bars on."""
    meter = meter_of(draft.page, draft.at[0])
    read = read_section(draft.page, draft.at[0])[first : first + bars]
    return [
        (number * meter.bar_ticks + meter.ticks(placed.beat), placed.chord)
        for number, (bar, _) in enumerate(read)
        if bar is not None
        for placed in bar.chords
    ]


class MelodyTake:
    """A stretch of a section that is played in with the click. stand: what plays along, its loop is the stretch; draft: as it was, in the
    stretch's first bar; latency_s: taken off every key. reading: what it was read as, None before the end."""

    def __init__(self, stand: Stand, draft: Draft, latency_s: float) -> None:
        self.stand = stand
        self.reading: Reading | None = None
        self._draft, self._latency_s = draft, latency_s
        self._start_s: float | None = None
        self._presses: list[Press] = []
        self._down: dict[int, int] = {}  # keys that are down -> which press

    def hear(self, report: object) -> bool:
        """Take a report of the sound process; True once the stretch is over."""
        if isinstance(report, BeatReport) and report.turn == 0 and self._start_s is None:
            self._start_s = report.due_s
        elif isinstance(report, NoteIn):
            self._key(report.time_s - self._latency_s, report.note, report.velocity)
        return isinstance(report, Finished) and self._start_s is not None

    def _key(self, time_s: float, note: int, velocity: int) -> None:
        if velocity:
            self._down[note] = len(self._presses)
            self._presses.append(Press(time_s, note, velocity))
        elif (place := self._down.pop(note, None)) is not None:
            press = self._presses[place]
            self._presses[place] = replace(press, held_s=time_s - press.time_s)

    def bars(self) -> list[str]:
        """The bars of the stretch as they would be typed."""
        page, number = self._draft.page, self._draft.at[0]
        meter, key, count = meter_of(page, number), key_of(page, number), len(self.stand.loop)
        start_s = self._start_s or 0.0
        presses = [replace(press, time_s=press.time_s - start_s) for press in self._presses]
        swings = page.feel == "swing"
        self.reading = read_played(presses, self.stand.tempo_bpm, meter, count, swings=swings)
        notes = melody_of(self.reading, meter, key, chords_of(self._draft, self._draft.at[1], count))
        return bars_of(write_melody(notes, meter, key, count), has_pickup=False)[1]
