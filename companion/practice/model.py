"""What practising is made of, as plain data. A pass is once through the loop; it is marked, logged and decides what follows.

Units: seconds on one clock (`time.perf_counter` live, from the start of the file for a take); offsets in milliseconds, negative =
early; tempo in pulses a minute.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

# What a struck chord can be. The order is from best to worst.
VERDICTS = ("right", "early", "late", "short", "wrong", "missing")
# What a wrong note was (most telling first).
WRONG_KINDS = ("other shell", "neighbour", "wrong octave", "other")


@dataclass(frozen=True, slots=True)
class Group:
    """What gets one verdict together: the strikes of one hand on one chord of the chart. position: the bar's place in the loop; index: in the
    chorus; chord: its number in the bar from 0."""

    position: int
    index: int
    chord: int


@dataclass(frozen=True, slots=True)
class Expected:
    """Keys that the player is to strike together.

    part: the hand, "left" or "right". notes: MIDI numbers, any number of them. due_s: when. number: of the strike in its group, 0 for the
    first. options: other notes that are legal there, for the left hand the other shells. beat_s: length of a pulse there; window_s: how far from due_s
    a press may lie and still be taken for it (the defaults are those of 120 a minute). spreads: how far an offset from due_s spreads, in the
    player's own spreads: 1 where a clock says when it was due, else see steady.SteadyStretch.read. length_s: how long it lasts, 0 where that is
    not known. grace: the key that slides into it, None for none. turns, tremolo_s: the keys that take turns with its notes, and how long; such a tremolo has
    no length to be held. free: its time is the player's own, as in a ritardando: order and hands alone are marked.
    """

    part: str
    group: Group
    notes: tuple[int, ...]
    due_s: float
    number: int = 0
    options: tuple[tuple[int, ...], ...] = ()
    beat_s: float = 0.5
    window_s: float = 0.2
    spreads: float = 1.0
    length_s: float = 0.0
    grace: int | None = None
    turns: tuple[int, ...] = ()
    tremolo_s: float = 0.0
    free: bool = False


@dataclass(frozen=True, slots=True)
class Press:
    """A key the student pressed. time_s: already freed of the constant latency. held_s: how long the key stayed down, None
    where that is not known."""

    time_s: float
    note: int
    velocity: int = 64
    held_s: float | None = None


@dataclass(frozen=True, slots=True)
class ExtraKey:
    """A key that nothing was due for. index: of the bar it was struck in, in the chorus. part: the hand that struck it."""

    time_s: float
    note: int
    index: int
    part: str = "left"


@dataclass(frozen=True, slots=True)
class WrongNote:
    """note: what was pressed; instead_of: the note that was due; kind: one of WRONG_KINDS."""

    note: int
    instead_of: int
    kind: str


@dataclass(frozen=True, slots=True)
class StrikeMark:
    """One strike, marked. offset_ms: mean of its matched notes, None where none matched or its time is the player's own. played: the notes taken for this strike.
    missing: due notes that did not come. note_offsets_ms: of each matched note. along: keys struck with it that nothing was due
    for. keys: the presses of its right notes, in the order of `expected.notes`. reason: see marks.reason_of."""

    expected: Expected
    verdict: str
    offset_ms: float | None
    played: tuple[int, ...]
    wrong: tuple[WrongNote, ...] = ()
    missing: tuple[int, ...] = ()
    note_offsets_ms: tuple[float, ...] = ()
    along: tuple[int, ...] = ()
    keys: tuple[Press, ...] = ()
    reason: str = ""

    @property
    def is_disturbed(self) -> bool:
        """Whether anything but the timing of it went wrong, or too much was struck."""
        return self.verdict in ("wrong", "missing") or bool(self.along)


@dataclass(frozen=True, slots=True)
class ChordMark:
    """A chord of the chart, marked over all its strikes in the left hand, or a note of the melody. offset_ms: of the strike that gives the verdict: from when the chord was
    due to the first strike that came with all its notes, so a shell that came only with the second beat is late by a beat; where a repeat gives
    the verdict early or late, of that repeat. None where none came. reason: of the strike that gives the verdict."""

    index: int
    chord: int
    verdict: str
    offset_ms: float | None
    strikes: tuple[StrikeMark, ...]
    part: str = "left"
    reason: str = ""

    @property
    def is_right(self) -> bool:
        """Whether notes and time were right."""
        return self.verdict == "right"


@dataclass(frozen=True, slots=True)
class Figures:
    """A pass in numbers. chords: of the left hand, and notes of the melody; right, missing: how many of them. offset_ms: median of all matched notes (pushing below zero, dragging above), a
    usual roll taken out (marks.py); spread_ms: their spread (robust.qn), which a slip does not widen; evenness_ms: that of the gaps between strikes against the gaps that
    were due; all None where nothing was heard. extra: keys pressed that nothing was due for, between the strikes or with one. weight_right: the share right where chords weigh
    by how surely they were heard, None where all weigh alike."""

    chords: int
    right: int
    missing: int
    extra: int
    offset_ms: float | None
    spread_ms: float | None
    evenness_ms: float | None
    weight_right: float | None = None

    @property
    def share_right(self) -> float:
        """0 to 1; 1 where no chord was due."""
        if self.weight_right is not None:
            return self.weight_right
        return self.right / self.chords if self.chords else 1.0


@dataclass(frozen=True, slots=True)
class PassMarks:
    """All that is known of a heard pass. octave: how many semitones, whole octaves, above the written one the melody was played throughout. unsure: chords of which
    it was not surely heard what was played: they count for nothing, and are in none of the figures."""

    chords: tuple[ChordMark, ...]
    extra: tuple[ExtraKey, ...]
    figures: Figures
    octave: int = 0
    unsure: tuple[ChordMark, ...] = ()

    @property
    def is_heard(self) -> bool:
        """Whether the student played at all: a due note came, or as many other keys as say more than that one was brushed
        by (two, and a quarter of the strikes due; our own choice)."""
        strikes = [strike for mark in self.chords for strike in mark.strikes]
        keys = len(self.extra) + sum(len(strike.wrong) for strike in strikes)
        return any(strike.note_offsets_ms for strike in strikes) or keys >= max(2, len(strikes) / 4)

    @property
    def disturbed_strikes(self) -> int:
        """How many strikes came with a wrong, a missing or a further key, or are the nearest to keys that nothing was due for."""
        strikes = sorted(
            (mark for chord in self.chords for mark in chord.strikes), key=lambda mark: mark.expected.due_s
        )
        between_s = [(a.expected.due_s + b.expected.due_s) / 2.0 for a, b in pairwise(strikes)]
        disturbed = {bisect_left(between_s, key.time_s) for key in self.extra} if strikes else set[int]()
        return len(disturbed | {place for place, mark in enumerate(strikes) if mark.is_disturbed})

    @property
    def is_disturbed(self) -> bool:
        """Whether more than one strike in four was disturbed: such a pass is not clean, whatever its chords."""
        return 4 * self.disturbed_strikes > sum(len(chord.strikes) for chord in self.chords)

    @property
    def unsure_share(self) -> float:
        """Of the chords, 0 to 1: of how many it is not sure what was played."""
        return len(self.unsure) / max(1, len(self.chords) + len(self.unsure))

    def slipped_bars(self) -> frozenset[int]:
        """Indices in the chorus of the bars with a chord that was not right, or with more extra keys than strikes."""
        strikes = Counter(mark.index for mark in self.chords for _ in mark.strikes)
        extra = Counter(key.index for key in self.extra)
        littered = {index for index, keys in extra.items() if keys > strikes[index]}
        return frozenset(littered | {mark.index for mark in self.chords if not mark.is_right})


@dataclass(frozen=True, slots=True)
class PassRecord:
    """A pass as the log keeps it; JSON-safe but for its types.

    id: unique. started_at: UTC, ISO 8601. loop: indices in the chorus. sections: names of the sections wholly within the loop. kind: "play",
    "free", "symbols", "fade", "climb", "symbols-only", "dark" (fade and climb together is "fade+climb"; two bars tried at the target add "+probe"). round: of the fading drill, 0 without. cues: the
    mean strength of the cues shown, 0 (none) to 1 (all). source: "heard" or "told" (the student's word). heard_by: "microphone", "" for a keyboard and where nobody was heard; unsure: how many chords it was not
    sure of. fact: how it went, see
    practice/facts.py; "" where nobody said. share_right: 0 to 1. clean: whether it counts as passed.
    slipped: indices of bars that slipped. broken: cut off by a fault, so that it says nothing and counts for nothing. by_hand: of both hands, "left" and
    "right", each with share_right, offset_ms and spread_ms, together_ms (left minus right), and layer, what the right hand laid on top; empty for one hand. chords: one dict a
    chord: index, bar, section, chord, symbol, verdict, offset_ms, played; a note of the melody has part, "right", too.
    """

    id: str
    started_at: str
    duration_s: float
    song_id: str
    title: str
    key: str
    loop_name: str
    loop: tuple[int, ...]
    sections: tuple[str, ...]
    tempo_bpm: float
    target_bpm: float
    pattern: str
    hands: str
    kind: str
    round: int
    cues: float
    source: str
    fact: str
    share_right: float
    clean: bool
    slipped: tuple[int, ...]
    offset_ms: float | None = None
    spread_ms: float | None = None
    evenness_ms: float | None = None
    extra: int = 0
    broken: bool = False
    by_hand: dict[str, Any] = field(default_factory=dict)
    heard_by: str = ""
    unsure: int = 0
    chords: tuple[dict[str, Any], ...] = ()
