"""Lines of chords as the solver takes them."""

from __future__ import annotations

from companion.hands.left.model import Part, Shell, Slot
from companion.theory.shell_kinds import Pin
from companion.theory.symbols import parse_chord


def slots_of(line: str, **pins: str) -> list[Slot]:
    """ "Dm7 G7 N.C. C6" as slots without places. pins: by number, such as _2="root-fifth" for the second chord."""
    return [
        Slot(
            None if symbol == "N.C." else parse_chord(symbol),
            pin=Pin.parse(pins[f"_{number}"]) if f"_{number}" in pins else None,
        )
        for number, symbol in enumerate(line.split(), 1)
    ]


def bars_of(text: str) -> list[Slot]:
    """ "Dm7 G7 | Cmaj7 | ..." as slots with their bars."""
    return [
        Slot(None if symbol == "N.C." else parse_chord(symbol), bar=number)
        for number, bar in enumerate(text.split("|"))
        for symbol in bar.split()
    ]


def sounded(part: Part) -> list[Shell]:
    """The shells of the chords that sound."""
    return [choice.shell for choice in part.choices if choice.shell is not None]


def tops(part: Part) -> str:
    """The upper notes without their octaves: "F F E"."""
    return " ".join(shell.upper.tone.name for shell in sounded(part))


def kinds(part: Part) -> str:
    """ "third seventh third"."""
    return " ".join(shell.top for shell in sounded(part))
