"""Lines that play, answer and choose how to practise."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from companion.base.text import nearest, quoted
from companion.errors import SettingsError
from companion.practice.drills.fading import Cue
from companion.session.changes import NeedsKeyboard
from companion.session.drill import KINDS
from companion.session.loops import find_bars, is_much_for
from companion.session.one_change import practise_alone
from companion.session.swung_sheet import ready_to_swing
from companion.tui.draw.drill import bar_names
from companion.tui.draw.view import View

if TYPE_CHECKING:
    from companion.cli.lines.sitting import Sitting

NOTHING_WAITS = "No pass waits for an answer."
# What a way of practising may be called: its words, and shorter ones.
WAYS = {words: kind for kind, words in KINDS.items()} | {
    "memory": "fade",
    "tempo": "climb",
    "memory and tempo": "fade+climb",
    "along": "play",
    "free": "free",
    "free time": "free",
    "symbols": "symbols",
}


def enter(sitting: Sitting) -> None:
    """An empty line: start; where passes wait for the student's word, or one sounds: they ran, but for the bars that were told."""
    conductor = sitting.conductor
    if conductor.asking or conductor.playing:
        ran(sitting, "")
    else:
        sitting.did(conductor.start())


def start(sitting: Sitting, rest: str) -> None:
    """Count in and play, from a bar on where one is named."""
    conductor = sitting.conductor
    if conductor.playing:
        raise SettingsError('It plays already: "stop" stops it.')
    first = 0
    if rest:
        first = conductor.stand.loop.index(min(find_bars(conductor.stand, rest)))
    sitting.did(conductor.start(first))


def stop(sitting: Sitting, rest: str) -> None:
    """Stop what is played or asked."""
    if not (sitting.conductor.playing or sitting.conductor.asking):
        raise SettingsError("Nothing is played.")
    sitting.did(sitting.conductor.stop())


def ran(sitting: Sitting, rest: str) -> None:
    """What waits ran, but for bars that were told before."""
    _answer(sitting)


def slip(sitting: Sitting, rest: str) -> None:
    """The bar that sounds slipped."""
    sitting.did(sitting.conductor.slip())


def slipped(sitting: Sitting, rest: str) -> None:
    """Bars of the last pass slipped; all else ran. Where none waits, bars of the one that sounds, which goes on."""
    conductor = sitting.conductor
    state = conductor.state
    if not (state.asking or state.playing):
        raise SettingsError(NOTHING_WAITS)
    if not rest:
        raise SettingsError('Which bars slipped? Expected such as "slipped 3 5-6" or "slipped A 3".')
    bars = find_bars(conductor.stand, rest)
    for index in bars:
        conductor.mark_slip(index)
    if state.waits:
        _answer(sitting)
    else:
        sitting.say(f"{bar_names(tuple(sorted(bars)), conductor.stand)}: slipped in this pass.")


def broke_off(sitting: Sitting, rest: str) -> None:
    """The pass that sounds broke off, or the last one that waits."""
    _answer(sitting, broke_off=True)


def _answer(sitting: Sitting, *, broke_off: bool = False) -> None:
    changes = sitting.conductor.answer(broke_off=broke_off)
    if not changes:
        raise SettingsError(NOTHING_WAITS)
    sitting.did(changes)


def look(sitting: Sitting, rest: str) -> None:
    """A look at a hidden bar, the one that sounds where none is named."""
    state = sitting.conductor.state
    view = View(state.stand).after(state)
    index = min(find_bars(state.stand, rest)) if rest else view.here
    if not view.hides or view.cue(index) == Cue.KEYS:
        raise SettingsError("Nothing is hidden there.")
    sitting.conductor.peek(index)
    sitting.teller.looked(state, index)


def alone(sitting: Sitting, rest: str) -> None:
    """Just the change that slipped, or back to the loop before."""
    changes = practise_alone(sitting.conductor)
    if not changes:
        raise SettingsError("Nothing slipped that could be practised by itself.")
    sitting.did(changes)


def wait(sitting: Sitting, rest: str) -> None:
    """Until a pass is over, so many of them, so many seconds, or until nothing sounds any more."""
    match = re.fullmatch(r"(?:(\d{1,4}(?:\.\d+)?)\s*)?(pass|passes|seconds?|s)?|(end)", rest.casefold())
    if match is None:
        raise SettingsError(
            f'"wait {rest}": expected such as "wait", "wait 2 passes", "wait 10 seconds" or "wait end".'
        )
    conductor, now_s, before = sitting.conductor, sitting.clock(), sitting.passes
    count = float(match[1] or 1)
    if match[2] in ("s", "second", "seconds"):
        sitting.wait(lambda: sitting.clock() >= now_s + count, now_s + count)
    elif match[3]:
        sitting.wait(lambda: not conductor.playing)
    else:
        sitting.wait(lambda: sitting.passes >= before + count or not conductor.playing)


def way(sitting: Sitting, rest: str) -> None:
    """How to practise: one of WAYS."""
    kind = WAYS.get(rest.casefold(), rest.casefold())
    if kind not in KINDS:
        raise SettingsError(f"{quoted(rest)} is no way of practising: {nearest(rest, WAYS)}")
    if kind == "swing" and not sitting.change(ready_to_swing):
        return
    if kind == "together" and not sitting.change(lambda stand: stand.with_hands("both")):
        return
    is_much = is_much_for(sitting.conductor.stand, kind, sitting.conductor.kind)
    changes = sitting.conductor.practise(kind)
    sitting.did(changes)
    if any(isinstance(change, NeedsKeyboard) for change in changes):
        return
    sitting.teller.way(sitting.conductor)
    if is_much:
        name, _ = sitting.conductor.stand.section_loops()[1]
        sitting.say(f'A section is learned sooner than the whole form: "loop {name}", then "{KINDS[kind]}".')
