"""Recall: which section of which song is due, and how firmly it is remembered, by the `fsrs` library.

One memory per song and section, and one more of finding its shells from the chord symbols alone. A pass over the whole
section becomes one review, by this rule (ours):

    cues shown, from memory   from symbols    share of right chords     review
    at most 0.2               0.6             95 % and more             good
    at most 0.2               0.6             85 % to below 95 %        hard
    at most 0.4               0.7             85 % and more             hard
    above that                                85 % and more             none: it was read, not recalled
    any                                       below 85 %                again

0.2 is an empty bar, 0.4 the root letter in every bar, 0.6 the chord symbol, 0.7 note names in every other bar besides
(see fading.Cue). A pass of a drill that keeps the symbols is a review from symbols, every other one from memory. The library's fourth grade, for what cost no
effort, is not given: a pass shows what was right, not what it cost. A failed pass over a section that was never
recalled before is no review either: nothing was there to forget.

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

PASS_SHARE, FIRM_SHARE = 0.85, 0.95
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


def rating(share_right: float, cue_strength: float, is_new: bool = False, memory: Memory = FROM_MEMORY) -> str | None:
    """The review a pass amounts to, "again", "hard" or "good", or None. share_right, cue_strength: 0 to 1; see the table above."""
    if not (0 <= share_right <= 1 and 0 <= cue_strength <= 1):
        raise ValueError(
            f"Share of right chords and strength of cues go from 0 to 1, not {share_right} and {cue_strength}."
        )
    if share_right < PASS_SHARE:
        return None if is_new else "again"
    if cue_strength > memory.most_help:
        return None
    return "good" if cue_strength <= memory.little_help and share_right >= FIRM_SHARE else "hard"


def review(
    card: RecallCard, share_right: float, cue_strength: float, now: datetime, memory: Memory = FROM_MEMORY
) -> RecallCard:
    """The card after a pass over its section; the same card where the pass was no recall. Raises ValueError where
    `now` is not UTC."""
    _check_utc(now)
    grade = rating(share_right, cue_strength, card.is_new, memory)
    if grade is None:
        return card
    return grade_card(card, grade, now)


def grade_card(card: RecallCard, grade: str, now: datetime) -> RecallCard:
    """The card after a review: "again", "hard" or "good"."""
    from fsrs import Rating

    _check_utc(now)
    reviewed, _ = _scheduler().review_card(_card(card), Rating[grade.capitalize()], now.astimezone(UTC))
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
