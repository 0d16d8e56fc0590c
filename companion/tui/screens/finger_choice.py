"""The melody of a bar note by note, and fingers of the student's own for it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from companion.base.text import figure
from companion.practice.drills.fading import Cue
from companion.session.conductor import Conductor
from companion.session.own_fingers import FingeredNote, OwnFingers, fingered_bar
from companion.session.taking_back import ChangeStand
from companion.tui.draw.words import signs
from companion.tui.screens.pick import Item

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion

NO_NOTE = "No note of the melody begins in this bar."
HIDDEN = "That is hidden now. h shows the bar for a moment."


def note_line(each: FingeredNote) -> str:
    """ "beat 2½   F♯5   ♭7 of G7     finger 3, yours"."""
    note = each.note
    beat = f"{'before, ' if each.place[1] == 0 else ''}beat {figure(note.beat)}"
    of = f"{signs(note.degree)} of {signs(note.chord.symbol)}" if note.degree and note.chord else ""
    own = ", yours" if each.is_own else ""
    return f"{beat:<16} {signs(str(note.note.pitch)):<5} {of:<16} finger {note.finger}{own}"


class FingerChoice:
    """change: puts a changed stand in place. here: index in the chorus of the bar that is shown large."""

    def __init__(
        self, companion: Companion, conductor: Conductor, change: ChangeStand, here: Callable[[], int]
    ) -> None:
        self._companion, self._conductor, self._here = companion, conductor, here
        self._own = OwnFingers(companion.paths, conductor, change, companion.complain)

    def choose(self) -> None:
        """Open the list of the bar that is shown large: a digit pins its finger to the marked note, the same again lets it go."""
        index, state = self._here(), self._conductor.state
        if state.drill is not None and state.drill.cue(index) < Cue.NAMES:
            self._companion.say(HIDDEN)
            return
        notes = fingered_bar(self._conductor.stand, index)
        if not notes:
            self._companion.say(NO_NOTE)
            return

        def pinned(place: tuple[str, int, int], digit: str) -> list[str]:
            self._own.pin(place, int(digit))
            return [note_line(each) for each in fingered_bar(self._conductor.stand, index)]

        bar = self._conductor.stand.bars[index]
        title = f"{bar.section} bar {bar.bar}: 1 to 5 keeps your finger, the same again lets it go"
        items = [Item(note_line(each), each.place) for each in notes]
        self._companion.open("pick", title, items, 0, on_sign=pinned, signs="12345")
