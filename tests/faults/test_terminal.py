"""The app asked to leave, put to sleep, and its terminal taken away or made another size, always while a pass is played."""

from __future__ import annotations

import contextlib
import random
import re
import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from terminal import Terminal, environment
from whole_app import PASS_S, WholeApp, wait_until
from witness import Witness

from companion.sound.watchdog import PATIENCE_S, TURN_S

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")
SIZES_SEED = 41


@pytest.fixture
def long_run(deep: bool) -> None:
    """A second look at what another test looks at too."""
    if not deep:
        pytest.skip("only with --deep")


@pytest.fixture
def app(tmp_path: Path) -> Iterator[WholeApp]:
    """With a pass behind it, in the middle of another."""
    with WholeApp(tmp_path) as app:
        app.wait_for("stopped")
        app.press(" ")
        app.wait_for_passes(1)
        time.sleep(PASS_S / 3)
        yield app


def check_all(app: WholeApp, stopped: int = 0) -> None:
    """Nothing sounds, nothing is lost but what a key stopped, and the terminal is as it was."""
    wait_until(lambda: not app.has_sound(), "end of the sound process")
    app.check_silence()
    app.check_log(stopped)
    app.check_terminal()


def leave_typing(app: WholeApp, key: str) -> None:
    """Typed while it leaves: it has given the terminal back then, and is to end in order, not to sleep half closed nor to end on the spot."""
    app.leave()
    wait_until(lambda: app.press(key) or app.has_left(), "end of the app")
    assert app.code() == 0 and not app.exceptions()


# Exit codes: 128 and the signal's number, common practice of shells. SIGINT: test_sound_gone.py, while the sound hangs.
@pytest.mark.parametrize("number", [signal.SIGTERM, pytest.param(signal.SIGINT, marks=pytest.mark.deep)])
def test_a_signal_to_leave_is_obeyed_in_order(app, number):
    app.signal(number)
    assert app.code() == 128 + number
    check_all(app)


def test_a_hangup_is_obeyed_while_the_terminal_is_still_there(long_run, app):
    app.signal(signal.SIGHUP)
    assert app.code() == 128 + signal.SIGHUP
    check_all(app)


def test_a_page_that_is_open_holds_nobody_up(long_run, app):
    app.press("\x1bOP")
    app.wait_for("Help")
    app.signal(signal.SIGTERM)
    assert app.code() == 128 + signal.SIGTERM
    check_all(app)


def test_several_signals_at_once_are_one(long_run, app):
    """A machine that is switched off sends SIGTERM, and its terminals close at the same time."""
    for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGHUP, signal.SIGCONT):
        app.signal(number)
    assert app.code() in (128 + signal.SIGTERM, 128 + signal.SIGHUP)
    check_all(app)


def test_a_closed_terminal_ends_the_app(app):
    app.close_terminal()
    assert app.code() == 128 + signal.SIGHUP
    wait_until(lambda: not app.has_sound(), "end of the sound process")
    app.check_silence()
    app.check_log()


def test_the_app_alone_is_suspended(app):
    app.signal(signal.SIGSTOP)
    time.sleep(1.5 * PASS_S)
    app.signal(signal.SIGCONT)
    app.wait_for_passes(4)
    app.leave()
    assert app.code() == 0
    check_all(app)


@pytest.mark.parametrize("seconds", [1.2, 3.0])  # above SLIP_S of the player, below PATIENCE_S of the watchdog
def test_the_sound_is_suspended_shorter_than_a_hang_or_with_the_app(app, seconds):
    """The pass in which time stood still is marked as broken, and play goes on with the next, in the same process."""
    with_app, sound = seconds > 2, app.sound_pid()
    began_s = time.perf_counter()
    app.signal(signal.SIGSTOP, app=with_app, sound=True)
    time.sleep(seconds)
    app.signal(signal.SIGCONT, app=with_app, sound=True)
    if not with_app and time.perf_counter() - began_s > PATIENCE_S - TURN_S / 2:
        pytest.skip("the machine stood still, so it was suspended for as long as a hang")
    app.wait_for("does not count")
    before = len(app.passes())
    app.wait_for_passes(before + 1)
    assert len(app.broken()) == 1 and app.sound_pid() == sound
    app.leave()
    assert app.code() == 0
    check_all(app)


def test_put_to_sleep_by_a_shell_and_woken(app):
    """SIGTSTP, which Ctrl+Z sends: the music stops, the terminal is the shell's, and afterwards the app's again."""
    app.signal(signal.SIGTSTP)
    wait_until(lambda: b"\x1b[?1049l" in app.drawn, "terminal given back")
    wait_until(app.sleeps, "sleep")
    asleep = app.drawn.rindex(b"\x1b[?1049l")
    assert b"\x1b[?1049h" not in app.drawn[asleep:]
    app.signal(signal.SIGCONT)
    wait_until(lambda: b"\x1b[?1049h" in app.drawn[asleep:], "terminal taken again")
    app.wait_for("stopped")
    done = len(app.passes())
    app.press(" ")
    app.wait_for_passes(done + 1)
    leave_typing(app, "\x1a")
    check_all(app)


def test_asked_to_leave_while_asleep(long_run, app):
    app.signal(signal.SIGTSTP)
    wait_until(lambda: b"\x1b[?1049l" in app.drawn, "terminal given back")
    app.signal(signal.SIGTERM)
    app.signal(signal.SIGCONT)
    assert app.code() == 128 + signal.SIGTERM
    check_all(app)


def test_ctrl_z_typed_while_the_app_comes_up(tmp_path):
    """Before the terminal is the app's, whoever types it is not heard; then it is a key like any other."""
    with WholeApp(tmp_path, early="\x1a") as app:
        # Typed at the last moment it is heard, perhaps not before the app has drawn something.
        wait_until(lambda: "stopped" in app.screen() or (app.sleeps() and app.signal(signal.SIGCONT)), "first screen")
        app.press(" ")
        app.wait_for_passes(1)
        leave_typing(app, "\x03")
        check_all(app)


@pytest.mark.parametrize("after_s", [0.02, 0.05, 0.1, 0.15, 0.2])
def test_ctrl_c_typed_while_the_app_comes_up(tmp_path, after_s, deep):
    """It ends at once and in order, the sound process with it, or it is up already and the key is one like any other. What Python
    itself does before, from its start to the command's import, is not ours."""
    if not deep and after_s in (0.02, 0.1):
        pytest.skip("only with --deep: two moments more")
    env = environment(tmp_path)
    command = tmp_path / "companion"
    command.write_text(command.read_text().replace("if __name__", "print('begun', flush=True)\nif __name__", 1))
    with Terminal([str(command)], env) as terminal:
        terminal.wait_for(b"begun")
        time.sleep(after_s)
        terminal.press(b"\x03")
        with contextlib.suppress(RuntimeError):  # it has ended
            terminal.wait_for(rb"\x1b\[\?1049h")
        assert b"Traceback" not in terminal.drawn and b"Error" not in terminal.drawn, terminal.drawn.decode()


def test_five_hundred_sizes_while_playing(app):
    chance = random.Random(SIZES_SEED)
    sizes = [(1, 1), (300, 100), (1, 100), (300, 1), (2, 2)]
    sizes += [(chance.randint(1, 300), chance.randint(1, 100)) for _ in range(495)]
    with Witness() as witness:
        for number, (columns, rows) in enumerate(sizes):
            app.resize(columns, rows)
            time.sleep(0.005)
            if number % 50 == 49:
                app.press("f" if number % 100 == 49 else "s")
        app.forget()
        app.resize(80, 24)
        app.press("S")
        app.wait_for("tempo 295")
        done = len(app.passes())
        app.wait_for_passes(done + 1)
    app.leave()
    assert app.code() == 0
    most_s = 2.5 * 60 / 295 + 4 * witness.worst_s  # where the machine itself stood still, clicks are late
    assert app.longest_gap_s() < most_s, "a click is left out where it would come too late; none may be missing"
    check_all(app)


# What may reach a terminal that is none of the app's keys: a letter of a Latin-1 terminal, a mouse report of the old kind beyond
# column 95, a sign that Unicode has not, a sequence without an end, a size that nobody has, a paste without an end.
UNHEARD = (
    b"\xe9",
    b"\xff",
    b"\xc3 ",
    b"\x1b[M \xe9\xe9",
    b"\x1b[1114112u",
    b"\x1b[" + b"7" * 5000,
    b"\x1b[48;99999;99999;0;0t",
    b"\x1b[200~Dm7",
)


def tempo(app: WholeApp) -> int:
    return int(re.search(r"tempo +(\d+)", app.screen()).group(1))


def test_input_that_cannot_be_is_dropped(app):
    """The keys after it are heard while the music plays on. The blank after a cut letter is a key, and so is its undoing."""
    for data in UNHEARD:
        before = tempo(app)
        app.press(data + b" " if data.endswith(b" ") else data)
        time.sleep(1.2 if b"200~" in data else 0.3)

        def heard(before: int = before) -> bool:
            """A key that came before the app had given up what was sent belongs to that."""
            app.press("s")
            with contextlib.suppress(AssertionError):
                wait_until(lambda: tempo(app) < before, "change of tempo", 2.0)
            return tempo(app) < before

        wait_until(heard, f"key heard after {data[:20]!r}")
    app.press(" ")
    app.wait_for("stopped")
    take_a_size_beyond_measure(app)
    app.press("q")
    assert app.code() == 0 and not app.exceptions()
    check_all(app, stopped=sum(data.endswith(b" ") for data in UNHEARD))


def take_a_size_beyond_measure(app: WholeApp) -> None:
    before, drawn = tempo(app), len(app.drawn)
    app.resize(60_000, 60_000)
    time.sleep(0.5)
    app.resize(80, 24)
    app.press("s")
    wait_until(lambda: b"%d (target 300)" % (before - 1) in app.drawn[drawn:], "another tempo")


def test_a_paste_full_of_escapes(app):
    """Is taken at once: the key after it is heard in less than the time that reading it sign by sign would take."""
    app.press(" ")
    app.wait_for("stopped")
    app.press("\x1b\x1b[12~")  # escape: to the songs, where a line is typed; and a key that means nothing
    app.wait_for("Which song?")
    before_s = app.worked_s()
    app.press(b"\x1b[200~" + b"\x1b[A|\x1b" * 7_000 + b"\x1b[201~")
    app.press("\x1b[27u\x1b[27u")
    app.wait_for("stopped")
    assert app.worked_s() - before_s < 2.0, "processor time, which other work on the machine does not lengthen"
