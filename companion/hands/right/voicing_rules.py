"""What may stand under a melody note in the right hand, and what it costs: one table of hard rules and one of costs.

Sources, as the rows name them:

LIL   low-interval limits, hands/limits.py
P97   Parncutt, Sloboda, Clarke, Raekallio and Desain 1997, the spans of prices.py
A     avoid notes and tensions as Haerle 1980 and Nettles and Graf print them (from memory)
C     common practice
ours  our own choice, found by trial over our songs in twelve keys

Units: semitones, MIDI numbers (C4 = 60), milliseconds, points.
"""

from __future__ import annotations

from companion.theory.chord import Chord
from companion.theory.pitch import degree_interval

MOST_VOICES = 4

# --- hard rules
SPAN = 12  # from the lowest note to the melody: an octave, the default reach of the right hand (C)
LOWEST_ADDED = 53  # F3: below, the left hand plays (C)
ABOVE_SHELL = (
    3  # between the shell's upper note and the lowest of the right hand: a minor third, both thumbs need a key (ours)
)
UNDER_MELODY = 3  # nothing nearer than a third under the melody, so that it is heard (C)
INSIDE = 2  # no semitone between two notes of the hand (C)
MINOR_NINTHS = (13, 25)  # between any two notes of both hands, but a dominant's own flat ninth over its root (A)
ROOM_MS = {2: 200.0, 3: 300.0, 4: 400.0}  # notes in the hand -> how soon the next stroke may come (ours)
FAR_LEAP, FAR_LEAP_MS = 19, 300.0  # an octave and a fifth: no note of a hand moves further within that time (ours)

# --- costs
MISSING = 10  # each note that is wanted and not there (ours); more than the fingers may cost, or the hand would just play less
# On a light beat between chords the first added note is wanted less, and each further one hardly: a pianist thins out there (C; figures ours).
LIGHT_ALONE, LIGHT_MISSING, LIGHT_GUIDE = (
    {2: 3, 3: 7, 4: 7},
    2,
    4,
)  # alone by voices: with one note to spare it is kept for the strong beats
NO_GUIDE_TONE = 8  # the third, or the seventh or sixth, sounds in neither hand (C: they tell the chord)
INTERVALS = {
    2: 3,
    3: 0,
    4: 0,
    5: 3,
    6: 2,
    7: 4,
    8: 0,
    9: 0,
    10: 5,
    11: 7,
    12: 8,
}  # between neighbours in the hand: thirds and sixths (C)
WIDE, WIDE_LAST = (
    10,
    4,
)  # from a minor seventh on, what an interval costs at most on the last note of a phrase, where the hand may open (ours)
# From one chord to the next, each note under the melody: semitones it moves for nothing, then points a semitone; points at most for all of them.
INNER_FREE, INNER_EACH, INNER_MOST = 1, 1, 6  # C: inner voices stay or step; figures ours
DOUBLED, DOUBLED_LOW = 1, 3  # a tone of the shell once more; below C4 (ours)
LOW = 60
HAND_MOST = 5  # what holding one chord may cost, P97's rules of two fingers over all its pairs
STEP_MOST, TURN_MOST = (
    3,
    1,
)  # what going on from or to a chord may cost, by the rules of two and of three fingers: a hand that lifts is free (ours)

# Family and degrees -> tensions that may be added where the symbol has no other ninth, eleventh or thirteenth. All rows: A.
_TENSIONS = (
    ({"3", "7"}, ("9", "13")),
    ({"3", "6"}, ("9",)),
    ({"3", "b7"}, ("9", "13")),
    ({"b3", "b5", "b7"}, ("11",)),
    ({"b3", "b7"}, ("9", "11")),
    ({"b3", "7"}, ("9",)),
    ({"b3", "6"}, ("9",)),
)


def tensions_of(chord: Chord) -> tuple[str, ...]:
    """The tensions that may be added to what the symbol says, in the order of the table; none beside an altered one, or on a suspension."""
    degrees = set(chord.degrees)
    altered = degrees & {"b9", "#9", "b5", "#5", "b13", "#11", "bb7"} and "b3" not in degrees
    if altered or not degrees & {"3", "b3"}:
        return ()
    for wanted, tensions in _TENSIONS:
        if wanted <= degrees:
            return tuple(tension for tension in tensions if tension not in degrees)
    return ()


def addable_degrees(chord: Chord, *, tensions: bool) -> tuple[str, ...]:
    """The degrees of a chord that may be added under a melody: all of its own but the eleventh over a major third (A), and the tensions
    that it takes."""
    own = [degree for degree in chord.degrees if not ("3" in chord.degrees and degree in ("11", "4"))]
    return (*own, *(tensions_of(chord) if tensions else ()))


def guide_degrees(chord: Chord) -> tuple[str, ...]:
    """What tells the chord: its third, or the fourth or second that stands in for it, and its seventh or else its sixth."""
    found = [
        next((degree for number in numbers if (degree := chord.degree(number))), None)
        for numbers in ((3, 4, 2), (7, 6))
    ]
    return tuple(degree for degree in found if degree is not None)


def pc_of(chord: Chord, degree: str) -> int:
    """Pitch class of a degree of the chord."""
    return (chord.root.pc + degree_interval(degree)[1]) % 12
