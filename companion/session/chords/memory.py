"""What is remembered of chords in root position, from day to day.

It is kept in the practice log by hand and position and by the chord's tones, not by the song: who knows Dm7 knows it in every song. It is
no pass, as no loop of the song was played."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from statistics import median
from typing import Any, Protocol

from companion.base.text import plural
from companion.chart.model import Song
from companion.errors import LogError
from companion.hands.root_position import HAND_CHOICES, INVERSION_WORDS
from companion.practice.drills.root_position import ORDERS, WAYS, Known, known_from_json
from companion.practice.planning.whole_chords import chord_ids
from companion.session.chords.rounds import Setup
from companion.session.wall_clock import within_calendar
from companion.store.log.entry import Entry, SavedState

KIND, SETUP_KIND = "root_position", "root_position_setup"  # of states in the log
SHELL_KIND = "shell_by_name"  # the same of shells that are struck when a name was seen
# Kind -> what it is told as: what is asked, what was done with it, and what took its time.
_TOLD = {KIND: ("chord", "played", "found"), SHELL_KIND: ("name", "seen", "shell struck")}
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


def known_chords(log: Log, hands: Iterable[str] = HAND_CHOICES, kind: str = KIND) -> dict[str, Known]:
    """What is remembered of chords in these hands, by position and tones, as in "0 D b3 5 b7". kind: KIND or SHELL_KIND. Raises LogError."""
    kept = {state.loop_key: known_from_json(state.value) for state in log.states(kind, "") if state.hands in hands}
    return {name: known for name, known in kept.items() if known is not None}


@dataclass(frozen=True, slots=True)
class KnownChord:
    """What is remembered of a chord of a song in root position, by hand; no entry for a hand that never played it."""

    symbol: str
    by_hand: Mapping[str, Known]


def known_of_song(log: Log, song: Song, kind: str = KIND) -> tuple[KnownChord, ...]:
    """Each chord of a song once, in the order in which they first come. kind: KIND or SHELL_KIND. Raises LogError."""
    known = {hand: known_chords(log, (hand,), kind) for hand in HAND_CHOICES}
    return tuple(
        KnownChord(symbol, {hand: kept[name] for hand, kept in known.items() if name in kept})
        for symbol, name in chord_ids(song).items()
    )


def known_sentences(chords: Sequence[KnownChord], kind: str = KIND) -> tuple[str, ...]:
    """What a teacher wants to know of them: a sentence for each hand that played any. kind: KIND or SHELL_KIND, as they were asked for."""
    one, done, found = _TOLD[kind]
    sentences = []
    for hand in HAND_CHOICES:
        known = [(each.by_hand[hand], each.symbol) for each in chords if hand in each.by_hand]
        if not known:
            continue
        sure = sum(each.is_known for each, _ in known)
        usual_s = median(each.find_s for each, _ in known)
        slowest, symbol = max(known, key=lambda each: each[0].find_s)
        sentences.append(
            f"{hand.capitalize()} hand: {len(known)} of {plural(len(chords), one)} {done}, {sure} of them sure; {found} in {usual_s:.1f} s as a rule, "
            f"{symbol} in {slowest.find_s:.1f} s."
        )
    return tuple(sentences)


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


def tries_words(log: Log) -> str:
    """What was done in all songs, in a sentence: which hand knows how many, how often chords were played, when last; "" for nothing. Raises LogError."""
    by_hand = {hand: known_chords(log, (hand,)) for hand in HAND_CHOICES}
    every = [known for kept in by_hand.values() for known in kept.values()]
    if not every:
        return ""
    hands = " and ".join(f"{len(kept)} by the {hand} hand" for hand, kept in by_hand.items() if kept)
    tries, last = sum(known.tries for known in every), max(known.day for known in every)
    return f"Chords in root position and inversions: {hands}, {plural(tries, 'try', 'tries')}, the last on {last}."


class ChordMemory:
    """The chords of one hand. kind: KIND or SHELL_KIND. say: a sentence of what went wrong, "" for none."""

    def __init__(
        self, log: Log, hand: str, now: Callable[[], datetime] = lambda: datetime.now(UTC), kind: str = KIND
    ) -> None:
        self.say, self._kind = "", kind
        self._log, self._hand, self._now = log, hand, now
        self._before: tuple[str, Known | None] = ("", None)  # the chord learned last, and what was known of it before
        self._known: dict[str, Known] = {}
        try:
            self._known = known_chords(log, (hand,), kind)
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
            self._log.write(Entry(None, (SavedState("", name, self._kind, known.to_json(), self._hand),)))
        except LogError as error:
            self.say = str(error)
