"""How things stand on the stand, and what a call to the conductor came to: small values for a screen to draw or a command to print."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from companion.practice.drills.free_time import Target
from companion.practice.model import VERDICTS, PassMarks
from companion.session.drill import Drill
from companion.session.minutes import RestDue
from companion.session.outcome import PassResult
from companion.session.stand import Stand
from companion.sound.messages import BeatReport
from companion.theory.key import Key

NOT_SURE = "not sure"  # of a chord that was not surely heard
ChordIndex = tuple[int, int]  # a chord: its bar in the chorus and its number in the bar, both from 0


@dataclass(frozen=True, slots=True)
class Sign:
    """How a chord went. fresh: in the pass that is being played, not the one before."""

    verdict: str
    fresh: bool = True


# --- what a call came to


@dataclass(frozen=True, slots=True)
class Began:
    """The sound was told to play. index: of the bar in the chorus that comes first."""

    index: int


@dataclass(frozen=True, slots=True)
class Sounded:
    """A beat is heard now."""

    beat: BeatReport


@dataclass(frozen=True, slots=True)
class NextKey:
    """The pass that begins or sounds is the last before this stand, in another key."""

    stand: Stand


@dataclass(frozen=True, slots=True)
class AllKeysPlayed:
    """The circle closed; key: that it began in."""

    key: Key


@dataclass(frozen=True, slots=True)
class PassOver:
    """drill: as the pass left it, None in free time."""

    result: PassResult
    drill: Drill | None


@dataclass(frozen=True, slots=True)
class PassWaits:
    """A pass is over that nobody has told of. count: how many wait by now."""

    count: int


@dataclass(frozen=True, slots=True)
class Ended:
    """Nothing sounds any more. last: the last pass, None where there was none. broken: a fault cut the present one off. asks: where the student
    is to say how the pass went, the index of its first bar in the chorus."""

    last: PassOver | None
    broken: bool = False
    asks: int | None = None


@dataclass(frozen=True, slots=True)
class DrillLeft:
    """Another loop ended a drill. kind: which."""

    kind: str


@dataclass(frozen=True, slots=True)
class NeedsKeyboard:
    """Free time was wanted, and nothing hears it. right_hand: a microphone listens, but not to that hand alone."""

    right_hand: bool = False


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence for the student."""

    sentence: str


Change = (
    Began
    | Sounded
    | NextKey
    | AllKeysPlayed
    | PassOver
    | PassWaits
    | Ended
    | DrillLeft
    | RestDue
    | NeedsKeyboard
    | Said
)


class Changes(list[Change]):
    """What a call has come to so far."""

    def said(self, sentence: str) -> None:
        """There is something to say, or nothing: ""."""
        if sentence:
            self.append(Said(sentence))

    def told(self) -> list[Change]:
        """All of it, to be told once."""
        changes = list(self)
        self.clear()
        return changes


@dataclass(frozen=True, slots=True)
class State:
    """How things stand. playing: between start and stop. beat: the last that sounded, None before the first. drill: None while one plays
    along or in free time. signs: how chords went. waits: passes that the student has not told of yet; asking: they may do so now, as nothing sounds; slips: bars told of the pass that sounds, or of the last. waiting: the
    shell that free time waits for; down: the keys that are held meanwhile; answer: what there is to say of them. next_stand: the stand in the key that the next pass is in, None where it stays. alone:
    the chord whose change slipped and may be practised by itself, None for none; came_from: while that is done, the name of the loop before."""

    stand: Stand
    playing: bool = False
    beat: BeatReport | None = None
    drill: Drill | None = None
    signs: Mapping[ChordIndex, Sign] = field(default_factory=dict)
    asking: bool = False
    waits: int = 0
    slips: frozenset[int] = frozenset()
    waiting: Target | None = None
    down: frozenset[int] = frozenset()
    answer: str = ""
    next_stand: Stand | None = None
    alone: ChordIndex | None = None
    came_from: str = ""


def signs_of(marks: PassMarks | None, fresh: bool = True) -> dict[ChordIndex, Sign]:
    """How each chord went, by the worst of what was due on it; nothing where nothing was heard."""
    signs: dict[ChordIndex, Sign] = {}
    for mark in marks.chords if marks else ():
        place = mark.index, mark.chord
        worst = max(mark.verdict, signs[place].verdict if place in signs else "right", key=VERDICTS.index)
        signs[place] = Sign(worst, fresh)
    for mark in marks.unsure if marks else ():
        signs.setdefault((mark.index, mark.chord), Sign(NOT_SURE, fresh))
    return signs
