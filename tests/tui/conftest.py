"""A song folder of invented songs, a link that records what it is told, and an app on both."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest
from textual.pilot import Pilot
from tui.mill import MILL
from tui.patience import exact_pauses  # noqa: F401  a fixture for every test here

from companion.sound.messages import BeatReport, Configure, Quit, Ready, SoundConfig, Started
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import Paths, find_paths
from companion.store.settings import load_settings
from companion.tui.app import CompanionApp
from companion.tui.screens.stand import StandScreen

FERRY = """
title = "Lanterns on the Slipway"
key = "Bb"
meter = "4/4"
tempo = 126
feel = "swing"
form = "A A B A"

[section.A]
bars = \"\"\"
Bb6    | G7     | Cm7    | F7     |
Dm7 G7 | Cm7 F7 | Bb6    | Cm7 F7 |
\"\"\"

[section.B]
bars = \"\"\"
D7  | D7  | G7    | G7      |
C7  | C7  | Cm7   | F7b9    |
\"\"\"
"""

WALTZ = """
title = "A Coat for Three"
key = "F#m"
meter = "3/4"
tempo = 150
feel = "straight"
form = "A B"

[section.A]
bars = \"\"\"
F#m7 | B7 | G#m7b5 | C#7 | F#m6 | % | N.C. | C#7b9 |
\"\"\"

[section.B]
bars = \"\"\"
Bm7 | E7 | Amaj7 | Dmaj7 | G#m7b5 | C#7 | F#m6 |
\"\"\"
"""

BROKEN = """
title = "Not Finished"
key = "C"
meter = "4/4"
tempo = 100
form = "A"

[section.A]
bars = \"\"\"
C7 | Hm7 | C7 | G7 |
\"\"\"
"""


class RecordingLink:
    """Behaves like the link to a sound process that never sounds. told: what it was sent, in order. config: as it sounds now."""

    def __init__(self) -> None:
        self.told: list[object] = []
        self.config = SoundConfig()
        self._callback: Callable[[object], None] = lambda report: None

    def listen(self, callback: Callable[[object], None]) -> None:
        self._callback = callback
        callback(Ready("silent", "No sound device was found, so it plays silently.", realtime=False))

    def send(self, message: object) -> None:
        self.told.append(message)
        if isinstance(message, Configure):
            self.config = message.config

    def dismiss(self) -> None:
        self.told.append(Quit())

    def report(self, message: object) -> None:
        self._callback(message)

    def told_of(self, kind: type) -> list:
        return [message for message in self.told if isinstance(message, kind)]


def beat(index: int, pulse: int = 0, *, turn: int = 0, pulses: int = 4, due_s: float = 0.0) -> BeatReport:
    return BeatReport(due_s, turn, max(index, 0), index, pulse, pulses, 126.0)


def make_paths(home: Path, *, cautions_seen: bool = True, songs: tuple[str, ...] = (FERRY, WALTZ)) -> Paths:
    """A student's folders below `home` with the songs in their own folder and no shipped songs."""
    paths = replace(find_paths({"COMPANION_HOME": str(home)}), shipped_songs=home / "none")
    paths.songs.mkdir(parents=True)
    for text in songs:
        name = text.split('"')[1].lower().replace(" ", "-")
        (paths.songs / f"{name}.toml").write_text(text, encoding="utf-8")
    if cautions_seen:
        paths.data.mkdir(parents=True)
        paths.cautions_shown.write_text("seen\n", encoding="utf-8")
    return paths


def make_app(paths: Paths) -> tuple[CompanionApp, RecordingLink]:
    link = RecordingLink()
    return CompanionApp(paths, load_settings(paths), link), link


def drawn(app: CompanionApp, part: str) -> str:
    """What a part of the screen shows, line by line."""
    return "\n".join(app.screen.query_one(f"#{part}").rows_as_text())


def screen_text(app: CompanionApp) -> str:
    """Every character on screen, line by line."""
    return "\n".join("".join(segment.text for segment in strip) for strip in app.screen._compositor.render_strips())


async def until(pilot: Pilot, holds: Callable[[], bool], seconds: float = 60.0) -> None:
    """Wait for what another thread or process does."""
    for _ in range(int(seconds / 0.05)):
        if holds():
            return
        await asyncio.sleep(0.05)
        await pilot.pause()
    raise AssertionError(f"it did not come:\n{screen_text(pilot.app)}")


@pytest.fixture(scope="session")
def kit() -> ModuleType:
    """This module, for tests that need more than one of its functions."""
    return sys.modules[__name__]


@pytest.fixture
def log():
    return PracticeLog.in_memory()


@pytest.fixture
def mill_app(tmp_path, log):
    """An app with the mill among its songs, and its link."""
    paths = make_paths(tmp_path / "student", songs=(MILL, FERRY))
    link = RecordingLink()
    return CompanionApp(paths, load_settings(paths), link, log=log), link


async def put_ferry(pilot):
    await pilot.press(*"lant", "enter")
    await pilot.pause()
    assert isinstance(pilot.app.screen, StandScreen)


async def play(pilot, link, kit, index=0, pulse=0):
    """Start, and let the sound process report a beat."""
    await pilot.press("space")
    link.report(Started(0.0))
    link.report(kit.beat(index, pulse))
    await pilot.pause()


@pytest.fixture
def student(tmp_path):
    return make_paths(tmp_path / "student", songs=(FERRY, WALTZ, BROKEN))


@pytest.fixture
def started(student):
    """An app and its link, with the cautions already seen."""
    return make_app(student)
