"""What is remembered of chords in root position, from day to day.

It is kept in the practice log by hand and position and by the chord's tones, not by the song: who knows Dm7 knows it in every song. It is
no pass, as no loop of the song was played."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any, Protocol

from companion.errors import LogError
from companion.hands.root_position import HAND_CHOICES, INVERSION_WORDS
from companion.practice.drills.root_position import ORDERS, WAYS, Known, known_from_json
from companion.session.root_rounds import Setup
from companion.session.song_chords import chords_of
from companion.session.stand import Stand
from companion.session.wall_clock import within_calendar
from companion.store.log.entry import Entry, SavedState

KIND, SETUP_KIND = "root_position", "root_position_setup"  # of states in the log
# What of a setup is kept, and what it may be.
_KEPT: Mapping[str, tuple[Any, ...]] = {
    "inversion": tuple(range(len(INVERSION_WORDS))),
    "way": tuple(WAYS),
    "order": tuple(ORDERS),
    "in_time": (False, True),
    "hear_first": (False, True),
}
LONGEST_WAIT_S = 60.0  # what is longer was spent away from the keyboard


class Log(Protocol):
    """What is asked of the practice log; each may raise LogError."""

    def write(self, entry: Entry) -> None:
        """Write what is to be kept."""

    def states(self, kind: str | None = None, song_id: str | None = None) -> list[SavedState]:
        """Everything kept of a kind, of a song."""


def known_chords(log: Log, hands: Iterable[str] = HAND_CHOICES) -> dict[str, Known]:
    """What is remembered of chords in these hands, by position and tones, as in "0 D b3 5 b7". Raises LogError."""
    kept = {state.loop_key: known_from_json(state.value) for state in log.states(KIND, "") if state.hands in hands}
    return {name: known for name, known in kept.items() if known is not None}


def new_chords(log: Log, stand: Stand) -> tuple[int, int]:
    """(how many of the loop's chords were never found in root position by either hand, how many there are). Raises LogError."""
    names = {f"0 {each.close.id}" for each in chords_of(stand)}
    known = known_chords(log)
    return sum(name not in known for name in names), len(names)


@dataclass(frozen=True, slots=True)
class KnownChord:
    """What is remembered of a chord of a song in root position, by hand; no entry for a hand that never played it."""

    symbol: str
    by_hand: Mapping[str, Known]


def known_lines(log: Log, stand: Stand) -> tuple[KnownChord, ...]:
    """Each chord of the loop once, with what is remembered of it. Raises LogError."""
    known = {hand: known_chords(log, (hand,)) for hand in HAND_CHOICES}
    return tuple(
        KnownChord(
            each.symbol,
            {hand: kept[name] for hand, kept in known.items() if (name := f"0 {each.close.id}") in kept},
        )
        for each in chords_of(stand)
    )


def last_setup(log: Log, hand: str, tempo_bpm: float) -> Setup:
    """How chords were practised last, as far as that can be read; else as `Setup` has it. hand: to begin with; tempo_bpm: of this song.
    The quality is the song's own again. Raises LogError where the log cannot be read."""
    first = Setup(hand=hand, tempo_bpm=tempo_bpm)
    for state in log.states(SETUP_KIND, ""):
        value = state.value if isinstance(state.value, dict) else {}
        fields = {name: value[name] for name, legal in _KEPT.items() if value.get(name) in legal}
        return replace(first, **fields)
    return first


def keep_setup(log: Log, setup: Setup) -> None:
    """For the next time. Raises LogError."""
    value = {name: getattr(setup, name) for name in _KEPT}
    log.write(Entry(None, (SavedState("", "", SETUP_KIND, value),)))


class ChordMemory:
    """The chords of one hand. say: a sentence of what went wrong, "" for none."""

    def __init__(self, log: Log, hand: str, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self.say = ""
        self._log, self._hand, self._now = log, hand, now
        self._before: tuple[str, Known | None] = ("", None)  # the chord learned last, and what was known of it before
        self._known: dict[str, Known] = {}
        try:
            self._known = known_chords(log, (hand,))
        except LogError as error:
            self.say = str(error)

    @property
    def known(self) -> Mapping[str, Known]:
        """By `Item.memory_key`."""
        return self._known

    def is_known(self, name: str) -> bool:
        """Whether a chord may be asked for without its keys."""
        return name in self._known and self._known[name].is_known

    def learn(self, name: str, find_s: float, right: bool) -> None:
        """A chord was played."""
        self._before = name, self._known.get(name)
        self._write(name, find_s, right)

    def correct(self, find_s: float, right: bool) -> None:
        """The chord learned last went otherwise."""
        name, before = self._before
        self._known.pop(name, None)
        if before is not None:
            self._known[name] = before
        self._write(name, find_s, right)

    def _write(self, name: str, find_s: float, right: bool) -> None:
        day = within_calendar(self._now()).astimezone().date().isoformat()
        known = self._known.get(name, Known()).after(min(find_s, LONGEST_WAIT_S), right, day)
        self._known[name] = known
        try:
            self._log.write(Entry(None, (SavedState("", name, KIND, known.to_json(), self._hand),)))
        except LogError as error:
            self.say = str(error)
