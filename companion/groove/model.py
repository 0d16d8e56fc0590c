"""What the groove takes and gives, as plain data that travels to the sound process.

Units: ticks of 1/960 quarter (theory.meter); tempo in pulses a minute.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum

from companion.theory.chord import Chord
from companion.theory.meter import Meter

# What may sound, in the order in which what sounds together is listed. The hands are the student's.
PARTS = ("click", "bass", "left", "right")
BAND = ("click", "bass")
HAND_PARTS = ("left", "right")
CALLS = "calls"  # the changes called aloud: heard in the built-in sound alone, so none of PARTS
VOICES = (*PARTS, CALLS)


def hand_parts(hands: str) -> tuple[str, ...]:
    """The parts that the student plays. hands: "left", "right" or "both" (see chart.lesson.HANDS)."""
    return HAND_PARTS if hands == "both" else (hands,)


@dataclass(frozen=True, slots=True)
class GrooveChord:
    """tick: onset in the bar. ticks: length. chord: None for N.C. notes: what the left hand plays on it, MIDI numbers from
    the lowest, none for N.C. moved: by how many semitones all is played above what is written."""

    tick: int
    ticks: int
    chord: Chord | None
    notes: tuple[int, ...] = ()
    moved: int = 0


@dataclass(frozen=True, slots=True)
class Grace:
    """A short key just before a strike: a slide. ms: how long, whatever the tempo."""

    key: int
    ms: float


@dataclass(frozen=True, slots=True)
class Strike:
    """Keys that go down together in one part.

    tick: from the start of the bar; ticks: how long they are held in this bar. Both straight, as swing comes last. chord:
    which of the bar's chords they belong to; number: which strike of that chord, both from 0. goes_on: they are held over
    the bar line; held: they have been since the bar before, so nothing goes down here. inner_ticks: how long all but the highest are held, over the bar
    line too; None as long as that. grace: what is heard just before it, for which the note before makes room. turns: those of the notes that take turns with
    the others, in a tremolo that lasts as long as the strike; () for none. velocity: 1 to 127, None for what is usual in its part. keys: which of its chord's they are in a pattern of the left hand, see
    keys_struck.py.
    """

    part: str
    tick: int
    ticks: int
    notes: tuple[int, ...]
    chord: int = 0
    number: int = 0
    held: bool = False
    goes_on: bool = False
    inner_ticks: int | None = None
    grace: Grace | None = None
    turns: tuple[int, ...] = ()
    velocity: int | None = None
    keys: str = "shell"

    @property
    def end_tick(self) -> int:
        """The tick at which it ends."""
        return self.tick + self.ticks


@dataclass(frozen=True, slots=True)
class GrooveBar:
    """One bar. index: its place in the chorus from 0, which is how the screen finds it again; -1 where it is in none.
    chords: end to end, struck by the left hand in the arrangement's pattern. written: strikes of any part that are
    written out one by one, in order of tick. shares: the tempo of each pulse as a share of the asked one, () for all of it. pattern_ticks: how far into the bar
    the left hand's pattern goes, None for all of it. holds: (from, until) in ticks, where the right hand fills and the left one strikes nothing again that it holds already. coming: the keys of the chord that the next bar of the loop begins with, () where none is or where the hand is not
    free to strike it early; was_early: whether the bar before could so strike this one's."""

    index: int
    meter: Meter
    chords: tuple[GrooveChord, ...]
    written: tuple[Strike, ...] = ()
    shares: tuple[float, ...] = ()
    pattern_ticks: int | None = None
    holds: tuple[tuple[int, int], ...] = ()
    coming: tuple[int, ...] = ()
    was_early: bool = False


@dataclass(frozen=True, slots=True)
class Click:
    """mode: one of names.CLICK_MODES.
    Silent for the last `drop_bars` bars of every `drop_every` (0: never silent)."""

    mode: str = "every"
    drop_bars: int = 0
    drop_every: int = 0


class Stretch(IntEnum):
    """What is played, in this order: the loop any number of times, the others once."""

    COUNT_IN = 0
    LEAD_IN = 1
    LOOP = 2
    ENDING = 3


@dataclass(frozen=True, slots=True)
class Arrangement:
    """All the sound process needs to play a loop for ever. bars: one pass of the loop, in playing order. lead_in: bars
    played once before it; ending: once after its last pass; last: the bars of that pass where they are not those of the others, as what leads back in these leads into
    the ending there, () where they are. coming: the bars of the loop that is known to follow this pass, the song in
    another key say, empty where it is this one again; what leads on leads there.

    parts: those of VOICES that sound. pattern: the left hand's rhythm (see patterns.py); bass: "roots", "two-feel",
    "walking" or "off". feel: "swing" or "straight". swing_ratio: long over short, None follows the tempo. laid_back:
    whether the right hand is heard behind the beat as a soloist's (placing.py). count_in_bars: 0 to 2, None for as many as the tempo asks for (counting.py). pickup_ticks: how
    far before bar 1 of the loop the tune starts (in the lead-in, else in the count-in); pickup: its strikes, whose ticks
    count from that bar line and so are negative. seed: makes the bass repeatable; touch_seed: the small differences in loudness, a song's own.
    """

    bars: tuple[GrooveBar, ...]
    parts: tuple[str, ...] = BAND
    pattern: str = "four"
    click: Click = field(default_factory=Click)
    bass: str = "roots"
    feel: str = "swing"
    swing_ratio: float | None = None
    laid_back: bool = False
    count_in_bars: int | None = None
    pickup_ticks: int = 0
    pickup: tuple[Strike, ...] = ()
    lead_in: tuple[GrooveBar, ...] = ()
    ending: tuple[GrooveBar, ...] = ()
    last: tuple[GrooveBar, ...] = ()
    coming: tuple[GrooveBar, ...] = ()
    seed: int = 0
    touch_seed: int = 0

    def bars_of(self, stretch: Stretch, *, is_last: bool = False) -> tuple[GrooveBar, ...]:
        """The bars of the lead-in, the loop or the ending. The count-in has none of its own: see timeline.count_in. is_last: whether it is the last pass of
        the loop."""
        loop = (self.last or self.bars) if is_last else self.bars
        return {Stretch.LEAD_IN: self.lead_in, Stretch.LOOP: loop, Stretch.ENDING: self.ending}[stretch]

    def bars_after(self, stretch: Stretch, *, is_last: bool) -> tuple[GrooveBar, ...]:
        """What a stretch leads to. is_last: whether this pass of the loop is the last one; without an ending, nothing follows it."""
        if stretch is Stretch.LEAD_IN:
            return self.bars
        if stretch is not Stretch.LOOP:
            return ()
        return self.ending if is_last else self.coming or self.bars


@dataclass(frozen=True, slots=True)
class NoteEvent:
    """One note that sounds. tick: onset from the start of its bar; ticks: length (it may ring into the next bar, never past
    its chord's end, or its melody note's). part: one of VOICES. note: MIDI number; for the click 1 = the bar's first beat,
    0 = other beats, one of ride.CYMBALS = that of General MIDI. velocity: 1 to 127. words: of CALLS, what is said."""

    tick: int
    ticks: int
    part: str
    note: int
    velocity: int
    words: str = ""
