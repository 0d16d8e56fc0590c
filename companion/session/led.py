"""The conductor led from the piano: keys, pedals, foot switches and page turners that lead are obeyed here and never heard as music."""

from __future__ import annotations

from companion.practice.leading import LEADS, PAGE_SWITCHES, STEP_BPM, lead_of
from companion.session.changes import Change, DrillLeft, Ended, Said
from companion.session.conductor import Conductor
from companion.session.drill import KINDS
from companion.session.leading import lead_in, music_of, switch_of
from companion.session.stand_changes import next_loop
from companion.store.settings import Settings

# The ways of practising in the order in which one key goes round them; any other leads to the first. Those that ask for more than the
# loop, such as the melody, are for the list on the screen.
WAYS = ("play", "fade", "climb", "fade+climb")
TEMPO_IS_FIXED = "The climb sets the tempo. m, play along: then the tempo is yours again."


def hear(conductor: Conductor, report: object, settings: Settings) -> list[Change]:
    """Take a report the moment it comes: what leads is obeyed and said, all else is for the conductor."""
    switch = switch_of(report)
    if switch is None or not lead_of(settings.leading, switch):
        return conductor.hear(report)
    lead = lead_in(report, settings.leading, music_of(conductor.stand, settings))
    if lead is None:  # in this song it is music
        return conductor.hear(report)
    return _obeyed(conductor, lead, switch.words) if lead else []


def turn(conductor: Conductor, page: str, settings: Settings) -> list[Change]:
    """A page turner was pressed. page: "down" or "up"."""
    lead = lead_of(settings.leading, PAGE_SWITCHES[page])
    words = PAGE_SWITCHES[page].words
    return _obeyed(conductor, lead, words) if lead else [Said(f"{words} leads nothing yet: F5, then l.")]


def _obeyed(conductor: Conductor, lead: str, words: str) -> list[Change]:
    """words: for what was pressed."""
    conductor.attend()
    if lead in ("slower", "faster"):
        if conductor.tempo_is_fixed:
            return [Said(TEMPO_IS_FIXED)]
        changes = conductor.change_tempo(conductor.stand.tempo_bpm + (STEP_BPM if lead == "faster" else -STEP_BPM))
        return [*changes, Said(f"{words}: {LEADS[lead]}, {conductor.stand.tempo_bpm:g} now.")]
    if lead == "slip":
        return conductor.slip()
    if lead == "ran":
        return conductor.answer()
    if lead == "next-loop":
        return _next_loop(conductor, words)
    if lead == "next-way":
        return _next_way(conductor, words)
    if lead == "stop" or (lead == "start-stop" and conductor.playing):
        return conductor.stop()
    if lead != "repeat" and conductor.playing:
        return []
    return [*_without_end(conductor.stop()), *conductor.start()]


def _next_loop(conductor: Conductor, words: str) -> list[Change]:
    """It is practised in the same way as the one before; what plays goes on there."""
    way, plays = conductor.kind, conductor.playing
    changes = conductor.change_stand(next_loop)
    said = Said(f"{words}: the loop is {conductor.stand.loop_name}.")
    if conductor.kind == way:
        return [*changes, said]
    changes = [*(each for each in changes if not isinstance(each, DrillLeft)), *conductor.practise(way)]
    return [*_without_end(changes), *conductor.start(), said] if plays else [*changes, said]


def _next_way(conductor: Conductor, words: str) -> list[Change]:
    """What plays goes on in the next way, counted in anew; else that waits for its start."""
    way = WAYS[(WAYS.index(conductor.kind) + 1) % len(WAYS)] if conductor.kind in WAYS else WAYS[0]
    plays = conductor.playing
    changes = conductor.practise(way)
    said = Said(f"{words}: {KINDS[way]}.")
    if not plays:
        return [*changes, said]
    return [*_without_end(changes), *conductor.start(), said]


def _without_end(changes: list[Change]) -> list[Change]:
    """What was broken off is no end where it goes on at once."""
    return [change for change in changes if not isinstance(change, Ended)]
