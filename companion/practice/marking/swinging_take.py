"""How the melody swings in a recording: its notes are found among all that was played by their pitches alone, in order, so that no time is
taken for granted before it is measured. A beat on which nothing was struck lies between those that were; with a click in the file, on it.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Mapping, Sequence
from difflib import SequenceMatcher
from itertools import pairwise

from companion.groove.model import Arrangement
from companion.groove.swing import off_beat_share, played_ratio
from companion.practice.marking.swinging import Onset, Place, Swinging, places_of, swinging
from companion.practice.model import Press

OCTAVES = (0, 12, -12, 24, -24)
MOST_NOTES = 4000  # of the melody's pitches in a recording: beyond that it would take seconds
MOST_PASSES = 60
_BEATS_BETWEEN = 4  # so far apart two struck beats may lie for one between them to be known (our own choice: a bar)
_NEAR = 0.35  # of a beat: so far a click may lie from the beat that it is of


def swing_of_take(arrangement: Arrangement, presses: Sequence[Press], clicks_s: Sequence[float] = ()) -> Swinging:
    """Of the loop's melody, played any number of times. presses: in order of time; clicks_s: of the file's own click. What cannot be found
    says nothing."""
    places = places_of(arrangement)
    found = _found(places, presses)
    pulses = sum(bar.meter.pulses for bar in arrangement.bars)
    struck = {
        turn * pulses + places[number].pulse: time_s
        for (turn, number), time_s in found.items()
        if not places[number].off_beat
    }
    beats = _Beats(struck, clicks_s)
    onsets = []
    for (turn, number), time_s in sorted(found.items()):
        place = places[number]
        beat = beats.at(turn * pulses + place.pulse)
        if not place.is_plain or beat is None:
            continue
        beat_s, length_s = beat
        ratio = played_ratio(arrangement.feel, arrangement.swing_ratio, 60.0 / length_s)
        due_s = beat_s + (length_s * off_beat_share(ratio) if place.off_beat else 0.0)
        onsets.append(Onset(turn * pulses + place.pulse, place.off_beat, time_s, due_s, beat_s, length_s))
    return swinging([onsets], clocked=bool(clicks_s))


def _found(places: Sequence[Place], presses: Sequence[Press]) -> dict[tuple[int, int], float]:
    """(pass, index in places) -> when that note was struck."""
    if not places:
        return {}
    counts = Counter(press.note for press in presses if press.velocity > 0)
    wanted = Counter(place.note for place in places)

    def likeness(octave: int) -> int:
        return sum(min(counts[note + octave], MOST_PASSES * times) for note, times in wanted.items())

    octave = max(OCTAVES, key=likeness)
    heard = [press for press in presses if press.velocity > 0 and press.note - octave in wanted]
    if not heard or len(heard) > MOST_NOTES:
        return {}
    turns = min(MOST_PASSES, -(-len(heard) // len(places)))
    melody = [place.note + octave for place in places] * turns
    blocks = SequenceMatcher(None, melody, [press.note for press in heard], autojunk=False).get_matching_blocks()
    return {
        divmod(block.a + step, len(places)): heard[block.b + step].time_s
        for block in blocks
        for step in range(block.size)
    }


class _Beats:
    """When each beat was. struck: beat -> when a note of the melody was struck on it."""

    def __init__(self, struck: Mapping[int, float], clicks_s: Sequence[float]) -> None:
        self._struck = struck
        self._known = sorted(struck)
        self._clicks_s = sorted(clicks_s)

    def at(self, beat: int) -> tuple[float, float] | None:
        """The beat and its length in seconds; None where too little around it was struck."""
        later = bisect_left(self._known, beat + 1)
        if not 0 < later < len(self._known):
            return self._last(beat) if later == len(self._known) else None
        before, after = self._known[later - 1], self._known[later]
        start_s, end_s = self._struck[before], self._struck[after]
        if after - before > _BEATS_BETWEEN or end_s <= start_s:
            return None
        length_s = (end_s - start_s) / (after - before)
        return self._clicked(start_s + (beat - before) * length_s, length_s), length_s

    def _last(self, beat: int) -> tuple[float, float] | None:
        """After the last beat that was struck: as long as the one before."""
        for before, last in pairwise(self._known[-2:]):
            length_s = (self._struck[last] - self._struck[before]) / (last - before)
            if length_s > 0 and beat - last <= 1 and last - before <= _BEATS_BETWEEN:
                return self._clicked(self._struck[last] + (beat - last) * length_s, length_s), length_s
        return None

    def _clicked(self, time_s: float, length_s: float) -> float:
        """The click near a beat, where the file has one."""
        near = bisect_left(self._clicks_s, time_s)
        around = self._clicks_s[max(0, near - 1) : near + 1]
        click_s = min(around, key=lambda click_s: abs(click_s - time_s), default=time_s)
        return click_s if abs(click_s - time_s) <= _NEAR * length_s else time_s
