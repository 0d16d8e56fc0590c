"""What was begun with one count-in, until nothing sounds: what was asked for, and how it ends."""

from __future__ import annotations

from dataclasses import dataclass

from companion.session.passes import CUT_S


@dataclass(slots=True)
class Run:
    """passes: how many were asked for, 0 for as many as may be. choruses: how many of a whole tune, 0 where a loop goes round. one_pass: one is
    played, and what comes then is counted in. by_word: passes are told of, as none was heard; asks_at_once: each of them, while nothing sounds.

    sounds: from the count-in to the end. goes_on: something else is counted in at the end. stop_s: the second at which all was played out, None
    while more is to come. asked: it ended by itself, for the student's word."""

    passes: int = 0
    choruses: int = 0
    one_pass: bool = False
    by_word: bool = False
    asks_at_once: bool = False
    sounds: bool = False
    goes_on: bool = False
    stop_s: float | None = None
    asked: bool = False

    def turns(self, first_bar: int) -> int:
        """How often the loop is played, 0 for as often as may be. first_bar: position in the loop."""
        turns = 1 if self.one_pass else self.passes
        starts_inside = bool(turns and first_bar)  # what is left of the loop from there on is no pass
        return turns + starts_inside

    def play_out(self, end_s: float) -> None:
        """Nothing comes after the pass that ends there."""
        self.stop_s = end_s - CUT_S

    def is_played_out(self, now_s: float) -> bool:
        """Whether its last bar was played out by then."""
        return self.stop_s is not None and now_s >= self.stop_s

    def end(self) -> bool:
        """Nothing sounds any more. Whether something else is counted in."""
        goes_on = self.goes_on
        self.sounds = self.goes_on = False
        self.stop_s = None
        return goes_on
