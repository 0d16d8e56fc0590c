"""A short list to choose from, laid over the top of the stand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import OptionList

from companion.base.text import shown
from companion.tui.screens.app_screen import AppScreen, bindings
from companion.tui.widgets.foot import Foot
from companion.tui.widgets.option_list import ChangingList


class Item(NamedTuple):
    """words: the line on screen; value: what taking it gives; key: a letter that takes it at once, "" for none."""

    words: str
    value: Any
    key: str = ""


def _first_sign(words: str) -> str:
    """The first letter or digit, of ".pdf" a "p"."""
    return next((sign.casefold() for sign in words if sign.isalnum()), "")


class PickScreen(AppScreen, ModalScreen[Any]):
    """Dismissed with the Item taken, or None. on_mark: told the value of each line the student goes to.
    on_change: told (value, -1 or +1) for the keys less and more; gives the line's new words, or those of every line.
    on_sign: told (value, sign) for a letter or digit out of signs; gives the new words of every line. title: a function where that changes
    it too."""

    place = "pick"
    BINDINGS = bindings("pick")

    def __init__(
        self,
        title: str | Callable[[], str],
        items: Sequence[tuple[Any, ...]],
        start: int = 0,
        on_mark: Callable[[Any], None] | None = None,
        on_change: Callable[[Any, int], str | Sequence[str]] | None = None,
        on_sign: Callable[[Any, str], Sequence[str]] | None = None,
        signs: str = "",
    ) -> None:
        super().__init__()
        self._title, self._items, self._start = title, [Item(*item) for item in items], start
        self._on_mark, self._on_change, self._on_sign, self._signs = on_mark, on_change, on_sign, signs

    def compose(self) -> ComposeResult:
        """The rows, and the keys under them."""
        with Vertical(id="pick") as box:
            box.border_title = self._heading
            options = ChangingList(*(Content(shown(item.words)) for item in self._items), id="pick-list")
            options.can_focus = False
            yield options
        yield Foot(self.keymap, "pick", id="page-foot")

    def on_mount(self) -> None:
        """Mark the row that holds now."""
        if not self.is_left:
            self._list.highlighted = self._start

    @property
    def _heading(self) -> Content:
        return Content(shown(self._title if isinstance(self._title, str) else self._title()))

    @property
    def _list(self) -> OptionList:
        return self.query_one("#pick-list", OptionList)

    @property
    def _marked(self) -> Item:
        return self._items[self._list.highlighted or 0]

    def on_key(self, event: events.Key) -> None:
        """A letter takes the line that has it; in a list without such it goes to the next line that begins with it."""
        for item in self._items:
            if item.key and event.character == item.key and not self.is_left:
                event.stop()
                self.dismiss(item)
                return
        sign = event.character or ""
        if self._on_sign is not None and sign and sign in self._signs and not self.is_left:
            event.stop()
            for number, words in enumerate(self._on_sign(self._marked.value, sign)):
                self._list.replace_option_prompt_at_index(number, Content(shown(words)))
            self.query_one("#pick", Vertical).border_title = self._heading
        elif (index := self._next_with(sign, event.key)) is not None and not self.is_left:
            event.stop()
            self._list.highlighted = index
            self._tell()

    def _next_with(self, sign: str, key: str) -> int | None:
        """The next row whose words begin with a letter or digit; None where there is none, or a key or sign means something else."""
        is_bound = any(key in self.keymap.keys(action, "pick") for action in self.keymap.actions("pick"))
        if (
            not self.is_mounted
            or not sign.isalnum()
            or is_bound
            or sign in self._signs
            or any(item.key for item in self._items)
        ):
            return None
        here, count = self._list.highlighted or 0, len(self._items)
        ways = ((here + step) % count for step in range(1, count + 1))
        return next((index for index in ways if _first_sign(self._items[index].words) == sign.casefold()), None)

    def action_pick_up(self) -> None:
        """Mark the row above."""
        self._list.action_cursor_up()
        self._tell()

    def action_pick_down(self) -> None:
        """Mark the row below."""
        self._list.action_cursor_down()
        self._tell()

    def _tell(self) -> None:
        if self._on_mark is not None:
            self._on_mark(self._marked.value)

    def action_less(self) -> None:
        """Make the marked value smaller, where the list has values."""
        self._change(-1)

    def action_more(self) -> None:
        """Make the marked value larger, where the list has values."""
        self._change(1)

    def _change(self, step: int) -> None:
        if self._on_change is not None:
            words = self._on_change(self._marked.value, step)
            first = self._list.highlighted or 0
            rows = [(first, words)] if isinstance(words, str) else enumerate(words)
            for number, row in rows:
                self._list.replace_option_prompt_at_index(number, Content(shown(row)))
        elif step < 0:
            self.action_pick_up()
        else:
            self.action_pick_down()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """A click of the mouse."""
        self.dismiss(self._items[event.option_index])

    def action_take(self) -> None:
        """Go back with the marked row."""
        self.dismiss(self._marked)

    def action_close(self) -> None:
        """Go back with nothing."""
        self.dismiss(None)
