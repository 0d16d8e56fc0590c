"""The whole tune, made and changed: a line for each thing there is to choose, heard from the next bar on, kept for the song."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from companion.session.arranged_text import text_from
from companion.session.conductor import Conductor
from companion.session.stand import Stand
from companion.session.taking_back import ChangeStand
from companion.session.tune_choices import TuneLine, all_at_once, chosen_words, melody_alone, tune_lines
from companion.tui.actions import BY_ID
from companion.tui.draw.words import hanging, signs
from companion.tui.screens.pick import Item

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion

NO_MELODY = "This song has no melody, so there is nothing to arrange: F7 in the list of songs writes one."
_TITLE = "The whole tune: ← → changes a line"
# value -> the letter that takes it, and its words.
_COMMANDS = {
    "all": ("a", "all at once: a first arrangement, for both hands"),
    "alone": ("m", "back to the melody alone"),
    "bars": ("b", "see it bar by bar, with the reasons"),
    "print": ("p", "print it"),
    "perform": ("g", "perform it"),
}


class TuneChoice:
    """draw, change: as in StandLists. here: index in the chorus of the bar that is shown large. obey: does what an action says, by its method."""

    def __init__(
        self,
        companion: Companion,
        conductor: Conductor,
        draw: Callable[..., None],
        change: ChangeStand,
        here: Callable[[], int],
        obey: Callable[[str], None],
    ) -> None:
        self._companion, self._conductor = companion, conductor
        self._draw, self._change, self._here, self._obey = draw, change, here, obey

    def choose(self, start: str = "all") -> None:
        """Open the list. start: the line that is marked."""
        stand = self._conductor.stand
        if not stand.has_melody:
            self._companion.say(NO_MELODY)
            return
        lines = tune_lines(stand)
        by_name = {line.name: line for line in lines}
        items = [
            *(Item(f"{letter}  {words}", name, letter) for name, (letter, words) in _COMMANDS.items()),
            *(Item(line.words(stand), line.name) for line in lines),
        ]

        def changed(name: str, step: int) -> list[str]:
            if name in by_name:
                self._step(by_name[name], step)
            now = self._conductor.stand
            return [by_name[item.value].words(now) if item.value in by_name else item.words for item in items]

        names = [item.value for item in items]
        self._companion.open("pick", _TITLE, items, names.index(start), None, changed, taken=self._taken)

    def _step(self, line: TuneLine, step: int) -> None:
        stand = self._conductor.stand
        if line.change(stand, step) is not stand:
            self._change(lambda now: line.change(now, step))

    def _taken(self, item: Item | None) -> None:
        if item is None or item.value not in _COMMANDS:
            if item is not None:
                self._companion.say(f"{chosen_words(self._conductor.stand)} Kept for this song; u takes it back.")
            return
        if item.value == "all":
            self._make(all_at_once)
        elif item.value == "alone":
            if self._change(melody_alone):
                self._companion.say("The melody alone again. Kept for this song; u takes it back.")
        elif item.value == "bars":
            self.show()
        elif item.value == "print":
            self._obey("export('sheet')")
        else:
            self._obey("list('perform')")

    def _make(self, make: Callable[[Stand], Stand]) -> None:
        """A first arrangement, put up to be heard before it is played; the list comes again, as it may be changed or printed."""
        was_playing = self._conductor.playing
        if not self._change(make):
            return
        said = f"{chosen_words(self._conductor.stand)} Kept for this song; u takes it back."
        if not was_playing:
            self._draw(self._conductor.practise("listen"), summary=(), peeked=None)
            key = self._companion.keymap.key_list(BY_ID["start-stop"], "stand")
            said = f"{chosen_words(self._conductor.stand)} First hear it once: {key} starts."
        self._companion.say(said)
        self.choose("print")

    def show(self) -> None:
        """Both hands bar by bar, from the bar that is shown large on."""
        stand, here = self._conductor.stand, self._here()
        text = signs(text_from(stand, here))

        def lines(width: int, height: int) -> str:
            return hanging(text, width)

        bar = stand.bars[here]
        self._companion.open("read", f"The whole tune, from {bar.section} bar {bar.bar} on", lines, high=True)
