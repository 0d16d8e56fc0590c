"""Bars worked out for playing: what happens in them when, and which follows which.

Time is counted in parts of a pulse (the beat one taps), whole numbers, so that nothing is rounded.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import IntEnum
from typing import Any

from companion.errors import SoundError
from companion.groove.counting import counts_for
from companion.groove.model import Arrangement, NoteEvent, Stretch
from companion.groove.ride import CYMBALS
from companion.groove.timeline import count_in
from companion.sound.messages import Voice
from companion.sound.outputs import Sound
from companion.theory.meter import Meter

DIVISIONS = (
    11520  # of a pulse: the least number that every meter's pulse_ticks divides (3840 for 4/1, 1440 for 6/8, ...)
)


class EventKind(IntEnum):
    """What may be due, in the order of what is due at the same time: the bar line before what it brings, and starts before ends, as a
    start is what one hears. (A note struck again ends when it is struck.)"""

    TEMPO = 0
    LINE = 1
    ON = 2
    BEAT = 3
    OFF = 4


# (part from the bar line, kind, payload), in the order due. Payload of ON: (note-on, parts it lasts); of BEAT: its number.
Schedule = tuple[tuple[int, EventKind, Any], ...]


TEMPO_RANGE = (5, 1000)  # what the clockwork can keep; the app's own limits are narrower


def check_tempo(tempo_bpm: float) -> None:
    """Raises SoundError for a tempo that cannot be kept."""
    if not TEMPO_RANGE[0] <= tempo_bpm <= TEMPO_RANGE[1]:
        raise SoundError(f"The tempo is {tempo_bpm:g}; expected {TEMPO_RANGE[0]} to {TEMPO_RANGE[1]} beats a minute")


_FRAMES = {Stretch.LEAD_IN: "introduction", Stretch.ENDING: "ending"}


@dataclass(frozen=True, slots=True)
class ScheduledBar:
    """A bar worked out. arrangement: the one it was made from. turn: -1 outside of the loop. position: in its stretch.
    schedule: all that happens in it, the next bar line last, so that nothing is left to work out when it is due.
    shares: see groove.model.GrooveBar."""

    arrangement: Arrangement
    stretch: Stretch
    turn: int
    position: int
    index: int
    meter: Meter
    schedule: Schedule
    shares: tuple[float, ...] = ()

    @property
    def frame(self) -> str:
        """See messages.BeatReport."""
        return _FRAMES.get(self.stretch, "")


def schedule_bar(meter: Meter, events: tuple[NoteEvent, ...], voices: dict[str, Voice]) -> Schedule:
    """What happens in a bar: its beats, every note of `events` on its voice, and the bar line after it."""
    schedule: list[tuple[int, EventKind, Any]] = [
        (pulse * DIVISIONS, EventKind.BEAT, pulse) for pulse in range(meter.pulses)
    ]
    for event in events:
        start, end = (tick * DIVISIONS // meter.pulse_ticks for tick in (event.tick, event.tick + max(1, event.ticks)))
        cymbal = event.part == "click" and event.note in CYMBALS
        accent = event.part == "click" and bool(event.note) and not cymbal
        sound = Sound("note_on", 1, event.note, event.velocity, event.part, accent, cymbal, event.words)
        sound = voiced(sound, voices)
        schedule.append((start, EventKind.ON, (sound, end - start)))
    schedule.append((meter.pulses * DIVISIONS, EventKind.LINE, None))
    return tuple(sorted(schedule, key=lambda each: each[:2]))


def voiced(sound: Sound, voices: dict[str, Voice]) -> Sound:
    """On the channel, and for the click with the note, that its voice has now."""
    voice = voices[sound.voice]
    if sound.voice != "click" or sound.cymbal:
        return replace(sound, channel=voice.channel)
    note = voice.accent_note if sound.accent else voice.note
    return replace(sound, channel=voice.channel, note=note)


def revoiced(schedule: Schedule, voices: dict[str, Voice]) -> Schedule:
    """The same schedule with every note on the channel that its voice has now."""
    return tuple(
        (part, kind, (voiced(payload[0], voices), payload[1]) if kind is EventKind.ON else payload)
        for part, kind, payload in schedule
    )


def stretch_after(
    bar: ScheduledBar | None, arrangement: Arrangement, first: int, turns: int
) -> tuple[Stretch, int, int] | None:
    """(stretch, turn, position) that follows `bar`, None for a bar of the count-in, at the end; what follows may be another
    arrangement by now. first: where in the loop play began; only from its first bar is there a lead-in. turns: passes
    asked for, 0 for ever."""
    if bar is None or bar.stretch <= Stretch.LEAD_IN:
        position = bar.position + 1 if bar is not None and bar.stretch is Stretch.LEAD_IN else 0
        if first == 0 and position < len(arrangement.lead_in):
            return Stretch.LEAD_IN, -1, position
        return Stretch.LOOP, 0, first
    if bar.stretch is Stretch.LOOP:
        turn, position = place_after(bar, arrangement)
        if not 0 < turns <= turn:
            return Stretch.LOOP, turn, position
    position = bar.position + 1 if bar.stretch is Stretch.ENDING else 0
    return (Stretch.ENDING, -1, position) if position < len(arrangement.ending) else None


def place_after(bar: ScheduledBar, arrangement: Arrangement) -> tuple[int, int]:
    """(turn, position) that follows a bar of the loop in what may be another loop by now (see messages.Load)."""
    if bar.arrangement is arrangement:
        position = bar.position + 1
        return (bar.turn, position) if position < len(arrangement.bars) else (bar.turn + 1, 0)
    places = {source.index: position for position, source in reversed(tuple(enumerate(arrangement.bars)))}
    if bar.index in places:
        position = places[bar.index] + 1
        return (bar.turn, position) if position < len(arrangement.bars) else (bar.turn + 1, 0)
    return bar.turn, places.get(bar.index + 1, 0)


def scheduled_count_in(
    arrangement: Arrangement, first_bar: int, tempo_bpm: float, voices: dict[str, Voice]
) -> list[ScheduledBar]:
    """The bars counted before the music starts at position `first_bar` of the loop."""
    meter = counts_for(arrangement, first_bar).meter
    return [
        ScheduledBar(arrangement, Stretch.COUNT_IN, -1, number, -1, meter, schedule_bar(meter, events, voices))
        for number, events in enumerate(count_in(arrangement, first_bar, tempo_bpm))
    ]
