"""What a student chose for the arrangement of a song: plain values, kept in the student's own file of it (store/own_arrangement.py)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from companion.arranging.endings import CURVE, SLOWS_TO
from companion.chart.melody import NotePlace
from companion.hands.right.slides import MS_LIMITS, USUAL_MS

ALONE = 1  # voices: the melody without company
MOST_VOICES = 4
SLIDE, TREMOLO, FILL, WALK = "slide", "tremolo", "fill", "walk"
KINDS = (
    SLIDE,
    TREMOLO,
    FILL,
    WALK,
)  # what is proposed bar by bar: the right hand's, and what the left hand does where phrases end
SLIDE_MS, SLIDE_MS_LIMITS = USUAL_MS, MS_LIMITS
MOST_CHOICES = 3  # of each kind in a bar
MOST_CHORUSES = 12  # of the form, between introduction and ending (ours)
BELOW, ABOVE, STRAIGHT = "below", "above", "no"  # how the student wants one note to be come to
SLIDE_WAYS = (BELOW, ABOVE, STRAIGHT)
PUT_OFF, IN_SHELLS = 0, 2  # the second choice of a walk changes the chart, so it is never taken unasked

OrnamentPlace = tuple[str, int, str]  # section, bar of it from 1, one of KINDS


@dataclass(frozen=True, slots=True)
class ArrangementChoice:
    """voices: notes in the right hand with the melody, 1 to 4. tensions: whether ninths, elevenths and thirteenths may be added, from three
    voices on. intro, ending: one of beginnings.INTROS and endings.ENDINGS. slows_to, curve: how an ending slows down, see endings.slowing. choruses: how often the form is played between introduction and ending. seed: what is chosen by chance is chosen by it. slide_ms: how long the grace of a slide lasts. ornaments: those of KINDS that are wanted
    wherever they are proposed. bars: what the student wants in a bar whatever is wanted else: which of the choices from 1, or PUT_OFF. notes: place of a melody note as it is written -> the degrees that the student wants under it, from
    the lowest, () for the melody alone. slides: the same place -> one of SLIDE_WAYS, whatever is wanted in its bar."""

    voices: int = ALONE
    tensions: bool = False
    intro: str = "none"
    ending: str = "none"
    seed: int = 0
    notes: Mapping[NotePlace, tuple[str, ...]] = field(default_factory=dict)
    slows_to: float = SLOWS_TO
    curve: float = CURVE
    ornaments: tuple[str, ...] = ()
    bars: Mapping[OrnamentPlace, int] = field(default_factory=dict)
    slide_ms: float = SLIDE_MS
    slides: Mapping[NotePlace, str] = field(default_factory=dict)
    choruses: int = 1

    def wanted(self, section: str, bar: int, kind: str) -> int:
        """Which of the choices of a kind is wanted in a bar, from 1; PUT_OFF for none."""
        return self.bars.get((section, bar, kind), 1 if kind in self.ornaments else PUT_OFF)

    def with_bar(self, section: str, bar: int, kind: str, wish: int | None) -> ArrangementChoice:
        """With that wanted in a bar; None for what is wanted in the whole song."""
        others = {place: each for place, each in self.bars.items() if place != (section, bar, kind)}
        return replace(self, bars=others if wish is None else {**others, (section, bar, kind): wish})

    def with_slide(self, place: NotePlace, way: str | None) -> ArrangementChoice:
        """With that wanted at one note; None for what is wanted in its bar."""
        others = {at: each for at, each in self.slides.items() if at != place}
        return replace(self, slides=others if way is None else {**others, place: way})
