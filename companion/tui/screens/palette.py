"""Textual's command palette, fit for keys that are typed fast."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import Any, ClassVar

from textual.binding import Binding, BindingType
from textual.command import CommandList, CommandPalette
from textual.css.query import NoMatches
from textual.events import Mount
from textual.timer import Timer
from textual.widgets import Input
from textual.worker import Worker

from companion.tui.screens.app_screen import OnTop
from companion.tui.widgets.text_line import MOST_SIGNS


class Palette(CommandPalette, OnTop):
    """Closed once only: a second click or key would close the screen below it too."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("f10", "quit", show=False, id="quit")]

    def on_mount(self, event: Mount) -> None:
        """Its line takes no more than others do. (None is there where it is being closed by then.)"""
        for line in self.query(Input):
            line.max_length = MOST_SIGNS

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """As Textual has it, without the paging keys while there is nothing to page."""
        if not super().check_action(action, parameters):
            return False
        # A page of a list that is not shown has no length.
        return action != "command_list" or any(
            commands.scrollable_content_region for commands in self.query(CommandList)
        )

    def run_worker(self, *arguments: Any, **options: Any) -> Worker[Any]:
        """The search for commands. It fails where the palette was closed meanwhile, which is no fault of the app's."""
        return super().run_worker(*arguments, **options | {"exit_on_error": False})

    def set_timer(self, delay: float, callback: Callable[[], Any] | None = None, **options: Any) -> Timer:
        """What it says after a while (that nothing was found) comes to nothing where it is being closed by then."""

        def late() -> None:
            with contextlib.suppress(NoMatches):
                if callback is not None:
                    callback()

        return super().set_timer(delay, late, **options)

    async def _watch__show_busy(self) -> None:
        """As above: the sign that it is still searching."""
        with contextlib.suppress(NoMatches):
            await super()._watch__show_busy()
