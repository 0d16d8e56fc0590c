"""Hands together: loops of one, two, four and eight bars, each in the left hand's own rhythm first.

The left hand plays the pattern it has mastered, as that is what runs by itself. Where both hands fail twice running it takes two to the
bar, then one, and climbs back as it goes well. A pass that slips in one hand sends that hand alone for two passes, then both come
together again. Where the easiest rhythm fails too, the loop is halved, to the bars that slipped. The first loop is the bar that is
easiest to put together. Common practice of teaching; the numbers are our own choice.

Pure: the same start and passes give the same loops. Bars are named by their index in the chorus.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from companion.groove.model import HAND_PARTS, GrooveBar
from companion.groove.strikes import bar_strikes
from companion.practice.drills.saved import from_text, to_text

SIZES = (1, 2, 4, 8)
EASIER = ("two", "whole")  # patterns below the one that is mastered, in their order
CLEAN_PASSES = 2  # running, with both hands, before the loop grows or the pattern climbs back
FAILED_PASSES = 2  # running, before the pattern is made easier
ALONE_PASSES = 2


@dataclass(frozen=True, slots=True)
class LiningUp:
    """Where the hands stand between two passes. loop: all bars. patterns: the mastered one, then easier ones. begin: position in the loop of
    the bar it began with. size: index in SIZES, their number for the whole loop. rung: index in patterns. alone: the hand that
    plays by itself now, "" for both; alone_left: passes that it still has. clean, failed: passes running with both hands."""

    loop: tuple[int, ...]
    patterns: tuple[str, ...]
    begin: int = 0
    size: int = 0
    rung: int = 0
    alone: str = ""
    alone_left: int = 0
    clean: int = 0
    failed: int = 0
    finished: bool = False
    reason: str = ""

    @property
    def bars(self) -> tuple[int, ...]:
        """The bars of the next pass."""
        if self.size >= len(SIZES) or SIZES[self.size] >= len(self.loop):
            return self.loop
        size = SIZES[self.size]
        first = min(self.begin // size * size, len(self.loop) - size)
        return self.loop[first : first + size]

    @property
    def pattern(self) -> str:
        """The left hand's rhythm in it."""
        return self.patterns[self.rung]

    @property
    def hands(self) -> str:
        """Who plays it, one of chart.lesson.HANDS."""
        return self.alone or "both"

    @property
    def words(self) -> str:
        """ "2 bars, both hands", "1 bar, left hand alone, 2 passes to go"."""
        count = len(self.bars)
        bars = "the whole loop" if count == len(self.loop) else f"{count} bar{'s' if count > 1 else ''}"
        if not self.alone:
            return f"{bars}, both hands"
        return f"{bars}, {self.alone} hand alone, {self.alone_left} pass{'es' if self.alone_left > 1 else ''} to go"


def start(loop: Sequence[int], pattern: str, difficulties: Sequence[float]) -> LiningUp:
    """pattern: that the left hand has mastered. difficulties: of each bar of the loop (see difficulty), the easiest is begun with. Raises
    ValueError where there is no bar."""
    if not loop:
        raise ValueError("Hands are lined up on at least one bar.")
    easier = EASIER[EASIER.index(pattern) + 1 :] if pattern in EASIER else EASIER
    begin = min(range(len(loop)), key=lambda place: difficulties[place])
    return LiningUp(tuple(loop), (pattern, *easier), begin)


def difficulty(bar: GrooveBar, pattern: str) -> float:
    """How hard a bar is to put together: of all moments at which a hand strikes, the share at which one strikes alone, in the second half of
    a beat. 1 where only one hand plays, as nothing is put together there."""
    onsets = {
        part: {strike.tick for strike in bar_strikes(pattern, bar, part) if not strike.held} for part in HAND_PARTS
    }
    left, right = onsets["left"], onsets["right"]
    if not left or not right:
        return 1.0
    pulse = bar.meter.pulse_ticks
    alone = [tick for tick in left ^ right if 2 * (tick % pulse) >= pulse]
    return len(alone) / len(left | right)


def after_pass(state: LiningUp, slipped_hands: Collection[str], slipped_bars: Collection[int] = ()) -> LiningUp:
    """After a pass. slipped_hands: "left", "right" or both, none where it was clean. slipped_bars: indices in the chorus."""
    if state.finished:
        return state
    if state.alone:
        left = state.alone_left - 1
        if left:
            return replace(state, alone_left=left, reason="")
        return replace(state, alone="", alone_left=0, reason="Both hands again.")
    if not slipped_hands:
        return _well(replace(state, clean=state.clean + 1, failed=0, reason=""))
    state = replace(state, clean=0, failed=state.failed + 1, reason="")
    if state.failed >= FAILED_PASSES:
        return _easier(state, slipped_bars)
    if len(set(slipped_hands)) == 1:
        (hand,) = set(slipped_hands)
        words = f"The {hand} hand slipped: {ALONE_PASSES} passes with it alone, then both."
        return replace(state, alone=hand, alone_left=ALONE_PASSES, reason=words)
    return state


def _well(state: LiningUp) -> LiningUp:
    """Climb back in the pattern, then to a longer loop."""
    if state.clean < CLEAN_PASSES:
        return state
    state = replace(state, clean=0)
    if state.rung:
        return replace(state, rung=state.rung - 1, reason="That holds: the left hand takes more strikes again.")
    if state.bars == state.loop:
        return replace(state, finished=True, reason="The hands are together on the whole loop.")
    return replace(state, size=state.size + 1, reason="That holds: a longer loop.")


def _easier(state: LiningUp, slipped_bars: Collection[int]) -> LiningUp:
    """An easier pattern, else a shorter loop around what slipped, else once more."""
    state = replace(state, failed=0)
    if state.rung + 1 < len(state.patterns):
        return replace(state, rung=state.rung + 1, reason="Fewer strikes for the left hand, until it holds.")
    if len(state.bars) > 1:
        # The largest size below the loop of now, which may be shorter than its size says.
        size = max(number for number, bars in enumerate(SIZES) if bars < len(state.bars))
        slipped = [place for place, index in enumerate(state.loop) if index in slipped_bars and index in state.bars]
        begin = slipped[0] if slipped else state.loop.index(state.bars[0])
        return replace(state, size=size, begin=begin, reason="A shorter loop, around what slipped.")
    return replace(state, reason="Once more: slower may help (s).")


def to_json(state: LiningUp) -> str:
    """The drill as text."""
    return to_text(state)


def from_json(text: str) -> LiningUp:
    """The drill as it was saved. Raises LogError where the text is damaged."""
    return from_text(text, LiningUp, "lining up of the hands", _fits, {})


def _fits(state: LiningUp) -> bool:
    return (
        len(state.loop) > 0
        and 0 <= state.begin < len(state.loop)
        and 0 <= state.size <= len(SIZES)
        and 0 <= state.rung < len(state.patterns)
        and state.alone in ("", *HAND_PARTS)
        and bool(state.alone) == (state.alone_left > 0)
        and min(state.clean, state.failed, state.alone_left) >= 0
    )
