"""The chords of a round in root position: which, in which order, and when each is due where a click goes along."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from companion.errors import CompanionError
from companion.groove.model import Arrangement, Click, GrooveBar, GrooveChord, Strike
from companion.hands.left.model import Slot
from companion.hands.left.solver import solve
from companion.hands.root_position import RIGHT_LOWEST, CloseChord, close_chord
from companion.practice.drills.root_position import CYCLE_ORDERS, NAMES, Known, cycle, next_at_random, steps_of
from companion.session.chords.in_song import SongChord, chords_in_order, chords_of
from companion.session.stand import Stand
from companion.theory.meter import TICKS_PER_QUARTER, Meter

SLOWEST_START_BPM, FASTEST_START_BPM = 40.0, 60.0  # where the tempo begins (our own choice: slow enough to think)
_RANDOM_CHORDS = (8, 16)  # in a round, where the song has fewer or more of its own


@dataclass(frozen=True, slots=True)
class Setup:
    """How whole chords are practised. hand: "left" or "right"; inversion: 0 for root position; way and order: see
    practice.drills.root_position; in_time: with the click, else the companion waits; tempo_bpm: pulses a minute; quality: symbol of the
    chord that goes round, "" for the song's first; hear_first: each chord is heard before it is played."""

    hand: str = "left"
    inversion: int = 0
    way: str = "together"
    order: str = "song"
    in_time: bool = False
    tempo_bpm: float = FASTEST_START_BPM
    quality: str = ""
    hear_first: bool = False


@dataclass(frozen=True, slots=True)
class Item:
    """One chord to play. steps: keys, one step after the other. shell: keys that the song leaves of it, with their fingers. place: its bar in the chorus and its number in the bar, None where it is not from the
    song."""

    close: CloseChord
    steps: tuple[tuple[int, ...], ...]
    shell: tuple[int, ...] = ()
    place: tuple[int, int] | None = None
    shell_fingers: str = ""

    @property
    def symbol(self) -> str:
        """As the chart has it."""
        return self.close.chord.symbol

    @property
    def memory_key(self) -> str:
        """What it is remembered by, with its position."""
        return f"{self.close.inversion} {self.close.id}"


@dataclass(frozen=True, slots=True)
class TimedRound:
    """items: with, for each, the pulse of the round at which it is due. meters: of the bars."""

    items: tuple[tuple[Item, Fraction], ...]
    meters: tuple[Meter, ...]

    def arrangement(self) -> Arrangement:
        """Nothing but the click, counted in."""
        bars = tuple(GrooveBar(-1, meter, (GrooveChord(0, meter.bar_ticks, None),)) for meter in self.meters)
        return Arrangement(bars, click=Click("every"), bass="off", feel="straight")

    @property
    def bar_pulses(self) -> tuple[int, ...]:
        """The pulse at which each bar begins."""
        starts, pulse = [], 0
        for meter in self.meters:
            starts.append(pulse)
            pulse += meter.pulses
        return tuple(starts)


def to_hear(item: Item) -> Arrangement:
    """The steps of a chord one after the other, a beat each where they are single notes, two where they are more."""
    meter, tick = Meter(4, 4), 0
    strikes = []
    for step in item.steps:
        ticks = TICKS_PER_QUARTER * (1 if len(step) == 1 else 2)
        strikes.append(Strike("left", tick, ticks, step))
        tick += ticks
    bar = GrooveBar(-1, meter, (GrooveChord(0, meter.bar_ticks, None),), tuple(strikes))
    return Arrangement((bar,), parts=("left",), click=Click("off"), bass="off", feel="straight", count_in_bars=0)


def start_tempo(stand: Stand) -> float:
    """Half the song's tempo, within bounds."""
    return float(round(min(FASTEST_START_BPM, max(SLOWEST_START_BPM, stand.song.tempo_bpm / 2))))


def items_of(stand: Stand, setup: Setup) -> tuple[Item, ...]:
    """The chords that a round goes through, in order; at random: those that are drawn from, each once."""
    if setup.order in CYCLE_ORDERS:
        return _cycle_items(stand, setup)
    make = chords_of if setup.order == "random" else chords_in_order
    found: dict[str, Item] = {}
    chords = [each for each in make(stand, setup.hand, setup.inversion) if each.shell or setup.way != NAMES]
    items = [_item(each, setup) for each in chords]
    if setup.order != "random":
        return tuple(items)
    for item in items:  # Dm7 and Dm9 are one thing to draw
        found.setdefault(item.memory_key, item)
    return tuple(found.values())


def _item(each: SongChord, setup: Setup) -> Item:
    shell, fingers = _for_hand(each.shell.midi if each.shell else (), each.shell_fingers, setup.hand)
    return Item(each.close, steps_of(each.close, setup.way, shell), shell, each.places[0], fingers)


def _for_hand(shell: tuple[int, ...], fingers: str, hand: str) -> tuple[tuple[int, ...], str]:
    """A shell as the hand that plays the chord takes it: the left one's is the song's own, the right one's lies where its chords do."""
    if hand == "left" or not shell:
        return shell, fingers
    up = -12 * ((shell[0] - RIGHT_LOWEST) // 12)
    return tuple(note + up for note in shell), ""


def _cycle_items(stand: Stand, setup: Setup) -> tuple[Item, ...]:
    own = chords_of(stand, setup.hand, setup.inversion)
    if not own:
        return ()
    start = next((each.close.chord for each in own if each.symbol == setup.quality), own[0].close.chord)
    chords = cycle(start, setup.order)
    shells: list[tuple[tuple[int, ...], str]] = [((), "")] * len(chords)
    if setup.way in ("left", NAMES):
        try:
            part = solve([Slot(chord) for chord in chords], stand.hand)
            shells = [(choice.shell.midi if choice.shell else (), choice.fingers) for choice in part.choices]
        except CompanionError:
            pass  # a hand that allows no shell there plays the chord alone
    items = []
    for chord, (shell, fingers) in zip(chords, shells, strict=True):
        close = close_chord(chord, setup.hand, setup.inversion, stand.hand.limits)
        shell, fingers = _for_hand(shell, fingers, setup.hand)
        items.append(Item(close, steps_of(close, setup.way, shell), shell, shell_fingers=fingers))
    return tuple(items)


def drawn(items: tuple[Item, ...], known: Mapping[str, Known], before: str | None, chance: Callable[[], float]) -> Item:
    """The next at random, see next_at_random. before: memory key of the last."""
    return items[next_at_random([item.memory_key for item in items], known, before, chance)]


def round_length(items: tuple[Item, ...], setup: Setup) -> int:
    """How many chords a round has."""
    fewest, most = _RANDOM_CHORDS
    return min(most, max(fewest, len(items))) if setup.order == "random" else len(items)


def timed_round(
    stand: Stand, setup: Setup, known: Mapping[str, Known], chance: Callable[[], float]
) -> TimedRound | None:
    """A round with the click: the song's own chords where the chart has them, struck together; all others a bar each, or as many as their
    notes need. None where there is no chord."""
    items = items_of(stand, setup)
    if not items:
        return None
    if setup.order == "song" and setup.way == "together":
        return _as_charted(stand, items)
    if setup.order == "random":
        pool = items
        chosen: list[Item] = []
        for _ in range(round_length(items, setup)):
            chosen.append(drawn(pool, known, chosen[-1].memory_key if chosen else None, chance))
        items = tuple(chosen)
    meter = stand.song.meter
    placed: list[tuple[Item, Fraction]] = []
    meters: list[Meter] = []
    for item in items:
        pulse = Fraction(len(meters) * meter.pulses)
        placed.append((item, pulse))
        notes = sum(_pulses_of(item))
        meters += [meter] * math.ceil(Fraction(notes, meter.pulses))
    return TimedRound(tuple(placed), tuple(meters))


def _pulses_of(item: Item) -> list[int]:
    """Pulses that each step takes: a note of a broken chord one, a chord and its shell two each."""
    return [1 if len(step) == 1 or len(item.steps) == 1 else 2 for step in item.steps]


def _as_charted(stand: Stand, items: tuple[Item, ...]) -> TimedRound:
    of_place = {item.place: item for item in items}
    indices = sorted({place[0] for place in of_place if place is not None})
    bars = [index for index in stand.loop if indices[0] <= index <= indices[-1]]
    whole = stand.loop == tuple(range(len(stand.bars)))
    placed, meters, pulse = [], [], 0
    for index in bars:
        if whole and stand.bars[index].occurrence > 1:
            continue
        bar = stand.bars[index]
        for number, chord in enumerate(bar.chords):
            item = of_place.get((index, number))
            if item is not None:
                at = Fraction(bar.meter.ticks(chord.beat), bar.meter.pulse_ticks)
                placed.append((item, pulse + at))
        meters.append(bar.meter)
        pulse += bar.meter.pulses
    return TimedRound(tuple(placed), tuple(meters))
