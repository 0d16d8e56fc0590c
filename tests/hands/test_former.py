"""The shells of before. former_shells.txt was written by the companion of then, with its own solver: for every song of then, how sixth
chords were set, and a mark of its shells in the keys C to B. `fifth` was the default. A song whose chords change loses its rows."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest

from companion.chart.model import Song
from companion.chart.reader import read_chart
from companion.chart.transpose import transpose
from companion.hands.hand import Hand
from companion.hands.left.former import former_pins, former_shells
from companion.hands.left.model import Shell, Slot
from companion.practice.slots import slots_of
from companion.theory.key import Key
from companion.theory.pitch import Pitch
from companion.theory.shell_kinds import Pin
from companion.theory.symbols import parse_chord

HERE = Path(__file__).parent
ROWS = [line.split() for line in (HERE / "former_shells.txt").read_text(encoding="utf-8").splitlines()]
PINS = {("A", 1, 1): Pin("root-fifth")}
WIDE = Hand(lowest_root=38, highest_root=52, highest_top=62, reach=16)


def mark(shells: list[Shell | None]) -> str:
    text = " ".join("-" if shell is None else f"{shell.kind}:{shell.midi[0]}:{shell.midi[1]}" for shell in shells)
    return hashlib.sha256(text.encode()).hexdigest()[:8]


def in_key(song: Song, pc: int) -> Song:
    return transpose(song, song.key if pc == song.key.tonic.pc else Key.usual(pc, song.key.mode))


# A song in nine as most are set, each that was set in another way; all by `--deep`.
GRID = [
    pytest.param(row, marks=[pytest.mark.deep] * (row[1] in ("fifth", "sixths") and at % 9 > 0))
    for at, row in enumerate(ROWS)
]


@pytest.mark.parametrize("row", GRID, ids=lambda row: " ".join(row[:2]))
def test_every_song_in_every_key_has_the_shells_of_then(row: list[str]) -> None:
    name, way, *marks = row
    song = replace(read_chart(HERE.parents[1] / "songs" / f"{name}.toml"), pins=PINS if way == "pinned" else {})
    hand = WIDE if way == "tenths" else Hand()
    songs = [in_key(song, pc) for pc in range(12)]
    assert [
        mark(former_shells(slots_of(song, song.unroll()), hand, way in ("sixths", "pinned"))) for song in songs
    ] == marks


def slots(line: str) -> list[Slot]:
    return [Slot(parse_chord(symbol), place) for place, symbol in enumerate(line.split())]


def test_a_pin_of_today_is_none_of_then() -> None:
    """Places and reasons came later, so the shells of then do not know them."""
    chords = slots("Dm7 G7 C6 A7")
    younger = [replace(chords[0], pin=Pin("root-seventh", Pitch.parse("D3"))), *chords[1:]]
    assert former_shells(younger, Hand()) == former_shells(chords, Hand())
    older = [replace(chords[0], pin=Pin("root-seventh")), *chords[1:]]
    assert former_shells(older, Hand())[0].kind == "root-seventh" != former_shells(chords, Hand())[0].kind


def test_they_become_pins_with_their_place_and_a_reason() -> None:
    pins = former_pins(slots("Dm7 G7 C6 A7"), Hand(), "as I learned it")
    assert [str(pin) for pin in pins.values()] == [
        "root-third D3: as I learned it",
        "root-seventh G2: as I learned it",
        "root-fifth C3: as I learned it",
        "root-seventh A2: as I learned it",
    ]


def test_what_may_no_longer_be_played_is_no_pin() -> None:
    """A tritone below A2: legal then, muddy today. Nor is a song of which a chord had no shell at all."""
    chords = slots("E(b5)")
    [then] = former_shells(chords, Hand(highest_root=50))
    assert then.interval == 6 and then.lower.midi < 45
    assert former_pins(chords, Hand(highest_root=50), "") == {}
    assert former_shells(slots("C E"), Hand(lowest_root=40, highest_root=41, highest_top=44)) == [None, None]
    assert former_shells([Slot(None)], Hand()) == [None] and former_shells([], Hand()) == []
