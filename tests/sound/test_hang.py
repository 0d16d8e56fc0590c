"""A sound process that hangs, which is not to die: noticed, said, replaced; and the app waits for nothing meanwhile."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import time
from functools import partialmethod

import pytest
from terminal import REPOSITORY

from companion.sound.child import LEAVE_S, Child
from companion.sound.link import SoundLink
from companion.sound.messages import (
    Alive,
    BeatReport,
    Configure,
    Finished,
    Load,
    Notice,
    Ping,
    Play,
    Ready,
    SetTempo,
    SetVolume,
    SoundConfig,
    Stop,
)
from companion.sound.outbox import Outbox
from companion.sound.watchdog import PATIENCE_S, TURN_S, Watchdog
from companion.tui.notices import FAULT

SILENT = SoundConfig(mode="silent")
unix = pytest.mark.skipif(sys.platform == "win32", reason="signals of Unix")


@pytest.fixture
def stop():
    """Stops a process, and lets it go on at the end where it is still there."""
    stopped: list[int] = []

    def stop(pid: int) -> None:
        os.kill(pid, signal.SIGSTOP)
        stopped.append(pid)

    yield stop
    for pid in stopped:
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, signal.SIGCONT)


# --- what waits to be sent


def all_of(outbox: Outbox) -> list[object]:
    return [outbox.take() for _ in range(len(outbox._waiting))]


@pytest.mark.parametrize(
    ("sent", "gone"),
    [
        ([SetTempo(80), SetTempo(90), SetTempo(100)], [SetTempo(100)]),
        ([SetTempo(80), SetVolume("bass", 0.1), SetTempo(90)], [SetVolume("bass", 0.1), SetTempo(90)]),
        ([SetVolume("bass", 0.1), SetVolume("click", 0.2)], [SetVolume("bass", 0.1), SetVolume("click", 0.2)]),
        ([SetVolume("bass", 0.1), SetVolume("bass", 0.2)], [SetVolume("bass", 0.2)]),
        ([Load("a"), Load("b"), Play(80)], [Load("b"), Play(80)]),
        # A Play begins with what was loaded before it, and what comes after it is for that Play.
        ([Load("a"), Play(80), Load("b")], [Load("a"), Play(80), Load("b")]),
        ([SetTempo(90), Play(80), SetTempo(100)], [SetTempo(90), Play(80), SetTempo(100)]),
        ([Play(80), Stop(), Play(80), Stop()], [Play(80), Stop(), Play(80), Stop()]),
        ([Ping(), Ping(), Configure(SILENT), Ping()], [Configure(SILENT), Ping()]),
    ],
)
def test_a_newer_message_replaces_an_older_one_that_has_not_gone(sent, gone):
    outbox = Outbox()
    for message in sent:
        outbox.put(message)
    assert all_of(outbox) == gone


def test_a_closed_outbox_takes_nothing_and_gives_nothing():
    outbox = Outbox()
    outbox.put(Stop())
    outbox.close()
    outbox.put(Stop())
    assert outbox.take() is None and outbox.flush(0)


# --- what is a hang


def turns_until_hung(dog: Watchdog) -> int:
    return next(turn for turn in range(1, 1000) if dog.turn())


def test_silence_for_so_many_of_our_own_turns_is_a_hang_and_any_report_ends_it():
    dog = Watchdog()
    dog.heard(Alive())
    turns = turns_until_hung(dog)
    assert turns * TURN_S == PATIENCE_S and PATIENCE_S + 2 * TURN_S <= 2.0
    for _ in range(100):
        dog.heard(Finished(1.0))
        assert not any(dog.turn() for _ in range(turns - 1))


@pytest.mark.parametrize(("at", "longer"), [("start", True), ("audio", True), ("jack", False), ("alsa", False)])
def test_what_takes_its_time_is_given_it(at, longer):
    dog = Watchdog()
    dog.heard(Alive(at))
    assert (turns_until_hung(dog) * TURN_S > PATIENCE_S) == longer


# --- the real process


def playing(link: SoundLink, reports, loop) -> None:
    reports.wait_for(Ready)
    link.send(Load(loop))
    link.send(Play(240))
    reports.wait_for(BeatReport)


@unix
def test_sending_to_a_stopped_process_never_waits(make_loop, read, stop, monkeypatch):
    """A pipe holds some 200 kB; 2,000 of these arrangements are far more, and none replaces another. Nobody ends what is stopped, so who
    waited for it would wait for ever."""
    with SoundLink(SILENT) as link:
        playing(link, read(link), make_loop(*range(12)))
        monkeypatch.setattr(Watchdog, "turn", lambda self: False)
        stop(link.pid)
        for _ in range(2000):
            link.send(Load(make_loop(*range(12))))
            link.send(Play(240))
        assert link.alive


@unix
def test_a_stopped_process_is_said_and_replaced_with_what_was_loaded(tmp_path, make_loop, read, stop):
    log = tmp_path / "deep" / "sound-faults.txt"
    with SoundLink(SILENT, str(log)) as link:
        reports = read(link)
        playing(link, reports, make_loop(0))
        stopped = link.pid
        stop(stopped)
        notice = reports.wait_for(Notice)  # how soon: the watchdog's turns, above
        assert notice == Notice("error", "The sound did not answer and was started again; see sound-faults.txt.")
        reports.wait_for(Finished)
        reports.wait_for(Ready)
        assert link.pid != stopped
        with pytest.raises(ProcessLookupError):
            os.kill(stopped, 0)
        link.send(Play(240))
        reports.wait_for(BeatReport)
    assert "did not answer" in log.read_text()


@unix
def test_a_process_that_is_stopped_is_ended_within_a_second(make_loop, read, stop, monkeypatch):
    link = SoundLink(SILENT)
    link.start()
    reports = read(link)
    playing(link, reports, make_loop(0))
    stop(link.pid)
    for _ in range(50):
        link.send(Load(make_loop(*range(12))))
    waits_s, leave = [], Child.leave
    monkeypatch.setattr(Child, "leave", lambda child, seconds=LEAVE_S: (waits_s.append(seconds), leave(child, seconds)))
    link.close()
    assert sum(waits_s) <= LEAVE_S < 1.0
    reports.wait_until(lambda: not link.alive)


@unix
def test_a_pause_of_the_whole_machine_is_no_hang(tmp_path, make_loop):
    """Both stopped for longer than any patience, as under a closed lid."""
    import subprocess
    import textwrap

    program = tmp_path / "app.py"
    program.write_text(
        textwrap.dedent("""
        import os, time
        from companion.sound.link import SoundLink
        from companion.sound.messages import Notice, Ready, SoundConfig
        if __name__ == "__main__":
            with SoundLink(SoundConfig(mode="silent")) as link:
                seen = []
                while not any(isinstance(report, Ready) for report in seen):
                    seen += link.poll()
                    time.sleep(0.01)
                pid = link.pid
                print(pid, flush=True)
                input()
                time.sleep(2.5)
                seen += link.poll()
                print(link.pid == pid, [report for report in seen if isinstance(report, Notice)], flush=True)
    """)
    )
    app = subprocess.Popen(
        [sys.executable, program],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(REPOSITORY)},
    )
    child = int(app.stdout.readline())
    for pid in (child, app.pid):
        os.kill(pid, signal.SIGSTOP)
    time.sleep(2 * PATIENCE_S)
    for pid in (app.pid, child):
        os.kill(pid, signal.SIGCONT)
    said, _ = app.communicate("go on\n", timeout=120)
    assert said == "True []\n"


@unix
def test_nothing_plays_on_without_the_app(make_loop, read, monkeypatch):
    """The app is stopped and says nothing any more: the music ends by itself, within some seconds."""
    with SoundLink(SILENT) as link:
        reports = read(link)
        playing(link, reports, make_loop(0))
        pid = link.pid
        monkeypatch.setattr(link._child, "send", lambda message: None)
        monkeypatch.setattr(Watchdog, "turn", lambda self: False)
        reports.wait_for(Finished)
        assert link.pid == pid
        monkeypatch.undo()


@pytest.mark.parametrize("hung_at", [None, "", "jack", "audio", "core", "windows"])
@pytest.mark.parametrize("keeps_failing", [False, True])
def test_what_is_said_fits_the_smallest_screen(hung_at, keeps_failing) -> None:
    """80 columns, of which the list of songs leaves two on each side, and the sign before a fault: nothing of the file's name is cut off."""
    sentence = SoundLink(SoundConfig(), "/home/student/sound-faults.txt")._sentence(hung_at, keeps_failing)
    assert len(FAULT + sentence) <= 80 - 4 and sentence.endswith("see sound-faults.txt.")


# --- leaving


@unix
def test_one_that_hangs_is_waited_for_from_when_it_was_told_to_leave(read, stop, monkeypatch):
    """What goes by until the app has given the terminal back counts too."""
    waited = []
    monkeypatch.setattr(Child, "leave", partialmethod(lambda child, seconds=LEAVE_S: waited.append(seconds)))
    link = SoundLink(SILENT)
    link.start()
    read(link).wait_for(Ready)
    stop(link.pid)
    link.dismiss()
    time.sleep(LEAVE_S / 2)
    link.close()
    os.kill(link.pid, signal.SIGKILL)
    assert len(waited) == 1 and waited[0] <= LEAVE_S / 2


def test_told_to_leave_it_leaves_for_good(read):
    with SoundLink(SILENT) as link:
        reports = read(link)
        reports.wait_for(Ready)
        pid = link.pid
        link.dismiss()
        reports.wait_until(lambda: not link.alive)
        assert link.pid == pid
        assert not [report for report in link.poll() if isinstance(report, Notice)]
