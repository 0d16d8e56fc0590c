"""The melody harmonised in the right hand: the voicings and fingers that cost least over the form, exactly.

The way from note to note depends on the fingers of the melody, since the hand lifts between chords, and on how far the notes under it move; so of all
ways to finger the same keys with one finger on top only the cheapest can be part of the best, and the rest is dynamic programming over what is left
(voiced_path.py). A phrase
begins with the hand free, so each is solved by itself, and phrases that are equal in notes and chords together, by what is legal in
all of them and costs least in sum: they differ at most in the shells below.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field

from companion.hands.limits import DEFAULT_LIMITS, Limit
from companion.hands.right.prices import FINGERS
from companion.hands.right.taught import taught_fingers
from companion.hands.right.voiced_path import Ways, least_path
from companion.hands.right.voicing_rules import SPAN
from companion.hands.right.voicings import MelodyStroke, Voicing, is_due, voicings_of
from companion.theory.key import Key


@dataclass(frozen=True, slots=True)
class VoicedPhrase:
    """A phrase to be harmonised, one stroke at least. key: that it is in. pins: place in the phrase, from 0 -> the student's own finger of the
    melody. upbeat: how many notes come before its first bar line, not all."""

    strokes: tuple[MelodyStroke, ...]
    key: Key
    pins: Mapping[int, int] = field(default_factory=dict)
    upbeat: int = 0

    @property
    def shape(self) -> Hashable:
        """Equal for phrases that are the same but for their shells."""
        first = self.strokes[0].onset
        return tuple(
            (stroke.key, stroke.onset - first, stroke.chords, stroke.pin, stroke.place, self.pins.get(at))
            for at, stroke in enumerate(self.strokes)
        )

    @property
    def body(self) -> VoicedPhrase:
        """Without the upbeat."""
        pins = {place - self.upbeat: finger for place, finger in self.pins.items() if place >= self.upbeat}
        return VoicedPhrase(self.strokes[self.upbeat :], self.key, pins)


@dataclass(frozen=True, slots=True)
class Harmoniser:
    """What the right hand may do. voices: 1 to 4 notes with the melody; tensions: added too, from three voices on; limits, reach: of the
    student's hand, in semitones."""

    voices: int
    tensions: bool = False
    limits: tuple[Limit, ...] = DEFAULT_LIMITS
    reach: int = SPAN

    def harmonise(self, phrases: Sequence[VoicedPhrase]) -> list[tuple[Voicing, ...]]:
        """A voicing for each note of each phrase. Phrases that differ by their upbeat alone are harmonised alike behind it."""
        settled: list[dict[int, Voicing]] = [{} for _ in phrases]
        for numbers in _groups([phrase.body.shape for phrase in phrases]):
            if len({phrases[number].shape for number in numbers}) > 1:
                whole = self._together([phrases[number].body for number in numbers], {})
                for number in numbers:
                    settled[number] = dict(enumerate(whole, phrases[number].upbeat))
        found: dict[int, tuple[Voicing, ...]] = {}
        for numbers in _groups([phrase.shape for phrase in phrases]):
            whole = self._together([phrases[number] for number in numbers], settled[numbers[0]])
            found |= dict.fromkeys(numbers, whole)
        return [found[number] for number in range(len(phrases))]

    def _together(self, alike: Sequence[VoicedPhrase], settled: Mapping[int, Voicing]) -> tuple[Voicing, ...]:
        """The voicings of phrases of one shape. settled: place -> the voicing it has already."""
        first = alike[0]
        keys = tuple(stroke.key for stroke in first.strokes)
        ways: dict[int, Ways] = {}
        for at, stroke in enumerate(first.strokes):
            copies = [phrase.strokes[at] for phrase in alike]
            if stroke.pin or all(is_due(copy, self.voices) for copy in copies):
                ways[at] = self._ways(copies)
                if at in settled:
                    ways[at] = {way: cost for way, cost in ways[at].items() if way == settled[at]} or ways[at]
        taught = taught_fingers(keys, first.key)
        if any(taught.get(place, finger) != finger for place, finger in first.pins.items()):
            taught = {}
        held = {at: finger for at, finger in taught.items() if at not in ways}
        held |= {
            at: finger
            for at, finger in first.pins.items()
            if at not in ways or any(way.fingers[-1] == finger for way in ways[at])
        }
        held |= {at: voicing.fingers[-1] for at, voicing in settled.items() if at not in ways}
        return least_path(keys, len(alike), held, ways)

    def _ways(self, strokes: Sequence[MelodyStroke]) -> Ways:
        """What is legal in all copies of one note."""
        counts = Counter(strokes)
        each = [(self.voicings(stroke), count) for stroke, count in counts.items()]
        (first, count), *others = each
        if not others:
            return {way: cost * count for way, cost in first.items()}
        common = [way for way in first if all(way in costs for costs, _ in others)]
        if not common:  # a pin that fits one copy only
            return {Voicing((strokes[0].key,), (finger,)): 0 for finger in FINGERS}
        return {way: sum(costs[way] * count for costs, count in each) for way in common}

    def voicings(self, stroke: MelodyStroke) -> Ways:
        """All that may be played there, with their costs."""
        return voicings_of(stroke, self.voices, tensions=self.tensions, limits=self.limits, reach=self.reach)


def _groups(shapes: Sequence[Hashable]) -> list[list[int]]:
    """The numbers of those that are equal, group by group."""
    found: dict[Hashable, list[int]] = {}
    for number, shape in enumerate(shapes):
        found.setdefault(shape, []).append(number)
    return list(found.values())
