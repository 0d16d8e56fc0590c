"""The same phrase straight, then swung: heard and played from the page, and at last the swung one from memory.

Common practice: one hears a way of playing before one plays it, and knows the plain tune before one bends it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Stage:
    """straight: whether the tune is as it is written. listens: the companion plays it and nothing is marked. shown: whether the page helps.
    passes: clean ones wanted, or times it is heard. words: what to do."""

    straight: bool
    listens: bool
    shown: bool
    passes: int
    words: str


STAGES = (
    Stage(True, True, True, 1, "hear it straight"),
    Stage(True, False, True, 1, "play it straight"),
    Stage(False, True, True, 1, "hear it swing"),
    Stage(False, False, True, 2, "play it swinging"),
    Stage(False, False, False, 1, "swinging, from memory"),
)
_HEARD_AGAIN = 2  # where a pass from memory that was not clean leads back to


@dataclass(frozen=True, slots=True)
class TwoWays:
    """stage: index in STAGES, their number once all is done. done: passes of it that counted."""

    stage: int = 0
    done: int = 0

    @property
    def finished(self) -> bool:
        """Whether the swung phrase was played from memory."""
        return self.stage >= len(STAGES)

    @property
    def now(self) -> Stage:
        """What is to be done; the last of it once all is done."""
        return STAGES[min(self.stage, len(STAGES) - 1)]

    @property
    def words(self) -> str:
        """ "3 of 5: hear it swing", "4 of 5: play it swinging, clean pass 2 of 2"."""
        passes = f", clean pass {self.done + 1} of {self.now.passes}" if self.now.passes > 1 else ""
        return f"{min(self.stage, len(STAGES) - 1) + 1} of {len(STAGES)}: {self.now.words}{passes}"


def after_pass(state: TwoWays, clean: bool) -> TwoWays:
    """After a pass was heard, or played. A pass from memory that was not clean: the phrase is heard once more."""
    if state.finished:
        return state
    if not clean:
        return TwoWays(_HEARD_AGAIN) if not state.now.shown else state
    if state.done + 1 < state.now.passes:
        return replace(state, done=state.done + 1)
    return TwoWays(state.stage + 1)
