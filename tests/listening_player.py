"""Who plays the piano of a live room: hands on the synthesiser's keys, and a player who slips as told."""

from __future__ import annotations

import contextlib
import heapq
import itertools
import os
import random
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from companion.sound.listening.messages import Expect, StrikeHeard
from companion.sound.listening.verdicts import Due

HELD = 0.7  # of a beat a key is held
VELOCITY = 70
# What a slip plays in place of (low, high); seconds late, notes.
SLIPS: dict[str, Callable[[int, int], tuple[float, tuple[int, ...]]]] = {
    "third": lambda low, high: (0.0, (low, high + (1 if high - low in (3, 10) else -1))),
    "other shell": lambda low, high: (0.0, (low, low + (10 if high - low < 7 else 4))),
    "semitone": lambda low, high: (0.0, (low + 1, high + 1)),
    "octave": lambda low, high: (0.0, (low + 12, high + 12)),
    "chord before": lambda low, high: (0.0, ()),  # set by the player, who knows it
    "low alone": lambda low, high: (0.0, (low,)),
    "high alone": lambda low, high: (0.0, (high,)),
    "none": lambda low, high: (0.0, ()),
    "early": lambda low, high: (-0.11, (low, high)),
    "late": lambda low, high: (0.11, (low, high)),
}


class Hands:
    """Sends keys to the synthesiser at their seconds, from a thread that only waits for them, with real-time priority where that is granted: it stands for a human."""

    def __init__(self) -> None:
        import rtmidi

        self._out = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="hands")
        ports = self._out.get_ports()
        self._out.open_port(next(place for place, name in enumerate(ports) if "synth" in name))
        self._waiting: list[tuple[float, int, list[int], Strike | None]] = []
        self._count = itertools.count()
        self._lock = threading.Condition()
        self._open = True
        self._thread = threading.Thread(target=self._play, daemon=True)
        self._thread.start()

    def play(
        self, at_s: float, notes: tuple[int, ...], held_s: float, velocity: int, strike: Strike | None = None
    ) -> None:
        """strike: told when its last key was sent."""
        with self._lock:
            for note in notes:
                heapq.heappush(self._waiting, (at_s, next(self._count), [0x90, note, velocity], strike))
                heapq.heappush(self._waiting, (at_s + held_s, next(self._count), [0x80, note, 0], None))
            self._lock.notify()

    def _play(self) -> None:
        with contextlib.suppress(OSError):
            os.sched_setscheduler(threading.get_native_id(), os.SCHED_FIFO, os.sched_param(45))
        while True:
            with self._lock:
                wait_s = self._waiting[0][0] - time.perf_counter() if self._waiting else 1.0
                if wait_s > 0.0:
                    self._lock.wait(wait_s)
                if not self._open:
                    return
                due = heapq.heappop(self._waiting) if wait_s <= 0.0 else None
            if due is not None:
                self._out.send_message(due[2])
                if due[3] is not None:
                    due[3].struck_s = time.perf_counter()

    def close(self) -> None:
        with self._lock:
            self._open = False
            self._lock.notify()
        self._thread.join(5)
        self._out.close_port()
        self._out.delete()


@dataclass
class Strike:
    """One that was due. slip: one of SLIPS, "" for a clean one. meant_s, struck_s: when its keys were to be struck and were, None where none was. said: what was told of it."""

    due: Due
    slip: str
    meant_s: float | None
    struck_s: float | None = None
    said: StrikeHeard | None = None


@dataclass
class Player:
    """Plays what is expected, with a spread of jitter_s, and a slip in a share of the strikes, each kind in its turn. played: by `key_of`."""

    hands: Hands
    beat_s: float
    share: float = 0.0
    jitter_s: float = 0.012
    behind_s: float = 0.0  # how much later than is due the companion is heard in this room
    seed: int = 1
    kinds: tuple[str, ...] = tuple(SLIPS)
    slips: Callable[[int], bool] | None = None  # whether a strike does, by number; None leaves it to chance
    played: dict[tuple[float, tuple[int, ...]], Strike] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._rng = random.Random(self.seed)
        self._kinds = itertools.cycle(self.kinds)
        self._asked: dict[int, Strike] = {}
        self._before: tuple[int, ...] = ()
        self._other: tuple[int, ...] = ()

    def expect(self, message: Expect) -> None:
        for due in message.dues:
            strike = self._known(due)
            if strike is None:
                strike = self.played[key_of(due)] = self._play(due)
            self._asked[due.index] = strike

    def _known(self, due: Due) -> Strike | None:
        """One that is played already and asked for anew, as a bar began a little off."""
        near = (each for each in reversed(self.played.values()) if each.due.notes == due.notes)
        return next((each for each in near if abs(each.due.time_s - due.time_s) < 0.4 * self.beat_s), None)

    def _play(self, due: Due) -> Strike:
        low, high = due.notes[0], due.notes[-1]
        slips = self._rng.random() < self.share if self.slips is None else self.slips(len(self.played))
        slip = next(self._kinds) if slips else ""
        late_s, notes = SLIPS[slip](low, high) if slip else (0.0, due.notes)
        if due.notes != self._before:
            self._before, self._other = due.notes, self._before
        if slip == "chord before":
            notes = self._other
        if slip and not notes and slip != "none":  # there was no chord before
            slip, notes = "", due.notes
        at_s = due.time_s + self.behind_s + late_s + self._rng.gauss(0.0, self.jitter_s)
        strike = Strike(due, slip, at_s if notes else None)
        self.hands.play(at_s, notes, HELD * self.beat_s, self._rng.randint(VELOCITY - 14, VELOCITY + 14), strike)
        return strike

    def hear(self, said: StrikeHeard) -> None:
        if (strike := self._asked.get(said.verdict.due.index)) is not None:
            strike.said = said


def key_of(due) -> tuple[float, tuple[int, ...]]:
    """Of a strike, whoever asks for it."""
    return round(due.due_s if hasattr(due, "due_s") else due.time_s, 2), due.notes
