"""How much a song asks of the left hand at its target tempo, in two figures that anybody can count, and one order made of them.

- Changes a minute: how often the chord changes in one chorus that goes round (the last chord to the first included), over the minutes
  that the chorus lasts. The same chord struck again, over a bar line or after a rest (N.C.), is no change.
- Shells: how many different ones the hand plays in it; the same two keys for another chord are the same shell.

The order: to choose one of n equally likely answers takes a time that grows with log2(n + 1) (Hick 1952, Quarterly Journal of Experimental
Psychology 4:11-26; Hyman 1953, Journal of Experimental Psychology 45:188-196). A change asks for one of the song's shells, so a minute asks
for changes * log2(shells + 1) bits; the song that asks for fewer comes first. That a hand's shells are equally likely is a simplification.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from companion.base.text import plural
from companion.errors import ShellError

if TYPE_CHECKING:
    from fractions import Fraction

    from companion.chart.model import Song
    from companion.hands.hand import Hand


def changes_a_minute(song: Song) -> Fraction:
    """Changes of chord a minute of the chorus at the target tempo; exact."""
    from fractions import Fraction  # as below: the list of songs is on the way to the first screen

    bars = song.unroll()
    chords = [placed.chord for bar in bars for placed in bar.chords if placed.chord is not None]
    changes = sum(chord != before for before, chord in zip(chords[-1:] + chords, chords))
    return changes * Fraction(song.tempo_bpm) / sum(bar.meter.pulses for bar in bars)


def different_shells(song: Song, hand: Hand) -> int:
    """How many shells this hand plays in the chorus, with the pins of the song; 0 where it cannot play it."""
    from companion.hands.left.solver import solved  # not needed where every song was counted the last time
    from companion.practice.slots import slots_of

    try:
        part = solved(tuple(slots_of(song, song.unroll())), hand)
    except ShellError:
        return 0
    return len({choice.shell.midi for choice in part.choices if choice.shell})


def bits_a_minute(changes: float, shells: int) -> float:
    """What the order goes by. Infinite where the hand cannot play the song."""
    return changes * math.log2(shells + 1) if shells else math.inf


def difficulty_words(changes: float, shells: int) -> str:
    """ "24 changes a minute, 8 shells"; only the changes where the hand cannot play the song."""
    words = f"{plural(round(changes), 'change')} a minute"
    return f"{words}, {plural(shells, 'shell')}" if shells else words
