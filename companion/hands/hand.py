"""The student's left hand: where it may play and how far it spans."""

from __future__ import annotations

from dataclasses import dataclass

from companion.errors import SettingsError
from companion.hands.limits import DEFAULT_LIMITS, Limit, lowest_for
from companion.theory.chord import Chord
from companion.theory.key import Key

LOWEST_KEY, HIGHEST_KEY = 21, 108  # A0 to C8, the piano's 88 keys
WIDEST_REACH = 24
RESTS = ("never", "endings", "always")  # endings: the last chord of a phrase


def pitch_name(midi: int) -> str:
    """A MIDI number as a scientific pitch name in its usual spelling, C4 = 60: 46 is "Bb2"."""
    return Key.usual(midi).tonic.at_or_above(midi).name


def may_rest(chord: Chord) -> bool:
    """Whether it is a sixth chord or a major triad, on which a line may come to rest."""
    return chord.family == "sixth" or (chord.family == "triad" and chord.degree(3) == "3" and chord.degree(5) == "5")


@dataclass(frozen=True, slots=True)
class Hand:
    """The bounds every shell keeps.

    lowest_root, highest_root: MIDI numbers for the lower note (defaults E2 and G3), also for a slash chord's bass.
    highest_top: MIDI number of the highest upper note (default C4). reach: widest interval in semitones (default an
    octave; from 15 on a third may also be played as a tenth). limits: the low-interval table. rest_on_fifth: where
    sixth chords and major triads rest on root and fifth at the lowest legal place, one of RESTS. little_finger: whether it
    plays every root.
    Raises SettingsError for a value that makes no sense.
    """

    lowest_root: int = 40
    highest_root: int = 55
    highest_top: int = 60
    reach: int = 12
    limits: tuple[Limit, ...] = DEFAULT_LIMITS
    rest_on_fifth: str = "never"
    little_finger: bool = False

    def __post_init__(self) -> None:
        for name, words in (
            ("lowest_root", "lowest root"),
            ("highest_root", "highest root"),
            ("highest_top", "highest top note"),
        ):
            midi = getattr(self, name)
            if not isinstance(midi, int) or not LOWEST_KEY <= midi <= HIGHEST_KEY:
                raise SettingsError(
                    f"The {words} is {midi!r}; expected a key of the piano, A0 to C8 "
                    f"(MIDI {LOWEST_KEY} to {HIGHEST_KEY})."
                )
        if not isinstance(self.reach, int) or not 3 <= self.reach <= WIDEST_REACH:
            raise SettingsError(f"The reach is {self.reach!r}; expected 3 to {WIDEST_REACH} semitones.")
        if self.rest_on_fifth not in RESTS:
            raise SettingsError(f"rest_on_fifth is {self.rest_on_fifth!r}; expected one of {', '.join(RESTS)}.")
        if self.highest_root < self.lowest_root:
            raise SettingsError(
                f"The highest root {pitch_name(self.highest_root)} lies below the lowest root "
                f"{pitch_name(self.lowest_root)}; expected it at or above."
            )
        if self.highest_top <= self.lowest_root:
            raise SettingsError(
                f"The highest top note {pitch_name(self.highest_top)} leaves no room above the lowest "
                f"root {pitch_name(self.lowest_root)}; expected it higher."
            )

    def rests_on(self, chord: Chord, *, ends: bool) -> bool:
        """Whether this chord rests on root and fifth. ends: whether it is the last chord of a phrase."""
        return (self.rest_on_fifth == "always" or (self.rest_on_fifth == "endings" and ends)) and may_rest(chord)

    def allows(self, lower: int, upper: int) -> bool:
        """Whether two MIDI numbers lie within range, reach and low-interval limits."""
        return (
            self.lowest_root <= lower <= self.highest_root
            and lower < upper <= self.highest_top
            and upper - lower <= self.reach
            and lower >= lowest_for(self.limits, upper - lower)
        )

    def off_middle(self, lower: int, upper: int) -> int:
        """How far the middle of two MIDI numbers lies from the middle of the range, in half semitones."""
        return abs(lower + upper - self.lowest_root - self.highest_top)

    def __str__(self) -> str:
        return (
            f"roots {pitch_name(self.lowest_root)} to {pitch_name(self.highest_root)}, top notes up to "
            f"{pitch_name(self.highest_top)} and a reach of {self.reach} semitones"
        )
