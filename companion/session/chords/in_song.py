"""A song's own chords in root position: which there are, and in which order they come."""

from __future__ import annotations

from dataclasses import dataclass

from companion.hands.left.model import Shell
from companion.hands.root_position import CloseChord, close_chord
from companion.session.changes import ChordIndex
from companion.session.stand import Stand


@dataclass(frozen=True, slots=True)
class SongChord:
    """close: in close position. shell: that the stand plays on it, None where it plays none, with its fingers. places: where the symbol comes in the loop; a chord
    that is struck again without another between counts once."""

    close: CloseChord
    shell: Shell | None
    places: tuple[ChordIndex, ...]
    shell_fingers: str = ""

    @property
    def symbol(self) -> str:
        """As the chart has it."""
        return self.close.chord.symbol


def chords_in_order(
    stand: Stand, hand: str = "left", inversion: int = 0, *, repeats: bool = False
) -> tuple[SongChord, ...]:
    """The chords of the loop as they come, each with its one place. repeats: sections of the whole form each time they come, else once."""
    found: list[SongChord] = []
    whole = not repeats and stand.loop == tuple(range(len(stand.bars)))
    for index in stand.loop:
        if whole and stand.bars[index].occurrence > 1:
            continue
        for number, (placed, choice) in enumerate(stand.choices_at(index)):
            if placed.chord is None or (found and found[-1].symbol == placed.symbol):
                continue
            close = close_chord(placed.chord, hand, inversion, stand.hand.limits)
            found.append(SongChord(close, choice.shell, ((index, number),), choice.fingers))
    return tuple(found)


def chords_of(stand: Stand, hand: str = "left", inversion: int = 0) -> tuple[SongChord, ...]:
    """Every chord of the loop once, in the order in which they first come, with all its places."""
    places: dict[str, list[ChordIndex]] = {}
    first: dict[str, SongChord] = {}
    for each in chords_in_order(stand, hand, inversion, repeats=True):
        first.setdefault(each.symbol, each)
        places.setdefault(each.symbol, []).extend(each.places)
    return tuple(
        SongChord(each.close, each.shell, tuple(places[symbol]), each.shell_fingers) for symbol, each in first.items()
    )
