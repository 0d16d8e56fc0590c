"""Recall: which section of which song is due, and how firmly it is remembered, by the `fsrs` library.

One memory per song and section, and one more of finding its shells from the chord symbols alone. What a pass over the
whole section teaches it is worked out from facts alone, by `learned` (the rule is ours):

    cues shown, from memory   from symbols    share of bars that slipped    the section was
    at most 0.2               0.6             none; heard: at most 5 %      held
    at most 0.2               0.6             up to 15 %                    held in part
    at most 0.4               0.7             up to 15 %                    held in part
    above that                                up to 15 %                    read, which says nothing of memory
    any                                       more, or it broke off         lost

0.2 is an empty bar, 0.4 the root letter in every bar, 0.6 the chord symbol, 0.7 note names in every other bar besides
(see fading.Cue). A pass of a drill that keeps the symbols is a review from symbols, every other one from memory.
Whoever tells of their own recall passes over some of what went wrong (Rawson & Dunlosky 2007, European Journal of
Cognitive Psychology 19:559-579; cited from memory), so a told pass with a slip is never held whole, where a heard one
may have one bar in twenty wrong, for a keyboard hears every late chord. A lost pass over a section that was never
recalled before teaches nothing: nothing was there to forget.

Times are UTC and arguments. The library's day counts are whole days; `chance` here counts fractions, by the formula
that it publishes: R = (1 + F t / S)^(-d), F = 0.9^(-1/d) - 1, so that R = 0.9 where the time t equals the stability S
(in days).
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from companion.errors import LogError

if TYPE_CHECKING:
    from fsrs import Card, Scheduler

LOST_ABOVE, HEARD_SLACK = 0.15, 0.05  # shares of the bars that slipped
LOST, PARTLY, HELD = "lost", "held in part", "held"
_COUNTED = {
    LOST: 1,
    PARTLY: 2,
    HELD: 3,
}  # as the library counts what a review came to; its 4, for no effort, no fact tells
_ROUNDING = 1e-9  # 3 of 20 bars are 15 %, however that was divided
KEEP_CHANCE = 0.9  # a section is due when its chance of recall has fallen to this
# Words for the chance of recall, strongest first (ours).
MEMORY_WORDS = ((0.9, "firm"), (0.75, "loosening"), (0.5, "shaky"), (0.0, "nearly lost"))
NOT_RECALLED = "not yet played from memory"


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered. kind: under which the log keeps it. little_help, most_help: strength of cues, 0 to 1; see the table above."""

    kind: str
    little_help: float
    most_help: float


FROM_MEMORY = Memory("recall", 0.2, 0.4)
FROM_SYMBOLS = Memory("recall-symbols", 0.6, 0.7)
MEMORIES = (FROM_MEMORY, FROM_SYMBOLS)


@dataclass(frozen=True, slots=True)
class RecallCard:
    """The memory of a section. memory: the library's own card, as the JSON text it writes."""

    song_id: str
    section: str
    memory: str

    def to_json(self) -> str:
        """As from_json reads it."""
        return json.dumps({"song_id": self.song_id, "section": self.section, "card": json.loads(self.memory)})

    @property
    def due_at(self) -> datetime:
        """When it should be recalled (UTC)."""
        return datetime.fromisoformat(self._fields["due"])

    @property
    def is_new(self) -> bool:
        """Never recalled yet."""
        return self._fields["last_review"] is None

    @property
    def _fields(self) -> dict[str, Any]:
        fields: dict[str, Any] = json.loads(self.memory)
        return fields


def new_card(song_id: str, section: str, now: datetime) -> RecallCard:
    """A section that was not recalled yet. Raises ValueError where `now` is not UTC."""
    from fsrs import Card

    _check_utc(now)
    # The library would take the milliseconds of the wall clock for a number, and wait one.
    number = zlib.crc32(f"{song_id}\n{section}".encode())
    return RecallCard(song_id, section, Card(card_id=number, due=now).to_json())


def from_json(text: str) -> RecallCard:
    """A card as `to_json` wrote it. Raises LogError where the text is damaged."""
    from fsrs import Card, State

    try:
        fields = json.loads(text)
        card = Card.from_dict(fields["card"])
        for moment in filter(None, (card.due, card.last_review)):
            _check_utc(moment)
        known = card.last_review is not None
        if known != (card.stability is not None) or known != (card.difficulty is not None):
            raise ValueError
        if card.stability is not None and not 0 < card.stability < float("inf"):
            raise ValueError
        if card.difficulty is not None and not 1 <= card.difficulty <= 10:
            raise ValueError
        if (card.state == State.Review) == isinstance(card.step, int) or (not known and card.state != State.Learning):
            raise ValueError
        song_id, section = fields["song_id"], fields["section"]
        if not (isinstance(song_id, str) and isinstance(section, str)):
            raise TypeError
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError):
        raise LogError("The saved memory of a section is damaged: expected a song, a section and a card.") from None
    return RecallCard(song_id, section, card.to_json())


@dataclass(frozen=True, slots=True)
class Learned:
    """What a pass taught. what: LOST, PARTLY or HELD. reason: by which facts, in a sentence."""

    what: str
    reason: str


def learned(
    share_slipped: float, cues: float, *, heard: bool, is_new: bool = False, memory: Memory = FROM_MEMORY
) -> Learned | None:
    """What a pass over a section teaches its memory, by the table above; None where it says nothing of it. share_slipped: of its bars; cues:
    mean strength of those shown; both 0 to 1. heard: by a keyboard, else told. is_new: never recalled before. Raises ValueError."""
    if not (0 <= share_slipped <= 1 and 0 <= cues <= 1):
        raise ValueError(f"Shares of bars and strength of cues go from 0 to 1, not {share_slipped} and {cues}.")
    if share_slipped > LOST_ABOVE + _ROUNDING:
        reason = f"{100 * share_slipped:.0f} % of its bars slipped, and above {100 * LOST_ABOVE:.0f} % it is lost."
        return None if is_new else Learned(LOST, reason)
    if cues > memory.most_help:
        return None
    if cues > memory.little_help:
        return Learned(PARTLY, "It held, with more shown than an empty bar or its symbol.")
    if share_slipped <= (HEARD_SLACK + _ROUNDING if heard else 0.0):
        return Learned(HELD, "It held, with next to nothing shown.")
    return Learned(PARTLY, f"{100 * share_slipped:.0f} % of its bars slipped.")


def review(
    card: RecallCard,
    share_slipped: float,
    cues: float,
    now: datetime,
    memory: Memory = FROM_MEMORY,
    *,
    heard: bool = True,
) -> RecallCard:
    """The card after a pass over its section, see `learned`; the same card where the pass taught nothing. Raises ValueError where `now` is
    not UTC."""
    _check_utc(now)
    taught = learned(share_slipped, cues, heard=heard, is_new=card.is_new, memory=memory)
    return card if taught is None else after_review(card, taught.what, now)


def after_review(card: RecallCard, what: str, now: datetime) -> RecallCard:
    """The card after a review. what: LOST, PARTLY or HELD."""
    from fsrs import Rating

    _check_utc(now)
    reviewed, _ = _scheduler().review_card(_card(card), Rating(_COUNTED[what]), now.astimezone(UTC))
    return RecallCard(card.song_id, card.section, reviewed.to_json())


def chance(card: RecallCard, now: datetime) -> float | None:
    """Expected chance of recall, 0 to 1, falling by the minute; None for a section that was never recalled."""
    from fsrs.scheduler import FSRS_DEFAULT_DECAY as decay

    _check_utc(now)
    memory = _card(card)
    if memory.last_review is None or memory.stability is None:
        return None
    days = max(0.0, (now - memory.last_review) / timedelta(days=1))
    return float((1 + (0.9 ** (-1 / decay) - 1) * days / memory.stability) ** -decay)


def strength(card: RecallCard, now: datetime) -> str:
    """The chance of recall in words."""
    likely = chance(card, now)
    return NOT_RECALLED if likely is None else next(words for least, words in MEMORY_WORDS if likely >= least)


def due(cards: Iterable[RecallCard], now: datetime) -> list[RecallCard]:
    """Those to recall now, the likeliest to be lost first. A section that was never recalled is learned, not due."""
    _check_utc(now)
    waiting = [card for card in cards if not card.is_new and card.due_at <= now]
    return sorted(waiting, key=lambda card: (chance(card, now) or 0.0, card.due_at, card.song_id, card.section))


def _card(card: RecallCard) -> Card:
    from fsrs import Card

    return Card.from_json(card.memory)


def _scheduler() -> Scheduler:
    from fsrs import Scheduler

    # Without the library's random spread of days, so that the same passes give the same plan.
    return Scheduler(desired_retention=KEEP_CHANCE, enable_fuzzing=False)


def _check_utc(moment: datetime) -> None:
    if moment.tzinfo is None or moment.utcoffset() != timedelta(0):
        raise ValueError(f"Times of recall are in UTC, with their time zone; {moment} is not.")
