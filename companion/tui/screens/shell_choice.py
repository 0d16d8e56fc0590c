"""Why a shell was chosen, and choosing another: the student's own is kept for the song, and can be taken back."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

from companion.base.text import plural
from companion.errors import CompanionError
from companion.hands.left.model import Choice, Shell
from companion.session.conductor import Conductor
from companion.session.stand import Stand
from companion.store.pins import save_pins
from companion.tui.draw.view import View
from companion.tui.draw.words import signs
from companion.tui.screens.pick import Item

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion


class ChangeStand(Protocol):
    """Puts a changed stand in place; False where it cannot be, which is said."""

    def __call__(self, make: Callable[[Stand], Stand], *, load: bool = True) -> bool:
        """Put what `make` makes of the stand in its place; returns whether that could be. load: whether the sound changes too."""


def shell_line(shell: Shell) -> str:
    """ "root-seventh   B♭2 A3"."""
    return f"{shell.kind:<13} {' '.join(signs(name) for name in shell.names)}"


def why_text(choice: Choice) -> str:
    """The reason, the fingers and the next-best shell, as the student reads it."""
    if choice.shell is None:
        return "No chord is played here: rest."
    lines = [f"{shell_line(choice.shell)}   fingers {choice.fingers}", _sentence(choice.why)]
    if choice.slot.pin:
        lines.append("It is pinned.")
    lines.append(f"Both notes together move {plural(choice.movement, 'semitone')} to get here.")
    if choice.alternative is not None:
        extra = choice.alternative.extra
        more = f"{plural(extra, 'semitone')} more in a chorus" if extra else "no further in a chorus"
        lines.append(f"Next best: {shell_line(choice.alternative.shell)}   {more}.")
    return "\n".join(lines)


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:] + "." * (not words.endswith("."))


def kinds_to_choose(choice: Choice) -> list[Shell]:
    """One shell of each kind that is legal, the one nearest to the present shell."""
    middle = sum(choice.shell.midi) if choice.shell else 0
    nearest: dict[str, Shell] = {}
    for shell in sorted(choice.options, key=lambda shell: (abs(sum(shell.midi) - middle), shell.midi)):
        nearest.setdefault(shell.kind, shell)
    return sorted(nearest.values(), key=lambda shell: (shell.midi, shell.kind))


class ShellChoice:
    """change: puts a changed stand in place."""

    def __init__(self, companion: Companion, conductor: Conductor, change: ChangeStand) -> None:
        self._companion, self._conductor, self._change = companion, conductor, change

    def why(self, view: View) -> None:
        """Open the reasons for the shell of now."""
        placed, choice = view.now
        self._companion.open("read", f"Why this shell for {signs(placed.symbol)}?", why_text(choice))

    def choose(self, view: View) -> None:
        """Offer the kinds of shell for the chord that is shown large; each is heard as one goes through them."""
        index, number = view.here, view.chord_no
        placed, choice = view.now
        shells = kinds_to_choose(choice)
        if choice.shell is None or not shells:
            self._companion.say("No chord is played here, so there is no shell to choose.")
            return
        items = [Item(shell_line(shell), shell) for shell in shells]
        if view.stand.place_of(index, number) in view.stand.own_pins:
            items.append(Item("let the companion choose", None))
        start = next((n for n, shell in enumerate(shells) if shell.kind == choice.shell.kind), 0)

        def marked(shell: Shell | None) -> None:
            if shell is not None:
                self._conductor.playback.sample(shell.midi)

        def taken(item: Item | None) -> None:
            if item is not None:
                self._pin(index, number, item.value.kind if item.value else None)

        title = f"Which shell for {signs(placed.symbol)}?"
        self._companion.open("pick", title, items, start, marked, taken=taken)

    def _pin(self, index: int, number: int, kind: str | None) -> None:
        before = self._conductor.stand.own_pins
        if not self._change(lambda stand: stand.with_pin(index, number, kind)):
            return
        if self._conductor.stand.own_pins != before:
            self._conductor.pins_before.append(before)
            if self._save() and kind:
                self._companion.say(f"Pinned: {kind}. It is kept for this song; u takes it back.")

    def _save(self) -> bool:
        stand = self._conductor.stand
        try:
            save_pins(self._companion.paths, stand.original.id, stand.own_pins)
        except (CompanionError, OSError) as error:
            self._companion.complain(str(error))
            return False
        return True

    def take_back(self) -> None:
        """The pins as they were before the last choice."""
        before = self._conductor.pins_before
        if not before:
            self._companion.say("There is no choice of a shell to take back.")
            return
        pins = before.pop()
        if self._change(lambda stand: stand.with_pins(pins)):
            self._save()
            self._companion.say("Taken back.")
