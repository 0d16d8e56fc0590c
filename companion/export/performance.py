"""A loop played a number of times, each time at its own tempo: what MIDI files and practice tracks are made from.

Units: tempo in pulses a minute; ticks as in a Timeline.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from companion.export.options import MOST_CHORUSES, ExportError, ExportOptions
from companion.groove.calls import MOST_BPM
from companion.groove.check import validate
from companion.groove.model import CALLS, PARTS, Arrangement, Stretch
from companion.groove.timeline import Timeline, TimelineBar, timeline
from companion.session.performance import chosen_choruses, performance
from companion.session.stand import Stand
from companion.theory.key import Key

DEFAULT_CHORUSES = 3
_STRETCH_NAMES = {Stretch.COUNT_IN: "Count-in", Stretch.LEAD_IN: "Introduction", Stretch.ENDING: "Ending"}


def perform(stand: Stand, options: ExportOptions, choruses: int = DEFAULT_CHORUSES) -> Timeline:
    """The stand's loop as wished. choruses: where none are asked for, nor chosen for the whole tune.

    Raises ExportError or GrooveError where an option cannot be met.
    """
    tempos = chorus_tempos(stand.tempo_bpm, options, _usual(stand, choruses))
    if options.calls and min(tempos) > MOST_BPM:
        raise ExportError(
            f"no chorus is slow enough for the changes to be called: the tempo is {min(tempos):g}, expected at most {MOST_BPM:g}"
        )
    return timeline(wanted_arrangement(stand, options, len(tempos)), tempos)


def least_seconds(stand: Stand, options: ExportOptions, choruses: int = DEFAULT_CHORUSES) -> float:
    """How long it will last at least, in seconds: the loop alone, without count-in and what rings on. Known at once, where making
    the performance of a very long one takes its time. Raises ExportError as `chorus_tempos`."""
    pulses = sum(stand.bars[index].meter.pulses for index in stand.loop)
    return sum(
        pulses * 60.0 / tempo_bpm for tempo_bpm in chorus_tempos(stand.tempo_bpm, options, _usual(stand, choruses))
    )


def _usual(stand: Stand, choruses: int) -> int:
    """As often as the form of the whole tune is played where more than once was chosen."""
    chosen = chosen_choruses(stand)
    return chosen if chosen > 1 else choruses


def wanted_arrangement(stand: Stand, options: ExportOptions, choruses: int = 1) -> Arrangement:
    """What plays. A part asked for by name sounds even where the stand has it off."""
    arrangement = performance(stand, choruses)
    if options.parts is not None:
        if "bass" in options.parts and arrangement.bass == "off":
            arrangement = replace(arrangement, bass="roots")
        if "click" in options.parts and arrangement.click.mode == "off":
            arrangement = replace(arrangement, click=replace(arrangement.click, mode="every"))
    parts = PARTS if options.parts is None else options.parts
    arrangement = replace(arrangement, parts=(*parts, CALLS) if options.calls else parts)
    validate(arrangement)
    return arrangement


def chorus_tempos(
    target_bpm: float, options: ExportOptions, default_choruses: int = DEFAULT_CHORUSES
) -> tuple[float, ...]:
    """The tempo of each chorus. A climb takes equal ratios, so every step sounds as big as the one before it.

    Raises ExportError where a climb has fewer than two choruses.
    """
    choruses = options.choruses or default_choruses
    if choruses > MOST_CHORUSES:
        raise ExportError(f"{choruses} choruses are too many for one file; expected at most {MOST_CHORUSES}")
    if options.from_tempo_bpm is None:
        return (target_bpm,) * choruses
    if choruses < 2:
        raise ExportError("a climb needs at least 2 choruses, one at each tempo")
    ratio = (target_bpm / options.from_tempo_bpm) ** (1 / (choruses - 1))
    return (*(options.from_tempo_bpm * ratio**step for step in range(choruses - 1)), target_bpm)


def markers(stand: Stand, bars: Sequence[TimelineBar]) -> tuple[tuple[int, str], ...]:
    """(tick, words): the count-in, then the name of every section where it begins or the loop jumps into it."""
    first = {bar.stretch: bar.tick for bar in reversed(bars)}
    framed = [(first[stretch], name) for stretch, name in _STRETCH_NAMES.items() if stretch in first]
    played = ((bar, stand.bars[bar.index]) for bar in bars if bar.stretch is Stretch.LOOP)
    sections = ((bar.tick, there.section) for bar, there in played if bar.position == 0 or there.bar == 1)
    return tuple(sorted([*framed, *sections], key=lambda marker: marker[0]))


def key_changes(stand: Stand, bars: Sequence[TimelineBar]) -> tuple[tuple[int, Key], ...]:
    """(tick, key) where the key changes, the first at tick 0; the count-in has the key it leads into."""
    keys: list[tuple[int, Key]] = []
    for bar in bars:
        index = stand.loop[0] if bar.turn < 0 else bar.index
        key = stand.song.sections[stand.bars[index].section].key
        if not keys or keys[-1][1] != key:
            keys.append((bar.tick, key))
    return tuple(keys)
