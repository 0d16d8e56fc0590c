"""An item of today's plan put on the stand and begun."""

from __future__ import annotations

from typing import TYPE_CHECKING

from companion.errors import SettingsError
from companion.practice.planning.layers import PERFORMANCE
from companion.practice.planning.plan import Plan, PlanItem
from companion.session.changes import Change, Said
from companion.session.drill import START_SHARE
from companion.session.layers import with_layer
from companion.session.stand import Stand
from companion.session.swung_sheet import ready_to_swing

if TYPE_CHECKING:
    from companion.session.conductor import Conductor

NO_KEYBOARD = "No keyboard is heard, so the music does not wait for you: it plays slowly."
NO_MELODY = "This song has no melody, so the right hand is not listened to."


def start_item(conductor: Conductor, item: PlanItem) -> list[Change]:
    """Set the stand as the item wants it, and play. Raises ValueError for a loop that the song does not have,
    SettingsError where its melody is gone that was to swing."""
    sources = conductor.sources
    is_heard = sources.has_keyboard or (sources.listens and item.hands == "left")  # else not every note would be
    stand, kind = set_for_item(conductor.stand, item, is_heard)
    changes = conductor.take_up(stand, kind, asks=item.passes > 0)
    unheard = item.hands != "left" and not stand.has_melody
    if item.layer == PERFORMANCE:  # the student's own way begins it
        return [*changes, Said(item.words)]
    waits_in_vain = item.drill == "free" and kind != "free"
    words = [NO_KEYBOARD if waits_in_vain else "", item.words, NO_MELODY if unheard else ""]
    return [*changes, Said(" ".join(filter(None, words))), *conductor.start()]


def set_for_item(stand: Stand, item: PlanItem, is_heard: bool) -> tuple[Stand, str]:
    """The stand as an item of today's plan wants it, and the kind of drill. Raises ValueError for a loop that the song does not have,
    SettingsError where its melody is gone that was to swing. is_heard: whether its hands are."""
    if item.key and item.key != stand.key.name:
        stand = stand.with_key(item.key)
    stand = stand.with_loop(item.loop, item.loop_name).change(pattern=item.pattern, hands=item.hands)
    if item.layer:
        return with_layer(stand, item.layer).with_tempo(item.tempo_bpm), "listen" if item.listens_first else "play"
    if item.drill == "free" and not is_heard:  # a step in free time takes a pass at any tempo too
        return stand.with_tempo(START_SHARE * stand.song.tempo_bpm), "play"
    if item.drill == "swing":
        stand = ready_to_swing(stand)
    if item.tempo_bpm and item.drill != "climb":
        stand = stand.with_tempo(item.tempo_bpm)
    return stand, item.drill


def numbered_item(plan: Plan, number: int) -> PlanItem:
    """An item of today's plan by its number, from 1. Raises SettingsError."""
    if not 1 <= number <= len(plan.items):
        there = f"expected 1 to {len(plan.items)}" if plan.items else "it is empty"
        raise SettingsError(f"Today's plan has no item {number}: {there}.")
    return plan.items[number - 1]


def next_item(plan: Plan, after: int = 0) -> int | None:
    """The number of the first item behind that one that is not done, else of the first at all; None where all are."""
    still = [number for number, item in enumerate(plan.items, 1) if not item.done]
    return next((number for number in still if number > after), still[0] if still else None)
