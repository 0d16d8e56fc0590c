"""How the app says something: one line for a while where it covers nothing that is played, or a page."""

from __future__ import annotations

from collections.abc import Callable
from textwrap import wrap
from typing import Any

from textual.app import App
from textual.timer import Timer

from companion.base.text import shown

NOTICE_S = 5.0
FAULT = "! "  # before what went wrong; plain news has no sign
GOES_ON = " …"
_SIDES = 4  # columns of the window's width that no line of it has


def lines_of(sentence: str, columns: int) -> list[str]:
    """A sentence in the lines that are shown of it one after the other, each but the last marked as going on."""
    sign = FAULT if sentence.startswith(FAULT) else ""
    *before, last = wrap(sentence[len(sign) :], max(20, columns - len(sign + GOES_ON)), break_on_hyphens=False) or [""]
    if before and len(before[-1]) + 1 + len(last) <= columns - len(sign):  # the mark alone took the room
        last = f"{before.pop()} {last}"
    return [*(f"{sign}{line}{GOES_ON}" for line in before), sign + last]


class Notices:
    """text: what is being said, "" for nothing. line: as much of it as stands in the one line now; the rest follows. show: called whenever that
    changes. in_the_way: whether a page would cover something that is played. open_page: told the title and the text."""

    def __init__(
        self,
        app: App[Any],
        show: Callable[[], None],
        in_the_way: Callable[[], bool],
        open_page: Callable[[str, str], None],
    ) -> None:
        self.text = self.line = ""
        self._rest: list[str] = []
        self._app, self._show, self._in_the_way, self._open_page = app, show, in_the_way, open_page
        self._timer: Timer | None = None
        self._waiting = ""

    def say(self, sentence: str) -> None:
        """Show one sentence for a while, line after line, or until a key changes what stands there."""
        self._waiting = ""
        self.text = shown(" ".join(sentence.split()))
        self._rest = lines_of(self.text, self._app.size.width - _SIDES)
        self._next_line()

    def _next_line(self) -> None:
        self.line = self._rest.pop(0)
        if self._timer is not None:
            self._timer.stop()
        self._timer = self._app.set_timer(NOTICE_S, self._is_over)
        self._show()

    def tell(self, news: str) -> None:
        """Say what went right: at once, or after what went wrong has stood for its while."""
        if self.text.startswith(FAULT):
            self._waiting = news
        else:
            self.say(news)

    def complain(self, text: str) -> None:
        """Say what went wrong: in the one line where it fits or something plays, else on a page."""
        if self._in_the_way() or ("\n" not in text and len(text) <= self._app.size.width - 4):
            self.say(FAULT + text)
        else:
            self._open_page("Please note", text)

    def _is_over(self) -> None:
        if self._rest:
            self._next_line()
        elif self._waiting:
            self.say(self._waiting)
        else:
            self.unsay()

    def unsay(self) -> None:
        """What was said is over, or covers what a key is about to change."""
        self._waiting = ""
        if self.text:
            self.text = self.line = ""
            self._rest = []
            self._show()
