"""How the melody is played: straight, or in one of three versions that swing, any bar otherwise. The choice is kept for the song."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from companion.errors import CompanionError
from companion.groove.swung_choice import STRAIGHT, VERSIONS, BarVersion, SwungChoice
from companion.session.conductor import Conductor
from companion.session.stand import Stand
from companion.session.swung_sheet import changed_words, check_can_swing, sheet_text, version_words
from companion.store.own_swing import save_swing
from companion.tui.screens.pick import Item

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion

_BAR, _OTHERS, _RATIO, _BEHIND, _WRITTEN = "bar", "others", "ratio", "behind", "written"
# What the key goes through: by the tempo, then from even eighths to what the slowest cymbal plays (groove/swing.py).
RATIOS = (None, 1.0, 1.2, 1.4, 1.6, 1.8, 2.0, 2.5, 3.0, 3.5)


def _ratio_words(ratio: float | None) -> str:
    how = "by the tempo" if ratio is None else "even" if ratio == 1 else f"{ratio:g} to 1"
    return f"eighths: {how}   ← more even, → less"


class SwingChoice:
    """draw: shows what a call to the conductor came to. change: puts a changed stand in place; False where it cannot be. here: index in the chorus of the bar that is shown large."""

    def __init__(
        self,
        companion: Companion,
        conductor: Conductor,
        draw: Callable[..., None],
        change: Callable[[Callable[[Stand], Stand]], bool],
        here: Callable[[], int],
    ) -> None:
        self._companion, self._conductor, self._change, self._here = companion, conductor, change, here
        self._draw = draw
        self._heard: set[tuple[str, BarVersion]] = set()  # versions that were put up to be heard first

    def choose(self) -> None:
        """Open the list."""
        stand = self._conductor.stand
        try:
            check_can_swing(stand.original)
        except CompanionError as error:
            self._companion.say(str(error))
            return
        choice = stand.swung
        versions: list[int | None] = [None, *VERSIONS]
        items = [Item(self._version_line(stand, version), version) for version in versions]
        items.append(Item("three other versions", _OTHERS))
        items.append(Item(f"bar {self._bar_words(stand)} in another way ...", _BAR))
        if stand.song.feel != STRAIGHT:
            items.append(Item(_ratio_words(stand.swing_ratio), _RATIO))
            items.append(Item(f"a little behind the beat: {'yes' if stand.laid_back else 'no'}", _BEHIND))
        items.append(Item("see it written under the straight one", _WRITTEN))
        start = versions.index(choice.whole.version if choice.whole else None)
        words = {item.value: item.words for item in items}

        def changed(value: object, step: int) -> str:
            return self._other_ratio(step) if value == _RATIO else words[value]

        self._companion.open("pick", "How is the melody played?", items, start, None, changed, taken=self._taken)

    def _other_ratio(self, step: int) -> str:
        """The next more even or less even swing of all that plays."""
        now = self._conductor.stand.swing_ratio
        place = RATIOS.index(now) if now in RATIOS else 0
        ratio = RATIOS[max(0, min(len(RATIOS) - 1, place + step))]
        self._change(lambda stand: stand.change(swing_ratio=ratio))
        return _ratio_words(ratio)

    def _version_line(self, stand: Stand, version: int | None) -> str:
        choice = stand.swung.with_version(version)
        name = version_words(choice.whole)
        return f"{name:<12} {changed_words(stand.original, choice)}"

    def _bar_words(self, stand: Stand) -> str:
        bar = stand.bars[self._here()]
        return f"{bar.bar} of {bar.section}"

    def _taken(self, item: Item | None) -> None:
        if item is None or item.value == _RATIO:
            return
        choice = self._conductor.stand.swung
        if item.value == _BAR:
            self._choose_for_bar()
        elif item.value == _OTHERS:
            self._put(choice.with_seed(choice.seed + 1))
            self.choose()
        elif item.value == _BEHIND:
            self._lie_back()
        elif item.value == _WRITTEN:
            self.show()
        else:
            self._put(choice.with_version(item.value))

    def _lie_back(self) -> None:
        """Let the melody be heard behind the beat, or on it again."""
        if self._change(lambda stand: stand.change(laid_back=not stand.laid_back)):
            is_back = self._conductor.stand.laid_back
            behind = "a little behind the beat, but on it where you play it yourself"
            self._companion.say(f"The melody is heard {behind if is_back else 'on the beat'}.")

    def _choose_for_bar(self) -> None:
        """The bar that is shown large, whatever is chosen for the whole."""
        stand = self._conductor.stand
        bar, choice = stand.bars[self._here()], stand.swung
        place = bar.section, bar.bar
        choices = [choice.with_bar(*place, version) for version in (None, *VERSIONS)]
        items = [Item(version_words(each.bars[place]), each) for each in choices]
        items.append(Item("as the whole song", choice.without_bar(*place)))
        start = next((n for n, item in enumerate(items) if item.value == choice), len(items) - 1)

        def taken(item: Item | None) -> None:
            if item is not None:
                self._put(item.value)

        self._companion.open("pick", f"How is bar {self._bar_words(stand)} played?", items, start, taken=taken)

    def show(self) -> None:
        """The melody written out, the straight one above the one that is played."""
        stand = self._conductor.stand

        def text(width: int, height: int) -> str:
            return sheet_text(stand.song, stand.swung, width)

        self._companion.open("read", "The melody as it is written and as it is played", text, high=True)

    def _put(self, choice: SwungChoice) -> None:
        if not self._change(lambda stand: stand.with_swung(choice)):
            return
        stand = self._conductor.stand
        try:
            save_swing(self._companion.paths, stand.original.id, choice)
        except CompanionError as error:
            self._companion.complain(str(error))
            return
        name = version_words(choice.whole)
        said = f"The melody: {name}, {changed_words(stand.original, choice)}. Kept for this song."
        if self._is_new_layer(stand):
            self._draw(self._conductor.practise("listen"), summary=(), peeked=None)
            said = f"The melody: {name}. First hear it once: Space starts."
        self._companion.say(said)

    def _is_new_layer(self, stand: Stand) -> bool:
        """Whether the right hand is to play a version that it has not met yet: that begins with its goal, heard once."""
        whole = stand.swung.whole
        if self._conductor.playing or stand.hands == "left" or whole is None:
            return False
        here = stand.original.id, whole
        is_new = here not in self._heard
        self._heard.add(here)
        return is_new
