"""Learning what leads the music from the piano: an action is chosen, then its key, pedal, foot switch or page turner pressed once."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from companion.practice.leading import LEADS, Switch, lead_of, learn, refusal
from companion.session.leading import is_press, music_of, switch_of
from companion.tui.draw.words import signs
from companion.tui.screens.pick import Item

if TYPE_CHECKING:
    from companion.tui.screens.app_screen import AppScreen

_NOTHING = "nothing yet"


class LeadLearning:
    """screen: whose app keeps the settings. learning: the name of LEADS whose key is waited for, "" for none."""

    def __init__(self, screen: AppScreen) -> None:
        self._screen = screen
        self.learning = ""

    @property
    def _table(self) -> dict[str, tuple[Switch, ...]]:
        return self._screen.companion.settings.leading

    def _by(self, lead: str) -> str:
        return signs(", ".join(switch.words for switch in self._table[lead])) or _NOTHING

    @property
    def learned(self) -> str:
        """What leads now, in a sentence."""
        led = "; ".join(f"{self._by(lead)}: {LEADS[lead]}" for lead in LEADS if self._table[lead])
        return f"Led from the piano by {led}." if led else "Nothing on the piano leads the music yet: l."

    @property
    def asked(self) -> str:
        """What the student is to do."""
        return (
            f"▶ Press once what is to lead: {LEADS[self.learning]}. A key that your hands do not need, a pedal, a foot switch or a "
            f"page turner. Until now: {self._by(self.learning)}. x forgets that, esc leaves it."
        )

    def choose(self, then: Callable[[], None]) -> None:
        """Choose what is to be led. then: called when that was done."""
        items = [Item(f"{words:<34}{self._by(lead)}", lead) for lead, words in LEADS.items()]

        def taken(item: Item | None) -> None:
            self.learning = item.value if item is not None else ""
            then()

        self._screen.companion.open("pick", "Lead what from the piano?", items, 0, taken=taken)

    def hear(self, report: object) -> str:
        """A report of the sound process; gives what there is to say."""
        switch = switch_of(report)
        return self.take(switch) if switch is not None and is_press(report) else ""

    def take(self, switch: Switch) -> str:
        """That was pressed; gives what there is to say."""
        companion = self._screen.companion
        if why := refusal(switch, music_of(getattr(companion.conductor, "stand", None), companion.settings)):
            return signs(why)
        lead, before = self.learning, lead_of(self._table, switch)
        companion.keep_leading(learn(self._table, lead, switch))
        self.learning = ""
        no_longer = f" It no longer does: {LEADS[before]}." if before not in ("", lead) else ""
        return signs(f"Learned. {switch.words[0].upper()}{switch.words[1:]}: {LEADS[lead]}.") + no_longer

    def forget(self) -> str:
        """Nothing leads it any more; gives what there is to say."""
        lead, self.learning = self.learning, ""
        self._screen.companion.keep_leading({**self._table, lead: ()})
        return f"Forgotten: nothing on the piano leads this now: {LEADS[lead]}."
