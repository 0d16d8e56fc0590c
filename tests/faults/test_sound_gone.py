"""The sound process is killed, or hangs, while a pass is played."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from terminal import REPOSITORY
from whole_app import PASS_S, WholeApp, wait_until

from companion.sound.link import RESTARTS

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")


def into_a_pass(app: WholeApp) -> None:
    app.wait_for("stopped")
    app.press(" ")
    app.wait_for_passes(1)
    time.sleep(PASS_S / 3)


def plays_on(app: WholeApp) -> None:
    passes = len(app.passes())
    app.press(" ")
    app.wait_for_passes(passes + 1)
    app.press(" ")
    app.wait_for("stopped")


def test_killed_it_comes_again_until_it_was_killed_too_often(tmp_path: Path):
    """Once: said, started again, the pass marked as broken, and practising goes on. Again and again: it stays off and says so."""
    with WholeApp(tmp_path) as app:
        into_a_pass(app)
        whole, sound = app.passes(), app.sound_pid()
        os.kill(sound, signal.SIGKILL)
        app.wait_for("The sound stopped and was started again; see sound-faults.txt.")
        app.wait_for("Cut off: this pass does not count.")
        assert app.passes()[: len(whole)] == whole
        assert [record.clean for record in app.broken()] == [False]
        app.sound_pid(other_than=sound)
        assert "ended with -9" in app.paths.sound_faults.read_text()
        plays_on(app)
        for _ in range(RESTARTS):
            os.kill(sound := app.sound_pid(other_than=sound), signal.SIGKILL)
            time.sleep(0.3)
        app.wait_for("The sound keeps stopping and stays off now")
        wait_until(lambda: not app.has_sound(), "end of the sound process")
        app.press("  ")
        app.wait_for("The sound stays off. Leave with F10 and start again.")
        played = app.passes()
        app.press("q")
        assert app.code() == 0
        app.check_terminal()
        assert app.passes() == played


def test_stopped_it_is_replaced_and_play_goes_on(tmp_path: Path):
    """SIGSTOP: it neither dies nor reads. Said (how soon: `tests/sound/test_hang.py`), the pass marked as broken, play goes on."""
    with WholeApp(tmp_path) as app:
        into_a_pass(app)
        whole, sound = app.passes(), app.sound_pid()
        os.kill(sound, signal.SIGSTOP)
        app.wait_for("The sound did not answer and was started again; see sound-faults.txt.")
        app.wait_for("Cut off: this pass does not count.")
        assert app.passes()[: len(whole)] == whole and [record.clean for record in app.broken()] == [False]
        app.sound_pid(other_than=sound)
        wait_until(lambda: not os.path.exists(f"/proc/{sound}"), "end of the process that was stopped")
        plays_on(app)
        app.press("q")
        assert app.code() == 0
        app.check_terminal()


@pytest.mark.parametrize(
    "how",
    [
        pytest.param("\x1b[21~", id="F10"),
        pytest.param(signal.SIGINT, id="SIGINT"),
        pytest.param(signal.SIGTERM, id="SIGTERM", marks=pytest.mark.deep),  # by the same way as SIGINT
    ],
)
def test_while_it_hangs_the_app_leaves_and_gives_the_terminal_back(tmp_path: Path, how: str | signal.Signals):
    with WholeApp(tmp_path) as app:
        into_a_pass(app)
        sound = app.sound_pid()
        os.kill(sound, signal.SIGSTOP)
        app.press("f" * 100)  # each tells it something: far more than a pipe holds, were all of it written
        app.wait_for("tempo 400")
        if isinstance(how, str):
            app.press(how)
        else:
            app.signal(how)
        assert app.code() == (0 if isinstance(how, str) else 128 + how)
        app.check_terminal()
        assert not os.path.exists(f"/proc/{sound}")


@pytest.mark.parametrize(
    ("how", "said"),
    [(signal.SIGKILL, "stopped and was started again"), (signal.SIGSTOP, "did not answer")],
    ids=["killed", "stopped"],
)
def test_play_without_the_app_ends_with_a_sentence_and_a_code(tmp_path: Path, how: signal.Signals, said: str):
    program = tmp_path / "start.py"
    program.write_text(
        "import sys\nfrom companion.cli.main import main\nif __name__ == '__main__':\n    sys.exit(main())\n"
    )
    play = subprocess.Popen(
        [sys.executable, program, "play", "--chords", "Dm7 G7 | Cmaj7 A7", "--sound", "silent"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(REPOSITORY), "COMPANION_HOME": str(tmp_path / "home")},
    )
    while "chorus 1" not in play.stdout.readline():
        assert play.poll() is None
    children = Path(f"/proc/{play.pid}/task/{play.pid}/children").read_text().split()
    sound = next(pid for pid in children if b"spawn_main" in Path(f"/proc/{pid}/cmdline").read_bytes())
    os.kill(int(sound), how)
    _, errors = play.communicate(timeout=120)
    assert play.returncode not in (0, 1) and said in errors and "sound-faults.txt" in errors
