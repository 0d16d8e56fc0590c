"""Textual's list to choose from, fit for a list that changes while one points at it."""

from __future__ import annotations

from textual import events
from textual.widgets import OptionList


class ChangingList(OptionList):
    """A click may be on a line that was drawn before the list became shorter; then nothing was chosen."""

    async def _on_click(self, event: events.Click) -> None:
        number = event.style.meta.get("option")
        if number is not None and number >= self.option_count:
            event.prevent_default()
