"""Every test gets folders of its own, so that nothing of the person's who runs them is read or written."""

from __future__ import annotations

import os
from pathlib import Path

import hypothesis
import pytest

# CI must give the same answer for the same code; at one's desk new cases are tried every time.
hypothesis.settings.register_profile("ci", derandomize=True, deadline=None)
hypothesis.settings.register_profile("desk", deadline=None)
hypothesis.settings.load_profile("ci" if os.environ.get("CI") else "desk")

REPOSITORY = Path(__file__).parent.parent


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--deep", action="store_true", help="the long runs too: 100,000 inputs to every reader, 100,000 keys"
    )


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Tests run side by side; those that listen to real sound run one after the other, or their servers would disturb each other."""
    for item in items:
        if item.get_closest_marker("rig"):
            item.add_marker(pytest.mark.xdist_group("rig"))


@pytest.fixture(scope="session")
def deep(request: pytest.FixtureRequest) -> bool:
    """Whether the long runs are wanted (`pytest --deep`); they take hours, so a test has a short way of its own too."""
    return request.config.getoption("--deep")


@pytest.fixture(autouse=True)
def companion_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The student's folders of this test; also for processes it starts."""
    home = tmp_path / "companion-home"
    monkeypatch.setenv("COMPANION_HOME", str(home))
    return home


@pytest.fixture
def paths(companion_home: Path):
    from companion.store.paths import find_paths

    return find_paths()


@pytest.fixture
def settings(paths):
    from companion.store.settings import load_settings

    return load_settings(paths)
