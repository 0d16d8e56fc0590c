"""A pause of Textual's pilot that lasts until all is done: exactly, and no longer.

Textual's own waits until the process works little: by a clock, so that on a busy machine it may be over too soon, and on any other it waits
on when nothing more comes. Here it is asked of asyncio itself whether anything is left to be done.
"""

from __future__ import annotations

import asyncio
import threading
import time
from weakref import WeakSet

import pytest
from textual._context import active_app
from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet
from textual.pilot import Pilot
from textual.screen import Screen

PATIENCE_S = 120.0  # a machine busy with other things takes ten times as long as a quiet one
LOOK_S = 0.002


def at_work() -> bool:
    """Whether something is done in a thread (`in_background`) that the app will be told of."""
    return any(thread.name.startswith("companion: ") for thread in threading.enumerate())


async def nothing_is_left(*_: float, threads: bool = False) -> None:
    """Until no callback waits for its turn and no timer is due; threads: and none works for the app."""
    loop = asyncio.get_running_loop()
    end_s = time.perf_counter() + PATIENCE_S
    while time.perf_counter() < end_s:
        working = threads and at_work()  # asked first: what a thread leaves to be done is there before it ends
        await asyncio.sleep(0)
        if loop._ready or any(timer.when() <= loop.time() for timer in loop._scheduled[:1]):
            continue
        if not working:
            return
        await asyncio.sleep(LOOK_S)


async def all_is_drawn(*_: float, threads: bool = False) -> None:
    """The same, and what is to be drawn anew is drawn, which Textual does sixty times a second."""
    await nothing_is_left(threads=threads)
    app = active_app.get()
    while app._screen_stack and not app._batch_count and _is_to_be_drawn(screen := app.screen):
        screen._on_timer_update()
        await nothing_is_left(threads=threads)


_ASKS = (
    "_layout_required",
    "_scroll_required",
    "_repaint_required",
    "_recompose_required",
    "_dirty_widgets",
    "_callbacks",
)


def _is_to_be_drawn(screen: Screen) -> bool:
    return screen.is_current and any(getattr(screen, name, False) for name in _ASKS)


_read_rules = Stylesheet._parse_rules
_READ: dict[tuple[object, ...], list[RuleSet]] = {}


def rules_read_once(sheet: Stylesheet, css: str, **about: object) -> list[RuleSet]:
    """What Textual reads of a style sheet is the same for each app in the same colours, and nobody changes it."""
    key = (css, *about.items(), *sheet._variables.items())
    if key not in _READ:
        _READ[key] = _read_rules(sheet, css, **about)
    return _READ[key]


@pytest.fixture(autouse=True)
def exact_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    """For every test of the module or folder that imports it. Each state in which the pilot stands still is painted; what changes again
    before that is not, as on a slow terminal."""
    unpainted: WeakSet[Screen] = WeakSet()
    paint = Screen._compositor_refresh

    def later(screen: Screen) -> None:
        if screen is screen.app.screen and not screen.app.is_inline:
            unpainted.add(screen)
            screen._dirty_widgets.clear()  # what they cover is noted by then
        else:
            paint(screen)

    async def stand_still(threads: bool) -> None:
        await all_is_drawn(threads=threads)
        for screen in list(unpainted):
            paint(screen)
        unpainted.clear()

    async def pause(pilot: Pilot, delay: float | None = None) -> None:
        await asyncio.sleep(delay or 0)
        await stand_still(threads=True)

    async def press(pilot: Pilot, *keys: str) -> None:
        await pilot.app._press_keys(keys)
        await stand_still(threads=True)

    monkeypatch.setattr("companion.tui.notices.NOTICE_S", PATIENCE_S)  # no sentence is gone before it was read
    monkeypatch.setattr(Screen, "_compositor_refresh", later)
    monkeypatch.setattr(Stylesheet, "_parse_rules", rules_read_once)
    monkeypatch.setattr("textual.app.wait_for_idle", all_is_drawn)
    monkeypatch.setattr("textual.pilot.wait_for_idle", all_is_drawn)
    monkeypatch.setattr(Pilot, "pause", pause)
    monkeypatch.setattr(Pilot, "press", press)
