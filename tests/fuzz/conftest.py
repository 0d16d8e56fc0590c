"""The long runs of this folder may take as long as they need."""

from __future__ import annotations

from pathlib import Path

import pytest

DEEP_TIMEOUT_S = 4 * 3600


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--deep"):
        for item in items:
            if Path(__file__).parent in item.path.parents:
                item.add_marker(pytest.mark.timeout(DEEP_TIMEOUT_S))


@pytest.fixture
def tell(capsys: pytest.CaptureFixture[str], deep: bool):
    """Print the tally of a long run at once, for it takes hours until pytest would."""

    def print_tally(tally: object) -> None:
        if deep:
            with capsys.disabled():
                print(f"\n{tally}", flush=True)

    return print_tally
