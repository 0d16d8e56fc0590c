"""What a pass, or many, come to in words: how the time was, and the chord changes that cost most."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

from companion.practice.marking.apart import Together, by_hand, together_of
from companion.practice.marking.timing import timing_words
from companion.practice.model import VERDICTS, ChordMark, Figures, PassMarks


@dataclass(frozen=True, slots=True)
class HeardChord:
    """A chord as it was marked, whether just now or in the log. symbol: as the chart writes it; offset_ms: None where
    it did not come."""

    symbol: str
    verdict: str
    offset_ms: float | None = None


@dataclass(frozen=True, slots=True)
class ChangeCost:
    """A change of chord and what it cost. tries: how often it came; slips: how often the second chord was not right.
    verdict: the commonest slip; offset_ms: the median of the early or late ones if that is the commonest slip, else
    None; beat_s: the length of a pulse where all tries had one tempo: what lies far off is told in beats."""

    before: str
    after: str
    tries: int
    slips: int
    verdict: str
    offset_ms: float | None = None
    beat_s: float | None = None

    @property
    def words(self) -> str:
        """ "D7 to Gm7: late by 84 ms, 3 of 5"."""
        slip = slip_words(self.verdict, self.offset_ms, self.beat_s)
        return f"{self.before} to {self.after}: {slip}, {self.slips} of {self.tries}"


# Beyond this share of a pulse early and late are told in beats.
TOLD_IN_BEATS = 1.0 / 3.0


def slip_words(verdict: str, offset_ms: float | None, beat_s: float | None = None) -> str:
    """ "late by 84 ms", "half a beat early", "wrong note", "let go too soon", "missing", "right". beat_s: the length of a pulse, None where it is not
    known."""
    if verdict in ("early", "late") and offset_ms is not None:
        beats = abs(offset_ms) / 1000.0 / beat_s if beat_s else 0.0
        if beats > TOLD_IN_BEATS:
            return f"{beats_words(beats)} {verdict}"
        return f"{verdict} by {abs(offset_ms):.0f} ms"
    return {"wrong": "wrong note", "short": "let go too soon"}.get(verdict, verdict)


def beats_words(beats: float) -> str:
    """To the nearest half or quarter of a beat, as musicians say it: "half a beat", "a beat", "2 and a half beats"."""
    quarters = max(1, round(4.0 * beats))
    if quarters > 6:
        quarters = 2 * round(quarters / 2.0)
    whole, rest = divmod(quarters, 4)
    part = ("", "a quarter", "half", "three quarters")[rest]
    if not whole:
        return {1: "a quarter of a beat", 2: "half a beat", 3: "three quarters of a beat"}[rest]
    if not rest:
        return "a beat" if whole == 1 else f"{whole} beats"
    return f"{whole} and {'a half' if rest == 2 else part} beats"


def reason_words(reason: str, slip: str, played: Sequence[str]) -> str:
    """Why a strike was not right: "another shell, C3 E3", "the shell an octave off", "push: half a beat early". slip: what slip_words
    says of it; played: names of the notes."""
    return {
        "other shell": f"another shell, {' '.join(played)}",
        "octave": f"the shell an octave off, {' '.join(played)}",
        "held on": "the chord before held on",
        "neighbour along": f"{slip}; a neighbour struck along" if slip != "right" else "a neighbour struck along",
        "smash": "more keys than the shell: a smash",
        "push": f"pushed, {slip}",
    }.get(reason, slip)


def heard_chords(marks: Sequence[ChordMark], symbols: Mapping[tuple[int, int], str]) -> tuple[HeardChord, ...]:
    """The chords of the left hand in a marked pass. symbols: (index in the chorus, chord from 0) -> its symbol."""
    return tuple(
        HeardChord(symbols[mark.index, mark.chord], mark.verdict, mark.offset_ms)
        for mark in marks
        if mark.part == "left"
    )


def logged_chords(rows: Iterable[Mapping[str, Any]]) -> tuple[HeardChord, ...]:
    """The left hand's chords of a pass from the log (PassRecord.chords)."""
    return tuple(
        HeardChord(row["symbol"], row["verdict"], row.get("offset_ms"))
        for row in rows
        if row.get("part", "left") == "left"
    )


def weakest_changes(
    passes: Iterable[Sequence[HeardChord]], most: int | None = None, beat_s: float | None = None
) -> list[ChangeCost]:
    """The changes that slipped, the costliest first. most: no more than so many; beat_s: as in ChangeCost.

    A change is named by its two symbols wherever it stands, as fingers learn it. The same chord again is no change.
    Into the first chord of a pass the change is from its last, since the loop goes round. Ranked by slips over tries
    + 2, so that 3 of 5 stands before 1 of 1 (the rule of succession's caution with few tries), then the later or worse.
    """
    tries: dict[tuple[str, str], list[HeardChord]] = {}
    for chords in passes:
        for before, after in zip([*chords[-1:], *chords], chords):
            if before.symbol != after.symbol:
                tries.setdefault((before.symbol, after.symbol), []).append(after)
    costs = [_cost(*names, heard, beat_s) for names, heard in tries.items()]
    costs = [cost for cost in costs if cost.slips]
    costs.sort(
        key=lambda cost: (-cost.slips / (cost.tries + 2), -VERDICTS.index(cost.verdict), -abs(cost.offset_ms or 0.0))
    )
    return costs[:most]


def _cost(before: str, after: str, heard: list[HeardChord], beat_s: float | None) -> ChangeCost:
    slips = Counter(chord.verdict for chord in heard if chord.verdict != "right")
    verdict = max(slips, key=lambda slip: (slips[slip], VERDICTS.index(slip)), default="right")
    offsets = [chord.offset_ms for chord in heard if chord.verdict == verdict and chord.offset_ms is not None]
    offset_ms = median(offsets) if offsets and verdict in ("early", "late") else None
    return ChangeCost(before, after, len(heard), slips.total(), verdict, offset_ms, beat_s)


def pass_lines(
    marks: PassMarks, beat_s: float, changes: Sequence[ChangeCost] = (), places: Mapping[int, str] | None = None
) -> tuple[str, ...]:
    """A pass in a few short lines of plain words; with the right hand in it each hand by itself, then how they lay against each other.
    beat_s: the length of a pulse; changes: those that cost most; places: what a bar of the chorus is called."""
    hands = by_hand(marks)
    lines = _left_lines(marks, beat_s) if "right" not in hands else []
    for part, own in hands.items() if "right" in hands else ():
        lines.append(f"{part.capitalize()} hand: {_share_words(own, 'chord' if part == 'left' else 'note')}")
        if own.figures.offset_ms is not None and own.figures.spread_ms is not None:
            lines.append(f"  {_time_words(own.figures, beat_s)}")
    if marks.octave:
        octaves = "an octave" if abs(marks.octave) == 12 else f"{abs(marks.octave) // 12} octaves"
        lines.append(
            f"The melody lay {octaves} {'higher' if marks.octave > 0 else 'lower'} throughout, and was taken there."
        )
    if len(hands) > 1 and (together := together_of(marks)) is not None:
        lines += together_lines(together, places or {})
    if changes:
        lines.append("Costliest changes:")
        lines += [f"  {change.words}" for change in changes]
    return tuple(lines)


def _left_lines(marks: PassMarks, beat_s: float) -> list[str]:
    figures = marks.figures
    lines = [_share_words(marks, "chord")]
    if figures.offset_ms is None or figures.spread_ms is None:
        return [*lines, "None of the notes that were due was heard."] if figures.chords else lines
    lines.append(_time_words(figures, beat_s))
    if figures.evenness_ms is not None:
        lines.append(f"From strike to strike it varies by {figures.evenness_ms:.0f} ms.")
    return lines


def _share_words(marks: PassMarks, what: str) -> str:
    """ "30 of 32 chords right (94 %): 2 late." what: is counted."""
    figures = marks.figures
    share = f"{figures.right} of {figures.chords} {what}s right ({100 * figures.share_right:.0f} %)"
    slips = Counter(chord.verdict for chord in marks.chords)
    named = [f"{slips[verdict]} {_SLIP_NAMES[verdict]}" for verdict in VERDICTS[1:] if slips[verdict]]
    if figures.extra:
        named.append(f"{figures.extra} extra {'key' if figures.extra == 1 else 'keys'}")
    return f"{share}: {', '.join(named)}." if named else f"{share}."


def _time_words(figures: Figures, beat_s: float) -> str:
    """Of a pass of which something was heard."""
    offset_ms, spread_ms = figures.offset_ms or 0.0, figures.spread_ms or 0.0
    return f"Time: {timing_words(figures, beat_s)}; {offset_words(offset_ms)}, spread {spread_ms:.0f} ms."


def together_lines(together: Together, places: Mapping[int, str]) -> list[str]:
    """How the hands lay over a pass, which one was late, and where they came apart."""
    ms = f"{abs(together.ms):.0f} ms"
    if together.late_hand:
        other = "right" if together.late_hand == "left" else "left"
        lines = [f"Hands: the {together.late_hand} one comes late, {ms} after the {other}."]
    elif abs(together.ms) < 0.5:
        lines = ["Hands: together."]
    else:
        first, then = ("right", "left") if together.ms > 0.0 else ("left", "right")
        lines = [f"Hands: together, the {then} one {ms} after the {first}."]
    apart = [_bars_words(bars, places) for bars, _ in together.apart]
    if apart and not together.late_hand:
        lines.append(
            f"They came apart in {', '.join(apart[:PLACES_NAMED])}{' ...' if len(apart) > PLACES_NAMED else ''}."
        )
    return lines


def _bars_words(bars: Sequence[int], places: Mapping[int, str]) -> str:
    names = [places.get(index, f"bar {index + 1}") for index in bars]
    return names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"


PLACES_NAMED = 4
_SLIP_NAMES = {
    "early": "early",
    "late": "late",
    "short": "let go too soon",
    "wrong": "with a wrong note",
    "missing": "missing",
}


def offset_words(offset_ms: float) -> str:
    """Where the notes lie against the beat on average."""
    if abs(offset_ms) < 0.5:
        return "on the beat on average"
    return f"{abs(offset_ms):.0f} ms {'ahead of' if offset_ms < 0 else 'behind'} the beat on average"
