"""The stand's lists: key, loop, another shell, volumes; and the reason for a shell."""

from __future__ import annotations

from companion.errors import CompanionError
from companion.hands.left.model import Choice, Shell
from companion.session import stand_changes as moves
from companion.session.stand import Stand
from companion.sound.messages import Sample
from companion.store.pins import save_pins
from companion.tui.draw.cues import symbol_of
from companion.tui.draw.view import View
from companion.tui.draw.words import plural, signs
from companion.tui.screens.pick import Item, PickScreen
from companion.tui.screens.read import ReadScreen

_VOLUME_STEP = 0.1
_VOICE_WORDS = {"click": "click ", "bass": "bass  ", "left": "shells"}


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


def volume_words(voice: str, volume: float) -> str:
    filled = round(volume * 10)
    return f"{_VOICE_WORDS.get(voice, voice)}  {'█' * filled}{'░' * (10 - filled)}  {round(volume * 100)} %"


class StandChoices:
    """Mixed into the stand's screen."""

    view: View
    pins_before: list[dict]

    def action_key(self) -> None:
        own, keys = self.stand.original.key, moves.keys_to_choose(self.stand)
        items = [Item(signs(key.name) + ("   the song's own" if key == own else ""), key) for key in keys]
        start = next((n for n, key in enumerate(keys) if key.tonic.pc == self.stand.key.tonic.pc), 0)

        def taken(item: Item | None) -> None:
            if item is not None:
                self.change(lambda stand: stand.with_key(item.value))

        self.app.push_screen(PickScreen("Which key?", items, start), taken)

    def action_choose_loop(self) -> None:
        loops = self.stand.section_loops()
        items = [Item(f"{name}   {plural(len(bars), 'bar')}", (bars, name)) for name, bars in loops]
        names = [name for name, _ in loops]
        start = names.index(self.stand.loop_name) if self.stand.loop_name in names else 0

        def taken(item: Item | None) -> None:
            if item is not None:
                self._loop(lambda stand: stand.with_loop(*item.value))

        self.app.push_screen(PickScreen("Loop what?", items, start), taken)

    def action_volumes(self) -> None:
        volumes = self.companion.volumes
        items = [Item(volume_words(voice, volumes[voice]), voice) for voice in _VOICE_WORDS]

        def changed(voice: str, step: int) -> str:
            volume = round(min(1.0, max(0.0, volumes[voice] + step * _VOLUME_STEP)), 2)
            self.companion.set_volume(voice, volume)
            return volume_words(voice, volume)

        def closed(_: Item | None) -> None:
            self.companion.save_volumes()

        self.app.push_screen(PickScreen("How loud? ← less, more →", items, 0, None, changed), closed)

    def action_why(self) -> None:
        if self.is_hidden():
            return
        placed, choice = self.view.now
        self.app.push_screen(ReadScreen(f"Why this shell for {signs(symbol_of(placed))}?", why_text(choice)))

    def action_other_shell(self) -> None:
        if self.is_hidden():
            return
        index, number = self.view.here, self.view.chord_no
        placed, choice = self.view.now
        shells = kinds_to_choose(choice)
        if choice.shell is None or not shells:
            self.say("No chord is played here, so there is no shell to choose.")
            return
        items = [Item(shell_line(shell), shell) for shell in shells]
        if self.stand.place_of(index, number) in self.stand.own_pins:
            items.append(Item("let the companion choose", None))
        start = next((n for n, shell in enumerate(shells) if shell.kind == choice.shell.kind), 0)

        def marked(shell: Shell | None) -> None:
            if shell is not None:
                self.companion.send(Sample(shell.midi))

        def taken(item: Item | None) -> None:
            if item is not None:
                self._pin(index, number, item.value.kind if item.value else None)

        self.app.push_screen(PickScreen(f"Which shell for {signs(symbol_of(placed))}?", items, start, marked), taken)

    def _pin(self, index: int, number: int, kind: str | None) -> None:
        before = self.stand.own_pins
        if self.change(lambda stand: stand.with_pin(index, number, kind)) and self.stand.own_pins != before:
            self.pins_before.append(before)
            if self._save_pins(self.stand) and kind:
                self.say(f"Pinned: {kind}. It is kept for this song; u takes it back.")

    def _save_pins(self, stand: Stand) -> bool:
        try:
            save_pins(self.companion.paths, stand.original.id, stand.own_pins)
        except (CompanionError, OSError) as error:
            self.companion.complain(str(error))
            return False
        return True

    def action_undo(self) -> None:
        if not self.pins_before:
            self.say("There is no choice of a shell to take back.")
            return
        pins = self.pins_before.pop()
        if self.change(lambda stand: stand.with_pins(pins)):
            self._save_pins(self.stand)
            self.say("Taken back.")
