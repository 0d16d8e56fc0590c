"""The plan of a day as data, and the ticks that it gets from what was played. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from typing import Any

from companion.practice.model import PassRecord
from companion.practice.planning.layers import PERFORMANCE
from companion.practice.planning.lessons import HAND_WORDS, was_heard
from companion.practice.planning.totals import BY_HEART, FROM_SYMBOLS, SHOWN, by_heart, is_free

# What a day is made of, in the order of playing; today.py says more of each.
CHORDS = "chords"
ITEM_KINDS = ("recall", "change", "step", CHORDS, "climb", "rest", "last")  # a song's chords before its first step
MINUTES = (10, 20, 40)  # what the screen offers; any other number will do
# How little may be shown where a step or a recall is practised in these ways.
_LEAST_BY_HEART = {
    "symbols": FROM_SYMBOLS,
    "symbols-only": FROM_SYMBOLS,
    "fade": BY_HEART,
    "dark": BY_HEART,
    "swing": BY_HEART,
}
SHORTEST_MIN = 2  # of one thing
_ENOUGH = 0.75  # of an item's minutes tick it off


@dataclass(frozen=True, slots=True)
class PlanItem:
    """One thing to do. kind: one of ITEM_KINDS. drill: how it is played: "listen", "play", "free", "symbols", "fade",
    "symbols-only", "dark", "swing", "climb" or "chords". loop: indices in the chorus, empty for a rest. hands: whose it is. key: to be played in, "" for the song's own. tempo_bpm: 0 in free time. words: what and
    why. passes: clean ones that tick it off, 0: minutes alone do. layer: put on top for it,
    see layers.py; listens_first: it was not heard yet. since, done_at: passes count for it that began between these, ISO 8601, "" for from the plan's
    making on and, where it is done, for none."""

    kind: str
    minutes: int
    words: str
    song_id: str = ""
    title: str = ""
    loop_name: str = ""
    loop: tuple[int, ...] = ()
    drill: str = "play"
    pattern: str = "four"
    hands: str = "left"
    tempo_bpm: float = 0.0
    passes: int = 0
    done: bool = False
    key: str = ""
    layer: str = ""
    listens_first: bool = False
    since: str = ""
    done_at: str = ""

    @property
    def head(self) -> str:
        """What, whose and how fast: "Two Spoons, A, right hand, at 90". The left hand goes without saying."""
        if self.kind == "rest":
            return "A rest"
        if self.kind == CHORDS:
            return f"{self.title}, its chords in root position"
        whose = "" if self.hands == "left" else HAND_WORDS[self.hands]
        tempo = f"at {self.tempo_bpm:.0f}" if self.tempo_bpm else "in free time"
        return ", ".join(filter(None, (self.title, self.loop_name, whose, tempo)))


@dataclass(frozen=True, slots=True)
class Plan:
    """day: "2026-11-25". made_at: when it was made, ISO 8601 with the zone. The minutes of the items add up to
    `minutes`, but where some were done before others were wanted."""

    day: str
    made_at: str
    minutes: int
    items: tuple[PlanItem, ...]


def tick(
    plan: Plan,
    passes: Iterable[PassRecord],
    heard: Mapping[str, Collection[tuple[int, ...]]] = {},
    chords_found: Collection[str] = (),
    performed: Collection[str] = (),
) -> Plan:
    """The plan with what was done ticked off. passes: of its day, in the order of time; those before it was made do not
    count. heard: song -> the loops that were listened to. chords_found: the songs of which every chord was found in root position. performed: those that were
    performed to their end.

    Each pass counts for one item that was open when it began, so that no pass ticks off two, however often one looks: the first of just its bars,
    else the first that it fits. A tick once there stays."""
    made_at = datetime.fromisoformat(plan.made_at)
    seconds = [0.0] * len(plan.items)
    clean = [0] * len(plan.items)
    done = [item.done for item in plan.items]
    done_at = [item.done_at for item in plan.items]
    full: set[int] = set()  # those that have all their passes
    for record in passes:
        began = datetime.fromisoformat(record.started_at)
        if began < made_at:
            continue
        fitting = [
            at
            for at, item in enumerate(plan.items)
            if at not in full and _was_open(item, began) and _fits(item, record)
        ]
        if not fitting:
            continue
        at = next((at for at in fitting if plan.items[at].loop == record.loop), fitting[0])
        item = plan.items[at]
        seconds[at] += record.duration_s
        clean[at] += _proves(item, record)
        enough = bool(item.passes) and (clean[at] >= item.passes or item.kind == "recall")
        if enough or seconds[at] >= _ENOUGH * 60 * item.minutes:
            full.add(at)
            done_at[at] = done_at[at] or record.started_at
            done[at] = True
    for at, item in enumerate(plan.items):
        if item.kind == CHORDS:
            done[at] = done[at] or item.song_id in chords_found
        if item.layer == PERFORMANCE:
            done[at] = done[at] or item.song_id in performed
        if item.drill == "listen":
            done[at] = done[at] or was_heard(item.loop, heard.get(item.song_id, ()))
        if item.kind == "rest":  # whoever went on afterwards has had it, or did not want it
            done[at] = done[at] or any(done[at + 1 :])
    ticks = zip(plan.items, done, done_at, strict=True)
    return replace(plan, items=tuple(replace(item, done=is_done, done_at=at) for item, is_done, at in ticks))


def by_hand(item: PlanItem, done: bool, now: datetime) -> PlanItem:
    """The item ticked off by the student, or open again, for what is played from now on. now: aware."""
    at = now.isoformat(timespec="milliseconds")
    return replace(item, done=True, done_at=at) if done else replace(item, done=False, done_at="", since=at)


def _was_open(item: PlanItem, began: datetime) -> bool:
    """Whether a pass that began then could count for it."""
    if item.since and began < datetime.fromisoformat(item.since):
        return False
    return not item.done or (bool(item.done_at) and began <= datetime.fromisoformat(item.done_at))


def _fits(item: PlanItem, record: PassRecord) -> bool:
    """Whether a pass is work on this item: the same song and hands over at least its bars, and for a recall without the page in
    its key."""
    if (
        item.kind in ("rest", CHORDS)
        or item.drill == "listen"
        or item.layer == PERFORMANCE
        or (record.song_id, record.hands) != (item.song_id, item.hands)
    ):
        return False
    if not set(item.loop) <= set(record.loop):
        return False
    if item.kind == "recall":
        return by_heart(record) >= _LEAST_BY_HEART.get(item.drill, SHOWN) and item.key in ("", record.key)
    if item.kind == "change":
        return len(record.loop) <= len(item.loop) + 4  # a whole chorus is no work on two bars
    if item.kind == "climb":
        return "climb" in record.kind
    if item.kind == "step":
        if item.drill == "swing":
            return record.kind == "swing"
        return is_free(record) or item.drill == "free" or record.pattern == item.pattern
    return True


def _proves(item: PlanItem, record: PassRecord) -> bool:
    """Whether a clean pass is one of those that a step wants (see lessons.counts_for)."""
    if not record.clean:
        return False
    in_time = item.tempo_bpm == 0 or (not is_free(record) and record.tempo_bpm >= item.tempo_bpm - 0.5)
    return item.kind != "step" or (in_time and by_heart(record) >= _LEAST_BY_HEART.get(item.drill, SHOWN))


def plan_to_dict(plan: Plan) -> dict[str, Any]:
    """The plan for JSON."""
    return asdict(plan)


def plan_from_dict(data: Any) -> Plan | None:
    """The plan back; None for anything that is none, so that a new one is made."""
    import msgspec  # imported where it is used: 6 ms

    try:
        plan = msgspec.convert(data, Plan)
        date.fromisoformat(plan.day)
        return plan if datetime.fromisoformat(plan.made_at).tzinfo is not None else None
    except (ValueError, msgspec.ValidationError):
        return None


def share_out(minutes: int, weights: Sequence[float]) -> list[int]:
    """Whole minutes in proportion to the weights, at least two each, adding up exactly (largest remainders)."""
    spare = minutes - SHORTEST_MIN * len(weights)
    exact = [spare * weight / sum(weights) for weight in weights]
    shares = [int(part) for part in exact]
    for at in sorted(range(len(exact)), key=lambda at: shares[at] - exact[at])[: spare - sum(shares)]:
        shares[at] += 1
    return [SHORTEST_MIN + share for share in shares]
