"""The listening process hangs, dies or is asked whether it lives. It is stopped before it has opened any device, so none is needed."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys

import pytest
from strings_made import RATE, played
from whole_app import wait_until

from companion.sound import watchdog
from companion.sound.child import LEAVE_S, Child
from companion.sound.listening.capture import Capture
from companion.sound.listening.link import DIED, HUNG, MicrophoneLink
from companion.sound.listening.live import ListeningProcess
from companion.sound.listening.messages import Await, MicrophoneConfig, MicrophoneOff, StrokeHeard, Use
from companion.sound.listening.verdicts import RIGHT, Awaited
from companion.sound.messages import Alive, Ping
from companion.tui.notices import FAULT

unix = pytest.mark.skipif(sys.platform == "win32", reason="signals of Unix")


@pytest.fixture
def coming_up(tmp_path):
    """A link and its process, while that comes up."""
    link = MicrophoneLink(MicrophoneConfig(), log=str(tmp_path / "sound-faults.txt"))
    link.start()
    wait_until(lambda: link.pid, "process")
    yield link
    with contextlib.suppress(ProcessLookupError):
        os.kill(link.pid, signal.SIGKILL)
    link.close()


@unix
@pytest.mark.parametrize(
    ("how", "said", "kept"),
    [(signal.SIGSTOP, HUNG, "did not answer"), (signal.SIGKILL, DIED, "ended with -9")],
    ids=["hangs", "dies"],
)
def test_one_that_hangs_or_dies_is_said_and_ended_and_the_file_says_how(
    coming_up, tmp_path, monkeypatch, how, said, kept
):
    monkeypatch.setitem(watchdog._PATIENCE_S, "start", 2 * watchdog.TURN_S)
    os.kill(coming_up.pid, how)
    reports = wait_until(coming_up.poll, "report")
    assert reports == [MicrophoneOff(said)] and len(FAULT + said) <= 80 - 4, "in one line of the smallest screen"
    coming_up.close()
    with pytest.raises(ProcessLookupError):
        os.kill(coming_up.pid, 0)
    assert kept in (tmp_path / "sound-faults.txt").read_text()


@unix
def test_one_that_is_stopped_holds_nobody_up_who_leaves(coming_up, monkeypatch):
    """The wait that is on and the one for it to leave are less than a second; nothing is said of it."""
    reads_s, leaves_s, receive, leave = [], [], Child.receive, Child.leave
    monkeypatch.setattr(Child, "receive", lambda child, seconds: (reads_s.append(seconds), receive(child, seconds))[1])
    monkeypatch.setattr(
        Child, "leave", lambda child, seconds=LEAVE_S: (leaves_s.append(seconds), leave(child, seconds))
    )
    os.kill(coming_up.pid, signal.SIGSTOP)
    wait_until(lambda: reads_s, "wait for a report")
    coming_up.close(120)
    assert max(reads_s) + sum(leaves_s) < 1.0 and leaves_s
    assert coming_up.poll() == [MicrophoneOff()]


def test_it_answers_between_two_blocks():
    ours, theirs = multiprocessing.Pipe()
    process = ListeningProcess(theirs, MicrophoneConfig(), Capture())
    ours.send(Ping())
    process.turn(0.0)
    assert ours.poll() and ours.recv() == Alive("listening")
    assert watchdog.patience_s("listening") > watchdog.PATIENCE_S


def test_a_shell_that_is_waited_for_is_told_also_once_another_piano_is_used():
    ours, theirs = multiprocessing.Pipe()
    process = ListeningProcess(theirs, MicrophoneConfig(), Capture())
    sound = played([(1.0, 46, 0.5), (1.0, 56, 0.5)], 2.0)
    for message in (Await(Awaited(7, (46, 56))), Use(MicrophoneConfig())):
        ours.send(message)
    process.turn(0.0)
    for at in range(0, len(sound), 320):
        process._hear(sound[at : at + 320], at / RATE)
    assert ours.poll()
    said = ours.recv()
    assert isinstance(said, StrokeHeard) and (said.verdict.number, said.verdict.kind) == (7, RIGHT)
    ours.send(Await())
    process.turn(0.0)
    assert process._waiting_ear is None
