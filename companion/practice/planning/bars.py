"""A song's chart bar by bar: how sure each bar is from memory and at the target, how often it slipped, and where the
change lands that costs most.

Pure. A bar of a section is one bar wherever the section comes: that of the second A is the bar of the first. Shares are
of the chords that were right, 0 to 1; what was told instead of heard says so of whole bars.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from companion.chart.model import FormBar
from companion.practice.marking.summary import ChangeCost
from companion.practice.model import PassRecord
from companion.practice.planning.totals import BY_HEART, by_heart, is_free

LATEST_PASSES = 5  # of a section or a bar say how well the hand knows it (our own choice)
_FADES = 0.8  # the weight of each pass against the one after it
AT_TEMPO = 0.5  # beats a minute below the target that still are the target: tempi are shown as whole numbers


@dataclass(frozen=True, slots=True)
class BarProgress:
    """symbols: of its chords, as the chart has them. memory: share right of late without any cues; tempo: at the target or faster;
    None where it was not played so. slips, tries: of the passes looked at. costly: which of its chords, from 0, ends the change that
    costs most, None for none of them."""

    section: str
    bar: int
    symbols: tuple[str, ...]
    memory: float | None = None
    tempo: float | None = None
    slips: int = 0
    tries: int = 0
    costly: int | None = None


def lately(shares: Sequence[float]) -> float | None:
    """The mean of the latest shares, the last weighing most; None without any. shares: oldest first."""
    latest = shares[-LATEST_PASSES:]
    weights = [_FADES ** (len(latest) - number) for number in range(1, len(latest) + 1)]
    return sum(w * share for w, share in zip(weights, latest)) / sum(weights) if latest else None


def share_right(record: PassRecord, indices: frozenset[int]) -> float:
    """How much of these bars went right in a pass: of chords where they were heard, else of bars, else as the student
    said."""
    chords = [chord for chord in record.chords if chord["index"] in indices]
    if chords:
        right: int = sum(chord["verdict"] == "right" for chord in chords)
        return right / len(chords)
    inside = indices & set(record.loop)
    if record.slipped and inside:
        return 1 - len(inside & set(record.slipped)) / len(inside)
    return record.share_right


def chart_progress(
    bars: Sequence[FormBar],
    passes: Iterable[PassRecord],
    recent: Sequence[PassRecord],
    target_bpm: float,
    changes: Sequence[ChangeCost] = (),
) -> tuple[BarProgress, ...]:
    """Every bar of every section once, in the order of the form. passes, oldest first: those that tell anything; recent: those of them
    in which slips are counted; changes: costliest first."""
    places: dict[tuple[str, int], list[FormBar]] = {}
    for bar in bars:
        places.setdefault((bar.section, bar.bar), []).append(bar)
    passes = list(passes)
    by_memory = [record for record in passes if by_heart(record) == BY_HEART]
    at_tempo = [record for record in passes if _is_at(record, target_bpm)]
    costly = _landing(bars, changes)
    rows = []
    for place, group in places.items():
        indices = frozenset(bar.index for bar in group)
        slipped = sum(len(indices & set(record.slipped) & set(record.loop)) for record in recent)
        rows.append(
            BarProgress(
                *place,
                tuple(placed.symbol for placed in group[0].chords),
                _share_of(indices, by_memory),
                _share_of(indices, at_tempo),
                slipped,
                sum(index in indices for record in recent for index in record.loop),
                costly.get(place),
            )
        )
    return tuple(rows)


def _share_of(indices: frozenset[int], passes: Iterable[PassRecord]) -> float | None:
    return lately([share_right(record, indices) for record in passes if indices & set(record.loop)])


def _is_at(record: PassRecord, target_bpm: float) -> bool:
    """Whether all of a pass went at the target or faster: of a climb that tried two bars at it no more is known."""
    in_part = is_free(record) or "probe" in record.kind.split("+")
    return not in_part and record.tempo_bpm >= target_bpm - AT_TEMPO


def _landing(bars: Sequence[FormBar], changes: Sequence[ChangeCost]) -> dict[tuple[str, int], int]:
    """Where in the chart the costliest change ends that stands in it: (section, bar) -> chord from 0. Changes of other keys do not."""
    chords = [
        ((bar.section, bar.bar), number, placed.symbol) for bar in bars for number, placed in enumerate(bar.chords)
    ]
    for change in changes:
        found = {
            place: number
            for (*_, before), (place, number, after) in zip([*chords[-1:], *chords], chords)
            if (before, after) == (change.before, change.after)
        }
        if found:
            return found
    return {}
