"""The sound process itself: it starts, answers, survives and leaves. Needs no device."""

from __future__ import annotations

import csv
import os
import pickle
import signal
import subprocess
import sys
import textwrap
import time
from collections import Counter
from dataclasses import is_dataclass, replace

import pytest
from terminal import REPOSITORY

from companion.sound import messages
from companion.sound.devices import describe_devices
from companion.sound.link import SoundLink
from companion.sound.messages import (
    BeatReport,
    Configure,
    Finished,
    Load,
    Notice,
    Play,
    Ready,
    SetVolume,
    SoundConfig,
    Started,
    Stop,
    default_voices,
)

SILENT = SoundConfig(mode="silent")


def until(holds, seconds: float = 120.0) -> None:
    end_s = time.perf_counter() + seconds
    while not holds():
        assert time.perf_counter() < end_s
        time.sleep(0.002)


def balance(path) -> tuple[Counter, int]:
    with open(path, newline="") as file:
        rows = list(csv.DictReader(file))
    count: Counter = Counter()
    for row in rows:
        count[row["channel"], row["note"]] += {"note_on": 1, "note_off": -1}[row["what"]]
    return +count, len(rows)


def test_messages_travel_unchanged(make_loop):
    samples = [
        Load(make_loop(0, 1)),
        Play(120),
        Stop(),
        messages.SetTempo(90),
        messages.SetVolume("bass", 0.5),
        messages.Sample((41, 51)),
        Configure(SILENT),
        messages.Ping(),
        messages.Quit(),
        Ready("silent", "s", True),
        Started(1.0),
        BeatReport(1.0, 0, 0, 0, 0, 4, 120.0),
        Finished(1.0),
        messages.NoteIn(1.0, 60, 64, "p"),
        messages.PedalIn(1.0, True, "p"),
        messages.SwitchIn(1.0, "control", 80, "p"),
        Notice("info", "s"),
        messages.Keyboards(("p", "q"), ("p",)),
        messages.KeyboardGone("p"),
        messages.Outputs(("p", "q"), "p"),
        messages.Alive("jack"),
        messages.Spoken("C seven", b"\x00\x01"),
        messages.Say(b"\x00\x01"),
        messages.SharePlayed("memory"),
    ]
    kinds = {kind for kind in vars(messages).values() if is_dataclass(kind) and kind.__module__ == messages.__name__}
    assert {type(sample) for sample in samples} == kinds - {messages.Voice, SoundConfig}
    for sample in samples:
        assert pickle.loads(pickle.dumps(sample)) == sample


def test_plays_reports_and_leaves(tmp_path, make_loop, read):
    trace = tmp_path / "trace.csv"
    with SoundLink(SoundConfig(mode="silent", trace=str(trace))) as link:
        reports = read(link)
        ready = reports.wait_for(Ready)
        assert ready.output == "silent" and "silent" in ready.sentence
        link.send(Load(make_loop(0, 1, bass="walking", parts=("click", "bass", "left"), count_in_bars=1)))
        asked_s = time.perf_counter()
        link.send(Play(480, turns=2))
        started = reports.wait_for(Started)
        assert started.time_s > asked_s
        finished = reports.wait_for(Finished)
        assert finished.time_s - started.time_s == pytest.approx(5 * 4 * 60 / 480, abs=1e-6)
        beats = [report for report in reports.seen if isinstance(report, BeatReport)]
        assert [beat.due_s - started.time_s for beat in beats] == pytest.approx([n / 8 for n in range(20)], abs=1e-6)
        assert link.alive
    assert not link.alive
    hanging, rows = balance(trace)
    assert not hanging and rows > 60


def test_stop_and_configure_while_playing(tmp_path, make_loop, read):
    trace = tmp_path / "trace.csv"
    with SoundLink(SoundConfig(mode="silent", trace=str(trace))) as link:
        reports = read(link)
        reports.wait_for(Ready)
        link.send(Load(make_loop(0, 1, parts=("click", "bass", "left"))))
        link.send(Play(240))
        first = reports.wait_for(BeatReport)
        link.send(Configure(SoundConfig(mode="builtin", audio_backend="null", trace=str(trace))))
        assert reports.wait_for(Ready).output == "builtin"
        later = [reports.wait_for(BeatReport) for _ in range(6)]
        # The pass goes on in time: each beat is a whole number of beats after the first (a new device's clock is known to
        # some 20 ms only: a tenth of a beat here).
        for beat in later:
            beats = (beat.due_s - first.due_s) / 0.25
            assert abs(beats - round(beats)) < 0.1
        link.send(Stop())
        reports.wait_for(Finished)
    assert not balance(trace)[0]


def test_a_process_that_dies_is_started_again_with_what_was_loaded(make_loop, read):
    with SoundLink(SILENT) as link:
        reports = read(link)
        reports.wait_for(Ready)
        link.send(Load(make_loop(0)))
        link.send(Play(240))
        reports.wait_for(BeatReport)
        os.kill(link.pid, signal.SIGKILL)
        reports.wait_for(Ready)
        assert [type(report) for report in reports.seen if not isinstance(report, BeatReport)][-3:] == [
            Notice,
            Finished,
            Ready,
        ]
        link.send(Play(240))
        reports.wait_for(BeatReport)


@pytest.mark.parametrize("how", ["killed", "configured"])
def test_what_was_turned_down_stays_so_in_another_process_and_at_another_output(tmp_path, make_loop, read, how):
    trace = tmp_path / "trace.csv"
    with SoundLink(SoundConfig(mode="silent", trace=str(trace))) as link:
        reports = read(link)
        reports.wait_for(Ready)
        link.send(SetVolume("left", 0.0))
        link.send(Load(make_loop(0, parts=("bass", "left"), count_in_bars=0)))
        if how == "killed":
            os.kill(link.pid, signal.SIGKILL)
        else:
            link.send(Configure(replace(link.config, midi_in=("Grand",))))
        reports.wait_for(Ready)
        link.send(Play(480, turns=2))
        reports.wait_for(BeatReport)
        reports.wait_for(Finished)
    with open(trace, newline="") as file:
        channels = {row["channel"] for row in csv.DictReader(file)}
    assert channels == {str(default_voices()["bass"].channel)}


@pytest.mark.skipif(sys.platform == "win32", reason="signals of Unix")
def test_ctrl_c_does_not_strike_a_process_that_has_only_begun(read):
    """A terminal sends it to the whole group; it is for the app to answer."""
    with SoundLink(SILENT) as link:
        for _ in range(20):
            os.kill(link.pid, signal.SIGINT)
            time.sleep(0.005)
        reports = read(link)
        reports.wait_for(Ready)
        assert not [report for report in reports.seen if isinstance(report, Notice)]


def test_it_is_not_started_for_ever(read):
    with SoundLink(SILENT) as link:
        reports = read(link)
        for _ in range(4):
            until(lambda: link.alive)
            os.kill(link.pid, signal.SIGKILL)
            reports.wait_for(Finished)
        assert [notice.sentence for notice in reports.seen if isinstance(notice, Notice)][-1].startswith(
            "The sound keeps stopping"
        )
        assert not link.alive and link.poll() == []
        link.send(Play(120))  # dropped, not raised


def test_it_starts_again_from_inside_a_full_screen_app(monkeypatch, read):
    """Such an app replaces sys.stderr by an object whose fileno is -1, which the spawning of processes passes on."""

    class Screen:
        def fileno(self) -> int:
            return -1

        def write(self, text: str) -> int:
            return len(text)

        def flush(self) -> None: ...

    with SoundLink(SILENT) as link:
        reports = read(link)
        reports.wait_for(Ready)
        monkeypatch.setattr(sys, "stderr", Screen())
        os.kill(link.pid, signal.SIGKILL)
        assert reports.wait_for(Ready).output == "silent"


def test_listening_in_a_thread():
    reports: list = []
    link = SoundLink(SILENT)
    link.start()
    link.listen(reports.append)
    link.send(Play(120))
    until(lambda: any(isinstance(report, Notice) for report in reports))
    link.close()
    link.close()
    assert isinstance(reports[0], Ready)
    assert Notice("error", "Nothing to play: no bars were loaded.") in reports
    assert not link._thread.is_alive()


def test_a_groove_that_cannot_be_played_is_said_and_the_process_lives(make_loop, read):
    with SoundLink(SILENT) as link:
        reports = read(link)
        reports.wait_for(Ready)
        link.send(Load(make_loop(0, bass="tuba", count_in_bars=0)))
        process = link.pid
        notice = reports.wait_for(Notice)
        assert notice.kind == "error" and "tuba" in notice.sentence
        link.send(Load(make_loop(0)))
        link.send(Play(120))
        reports.wait_for(BeatReport)
        assert link.pid == process


def test_a_trace_that_cannot_be_written_is_said(tmp_path, read):
    with SoundLink(SoundConfig(mode="silent", trace=str(tmp_path / "no" / "trace.csv"))) as link:
        reports = read(link)
        assert "No such file" in reports.wait_for(Notice).sentence


@pytest.mark.skipif(sys.platform == "win32", reason="signals of Unix")
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM, signal.SIGHUP])
def test_when_the_app_is_killed_every_note_ends_and_the_process_goes(tmp_path, how):
    trace = tmp_path / "trace.csv"
    program = tmp_path / "app.py"
    program.write_text(
        textwrap.dedent("""
        import sys, time
        from companion.groove.model import Arrangement, GrooveBar, GrooveChord
        from companion.sound.link import SoundLink
        from companion.sound.messages import BeatReport, Load, Play, SoundConfig
        from companion.theory.chord import Chord
        from companion.theory.meter import Meter
        from companion.theory.pitch import Tone
        if __name__ == "__main__":
            link = SoundLink(SoundConfig(mode="silent", trace=sys.argv[1]))
            link.start()
            chord = Chord("F7", Tone("F"), ("1", "3", "5", "b7"), "seventh")
            bar = GrooveBar(0, Meter(4, 4), (GrooveChord(0, 3840, chord, (41, 51)),))
            link.send(Load(Arrangement((bar,), pattern="whole", parts=("click", "bass", "left"), count_in_bars=0)))
            link.send(Play(60))
            while not any(isinstance(report, BeatReport) for report in link.poll()):
                time.sleep(0.01)
            print(link.pid, flush=True)
            time.sleep(60)
    """)
    )
    app = subprocess.Popen(
        [sys.executable, program, trace],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(REPOSITORY)},
    )
    child = int(app.stdout.readline())
    app.send_signal(how)
    app.wait()
    until(lambda: not os.path.exists(f"/proc/{child}"))
    app.stdout.close()
    hanging, rows = balance(trace)
    assert rows >= 4 and not hanging


def test_looking_at_devices_stays_off_the_terminal(capfd):
    report = describe_devices(SoundConfig(mode="builtin", audio_backend="null"))
    assert report.kind == "builtin" and report.audio_backend == "Null" and report.audio
    assert capfd.readouterr() == ("", "")


def test_the_process_imports_no_screen_and_loads_sound_libraries_on_use():
    """A silent start must not pay for numpy, mido and miniaudio."""
    code = "import companion.sound.process, companion.sound.link, sys; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert not {"textual", "rich", "mido", "rtmidi", "numpy", "miniaudio", "sqlite3", "asyncio"} & set(loaded)


def test_default_voices_are_not_shared():
    assert default_voices() is not default_voices()


@pytest.mark.skipif(sys.platform != "linux", reason="reads what Linux granted")
@pytest.mark.parametrize("wanted", [True, False])
def test_priority_is_told_as_it_was_granted(wanted, read):
    with SoundLink(SoundConfig(mode="silent", realtime=wanted)) as link:
        ready = read(link).wait_for(Ready)
        granted = os.sched_getscheduler(link.pid) == os.SCHED_FIFO
        assert ready.realtime == granted
        assert wanted or not granted
