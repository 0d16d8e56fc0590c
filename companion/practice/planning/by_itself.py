"""Does the left hand run by itself? What it loses under the melody against alone: chords right, evenness, time.

What a second task costs the first is the measure of how automatic that one is: the dual-task cost of motor learning (from memory). So it
is told after each pass with both hands, against the latest passes of the left hand alone over the same bars, in the same rhythm, at
nearly the same tempo; where there are none, that is said, and asked for. A new layer on top, such as a swung melody, is a new
question.

The next layer is proposed when the loss was small in two passes in a row, as one may be luck; it is never locked. Small means: no more
than `most_loss` of the chords lost (0.05: one in twenty, what a whole chorus may lose and still be called clean several times over),
strikes spread by half as much again at most, and no later than a lag that is noticed (timing.TOLERANCES, "behind"). All our own choice.

Units: milliseconds, above zero = late; shares.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta, tzinfo
from statistics import median
from typing import Any

from companion.practice.marking.timing import tolerance_ms
from companion.practice.model import PassRecord
from companion.practice.planning.totals import day_of, is_free

DEFAULT_MOST_LOSS = 0.05
LATEST_ALONE = 3  # passes of the left hand alone that are compared with
NEAR_TEMPO = 0.1  # tempi that differ by more are another task
COMMON_BARS = 0.5  # of the pass that were played alone too, at least
MOST_SPREAD, LEAST_SPREAD_MS = 1.5, 8.0  # how much larger the spread may be; and how much in any case
SMALL_IN_A_ROW = 2
UNDER = "Left hand under the melody"
WEEKS = 6  # that are looked back on


@dataclass(frozen=True, slots=True)
class HandFigures:
    """A hand in one pass, or as a rule in several. offset_ms, spread_ms: None where nothing was heard."""

    share_right: float
    offset_ms: float | None
    spread_ms: float | None


@dataclass(frozen=True, slots=True)
class Loss:
    """The left hand alone and under the melody. beat_s: the length of a pulse."""

    alone: HandFigures
    under: HandFigures
    beat_s: float

    @property
    def share(self) -> float:
        """Of the chords lost, below zero where more were right."""
        return self.alone.share_right - self.under.share_right

    @property
    def spread_ms(self) -> float:
        """How much wider the strikes are spread."""
        return (self.under.spread_ms or 0.0) - (self.alone.spread_ms or 0.0)

    @property
    def late_ms(self) -> float:
        """How much later they come."""
        return (self.under.offset_ms or 0.0) - (self.alone.offset_ms or 0.0)

    def is_small(self, most_loss: float = DEFAULT_MOST_LOSS) -> bool:
        """Whether the left hand runs by itself. most_loss: share of the chords."""
        alone_ms = self.alone.spread_ms or 0.0
        return (
            self.share <= most_loss + 1e-9
            and self.spread_ms <= max(LEAST_SPREAD_MS, (MOST_SPREAD - 1.0) * alone_ms)
            and self.late_ms <= tolerance_ms("behind", self.beat_s)
        )


def figures_under(record: PassRecord) -> HandFigures | None:
    """The left hand in a pass with both, None where it was not heard."""
    own: dict[str, Any] | None = record.by_hand.get("left") if record.hands == "both" else None
    if not own or own.get("offset_ms") is None:
        return None
    return HandFigures(own["share_right"], own["offset_ms"], own["spread_ms"])


def figures_alone(passes: Iterable[PassRecord], like: PassRecord) -> HandFigures | None:
    """The left hand alone as a rule, in the latest passes that may be compared with that one; None without any."""
    fits = [record for record in passes if _may_be_compared(record, like)][-LATEST_ALONE:]
    if not fits:
        return None
    return HandFigures(
        median(record.share_right for record in fits),
        median(record.offset_ms or 0.0 for record in fits),
        median(record.spread_ms or 0.0 for record in fits),
    )


def _may_be_compared(record: PassRecord, like: PassRecord) -> bool:
    if record.hands != "left" or record.source != "heard" or is_free(record) or record.broken:
        return False
    if record.offset_ms is None or record.pattern != like.pattern:
        return False
    common = len(set(record.loop) & set(like.loop))
    near = abs(record.tempo_bpm / like.tempo_bpm - 1.0) <= NEAR_TEMPO if like.tempo_bpm else False
    return near and common >= COMMON_BARS * len(set(like.loop))


def loss_of(record: PassRecord, alone: Iterable[PassRecord]) -> Loss | None:
    """What the left hand lost in a pass with both. alone: passes of the left hand, in the order of time; later ones than the pass are
    left out."""
    under = figures_under(record)
    before = [each for each in alone if each.started_at <= record.started_at]
    known = figures_alone(before, record)
    if under is None or known is None:
        return None
    return Loss(known, under, 60.0 / record.tempo_bpm)


def runs_by_itself(
    records: Sequence[PassRecord], alone: Sequence[PassRecord], most_loss: float = DEFAULT_MOST_LOSS
) -> bool:
    """Whether the loss was small in the latest passes with both hands. records: those, the latest last; those of an older layer say
    nothing of the latest's."""
    latest = [record for record in records if layer_of(record) == layer_of(records[-1])][-SMALL_IN_A_ROW:]
    losses = [loss_of(record, alone) for record in latest]
    return len(losses) == SMALL_IN_A_ROW and all(loss is not None and loss.is_small(most_loss) for loss in losses)


def layer_of(record: PassRecord) -> str:
    """What lay on top in a pass with both hands: "melody", "swung melody"."""
    return str(record.by_hand.get("layer", "melody"))


def loss_words(loss: Loss, most_loss: float = DEFAULT_MOST_LOSS) -> str:
    """ "Left hand under the melody: 88 % right (alone 96 %), spread 31 ms (alone 22), 12 ms later: it still takes thought." """
    alone, under = loss.alone, loss.under
    time = f"{abs(loss.late_ms):.0f} ms {'later' if loss.late_ms > 0.0 else 'earlier'}"
    verdict = "it runs by itself" if loss.is_small(most_loss) else "it still takes thought"
    return (
        f"{UNDER}: {100 * under.share_right:.0f} % right (alone {100 * alone.share_right:.0f} %), "
        f"spread {under.spread_ms or 0.0:.0f} ms (alone {alone.spread_ms or 0.0:.0f}), {time}: {verdict}."
    )


ASK_ALONE = "Does the left hand run by itself? Play it alone here once, at this tempo, then both again."


def weeks_words(
    records: Iterable[PassRecord], alone: Sequence[PassRecord], today: date, zone: tzinfo | None = None
) -> tuple[str, ...]:
    """What the left hand lost under the melody, a line for each of the latest weeks in which that is known, the oldest first."""
    first = today - timedelta(days=today.weekday(), weeks=WEEKS - 1)
    weeks: dict[date, list[Loss]] = {}
    for record in records:
        day = date.fromisoformat(day_of(record.started_at, zone))
        loss = loss_of(record, alone)
        if loss is not None and day >= first:
            weeks.setdefault(day - timedelta(days=day.weekday()), []).append(loss)
    return tuple(
        f"week of {monday:%b} {monday.day}: {_lost(median(loss.share for loss in losses))}, spread "
        f"{median(loss.spread_ms for loss in losses):+.0f} ms, {median(loss.late_ms for loss in losses):+.0f} ms in time"
        for monday, losses in sorted(weeks.items())
    )


def _lost(share: float) -> str:
    points = round(100 * share)
    return f"{points} % of the chords lost" if points > 0 else "no chord lost"
