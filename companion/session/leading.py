"""Led from the piano: which reports of the sound process are no music, but a key or pedal that leads."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from companion.practice.leading import SUSTAIN, Switch, Table, lead_of
from companion.sound.messages import NoteIn, PedalIn, SwitchIn

if TYPE_CHECKING:  # the app asks this before any song is on the stand
    from companion.session.stand import Stand
    from companion.store.settings import Settings


def switch_of(report: object) -> Switch | None:
    """What was pressed or let go; None for a report of anything else."""
    match report:
        case NoteIn(note=note):
            return Switch("key", note)
        case PedalIn():
            return Switch("control", SUSTAIN)
        case SwitchIn(kind=kind, number=number):
            return Switch(kind, number)
    return None


def is_press(report: object) -> bool:
    """Whether something went down, and was not let go."""
    match report:
        case NoteIn(velocity=velocity):
            return velocity > 0
        case PedalIn(down=down):
            return down
    return isinstance(report, SwitchIn)


def music_of(stand: Stand | None, settings: Settings) -> range:
    """Every key from the lowest to the highest that the chosen hands may play in this song, whatever the loop; the left hand's where there
    is none."""
    hand = stand.hand if stand is not None else settings.hand
    keys: list[int] = []
    if stand is None or stand.hands != "right":
        keys += [hand.lowest_root, hand.highest_root, hand.highest_top]
    if stand is not None:
        shells = (choice.shell.midi for choice in stand.part.choices if choice.shell is not None)
        keys += [note for shell in shells for note in shell] if stand.hands != "right" else []
        sung = (note.pitch.midi for note in stand.melody if note.pitch is not None)
        keys += sung if stand.hands != "left" else []
    return range(min(keys), max(keys) + 1) if keys else range(0)


def lead_in(report: object, table: Table, music: Collection[int] = ()) -> str | None:
    """The name of LEADS that a report asks for, "" where it only lets go of what leads, None where it is music or no key at all."""
    switch = switch_of(report)
    lead = lead_of(table, switch, music) if switch is not None else ""
    return (lead if is_press(report) else "") if lead else None
