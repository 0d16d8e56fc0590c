"""One line to be typed, laid over the top of the screen: a title, a key, a path. A wrong one says why and stays."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.suggester import Suggester
from textual.widgets import Input, Static

from companion.base.text import shown
from companion.tui.screens.app_screen import AppScreen, bindings
from companion.tui.widgets.foot import Foot
from companion.tui.widgets.text_line import TextLine

_MOST_NAMES = 2000  # looked at in a folder
_NAMES_SHOWN = 8


class AskScreen(AppScreen, ModalScreen[str]):
    """Dismissed with the text, or None. hint: what is expected. check: why a text cannot be taken, "" where it can.
    endings: for a path; folders, and files with one of these, are completed and shown. None for a text that is no path."""

    place = "ask"
    BINDINGS = bindings("ask")
    AUTO_FOCUS = "#ask-line"

    def __init__(
        self,
        title: str,
        text: str = "",
        hint: str = "",
        check: Callable[[str], str] = lambda text: "",
        endings: tuple[str, ...] | None = None,
    ) -> None:
        super().__init__()
        self._title, self._text, self._hint, self._check, self._endings = title, text, hint, check, endings

    def compose(self) -> ComposeResult:
        """A line to type in, and a hint under it."""
        with Vertical(id="ask") as box:
            box.border_title = Content(shown(self._title))
            suggester = _PathSuggester(self._endings) if self._endings is not None else None
            yield TextLine(self._text, id="ask-line", suggester=suggester, select_on_focus=False)
            yield Static(shown(self._hint), id="ask-hint", markup=False)
        yield Foot(self.keymap, "ask", id="page-foot")

    @property
    def line(self) -> Input:
        """Where it is typed."""
        return self.query_one("#ask-line", Input)

    def _say(self, words: str) -> None:
        self.query_one("#ask-hint", Static).update(shown(words))

    def on_input_changed(self, event: Input.Changed) -> None:
        """The hint again, or the names of files that begin so."""
        if self._endings is None:
            self._say(self._hint)
            return
        names = complete(event.value, self._endings)
        more = f"   and {len(names) - _NAMES_SHOWN} more" if len(names) > _NAMES_SHOWN else ""
        shown = "   ".join(
            os.path.basename(name.rstrip("/")) + "/" * name.endswith("/") for name in names[:_NAMES_SHOWN]
        )
        self._say(shown + more or self._hint)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """As Enter."""
        self.action_take()

    def on_key(self, event: events.Key) -> None:
        """Tab completes a path, as at a prompt."""
        if event.key != "tab" or self._endings is None:
            return
        event.stop()
        event.prevent_default()
        names = complete(self.line.value, self._endings)
        common = os.path.commonprefix(names)  # noqa: RUF071 - letters, not folders, are what was typed
        if len(common) > len(self.line.value):
            self.line.value = common
            self.line.cursor_position = len(common)

    def action_take(self) -> None:
        """Hand over what was typed, or say what is wrong with it."""
        text = self.line.value.strip()
        if why := self._check(text):
            self._say(f"! {why}")
        else:
            self.dismiss(text)

    def action_close(self) -> None:
        """Go back with nothing."""
        self.dismiss(None)


class _PathSuggester(Suggester):
    """Shows the rest of the first path that fits; the right arrow takes it."""

    def __init__(self, endings: tuple[str, ...]) -> None:
        super().__init__(use_cache=False, case_sensitive=True)
        self._endings = endings

    async def get_suggestion(self, value: str) -> str | None:
        return next(iter(complete(value, self._endings)), None) if value else None


def complete(text: str, endings: tuple[str, ...]) -> list[str]:
    """The paths that go on from what was typed: folders with a slash behind, and files of these endings. Folders and names that
    begin with a dot only where one was typed. A folder that cannot be read has none."""
    folder, start = os.path.split(text)
    found = []
    try:
        with os.scandir(Path(os.path.expanduser(folder)) if folder else Path()) as entries:
            for _, entry in zip(range(_MOST_NAMES), entries):
                if not entry.name.startswith(start) or (entry.name.startswith(".") and not start.startswith(".")):
                    continue
                path = os.path.join(folder, entry.name)
                if entry.is_dir():
                    found.append(path + "/")
                elif entry.name.lower().endswith(endings):
                    found.append(path)
    except (OSError, ValueError, RuntimeError):  # RuntimeError: no home folder
        return []
    return sorted(found)
