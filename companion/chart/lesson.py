"""What a teacher wrote into a song: notes to the student, and steps in their order.

    [lesson]
    note = "Left hand alone until Thursday."     # to the student, for the song
    climb = "gentle"                             # how the tempo climbs (CLIMB_RULES); left out: as the student set it

    [lesson.notes]                               # for a section, or for a bar of one
    A = "Say the roots aloud first."
    "B.3" = "The upper note stays where it is."

    [[lesson.step]]                              # as many as wanted, in their order
    listen = true                                # to be heard once, shells and melody; hands, cues and passes say nothing here

    [[lesson.step]]
    section = "A"                                # left out: the whole form
    hands = "left"                               # "left", "both" or "right"; left where it is not given
    pattern = "whole"                            # the left hand's rhythm; "four" where it is not given
    tempo = 60                                   # pulses a minute; "free": the companion waits; left out: the song's
    cues = "symbols"                             # the chord symbols alone; false: from memory; true where it is not given
    passes = 3                                   # clean passes wanted; 3 where it is not given
    note = "Only the notes, no hurry."           # shown with the step

    [[lesson.step]]
    swing = true                                 # the first phrase of the melody straight, then swung, then from memory; cues, pattern
    hands = "right"                              # and passes say nothing here; "right" where it is not given, else "both"

A text may run over several lines in triple quotes. Steps and notes do not depend on the key.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal

HANDS = ("left", "both", "right")
SWINGING_HANDS = ("right", "both")  # that a step to swing may name
# The rhythms a step may name. The room of the groove lies above this one and is not imported here; a test holds this
# tuple and groove/names.py together.
STEP_PATTERNS = (
    *("four", "two", "whole", "charleston", "late-charleston"),
    *("two-feel", "broken", "anticipated", "stride"),
)
# How the tempo climbs; practice/drills/climbing.py says what each is.
CLIMB_RULES = ("gentle", "strict", "runs", "gliding")
FORMER_RULES = {"weighted": "strict", "transformed": "runs"}  # as older companions saved them
FREE_TIME = "free"
SYMBOLS: Final = "symbols"
StepCues = bool | Literal["symbols"]  # whether the screen may help; with the chord symbols alone
DEFAULT_PASSES = 3


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to practise until it goes, or to listen to: then hands and cues are as where nothing is given, passes 1: the
    goal of the steps that follow is heard once. Or to swing a phrase of the melody: passes 1 too. section: its name, "" for the whole form. tempo_bpm: in pulses a minute,
    None for free time: the companion waits for the hand. cues: whether the screen may help, or with the chord symbols alone. passes: clean ones wanted.
    line: layer: of the usual lesson, what lies on top of the left hand, one of practice.planning.layers.LAYERS, "" for none. line: where it stands in the file, 0 where it came from none; it does not tell two steps apart."""

    section: str
    hands: str
    pattern: str
    tempo_bpm: float | None
    cues: StepCues = True
    passes: int = DEFAULT_PASSES
    note: str = ""
    listen: bool = False
    swing: bool = False
    layer: str = ""
    line: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Lesson:
    """note: for the song. section_notes: section -> text. bar_notes: (section, bar from 1) -> text. climb: one of CLIMB_RULES, "" for
    the student's own."""

    note: str = ""
    section_notes: dict[str, str] = field(default_factory=dict)
    bar_notes: dict[tuple[str, int], str] = field(default_factory=dict)
    steps: tuple[Step, ...] = ()
    climb: str = ""

    def notes_at(self, section: str, bar: int) -> tuple[str, ...]:
        """What to show when this bar is near: the section's note at its first bar, and the bar's own."""
        texts = (self.section_notes.get(section, "") if bar == 1 else "", self.bar_notes.get((section, bar), ""))
        return tuple(filter(None, texts))
