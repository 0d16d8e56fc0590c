"""One loop through all keys: the orders musicians practise in.

By fourths is the circle of fifths backwards, C F B♭ E♭ and on, the way roots fall in most tunes; by half steps goes up; random is
dealt once from a seed, so that the same drill comes again. Source: common practice.
"""

from __future__ import annotations

import random
from dataclasses import dataclass

from companion.errors import SettingsError
from companion.session.stand import Stand
from companion.theory.key import Key

# order -> its words
ORDERS = {"fourths": "by fourths", "half-steps": "by half steps", "random": "in random order"}
_STEPS = {"fourths": 5, "half-steps": 1}  # semitones up from key to key
KEYS = 12


def key_order(start: Key, order: str, seed: int = 0) -> tuple[Key, ...]:
    """The twelve keys of the start's mode, each once, the start first and spelled as given, the others as usual.

    Raises SettingsError where the order is none of ORDERS.
    """
    if order not in ORDERS:
        raise SettingsError(f"{order!r} is not an order of keys; expected {', '.join(ORDERS)}")
    if order == "random":
        rest = [(start.tonic.pc + step) % KEYS for step in range(1, KEYS)]
        random.Random(seed).shuffle(rest)
    else:
        rest = [(start.tonic.pc + number * _STEPS[order]) % KEYS for number in range(1, KEYS)]
    return (start, *(Key.usual(pc, start.mode) for pc in rest))


@dataclass(frozen=True, slots=True)
class KeyWalk:
    """Through the keys, so many passes in each, round and round. keys: in their order. passes: in each key. number: of the
    present key, from 0 and on past the twelfth. done: passes begun in it."""

    keys: tuple[Key, ...]
    passes: int = 1
    number: int = 0
    done: int = 0

    @property
    def key(self) -> Key:
        """The key of now."""
        return self.keys[self.number % len(self.keys)]

    @property
    def next_key(self) -> Key:
        """The key after it; the first one after the last."""
        return self.keys[(self.number + 1) % len(self.keys)]

    @property
    def is_last_pass(self) -> bool:
        """Whether the next key comes after the pass being played."""
        return self.done + 1 >= self.passes

    @property
    def is_last_key(self) -> bool:
        """Whether the circle closes with this key."""
        return self.number % len(self.keys) == len(self.keys) - 1

    def after_pass(self) -> KeyWalk:
        """The walk after one more pass: in the same key, or at the first pass in the next."""
        if self.is_last_pass:
            return KeyWalk(self.keys, self.passes, self.number + 1, 0)
        return KeyWalk(self.keys, self.passes, self.number, self.done + 1)

    def from_key(self, key: Key) -> KeyWalk:
        """Going on from a key that the student chose."""
        pcs = [each.tonic.pc for each in self.keys]
        return KeyWalk(self.keys, self.passes, pcs.index(key.tonic.pc), 0)


def in_key(stand: Stand, key: Key) -> Stand:
    """The stand in a key of the walk; its own key brings back the song as it is written."""
    own = stand.original.key
    return stand.with_key(own if own.tonic.pc == key.tonic.pc else key)


def key_said(key: Key) -> str:
    """A key as one says it: "A flat", "F sharp minor"."""
    signs = {"b": " flat", "#": " sharp"}
    tonic = key.tonic.letter + "".join(signs.get(sign, "") for sign in key.tonic.name[1:])
    return tonic + (" minor" if key.mode == "minor" else "")
