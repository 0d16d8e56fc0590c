"""A song that was on the stand, to be found again as it was left: this evening with all that goes on, on another day by the song's own file."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import dataclass

from companion.errors import CompanionError
from companion.session.all_keys import AllKeys
from companion.session.loops import find_loop
from companion.session.practice import Practice
from companion.session.shown_passes import ShownPasses
from companion.session.stand import Stand
from companion.session.taking_back import Before
from companion.store.own_stand import OwnStand


@dataclass(frozen=True, slots=True)
class LeftSong:
    """What a conductor holds for its song; all else (keyboards, minutes, what sounds) is the evening's. The names are the conductor's."""

    stand: Stand
    kind: str
    asks: bool
    practice: Practice | None
    keys: AllKeys
    before: Before
    shown: ShownPasses


def worked_bpm(practice: Practice | None, stand: Stand) -> float:
    """The tempo that is worked at: where a climb is, else on the stand."""
    climb = practice.drill.climb if practice is not None and not practice.drill.finished else None
    return climb.tempo_bpm if climb else stand.tempo_bpm


def left_as(stand: Stand, tempo_bpm: float) -> OwnStand:
    """What is kept of a stand for another day. tempo_bpm: that it is worked at, which a climb sets."""
    return OwnStand(
        round(tempo_bpm, 1) if round(tempo_bpm, 1) != stand.song.tempo_bpm else None,
        stand.key if stand.key != stand.original.key else None,
        _loop_text(stand),
        stand.hands,
        stand.rest_sounds,
    )


def as_left(stand: Stand, left: OwnStand) -> Stand:
    """A song that was just put on the stand, as it was left on another day. What the song no longer allows, as it may have been changed
    since, stays as the song has it."""
    wanted: list[Callable[[Stand], Stand]] = []
    if (key := left.key) is not None:
        wanted.append(lambda now: now.with_key(key))
    wanted.append(lambda now: now.with_hands(left.hands, left.rest_sounds))
    if left.loop:
        wanted.append(lambda now: find_loop(now, left.loop))
    if (tempo_bpm := left.tempo_bpm) is not None:
        wanted.append(lambda now: now.with_tempo(tempo_bpm))
    for change in wanted:
        with contextlib.suppress(CompanionError, ValueError):
            stand = change(stand)
    return stand


def _loop_text(stand: Stand) -> str:
    """The loop as `find_loop` reads it, "" for the whole form and for bars that do not follow each other."""
    (_, whole), *sections = stand.section_loops()
    first, last = stand.loop[0], stand.loop[-1]
    if stand.loop == whole or stand.loop != tuple(range(first, last + 1)):
        return ""
    return next((name for name, bars in sections if bars == stand.loop), f"{first + 1}-{last + 1}")
