"""The names of the shells and the pins that ask for one, for a chart as for the hand that plays it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from companion.theory.chord import Chord
from companion.theory.pitch import Pitch

# Every name a shell can have: what lies below, what lies above. The octaves are the last resort, for a chord that has
# no other tone to set above its root or bass.
SHELL_KINDS = (
    "root-third",
    "root-fourth",
    "root-fifth",
    "root-sixth",
    "root-seventh",
    "root-octave",
    "bass-root",
    "bass-third",
    "bass-fourth",
    "bass-fifth",
    "bass-sixth",
    "bass-seventh",
    "bass-octave",
)
PIN_EXAMPLE = '"root-fifth", "root-fifth F2" or "root-fifth F2: why"'
_MOST_WORDS = 400


@dataclass(frozen=True, slots=True)
class Pin:
    """What a student or teacher asks for at one chord.

    kind: one of SHELL_KINDS. lower: the place, as the pitch of the lower note; None for any. upper: the pitch of the upper note
    where the place alone leaves it open (a third or a tenth). reason: in their own words, "" for none.
    """

    kind: str
    lower: Pitch | None = None
    upper: Pitch | None = None
    reason: str = ""

    @classmethod
    def parse(cls, text: str) -> Pin:
        """Read "root-fifth", "root-fifth F2", "root-third C3 E4" or "root-fifth F2: the ear rests here".

        Raises ValueError saying what was expected.
        """
        asked, _, reason = text.partition(":")
        kind, *pitches = asked.split() or [""]
        if kind not in SHELL_KINDS:
            raise ValueError(f"{kind!r} is not a shell; expected one of {', '.join(SHELL_KINDS)}")
        if len(pitches) > 2:
            raise ValueError(f"{asked.strip()!r} names more than two notes; expected {PIN_EXAMPLE}")
        lower, upper = ([Pitch.parse(pitch) for pitch in pitches] + [None, None])[:2]
        reason = " ".join(reason.split())
        if not reason.isprintable() or len(reason) > _MOST_WORDS:
            raise ValueError(f"the reason is not a line of words; expected {_MOST_WORDS} letters at most")
        return cls(kind, lower, upper, reason)

    def on(self, chord: Chord) -> Pin:
        """The same on that chord, which may have moved to another key: the place moves to the nearest octave of its lower note."""
        lowest = chord.bass or chord.root
        if self.lower is None or self.lower.tone.pc == lowest.pc:
            return self
        lower, third = lowest.at_or_above(self.lower.midi - 6), chord.tone(3)
        if self.upper is None or third is None:
            return replace(self, lower=lower)
        tenth = self.upper.midi - self.lower.midi > 12
        return replace(self, lower=lower, upper=third.at_or_above(lower.midi + (13 if tenth else 1)))

    @property
    def asked(self) -> str:
        """Without the reason: "root-fifth F2"."""
        return " ".join([self.kind, *(pitch.name for pitch in (self.lower, self.upper) if pitch)])

    def __str__(self) -> str:
        return f"{self.asked}: {self.reason}" if self.reason else self.asked
