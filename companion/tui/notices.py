"""How the app says something: one line for a while where it covers nothing that is played, or a page."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from textual.app import App
from textual.timer import Timer

from companion.base.text import shown

NOTICE_S = 5.0
FAULT = "! "  # before what went wrong; plain news has no sign


class Notices:
    """text: what is being said, "" for nothing. show: called whenever that changes. in_the_way: whether a page would cover something that
    is played. open_page: told the title and the text."""

    def __init__(
        self,
        app: App[Any],
        show: Callable[[], None],
        in_the_way: Callable[[], bool],
        open_page: Callable[[str, str], None],
    ) -> None:
        self.text = ""
        self._app, self._show, self._in_the_way, self._open_page = app, show, in_the_way, open_page
        self._timer: Timer | None = None
        self._waiting = ""

    def say(self, sentence: str) -> None:
        """Show one sentence for a while, or until a key changes what stands there."""
        self._waiting = ""
        self.text = shown(" ".join(sentence.split()))
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
        if self._waiting:
            self.say(self._waiting)
        else:
            self.unsay()

    def unsay(self) -> None:
        """What was said is over, or covers what a key is about to change."""
        self._waiting = ""
        if self.text:
            self.text = ""
            self._show()
