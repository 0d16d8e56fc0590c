"""Every test gets folders of its own, so that nothing of the person's who runs them is read or written."""

from __future__ import annotations

import gc
import itertools
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import hypothesis
import pytest
from hypothesis.internal.conjecture import engine
from offline import keep_partitura_offline

# Hundreds of processes are started by the tests. As a real install they find the byte code of those before them: without it each spends
# more time on compiling the companion than on running it.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

# The same code gets the same answer on every machine and under any load: the same cases each time, and none of hypothesis' own checks of
# how long making them took. New cases are looked for with `--deep`.
UNHURRIED = {"deadline": None, "suppress_health_check": [hypothesis.HealthCheck.too_slow]}
hypothesis.settings.register_profile("suite", derandomize=True, max_examples=16, **UNHURRIED)
hypothesis.settings.register_profile("deep", max_examples=1000, **UNHURRIED)
# What fails is made smaller for so long and is then told as it is; of itself hypothesis takes five minutes, which no test has.
engine.MAX_SHRINKING_SECONDS = 15

keep_partitura_offline()
TESTS = Path(__file__).parent


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--deep", action="store_true", help="the long runs too: 100,000 inputs to every reader, 100,000 keys"
    )


def pytest_configure(config: pytest.Config) -> None:
    """Before any test is loaded: what stands at a test itself goes by this."""
    hypothesis.settings.load_profile("deep" if config.getoption("--deep") else "suite")
    leads = config.getoption("numprocesses") and not hasattr(config, "workerinput")
    if leads and not any(TESTS.glob("*/__pycache__/*-pytest-*")):
        compile_once()


def pytest_make_parametrize_id(val: object) -> str | None:
    """A test is called by the beginning of a long text: by all of a megabyte, that would go about between the workers and stand in the
    environment of each process it starts."""
    return ascii(val[:40]) if isinstance(val, str | bytes) and len(val) > 100 else None


def compile_once() -> None:
    """In a fresh checkout all workers at once would compile each file of tests, with pytest's own assertions in it: two thirds of what loading
    them takes, as often as there are workers. Here each core compiles its share, and the workers find it done."""
    files, cores = sorted(map(str, TESTS.glob("*/test_*.py"))), os.cpu_count() or 1
    shares = [files[core::cores] for core in range(cores)]
    command = [sys.executable, "-m", "pytest", "--numprocesses=0", "--collect-only", "-qq", "-p", "no:cacheprovider"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": TESTS.parent}
    for process in [subprocess.Popen([*command, *share], **quiet) for share in shares]:
        process.wait()


# Rooms whose tests are long, or wait for what goes on in real time: begun before the short ones, so that no core is left alone with one.
LONG = ("faults", "export", "fuzz", "cli", "test_readme.py", "test_rooms.py")
# Rooms whose tests mostly wait: spread evenly among the others, so that no core has nothing to do while all workers wait. What these
# tests share is a fixture of the session, not of a module: its tests do not follow each other.
WAIT = ("faults", "sound", "tui", "test_readme.py")


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """Twice as many as there are cores: many tests wait for a sound, a pass or a terminal and leave the core to others. None is held to a
    time that it keeps only by itself (`witness.py`)."""
    return 2 * (os.cpu_count() or 1)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Tests run side by side; those that listen to real sound run one after the other, or their servers would disturb each other."""
    if not config.getoption("--deep"):
        left_out = [item for item in items if item.get_closest_marker("deep")]
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if not item.get_closest_marker("deep")]
    for item in items:
        if item.get_closest_marker("rig"):
            item.add_marker(pytest.mark.xdist_group("rig"))
        elif "musicxml_schema" in item.fixturenames:  # two seconds to load: once
            item.add_marker(pytest.mark.xdist_group("music21"))
    items.sort(key=lambda item: item.path.relative_to(TESTS).parts[0] not in LONG)
    rooms = [item.path.relative_to(TESTS).parts[0] for item in items]
    how_many = Counter(room in WAIT for room in rooms)
    places = {waits: itertools.count() for waits in how_many}
    share = {id(item): next(places[room in WAIT]) / how_many[room in WAIT] for item, room in zip(items, rooms)}
    items.sort(key=lambda item: share[id(item)])


@pytest.hookimpl(trylast=True)
def pytest_collection_finish() -> None:
    """The thousands of tests are looked through no more for what could be thrown away, and what tests leave less often than after every 700
    things made, which is a twentieth of all the time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 50)


def _scheduler() -> int:
    return os.sched_getscheduler(0) if sys.platform == "linux" else 0


_BEGAN = _scheduler()


def pytest_runtest_teardown(item: pytest.Item) -> None:
    """What plays asks for real-time priority; in the process of the tests all that it starts would have it too, and starve the rest."""
    assert _scheduler() == _BEGAN, "left the tests with another priority than they began with"


@pytest.fixture(scope="session")
def deep(request: pytest.FixtureRequest) -> bool:
    """Whether the long runs are wanted (`pytest --deep`); they take hours, so a test has a short way of its own too."""
    return request.config.getoption("--deep")


@pytest.fixture(scope="session")
def homes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder for each test that makes it; most make none, so none is made for them."""
    folder = tmp_path_factory.mktemp("homes")
    return (folder / str(number) for number in itertools.count())


@pytest.fixture(autouse=True)
def companion_home(homes: Iterator[Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """The student's folders of this test; also for processes it starts."""
    home = next(homes)
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
