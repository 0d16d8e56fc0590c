"""The layers of a tune, after hands together: each lies on top of the one before, begins with listening, and comes once the left hand loses little under that one.

A layer runs by itself where that loss was small in two passes in a row (see by_itself.py, also for what is small, which the student sets); where no keyboard is heard, where
two passes with it in a row were clean by the student's word. The frame, introduction and ending, lies around the tune and not on the left hand: there it is enough to
have heard it. Proposed in this order and never locked: any of them may be taken up at any time. The order is the project's own, from what asks least of the left hand.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise

from companion.practice.model import PassRecord
from companion.practice.planning.by_itself import DEFAULT_MOST_LOSS, layer_of, loss_of

MELODY, COMPANY, SWING, ORNAMENTS, FRAME, PERFORMANCE = (
    "melody",
    "company",
    "swing",
    "ornaments",
    "frame",
    "performance",
)
LAYERS = (MELODY, COMPANY, SWING, ORNAMENTS, FRAME, PERFORMANCE)
LAYER_WORDS = {
    MELODY: "hands together",
    COMPANY: "one note under the melody",
    SWING: "the melody swung",
    ORNAMENTS: "slides and fills",
    FRAME: "introduction and ending",
    PERFORMANCE: "a performance",
}


@dataclass(frozen=True, slots=True)
class LayersKnown:
    """met: the layers that were listened to, or performed. runs: those under which the left hand runs by itself."""

    met: frozenset[str] = frozenset()
    runs: frozenset[str] = frozenset()

    def is_done(self, layer: str) -> bool:
        """Whether the next one may come."""
        return layer in (self.met if layer in (FRAME, PERFORMANCE) else self.runs)


def layer_name(layers: Collection[str]) -> str:
    """How a pass names what lay on top: "melody", "swung melody with company and ornaments". layers: out of LAYERS."""
    more = " and ".join(layer for layer in (COMPANY, ORNAMENTS) if layer in layers)
    return f"{'swung ' if SWING in layers else ''}melody{' with ' if more else ''}{more}"


def layers_in(record: PassRecord) -> frozenset[str]:
    """The same back from a pass with both hands."""
    words = layer_of(record).split()
    return frozenset({MELODY, *({SWING} if "swung" in words else ()), *({COMPANY, ORNAMENTS} & set(words))})


def layers_that_run(
    both: Sequence[PassRecord], alone: Sequence[PassRecord], most_loss: float = DEFAULT_MOST_LOSS
) -> frozenset[str]:
    """Under which the left hand runs by itself, or did. both, alone: passes with both hands and of the left hand, in the order of time."""
    found: set[str] = set()
    whole = [record for record in both if not record.broken]
    for layer in LAYERS:
        small = [_is_small(record, alone, most_loss) for record in whole if layer in layers_in(record)]
        if any(first and second for first, second in pairwise(small)):
            found.add(layer)
    return frozenset(found)


def _is_small(record: PassRecord, alone: Sequence[PassRecord], most_loss: float) -> bool:
    if record.source != "heard":
        return record.clean
    loss = loss_of(record, alone)
    return loss is not None and loss.is_small(most_loss)


def next_layer(layers: Collection[str], *, swings: bool) -> str:
    """What may come on top of these. swings: whether the song can swing."""
    return next(
        layer for layer in LAYERS if (layer not in layers and (layer != SWING or swings)) or layer == PERFORMANCE
    )
