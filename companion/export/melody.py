"""The melody of the loop: as sounding events, and as written notes bar by bar. Nothing where the song has none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from companion.chart.melody import MelodyNote, chorus_melody
from companion.chart.model import FormBar
from companion.export.notation import Span, filled, quarters
from companion.groove.model import Event
from companion.groove.swing import played_ratio, swing_tick
from companion.groove.timeline import GAP_TICKS, TimelineBar
from companion.session.stand import Stand
from companion.theory.pitch import Pitch

PART = "right"
_VELOCITY = 96  # a little above the left hand, as a tune lies


@dataclass(frozen=True, slots=True)
class Sung:
    """A note of the melody within one bar. from_before, goes_on: tied over the bar line at its start, at its end."""

    pitch: Pitch
    from_before: bool = False
    goes_on: bool = False


def sounding(stand: Stand) -> tuple[MelodyNote, ...]:
    """The notes of one chorus without its rests."""
    return tuple(note for note in chorus_melody(stand.song) if note.pitch is not None)


def bar_spans(notes: Sequence[MelodyNote], bar: FormBar) -> tuple[Span, ...]:
    """The melody of one bar, filled with rests; () where it has no note."""
    return _spans(notes, bar.start_tick, bar.meter.bar_ticks)


def pickup_spans(notes: Sequence[MelodyNote], ticks: int) -> tuple[Span, ...]:
    """The melody of the pickup, which ends at the chorus's first bar line."""
    return _spans(notes, -ticks, ticks)


def _spans(notes: Sequence[MelodyNote], start_tick: int, ticks: int) -> tuple[Span, ...]:
    end_tick = start_tick + ticks
    spans = []
    for note in notes:
        first, last = max(note.start_tick, start_tick), min(note.start_tick + note.ticks, end_tick)
        if first < last:
            sung = Sung(note.pitch, note.start_tick < start_tick, note.start_tick + note.ticks > end_tick)
            start, end = quarters(first - start_tick), quarters(last - start_tick)
            spans.append(Span(start, end - start, sung))
    return filled(spans, quarters(ticks)) if spans else ()


def melody_events(stand: Stand, bars: Sequence[TimelineBar], tempo_of: Sequence[float]) -> list[Event]:
    """The melody of a performance, swung bar by bar. bars, tempo_of: as played, the count-in first.

    A note ends with its bar where the loop leaves the form there; the pickup is sung before the first chorus only.
    """
    notes = sounding(stand)
    if not notes:
        return []
    counted = sum(bar.turn < 0 for bar in bars)
    events: list[Event] = []
    for number in range(counted, len(bars)):
        chart_bar = stand.bars[bars[number].index]
        opens = number == counted and bars[number].index == 0
        for note in notes:
            first = opens and note.start_tick < 0
            if first or chart_bar.start_tick <= note.start_tick < chart_bar.end_tick:
                events += _event(stand, bars, tempo_of, number, note)
    return events


def _event(
    stand: Stand, bars: Sequence[TimelineBar], tempo_of: Sequence[float], number: int, note: MelodyNote
) -> list[Event]:
    """One note that begins in (or, of the pickup, before) the bar of that number."""
    from_bar = note.start_tick - stand.bars[bars[number].index].start_tick
    start = _heard(stand, bars, tempo_of, number, from_bar)
    last, length = number, from_bar + note.ticks
    while length > bars[last].meter.bar_ticks:
        if last + 1 == len(bars) or bars[last + 1].index != bars[last].index + 1:
            length = bars[last].meter.bar_ticks
            break
        length -= bars[last].meter.bar_ticks
        last += 1
    end = _heard(stand, bars, tempo_of, last, length)
    ticks = end - start - min(GAP_TICKS, (end - start) // 4)
    return [Event(start, ticks, PART, note.pitch.midi, _VELOCITY)] if ticks > 0 and start >= 0 else []


def _heard(stand: Stand, bars: Sequence[TimelineBar], tempo_of: Sequence[float], number: int, tick: int) -> int:
    """Where a straight tick of a bar is heard; negative ones lie in the bars before it."""
    while tick < 0 and number > 0:
        number -= 1
        tick += bars[number].meter.bar_ticks
    ratio = played_ratio(stand.song.feel, stand.swing_ratio, tempo_of[number])
    return bars[number].tick + swing_tick(tick, bars[number].meter, ratio)
