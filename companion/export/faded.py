"""The fading drill on paper: what may be seen of each bar in round N if every pass before it was clean.

On paper the two weakest cues look alike: a bar without a word of the music, counted by its place.
"""

from __future__ import annotations

from companion.base.text import plural
from companion.export.options import ExportError
from companion.practice.drills import fading
from companion.practice.drills.fading import Cue, FadeBar, FadeState
from companion.session.drill import DrillSettings
from companion.session.stand import Stand


def round_of(stand: Stand, number: int, settings: DrillSettings) -> FadeState:
    """The drill on the stand's loop at the start of a round, from 1. The same loop, way and seed give the same sheet.

    Raises ExportError where the drill is over before that round.
    """
    bars = [FadeBar(index, stand.bars[index].section, stand.bars[index].bar) for index in stand.loop]
    state = fading.start(bars, settings.way, settings.seed, settings.pass_share)
    while state.round < number:
        after = fading.after_pass(state, frozenset(), 1.0)
        if after.finished:
            raise ExportError(
                f"the drill has {plural(state.round, 'round')} on this loop; expected a round from 1 to {state.round}"
            )
        state = after
    return state


def cues_of(state: FadeState) -> dict[int, Cue]:
    """Index in the chorus -> what may be seen."""
    return {bar.index: Cue(level) for bar, level in zip(state.bars, state.levels, strict=True)}


# What is seen of a bar on paper; the two weakest cues look alike there.
_SEEN = {
    Cue.KEYS: "with notes",
    Cue.NAMES: "with their names",
    Cue.SYMBOL: "with symbols",
    Cue.ROOT: "with roots",
    Cue.PLACE: "from memory",
}


def round_words(state: FadeState) -> str:
    """ "Round 4: of 32 bars 3 with notes, 20 with symbols, 9 from memory"."""
    levels = [level if level >= Cue.ROOT else Cue.PLACE for level in state.levels]
    counted = ", ".join(f"{count} {words}" for cue, words in _SEEN.items() if (count := levels.count(cue)))
    return f"Round {state.round}: of {plural(len(levels), 'bar')} {counted}"
