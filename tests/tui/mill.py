"""A small song, put on the stand of the app, and passes of it as the sound process reports them."""

import time
from dataclasses import replace

from told_passes import reports, right

from companion.session.drill import KINDS
from companion.sound.messages import (
    Load,
    Play,
    Started,
)
from companion.tui.screens.pick import PickScreen
from companion.tui.screens.stand import StandScreen
from companion.tui.screens.today import TodayScreen

# Names of sections and song that hold no name of a note, for looking whether one leaks.
MILL = """
title = "Slow Mill"
key = "Bb"
meter = "4/4"
tempo = 120
feel = "straight"
form = "One Two"

[section.One]
bars = \"\"\"
Bb6 | G7 | Cm7 F7 | Bb6 |
\"\"\"

[section.Two]
bars = \"\"\"
Ebmaj7 | Am7b5 | Dm7 G7 | Cm7 F7 |
\"\"\"

[lesson]
note = "Quietly."

[lesson.notes]
"One.2" = "Now G7: only one finger moves."

[[lesson.step]]
section = "One"
tempo = 60
passes = 1
"""
KINDS_ORDER = [kind for kind in KINDS if kind not in ("together", "swing")]  # as the left hand alone is shown them


async def put_mill(pilot):
    await pilot.pause()
    if isinstance(pilot.app.screen, TodayScreen):  # something is due
        await pilot.press("escape")
        await pilot.pause()
    await pilot.press(*"mill", "enter")
    await pilot.pause()
    assert isinstance(pilot.app.screen, StandScreen)


async def choose(pilot, kind):
    """Through the list of ways, as a student does."""
    await pilot.press("m")
    assert isinstance(pilot.app.screen, PickScreen)
    here, there = KINDS_ORDER.index(pilot.app.conductor.kind), KINDS_ORDER.index(kind)
    await pilot.press(*["down" if there > here else "up"] * abs(there - here), "enter")
    await pilot.pause()
    if isinstance(pilot.app.screen, PickScreen):  # which bars first
        await pilot.press("w")
        await pilot.pause()


async def play_pass(pilot, link, hand=right, start_s=None, turn=0, tempo_bpm=None, finish=True):
    """One pass as the sound process reports it. All is past, so that nothing waits. Gives its end."""
    arrangement = link.told_of(Load)[-1].arrangement
    tempo_bpm = tempo_bpm or link.told_of(Play)[-1].tempo_bpm
    start_s = time.perf_counter() - 500.0 if start_s is None else start_s
    if turn == 0:
        link.report(Started(start_s))
    bars, end_s = reports(arrangement, hand, start_s, tempo_bpm, turn)
    for bar in bars:
        for report in bar:
            link.report(report)
        await pilot.pause()
    if finish:
        await pilot.pause()
        if hasattr(pilot.app.practice_log, "settle"):  # what became of writing it is said
            pilot.app.practice_log.settle()
        await pilot.pause()
    return end_s


def with_levels(stand_screen, level):
    """The drill with every bar at one cue."""
    practice = stand_screen.conductor.practice
    drill = practice.drill
    practice.drill = replace(drill, fade=replace(drill.fade, levels=(level,) * len(drill.fade.levels)))
    stand_screen.show()
