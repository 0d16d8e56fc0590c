"""Practising just what slipped: one change by itself, with the bar before it, and the way back to what was practised before."""

from __future__ import annotations

from typing import TYPE_CHECKING

from companion.chart.loops import loop_name
from companion.session.changes import Change
from companion.session.shown_passes import OneChange

if TYPE_CHECKING:
    from companion.session.conductor import Conductor


def practise_alone(conductor: Conductor) -> list[Change]:
    """Play the change that slipped, with the bar before it; where that is on the stand already, go back to the loop, the tempo and the way
    of practising from before, and play there if something was playing. Nothing where nothing slipped."""
    stand, shown, playing = conductor.stand, conductor.shown, conductor.playing
    before = shown.came_from(stand)
    if before is not None:
        there = stand.with_loop(before.stand.loop, before.stand.loop_name).with_tempo(before.stand.tempo_bpm)
        changes = conductor.take_up(there, before.kind, asks=before.asks)
        if playing:
            return changes + conductor.start()
        conductor.load()
        return changes
    loop = shown.loop_alone(stand)
    if not loop or shown.told is None:
        return []
    first, last = loop
    name = loop_name(loop) if last == first + 1 else f"bars {first + 1} and {last + 1}"
    there = stand.with_loop(loop, name).with_tempo(shown.told.record.tempo_bpm or stand.tempo_bpm)
    one_change = OneChange(loop, stand, conductor.kind, conductor.asks)
    conductor.keys.stay()
    changes = conductor.take_up(there, "free" if conductor.kind == "free" else "play")
    shown.one_change = one_change
    return changes + conductor.start()
