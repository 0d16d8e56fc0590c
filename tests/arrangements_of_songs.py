"""Whole arrangements of our songs, and each as the plain numbers that the checkers take."""

from __future__ import annotations

from random import Random

import fills_checker
import fills_of_songs
import harmony_checker
import harmony_of_songs
import ornament_checker
from arrangement_checker import Played, limits_broken
from ornaments_of_songs import hits_of

from companion.arranging.beginnings import INTROS
from companion.arranging.choice import ArrangementChoice
from companion.arranging.endings import ENDINGS
from companion.base.latest import latest
from companion.session.stand import Stand
from companion.theory.key import Key

_OWN = {}  # what a student wants under a note: nothing of their own, one and the same, so that it is harmonised once
KINDS = ("slide", "tremolo", "fill", "walk")


@latest
def _in_key(song, pc, settings):
    return Stand.put(song, settings).with_key(Key.usual(pc, song.key.mode)).with_hands("both")


def everything(song, pc, voices, seed, settings):
    """A song in a key with all that an arrangement can have; introduction, ending and what is asked for bar by bar by the seed."""
    stand = _in_key(song, pc, settings)
    chance = Random(f"{song.id} {pc} {voices} {seed}")
    wishes = {
        (bar.section, bar.bar, kind): chance.randrange(4)
        for bar in stand.bars
        for kind in ("slide", "tremolo", "fill")
        if chance.random() < 0.3
    }
    return stand.change(
        arranged=ArrangementChoice(
            voices,
            notes=_OWN,
            tensions=voices > 2 and chance.random() < 0.5,
            intro=chance.choice(INTROS[:-1]),
            ending=chance.choice(ENDINGS[:-1]),
            seed=seed,
            ornaments=KINDS if chance.random() < 0.8 else chance.choice([("slide",), ("tremolo",), ("fill", "walk")]),
            bars=wishes,
        )
    )


def played_of(stand, whole):
    """Of its arrangement every stroke of both hands, introduction to ending, at the target tempo and slower where it slows down."""
    found, at_ms = [], 0.0
    for bar in whole:
        pulse = bar.meter.pulse_ticks
        tick_ms = 60_000.0 / stand.song.tempo_bpm / pulse
        shares = bar.shares or (1.0,) * bar.meter.pulses
        lines = [0.0]
        for share in shares:
            lines.append(lines[-1] + pulse * tick_ms / share)
        start = at_ms

        def ms(tick, lines=lines, start=start, pulse=pulse, tick_ms=tick_ms, shares=shares):
            place = max(0, min(int(tick // pulse), len(shares) - 1))
            return start + lines[place] + (tick - place * pulse) * tick_ms / shares[place]

        for hand, strokes in (("left", bar.left), ("right", bar.right)):
            for each in strokes:
                assert len(each.fingers) == len(each.names) == len(each.keys), (bar.section, bar.bar, each)
                inner = each.ticks if each.inner_ticks is None else each.inner_ticks
                ends = (*[ms(each.tick + inner)] * (len(each.keys) - 1), ms(each.tick + each.ticks))
                found.append(Played(hand, ms(each.tick), ends, each.keys))
        at_ms += lines[-1] if bar.bar else 0.0
    return found


def all_faults(stand, whole, played):
    """What any of the checkers finds in it. whole: its arrangement; played: as of played_of."""
    choice = stand.arranged
    found = limits_broken(played)
    hits, left, tick_ms, pulse = hits_of(stand, whole)
    found += ornament_checker.faults(hits, left, tick_ms, choice.slide_ms, pulse)
    if stand.harmonised:
        found += harmony_checker.faults(
            harmony_of_songs.struck_of(stand.harmonised),
            harmony_of_songs.chords_of(stand, choice.tensions),
            tick_ms,
            choice.voices,
        )
    chords = fills_of_songs.chords_of(stand)
    there = stand.ornaments(once=True).fills
    for place in fills_of_songs.places_of(stand, choice.seed):
        fill = there.get(place.room.note)
        if fill is not None:
            around = fills_of_songs.around(stand, place)
            found += fills_checker.faults(
                fills_of_songs.plain(fill), *around, chords, tick_ms, fills_of_songs.pulse_of(place), kind=fill.kind
            )
    return found


def spoiled(strokes, chance):
    """One stroke so that no two hands can play it, in one of the ways that the limits are about."""
    strokes = sorted(strokes, key=lambda stroke: (stroke.start, stroke.hand))
    at = chance.randrange(len(strokes))
    stroke = strokes[at]
    low, high = min(stroke.keys), max(stroke.keys)
    long = tuple(max(end, stroke.start + 120.0) for end in stroke.ends)
    ways = {
        "reach": Played(stroke.hand, stroke.start, (*long, long[-1]), (*stroke.keys, low + 13 + chance.randrange(12))),
        "again": Played(stroke.hand, stroke.start + 20.0 + 60.0 * chance.random(), stroke.ends, stroke.keys),
        "leap": Played(
            stroke.hand, stroke.start + 100.0 + 150.0 * chance.random(), long, (high + 20 + chance.randrange(9),)
        ),
        "other hand": Played("left" if stroke.hand == "right" else "right", stroke.start + 10.0, long, stroke.keys),
    }
    way = chance.choice(sorted(ways))
    changed = ways[way]
    kept = strokes[:at] + strokes[at + 1 :] if way == "reach" else strokes
    return way, [*kept, changed]
