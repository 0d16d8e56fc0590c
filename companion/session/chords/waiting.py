"""A round of chords in root position in which the companion waits on each. Times are seconds of the sound process's clock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from companion.practice.drills.root_position import NAMES, again
from companion.practice.marking.root_position import Hearing, all_up, is_of_last, key_down, key_up, start_hearing
from companion.session.chords.memory import LONGEST_WAIT_S, ChordMemory
from companion.session.chords.rounds import Item, Setup, drawn, items_of, round_length
from companion.session.chords.shown import Done, Shown
from companion.session.chords.words import answer, found_words, round_lines, wrong_words
from companion.session.stand import Stand

REVEAL_S = 4.0  # so long the keys of a chord that is known stay hidden (our own choice)
# So long a name is seen in the drill of names: one fixation of a reader is a quarter of a second (Rayner 1998, Psychological Bulletin 124:372-422), a chord
# symbol on a lead sheet gets several (the number of them is our own choice).
SEEN_S = 1.0


class WaitingRound:
    """turn: called when another chord's turn came. is_over: whether all was played."""

    def __init__(
        self,
        stand: Stand,
        setup: Setup,
        memory: ChordMemory,
        chance: Callable[[], float],
        now_s: float,
        turn: Callable[[], None],
        down: frozenset[int] = frozenset(),
    ) -> None:
        """Raises ValueError where there is no chord to play."""
        self._items = items_of(stand, setup)
        if not self._items:
            raise ValueError("no chord")
        self._is_random, self._hides_name = setup.order == "random", setup.way == NAMES
        self._key, self._memory, self._chance, self._turn = stand.key, memory, chance, turn
        self._total = round_length(self._items, setup)
        self._queue = [] if self._is_random else list(self._items)
        self._number = 0
        self._done: list[Done] = []
        self._once_more = self._looked = self._name_gone = False
        self._answer = ""
        self._last: tuple[Hearing, float] | None = None
        self._draw_on()
        self._hearing = start_hearing(self._queue[0].steps, now_s, down)

    def _draw_on(self) -> None:
        """At random the chord after the present one is known too, and no more."""
        while self._is_random and not self._once_more and len(self._queue) < min(2, self._total - self._number):
            last = self._queue[-1] if self._queue else self._done[-1].item if self._done else None
            name = last.memory_key if last else None
            self._queue.append(drawn(self._items, self._memory.known, name, self._chance))

    # --- how things stand

    @property
    def is_over(self) -> bool:
        """Whether all was played."""
        return not self._queue

    @property
    def down(self) -> frozenset[int]:
        """The keys that are held."""
        return self._hearing.down

    @property
    def due(self) -> tuple[int, ...]:
        """The keys that are to be struck next, MIDI numbers."""
        return () if self.is_over else self._hearing.notes

    @property
    def since_s(self) -> float:
        """When the turn of the present chord came."""
        return self._hearing.since_s

    @property
    def lines(self) -> tuple[str, ...]:
        """How it went so far."""
        return round_lines([(done.item.symbol, done.find_s, done.right) for done in self._done])

    @property
    def played_s(self) -> float:
        """How long was played."""
        return sum(min(done.find_s, LONGEST_WAIT_S) for done in self._done)

    @property
    def shows_keys(self) -> bool:
        """Whether the keys of the chord are shown: until it is known, and after a look."""
        return self._looked or not (self._hides_name or self._memory.is_known(self._queue[0].memory_key))

    @property
    def _shows_name(self) -> bool:
        return not self._name_gone or self._looked

    @property
    def wake_s(self) -> float | None:
        """When `tick` is next wanted."""
        if self.is_over or self.shows_keys:
            return None
        waits_for_name = self._hides_name and not self._name_gone
        return self._hearing.since_s + (SEEN_S if waits_for_name else REVEAL_S)

    @property
    def shown(self) -> Shown:
        """What is to be drawn."""
        return Shown(
            self._queue[0],
            self._queue[1] if len(self._queue) > 1 and not self._hides_name else None,
            self._number + 1,
            self._total,
            self._once_more,
            playing=True,
            keys=self.shows_keys,
            name=self._shows_name,
            down=self._hearing.down,
            step=self._hearing.step,
            answer=self._answer,
        )

    # --- what is heard

    def press(self, time_s: float, note: int, told_s: float | None = None) -> None:
        """A key went down. told_s: where that was known later, as by a microphone: the next chord's turn begins then."""
        if self._last is not None and is_of_last(self._hearing, *self._last, time_s, note):
            self._hearing = replace(self._hearing, kept=self._hearing.kept | {note})
            self._correct(found_words)
            return
        item, was_untouched = self._queue[0], not self._hearing.fresh
        self._hearing = key_down(self._hearing, time_s, note)
        said = answer(self._hearing, item.close, self._key)
        if said or not was_untouched:
            self._answer = said
        if self._hearing.is_found:
            found, self._last = self._hearing, (self._hearing, time_s)
            self._found(
                Done(item, max(0.0, found.find_s or 0.0), not found.wrong and not self._looked),
                time_s if told_s is None else told_s,
            )

    def release(self, note: int) -> None:
        """A key was let go."""
        self._hearing = key_up(self._hearing, note)

    def lost(self) -> None:
        """The keyboard is gone."""
        self._hearing = all_up(self._hearing)

    def _found(self, done: Done, now_s: float) -> None:
        self._done.append(done)
        self._memory.learn(done.item.memory_key, done.find_s, done.right)
        self._answer = found_words(done)
        self._queue.pop(0)
        self._number += 1
        self._draw_on()
        if not self._queue and not self._once_more:
            self._come_again()
        if self._queue:
            self._hearing = start_hearing(self._queue[0].steps, now_s, self._hearing.down)
            self._looked = self._name_gone = False
            self._turn()

    def _come_again(self) -> None:
        """What was slow comes once more before the round ends."""
        items: dict[str, Item] = {done.item.memory_key: done.item for done in self._done}
        names = again([(done.item.memory_key, done.find_s, done.right) for done in self._done])
        self._queue, self._once_more = [items[name] for name in names], True
        self._number, self._total = 0, len(names)

    def _correct(self, words: Callable[[Done], str]) -> None:
        """The chord before was not right at once after all."""
        last = self._done[-1]
        if last.right:
            self._done[-1] = replace(last, right=False)
            self._memory.correct(last.find_s, right=False)
        self._answer = words(self._done[-1])

    # --- time, and the student's word

    def tick(self, now_s: float) -> None:
        """Show the keys of a chord that takes long; take away a name that was seen."""
        self._name_gone = self._name_gone or (self._hides_name and now_s >= self._hearing.since_s + SEEN_S)
        if not self.shows_keys and now_s >= self._hearing.since_s + REVEAL_S:
            self._looked = True

    def look(self) -> None:
        """Show the keys."""
        self._looked = not self.shows_keys or self._looked

    def word(self, now_s: float) -> None:
        """The student has it, as no keyboard is there to tell."""
        find_s = max(0.0, now_s - self._hearing.since_s)
        self._last = None
        self._found(Done(self._queue[0], find_s, not self._looked, heard=False), now_s)

    def was_wrong(self) -> None:
        """The chord before was wrong, says the student."""
        if self._done:
            self._correct(wrong_words)
