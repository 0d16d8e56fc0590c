"""A song that was learnt while older companions chose its shells: its student says, once, whether to keep those.

The practice log knows such songs from its step "former shells"; what it keeps of one goes with the answer.
"""

from __future__ import annotations

from typing import cast

from companion.base.text import plural
from companion.hands.left.former import former_pins
from companion.practice.slots import Pins, slots_of
from companion.session.stand import Stand
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import Paths
from companion.store.pins import save_pins

KIND = "former_shells"  # of what the log keeps
REASON = "as I learned it"
ANSWERS = (("keep the shells I learned", True), ("take the new shells", False))


def learnt(stand: Stand, log: PracticeLog, *, sixths: bool = False) -> Stand | None:
    """The stand with the shells of then as pins, the student's own pins before them; None where there is nothing to ask.

    stand: in the song's own key. sixths: as in `former_pins`. Raises LogError.
    """
    if not log.state(stand.original.id, "", KIND):
        return None
    pins = former_pins(slots_of(stand.song, stand.bars, stand.own_pins), stand.hand, REASON, sixths)
    kept = stand.with_pins(cast(Pins, pins) | stand.own_pins)
    if _differing(stand, kept):
        return kept
    log.put_state(stand.original.id, "", KIND, None)
    return None


def question(stand: Stand, kept: Stand) -> str:
    """The question in a line. kept: from `learnt`."""
    return f"{plural(_differing(stand, kept), 'shell')} of this song changed since you learned it"


def answer(stand: Stand, kept: Stand | None, paths: Paths, log: PracticeLog) -> None:
    """Ask no more. kept: from `learnt`, whose pins are saved; None for the shells of today. Raises SettingsError where pins cannot be
    saved: then it is asked again."""
    if kept is not None:
        save_pins(paths, kept.original.id, kept.own_pins)
    log.put_state(stand.original.id, "", KIND, None)


def _differing(stand: Stand, other: Stand) -> int:
    return sum(
        a.shell is not None and b.shell is not None and a.shell.midi != b.shell.midi
        for a, b in zip(stand.part.choices, other.part.choices, strict=True)
    )
