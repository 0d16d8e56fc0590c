"""A JACK server that is stopped (SIGSTOP), which is not dead: its library then waits for ever, and nothing of ours may wait with it."""

# ruff: noqa: F811  pytest takes fixtures by their names

from __future__ import annotations

import contextlib
import os
import signal
import time
from pathlib import Path

import pytest
from faults.live_desk import LiveDesk
from faults.test_devices import kill, log, mortal  # noqa: F401  fixtures
from sound.conftest import make_loop, read  # noqa: F401  fixtures
from sound.jack_rig import Rig, to_port
from whole_app import wait_until

from companion.sound.devices import describe_devices
from companion.sound.link import SoundLink
from companion.sound.messages import BeatReport, Finished, Load, Notice, Play, Ready, SoundConfig

pytestmark = pytest.mark.rig
UNANSWERED = "JACK hangs: going on without it."
AGAIN = "JACK answers again."


@pytest.fixture
def server(mortal):
    """A server with a synthesiser on it, and a function that stops the server."""
    pytest.importorskip("rtmidi", reason="this Python has no python-rtmidi, so no MIDI through JACK")
    rig = mortal()
    rig.synth()
    yield rig
    with contextlib.suppress(ProcessLookupError):
        os.kill(rig.processes[0].pid, signal.SIGCONT)


def stop(server: Rig) -> None:
    os.kill(server.processes[0].pid, signal.SIGSTOP)


def plays(link: SoundLink, reports, loop) -> None:
    link.send(Load(loop))
    link.send(Play(240))
    reports.wait_for(BeatReport)


def test_stopped_before_the_start(server, read, make_loop):
    """It is asked whether it answers again, until the app has left."""
    stop(server)
    with SoundLink(SoundConfig()) as link:
        reports = read(link)
        assert reports.wait_for(Notice).sentence == UNANSWERED
        ready = reports.wait_for(Ready)
        assert ready.output == "silent"
        plays(link, reports, make_loop(0))
        wait_until(asking, "question")
    assert not asking()


def test_stopped_while_it_carries_the_midi(server, settings, log):
    with SoundLink(to_port("synth")) as link:
        desk = LiveDesk(link, log, settings)
        desk.begin()
        assert desk.readies[0].output == "midi"
        desk.for_passes(1)
        desk.into_a_pass()
        whole = log.passes()
        stop(server)
        desk.go_on(lambda: UNANSWERED in [notice.sentence for notice in desk.notices], "sentence")
        desk.go_on(lambda: len(desk.readies) >= 2, "sound again")
        assert desk.readies[-1].output == "silent"
        assert len(log.passes(broken=True)) - len(log.passes()) <= 1 and log.passes()[: len(whole)] == whole
        desk.send(desk.practice.begin())
        desk.for_passes(1)


def test_stopped_under_the_built_in_sound(server, read, make_loop):
    with SoundLink(SoundConfig(mode="builtin", audio_backend="jack", midi_in=("nobody",))) as link:
        reports = read(link)
        assert reports.wait_for(Ready).output == "builtin"
        plays(link, reports, make_loop(0))
        stop(server)
        while reports.wait_for(Notice).sentence != UNANSWERED:
            pass
        reports.wait_for(Finished)
        assert reports.wait_for(Ready).output == "silent"
        plays(link, reports, make_loop(0))


def test_leaving_while_it_is_stopped(server, read):
    link = SoundLink(to_port("synth"))
    link.start()
    read(link).wait_for(Ready)
    stop(server)
    time.sleep(1.0)  # long enough to be in a call that does not return, too short to be noticed
    link.close()
    wait_until(lambda: not link.alive, "end of the sound process")


def test_the_list_of_devices_looks_past_it(server):
    stop(server)
    report = describe_devices(SoundConfig())
    assert report.unanswered == ("JACK",) and "jack" not in report.apis and report.kind == "silent"


# --- it comes back


def until(reports, sentence: str) -> None:
    while reports.wait_for(Notice).sentence != sentence:
        pass


@pytest.mark.parametrize(
    "config", [to_port("synth"), pytest.param(SoundConfig(), marks=pytest.mark.deep), SoundConfig(mode="silent")]
)
def test_a_server_that_goes_on_is_taken_up_by_itself(server, read, make_loop, config):
    """Also where it plays silently: keyboards are looked for there nevertheless."""
    with SoundLink(config) as link:
        reports = read(link)
        wanted = reports.wait_for(Ready).output
        plays(link, reports, make_loop(0))
        stop(server)
        until(reports, UNANSWERED)
        reports.wait_for(Finished)
        assert reports.wait_for(Ready).output == "silent"
        plays(link, reports, make_loop(0))
        pid = link.pid
        os.kill(server.processes[0].pid, signal.SIGCONT)
        until(reports, AGAIN)  # how soon: the constant it is asked by, RETRY_S
        assert reports.wait_for(Ready).output == wanted
        reports.wait_for(BeatReport)  # what plays goes on
        assert link.pid == pid


def test_another_server_in_the_place_of_one_that_was_stopped_is_taken_up_by_itself(mortal, read):
    first = mortal()
    with SoundLink(SoundConfig(mode="builtin", audio_backend="jack", midi_in=("nobody",))) as link:
        reports = read(link)
        assert reports.wait_for(Ready).output == "builtin"
        stop(first)
        until(reports, UNANSWERED)
        assert reports.wait_for(Ready).sentence.startswith("JACK does not answer")
        kill(first)
        first.close()
        mortal()
        until(reports, AGAIN)
        while reports.wait_for(Ready).output != "builtin":
            pass


def asking() -> list[int]:
    """Processes of ours that ask for JACK."""
    found = []
    for pid in filter(str.isdigit, os.listdir("/proc")):
        with contextlib.suppress(OSError):
            is_ours = f"\nPPid:\t{os.getpid()}\n" in Path(f"/proc/{pid}/status").read_text()
            if is_ours and b"jack_again" in Path(f"/proc/{pid}/cmdline").read_bytes():
                found.append(int(pid))
    return found
