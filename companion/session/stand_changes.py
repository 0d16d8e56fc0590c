"""What the single keys do to the stand, as pure functions from one Stand to the next."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from companion.chart.loops import WHOLE_FORM, loop_name
from companion.groove.model import Click
from companion.groove.names import BASS_STYLES, PATTERN_NAMES
from companion.session.stand import Stand
from companion.store.schema import FOLLOWS
from companion.store.settings import Playing
from companion.theory.key import Key

# The clicks in the order the key goes through them; the two that drop out come after the plain ones, then the rides.
CLICKS = (
    Click("every"),
    Click("offbeats"),
    Click("bar"),
    Click("every", 1, 4),
    Click("every", 2, 8),
    Click("ride"),
    Click("ride-always"),
    Click("off"),
)
# Above it, pulses a minute, few play two chords a bar four to the bar (common practice; the number is ours).
FAST_BPM = 220.0
COUNT_INS = (None, 0, 1, 2)  # None: as many as the tempo asks for


def _after(value: Any, row: tuple[Any, ...]) -> Any:
    return row[(row.index(value) + 1) % len(row)] if value in row else row[0]


def two_is_enough(stand: Stand, tempo_bpm: float) -> bool:
    """Whether two to the bar is offered: where four to the bar has two chords a bar at a tempo above FAST_BPM."""
    if stand.pattern != "four" or tempo_bpm <= FAST_BPM:
        return False
    bars = [stand.bars[index] for index in stand.loop]
    return any(bar.meter.pulses >= 4 and len(bar.chords) > 1 for bar in bars)


def next_pattern(stand: Stand) -> Stand:
    """The next rhythm of the left hand, in the order of the table; two to the bar where that is offered."""
    if two_is_enough(stand, stand.tempo_bpm):
        return stand.change(pattern="two")
    return stand.change(pattern=_after(stand.pattern, tuple(PATTERN_NAMES)))


def next_click(stand: Stand) -> Stand:
    """The next way to click."""
    return stand.change(click=_after(stand.click, CLICKS))


def next_bass(stand: Stand) -> Stand:
    """The next style of bass."""
    return stand.change(bass=_after(stand.bass, tuple(BASS_STYLES)))


def next_count_in(stand: Stand) -> Stand:
    """The next number of bars counted in: as the tempo asks, none, one, two."""
    return stand.change(count_in_bars=_after(stand.count_in_bars, COUNT_INS))


def next_loop(stand: Stand) -> Stand:
    """The whole form, then each section, then the whole form again."""
    loops = stand.section_loops()
    names = [name for name, _ in loops]
    here = names.index(stand.loop_name) if stand.loop_name in names else -1
    name, bars = loops[(here + 1) % len(loops)]
    return stand.with_loop(bars, name)


def whole_form(stand: Stand) -> Stand:
    """The loop is the whole form."""
    return stand.with_loop(range(len(stand.bars)), WHOLE_FORM)


# What one key goes round, and what it makes the loop.
ROUNDS = {"pattern": next_pattern, "click": next_click, "bass": next_bass}
LOOPS = {"next": next_loop, "whole": whole_form}


def loop_between(stand: Stand, first: int, last: int) -> Stand:
    """Loop two bars and all between them, whichever comes first."""
    first, last = sorted((first, last))
    if last - first + 1 == len(stand.bars):
        return whole_form(stand)
    loop = range(first, last + 1)
    return stand.with_loop(loop, loop_name(loop))


def loop_from(stand: Stand, index: int) -> Stand:
    """The loop with its first bar here; where it ended before this bar it runs to the end of the form."""
    last = max(stand.loop)
    return loop_between(stand, index, last if last >= index else len(stand.bars) - 1)


def loop_to(stand: Stand, index: int) -> Stand:
    """The loop with its last bar here; where it began after this bar it runs from this bar to where it began."""
    return loop_between(stand, min(stand.loop), index)


def keys_to_choose(stand: Stand) -> list[Key]:
    """The twelve keys of the song's mode from C upwards, the song's own spelled as the song has it."""
    own = stand.original.key
    keys = [Key.usual(pc, own.mode) for pc in range(12)]
    keys[own.tonic.pc] = own
    return keys


def keep_playing(stand: Stand, playing: Playing) -> Playing:
    """The settings of playing as the stand has them now, for the next song of the evening."""
    return replace(
        playing,
        pattern=stand.pattern,
        click=stand.click,
        bass=stand.bass,
        demonstrate=stand.demonstrate,
        laid_back=stand.laid_back,
        swing_ratio=stand.swing_ratio,
        calls=stand.calls,
        count_in_bars=stand.count_in_bars,
    )


def changed_playing(before: Playing, now: Playing) -> dict[str, Any]:
    """The settings of playing that are others now, by their names."""
    return {name: value for name, value in _values(now).items() if value != _values(before)[name]}


def _values(playing: Playing) -> dict[str, Any]:
    return {
        "playing.pattern": playing.pattern,
        "playing.click": playing.click.mode,
        "playing.click_drop_bars": playing.click.drop_bars,
        "playing.click_drop_every": playing.click.drop_every,
        "playing.bass": playing.bass,
        "playing.demonstrate": playing.demonstrate,
        "playing.count_in_bars": FOLLOWS if playing.count_in_bars is None else playing.count_in_bars,
        "playing.laid_back": playing.laid_back,
        "playing.calls": playing.calls,
    }
