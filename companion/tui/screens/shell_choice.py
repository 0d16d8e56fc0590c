"""Why a shell was chosen, and choosing another: the student's own is kept for the song, and can be taken back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from companion.arranging.choice import KINDS
from companion.base.text import plural
from companion.errors import CompanionError
from companion.hands.left.model import Bill, Choice, Shell
from companion.hands.left.options import pin_of
from companion.hands.left.reason import respelled
from companion.session.conductor import Conductor
from companion.session.own_shells import OwnShells
from companion.session.taking_back import ChangeStand
from companion.store.own_melody import OCTAVE, SHELLS, save_room
from companion.store.pins import save_rest
from companion.tui.draw.view import View
from companion.tui.draw.words import signs
from companion.tui.screens.bar_ornaments import COMPANY, BarOrnaments
from companion.tui.screens.pick import Item

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion


_REST, _ROOM = "rest", "room"
_ROOM_WORDS = {
    None: "other shells until the left hand knows them, then the octave",
    SHELLS: "other shells for the left hand",
    OCTAVE: "the melody an octave up, for the whole song",
}
_REST_WORDS = {
    "never": "nowhere: the line goes on through them",
    "endings": "where a phrase ends",
    "always": "wherever they come",
}


def shell_line(shell: Shell) -> str:
    """ "root-seventh   B♭2 A3"."""
    return f"{shell.kind:<13} {' '.join(signs(name) for name in shell.names)}"


def why_text(choice: Choice, others: Sequence[tuple[Shell, int]]) -> str:
    """The reason, the fingers, what it costs and the next-best shell, as the student reads it. others: what may be pinned there, with
    what the chorus would then cost more."""
    shell, chord = choice.shell, choice.slot.chord
    if shell is None or chord is None:
        return "No chord is played here: rest."
    lines = [f"{shell_line(shell)}   fingers {choice.fingers}", _sentence(signs(choice.why))]
    if choice.repeat:
        lines.append(f"This phrase is played {choice.repeat}.")
    if choice.slot.pin:
        lines.append(f"It is pinned: {signs(choice.slot.pin.asked)}.")
    if true := respelled(shell, chord):
        lines.append(f"{signs(true)}.")
    lines += [
        "",
        f"Both notes together move {plural(choice.movement, 'semitone')} to get here.{_bill_words(choice.bill)}",
    ]
    rest = [(extra, other) for other, extra in others if other.midi != shell.midi and other in choice.options]
    if rest:
        extra, other = min(rest, key=lambda each: each[0])
        lines.append(f"Next best: {shell_line(other)}   {cost_words(extra)}.")
    return "\n".join(lines)


def cost_words(extra: int) -> str:
    """What a shell costs more than the present one: "costs 3 more in a chorus"."""
    if extra == 0:
        return "costs the same in a chorus"
    return f"costs {abs(extra)} {'more' if extra > 0 else 'less'} in a chorus"


def _bill_words(bill: Bill) -> str:
    """What a shell costs beyond its semitones, "" where it costs nothing more."""
    due = [
        f"{points} {why}"
        for points, why in (
            (bill.guide_line, "because third and seventh do not take turns"),
            (bill.same_keys, "because no key tells that the chord changed"),
            (bill.low_leap, "because the lower note leaps where the bass walks"),
        )
        if points
    ]
    return f" That costs {bill.total}, of which {' and '.join(due)}." if due else ""


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:] + "." * (not words.endswith("."))


def _offer(shell: Shell, extra: int, played: Shell) -> str:
    return f"{shell_line(shell):<22} {'as it is' if shell == played else cost_words(extra)}"


class ShellChoice:
    """change: puts a changed stand in place."""

    def __init__(self, companion: Companion, conductor: Conductor, change: ChangeStand) -> None:
        self._companion, self._conductor, self._change = companion, conductor, change
        self._besides = BarOrnaments(companion, conductor, change)
        self._own = OwnShells(companion.paths, conductor, change, companion.say, companion.complain)

    def why(self, view: View) -> None:
        """Open the reasons for the shell of now."""
        placed, choice = view.now
        others = view.stand.shells_to_pin(view.here, view.chord_no)
        self._companion.open("read", f"Why this shell for {signs(placed.symbol)}?", why_text(choice, others))

    def choose(self, view: View) -> None:
        """Offer every shell for the chord that is shown large, at every place; each is heard as one goes through them."""
        index, number = view.here, view.chord_no
        placed, choice = view.now
        shells = view.stand.shells_to_pin(index, number)
        if choice.shell is None or not shells:
            self._companion.say("No chord is played here, so there is no shell to choose.")
            return
        items = [Item(_offer(shell, extra, choice.shell), shell) for shell, extra in shells]
        if view.stand.place_of(index, number) in view.stand.own_pins:
            items.append(Item("let the companion choose", None))
        if view.stand.room_by or (view.stand.room and view.stand.room.made_by):
            items.append(Item("where the melody comes close in this song ...", _ROOM))
        if view.stand.may_rest:
            items.append(Item("rest on root and fifth in this song ...", _REST))
        items += self._besides.items(index)
        start = next((n for n, (shell, _) in enumerate(shells) if shell == choice.shell), 0)

        def marked(value: Shell | str | None) -> None:
            if isinstance(value, Shell):
                self._conductor.playback.sample(value.midi)

        def taken(item: Item | None) -> None:
            if item is None:
                return
            if item.value == _REST:
                self._choose_rest()
            elif item.value == _ROOM:
                self._choose_room()
            elif item.value == COMPANY:
                self._besides.choose_company(index)
            elif item.value in KINDS:
                self._besides.choose(index, item.value)
            elif (
                item.value is None or item.value != choice.shell or choice.slot.pin is None
            ):  # else it is asked for already
                self._pin(index, number, item.value)

        title = f"Which shell for {signs(placed.symbol)}?"
        self._companion.open("pick", title, items, start, marked, taken=taken)

    def _choose_rest(self) -> None:
        """Where the sixth chords and major triads of the song rest on root and fifth."""

        def taken(item: Item | None) -> None:
            if item is None or not self._change(lambda stand: stand.with_rest(item.value)):
                return
            usual = self._companion.settings.hand.rest_on_fifth
            try:
                song_id = self._conductor.stand.original.id
                save_rest(self._companion.paths, song_id, item.value if item.value != usual else None)
            except (CompanionError, OSError) as error:
                self._companion.complain(str(error))
            else:
                self._companion.say(f"Root and fifth in this song: {_REST_WORDS[item.value]}.")

        title = "Where do sixth chords and major triads rest on root and fifth?"
        start = list(_REST_WORDS).index(self._conductor.stand.hand.rest_on_fifth)
        items = [Item(words, rest) for rest, words in _REST_WORDS.items()]
        self._companion.open("pick", title, items, start, taken=taken)

    def _choose_room(self) -> None:
        """What gives way where the melody comes closer than three semitones to a shell."""

        def taken(item: Item | None) -> None:
            if item is None or not self._change(lambda stand: stand.with_room_by(item.value)):
                return
            try:
                save_room(self._companion.paths, self._conductor.stand.original.id, item.value)
            except (CompanionError, OSError) as error:
                self._companion.complain(str(error))

        title = "What gives way where melody and shells come close?"
        start = list(_ROOM_WORDS).index(self._conductor.stand.room_by)
        items = [Item(words, room) for room, words in _ROOM_WORDS.items()]
        self._companion.open("pick", title, items, start, taken=taken)

    def _pin(self, index: int, number: int, shell: Shell | None) -> None:
        pin = pin_of(shell) if shell else None
        if self._own.pin(index, number, pin) and pin:
            self._companion.say(f"Pinned: {signs(pin.asked)}. It is kept for this song; u takes it back.")

    def take_back(self, tempo: Callable[[float], None]) -> None:
        """The last change on the stand. tempo: sets it, or says why it cannot be."""
        self._own.take_back(tempo)
