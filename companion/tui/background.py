"""Work that takes a while, in a thread of its own: what comes of it is told to the app, and so is every failure."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any, TypeVar

from textual.app import App

from companion.errors import CompanionError

T = TypeVar("T")


def in_background(
    app: App[Any],
    what: str,
    work: Callable[[], T],
    then: Callable[[T], object],
    failed: Callable[[str], object],
) -> None:
    """what: such as "Listing the songs", for the sentence about a failure that nobody foresaw. then, failed: called on the app's thread
    with what work gave, or a sentence. The thread holds nobody up who leaves: it is let go then (Textual's own workers are waited for)."""

    def run() -> None:
        try:
            result = work()
        except Exception as error:  # foreseen or not: said, never swallowed
            app.call_later(failed, failure_words(what, error))
        else:
            app.call_later(then, result)

    threading.Thread(target=run, name=f"companion: {what}", daemon=True).start()


def failure_words(what: str, error: Exception) -> str:
    """An error's own sentence where it has one for the student; else what was done, and what happened."""
    foreseen = isinstance(error, CompanionError | OSError)
    return str(error) if foreseen else f"{what} failed: {type(error).__name__}: {error}"
