"""A JACK server that is stopped (SIGSTOP), which is not dead: its library then waits for ever, and nothing of ours may wait with it."""

# ruff: noqa: F811  pytest takes fixtures by their names

from __future__ import annotations

import contextlib
import os
import signal
import time

import pytest
from faults.live_desk import LiveDesk
from faults.test_devices import log, mortal  # noqa: F401  fixtures
from sound.conftest import make_loop, read  # noqa: F401  fixtures
from sound.test_rig import Rig, to_port

from companion.sound.devices import describe_devices
from companion.sound.link import SoundLink
from companion.sound.messages import BeatReport, Finished, Load, Notice, Play, Ready, SoundConfig

pytestmark = pytest.mark.rig
UNANSWERED = "JACK hangs: going on without it."


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
    stop(server)
    with SoundLink(SoundConfig()) as link:
        reports = read(link)
        assert reports.wait_for(Notice).sentence == UNANSWERED
        ready = reports.wait_for(Ready)
        assert ready.output == "silent"
        plays(link, reports, make_loop(0))


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


def test_stopped_while_it_plays_silently(server, read, make_loop):
    """Keyboards are looked for there nevertheless."""
    with SoundLink(SoundConfig(mode="silent")) as link:
        reports = read(link)
        reports.wait_for(Ready)
        plays(link, reports, make_loop(0))
        stop(server)
        assert reports.wait_for(Notice).sentence == UNANSWERED
        reports.wait_for(Finished)
        reports.wait_for(Ready)
        plays(link, reports, make_loop(0))


def test_leaving_while_it_is_stopped(server, read):
    link = SoundLink(to_port("synth"))
    link.start()
    read(link).wait_for(Ready)
    stop(server)
    time.sleep(1.0)
    began_s = time.perf_counter()
    link.close()
    assert time.perf_counter() - began_s < 1.0 + 0.5 and not link.alive


def test_the_list_of_devices_looks_past_it(server):
    stop(server)
    report = describe_devices(SoundConfig())
    assert report.unanswered == ("JACK",) and "jack" not in report.apis and report.kind == "silent"
