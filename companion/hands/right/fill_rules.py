"""What a fill keeps to, and what it costs: one table of hard rules, one of costs, and our own blues turns.

Sources, as the rows name them: C common practice, S the project's page of facts (pauses of soloists, quick notes of students), ours our own choice.

Units: semitones, MIDI numbers (C4 = 60), milliseconds, points.
"""

from __future__ import annotations

KINDS = ("arpeggio", "run", "enclosure", "blues")

# --- hard rules
SILENT_PULSES, HELD_PULSES = 2, 3  # the melody is silent two, or says nothing new for three: there is room (C)
QUICKEST_MS = 165.0  # between two notes of a fill, laid out evenly: six a second, as a student's tremolo (S)
AGAIN_MS = (
    250.0  # between the melody note before and the first of the fill; chords of the hand are let go by then (ours)
)
FEWEST, MOST = 3, 8  # notes of a fill (ours)
LOWEST, HIGHEST = 57, 84  # A3 to C6: between the left hand and where a student's sheet ends (ours)
ABOVE_SHELL = 3  # semitones above what the left hand holds (hands/apart.py)
FAR = 12  # from the melody note before to the first note, and from the last to the next where it is no step (ours)
STEP = 2  # a half or a whole step

# --- costs
LEAP = 1  # each semitone beyond a fourth from the melody note before (C: start where the hand is)
NEAR = 5
FOREIGN_ON_BEAT = 2  # a note on a beat that the chord does not have (C)
LATE_GOAL = 1  # each fourth that a resting goal lies from where the melody goes on (ours)
EMPTY = 1  # each beat of the room that is left without a note (ours): but the first, which is for breath
GOAL_HEARD = 4  # a fill that rests on a tone of the shell: the guide tone that the left hand leaves out is wanted there (C; figure ours, above CHOICE_COST)
RUNS_ON = 4  # a fill without a rest before the melody goes on: one breathes there where there is room (C; figure ours)
BREATH = 2  # so large a part of a pulse is a note on which a fill rests let go before the melody goes on, one part of so many (ours)
TOO_MANY = 1  # each note beyond six (ours)
CHOICE_COST = 3  # what is chosen from costs at most so much more than the cheapest (ours)

# Degrees above the root, as semitones, and on to the goal, the last: figures with the blue third, fifth and seventh, our own making. Over a chord
# with a major third, and over one with a minor one.
BLUES_MAJOR = (
    (7, 6, 5, 3, 4),
    (12, 10, 7, 3, 4),
    (10, 7, 6, 5, 4),
    (9, 7, 6, 5, 3, 2, 0),
    (7, 9, 10, 12),
    (7, 5, 6, 7, 10, 12),
    (0, 3, 4, 6, 7),
    (12, 10, 9, 7),
    (15, 12, 10, 9),
    (5, 6, 7, 10, 9),
    (17, 15, 12, 10),
    (3, 4, 7, 9, 10),
    (7, 6, 5, 3, 2),
    (10, 9, 7, 6, 5),
    (17, 15, 12, 11),
    (15, 12, 10, 9, 8),
)
BLUES_MINOR = (
    (10, 7, 6, 5, 3),
    (7, 6, 5, 7, 5, 3),
    (3, 5, 6, 7, 10, 12),
    (7, 6, 7, 10, 12),
    (3, 5, 6, 7),
    (12, 10, 6, 7),
    (15, 17, 15, 12, 10),
    (10, 7, 6, 5),
    (10, 7, 6, 5, 3, 2),
    (15, 12, 10, 9),
    (12, 10, 7, 6, 8),
    (15, 12, 10, 11),
)
