"""A student made up for the ear that waits: plays shell after shell of one of our songs on a sampled piano in a made-up room, at times another thing, and strikes again by what the
ear said. All that was struck is known."""

from __future__ import annotations

from dataclasses import dataclass, field

import listening_takes as takes
import numpy as np
from listening_conditions import Condition
from listening_rooms import Place, noise_of, rms
from pianos_sampled import RATE, Bank, bank

from companion.practice.drills.free_time import targets_of
from companion.practice.reach import RIGHT_HAND_ABOVE
from companion.sound.listening.verdicts import NOT_SURE, RIGHT, WRONG, Awaited, StrokeVerdict

BLOCK = 320  # samples, 20 ms, as live
TARGETS = 16  # shells of a take
WRONG_SHARE = 0.33
KINDS = ("third", "other shell", "semitone", "octave", "chord before", "one note")
LOUD_VELOCITY = 74


@dataclass
class Stroke:
    """kind: "right", one of KINDS, "again" (the shell before, once more) or "melody". keys: with their onsets. first: of its target. said: what was told of it."""

    kind: str
    keys: list[tuple[int, float]]
    notes: tuple[int, ...] = ()  # that are awaited
    before: tuple[int, ...] = ()
    first: bool = False
    number: int = 0
    said: list[StrokeVerdict] = field(default_factory=list)
    after_ms: float | None = None
    way: str = ""  # how a right one was struck: "", "one by one", "held over"

    @property
    def onset_s(self) -> float:
        return min(at_s for _, at_s in self.keys)

    @property
    def result(self) -> str:
        """What it came to: one note after the other of the shell is nothing against the player."""
        kinds = {each.kind for each in self.said}
        if RIGHT in kinds:
            return "taken"
        if any(each.kind == WRONG and self.names_another(each) for each in self.said):
            return "wrong"
        if WRONG in kinds:
            return "part"
        return "unsure" if NOT_SURE in kinds else "nothing"

    def names_another(self, said: StrokeVerdict) -> bool:
        return bool({note.midi for note in said.notes} - set(self.notes))

    @property
    def is_held_against(self) -> bool:
        return any(each.kind == WRONG and self.names_another(each) for each in self.said)

    @property
    def is_named(self) -> bool:
        keys = {note for note, _ in self.keys}
        return any(each.kind == WRONG and {note.midi for note in each.notes} == keys for each in self.said)


class Room:
    """Sound that is made while it is heard. One piano, one place."""

    def __init__(self, piano: str, condition: Condition, rng: np.random.Generator) -> None:
        self._bank: Bank = bank(piano)
        self._place = Place.some(condition, rng)
        self._condition, self._rng = condition, rng
        dry = np.zeros(2 * RATE, dtype=np.float32)
        for note in (45, 55):
            takes.add(dry, self._bank, note, LOUD_VELOCITY, 0.1, 0.7)
        self.loud = rms(dry)
        self._gain = 10.0 ** rng.uniform(-1.0, 0.3)
        scale = self._place.heard(takes.scale_sound(self._bank, rng), rng)
        self.scale = (self._gain * (scale + noise_of(condition, len(scale), self.loud, rng))).astype(np.float32)
        self._sound = np.zeros(0, dtype=np.float32)

    def strike(self, note: int, velocity: float, at_s: float, held_s: float) -> None:
        dry = np.zeros(int(3.2 * RATE), dtype=np.float32)
        takes.add(dry, self._bank, note, int(np.clip(velocity, 20, 120)), 0.0, held_s)
        start, wet = round(at_s * RATE), self._gain * self._place.heard(dry, self._rng)
        self._reach(start + len(wet))
        self._sound[start : start + len(wet)] += wet

    def _reach(self, size: int) -> None:
        while len(self._sound) < size:
            more = noise_of(self._condition, 30 * RATE, self.loud, self._rng)
            self._sound = np.concatenate([self._sound, (self._gain * more).astype(np.float32)])

    def block(self, at: int) -> np.ndarray:
        self._reach(at + BLOCK)
        return self._sound[at : at + BLOCK]


class Student:
    """Plays shell after shell. strokes: all that was struck, in order."""

    def __init__(self, piano: str, condition: Condition, seed: int) -> None:
        self.rng = np.random.default_rng((seed, sum(map(ord, piano + condition.name))))
        self.condition = condition
        self.room = Room(piano, condition, self.rng)
        self.targets = self._targets()
        self.strokes: list[Stroke] = []
        self.held_until_s: dict[int, float] = {}
        self.melody: list[tuple[int, ...]] = [
            tuple(int(note) for note in self.rng.integers(65, 85, 3)) if condition.melody_db is not None else ()
            for _ in self.targets
        ]

    def stroke_of(self, said: StrokeVerdict, present: Stroke) -> Stroke:
        """What was told of: the stroke with a key just then, of the left hand before all others, else the last before it."""
        near = [one for one in self.strokes if any(abs(at_s - said.onset_s) <= 0.06 for _, at_s in one.keys)]
        before = [one for one in self.strokes if one.onset_s <= said.onset_s + 0.06]
        return max(near or before, key=lambda one: (bool(near) and one.kind != "melody", one.onset_s), default=present)

    def _targets(self) -> list[tuple[int, ...]]:
        while True:
            stand = takes._stand(int(self.rng.integers(len(takes.SONGS))))
            notes = [target.notes for target in targets_of(stand.arrangement().bars)]
            if len(notes) >= TARGETS:
                first = int(self.rng.integers(len(notes) - TARGETS + 1))
                return notes[first : first + TARGETS]

    def awaited(self, number: int, from_s: float) -> Awaited:
        also = self.melody[number] if self.condition.melody_told else ()
        return Awaited(
            number, self.targets[number], also, from_s, max(top[-1] for top in self.targets) + RIGHT_HAND_ABOVE
        )

    def think_s(self) -> float:
        return float(self.rng.uniform(0.45, 1.0) if self.rng.random() < 0.15 else self.rng.uniform(1.0, 6.0))

    def strike(self, number: int, from_s: float, *, first: bool) -> Stroke:
        """The next stroke for a target, at the earliest so late."""
        rng, notes = self.rng, self.targets[number]
        before = self.targets[number - 1] if number else ()
        at_s = from_s + (self.think_s() if first else float(rng.uniform(0.6, 2.5)))
        kind = "right" if not first or rng.random() >= WRONG_SHARE else str(rng.choice(KINDS))
        if first and before and before != notes and rng.random() < 0.2:
            at_s = self._again(before, notes, from_s, number) + float(rng.uniform(0.5, 2.0))
        kept = set(notes) & set(before) if first and kind == "right" else set()
        way = ""
        if (
            kept
            and kept != set(notes)
            and before != notes
            and self.strokes
            and self.strokes[-1].kind == "right"
            and rng.random() < 0.5
        ):
            way = "held over"
            at_s = self.strokes[-1].onset_s + float(rng.uniform(0.6, 2.2))
            at_s = max(at_s, from_s + 0.15)
            keys = tuple(note for note in notes if note not in kept)
        else:
            keys = self._keys(kind, notes, before)
        if keys == notes and kind != "right":
            kind = "right"
        roll_s = (
            float(rng.uniform(0.0, 0.060)) if rng.random() < self.condition.rolls else float(abs(rng.normal(0, 0.004)))
        )
        if kind == "right" and not way and rng.random() < 0.08:
            way, roll_s = "one by one", float(rng.uniform(0.15, 0.6))
        if kind == "one note" and self._holds(set(notes) - set(keys), at_s):
            kind, way = "right", "held over"
        stroke = Stroke(
            kind,
            [(note, at_s + roll_s * place) for place, note in enumerate(keys)],
            notes,
            before,
            first,
            number,
            way=way,
        )
        self._play(stroke, number)
        return stroke

    def _keys(self, kind: str, notes: tuple[int, ...], before: tuple[int, ...]) -> tuple[int, ...]:
        rng, root, upper = self.rng, notes[0], notes[-1]
        change = int(rng.choice((3, 4, -3, -4)) if kind == "third" else rng.choice((-1, 1)))
        match kind:
            case "third" | "semitone":
                keys = (root, upper + change) if rng.random() < 0.5 else (root + change, upper)
            case "other shell":
                keys = (root, root + int(rng.choice([step for step in (3, 4, 9, 10, 11) if root + step != upper])))
            case "octave":
                keys = (root, upper + 12) if rng.random() < 0.5 else (root + 12, upper + 12)
            case "chord before":
                keys = before or (root, upper + 1)
            case "one note":
                keys = (root,) if rng.random() < 0.5 else (upper,)
            case _:
                keys = notes
        return tuple(sorted({min(max(note, 36), 76) for note in keys}))

    def _holds(self, notes: set[int], at_s: float) -> bool:
        return all(self.held_until_s.get(note, 0.0) > at_s for note in notes)

    def _again(self, before: tuple[int, ...], notes: tuple[int, ...], from_s: float, number: int) -> float:
        """The shell that was found struck on, as in four to the bar; when its last stroke came."""
        step_s, at_s = float(self.rng.uniform(0.4, 0.7)), from_s
        for _ in range(int(self.rng.integers(1, 4))):
            at_s += step_s
            self._play(Stroke("again", [(note, at_s) for note in before], notes, before, number=number), number)
        return at_s

    def _play(self, stroke: Stroke, number: int) -> None:
        rng = self.rng
        self.strokes.append(stroke)
        velocity = float(rng.uniform(*self.condition.velocities))
        later = self.targets[number + 1] if number + 1 < len(self.targets) else ()
        for note, at_s in stroke.keys:
            own = velocity + rng.normal(0, 6)
            held_s = 2.55 if note in later and stroke.kind == "right" else float(rng.choice((0.15, 0.5, 1.0, 2.5)))
            if stroke.way == "one by one":
                held_s = max(held_s, 1.0)
            self.room.strike(note, own, at_s, held_s)
            self.held_until_s[note] = at_s + held_s
        if self.melody[number]:
            self._sing(stroke, number)

    def _sing(self, stroke: Stroke, number: int) -> None:
        """A note of the melody with it, and one by itself later."""
        rng, own = self.rng, [int(note) for note in self.rng.permutation(self.melody[number])]
        if rng.random() < 0.6:
            self.room.strike(own[0], rng.uniform(50, 100), stroke.onset_s + rng.normal(0, 0.015), rng.uniform(0.2, 0.6))
        if rng.random() < 0.3:
            at_s = stroke.onset_s + float(rng.uniform(0.35, 0.8))
            self.strokes.append(Stroke("melody", [(own[1], at_s)], stroke.notes, stroke.before, number=number))
            self.room.strike(own[1], rng.uniform(50, 100), at_s, rng.uniform(0.2, 0.6))
