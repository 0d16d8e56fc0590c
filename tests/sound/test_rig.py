"""Real MIDI and real sound: a JACK server without hardware, and FluidSynth on it.

Needs jackd, the JACK example clients, FluidSynth and a General MIDI SoundFont. Skipped with a reason where they are absent, but not where CI
is set. Each run has servers of its own name, ended by process id. No time is asserted after the server itself lost some (XRun).
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import time

import numpy as np
import pytest
from sound.jack_rig import RATE, Ear, Rig, _missing, to_port
from sound.soundfonts_made import general_midi
from terminal import REPOSITORY
from witness import Witness

from companion.sound.devices import describe_devices
from companion.sound.link import RESTARTS, SoundLink
from companion.sound.messages import (
    BeatReport,
    Finished,
    Load,
    NoteIn,
    Notice,
    PedalIn,
    Play,
    Ready,
    SoundConfig,
    Stop,
    default_voices,
)
from companion.sound.outputs import channels, panic, programs

pytestmark = pytest.mark.rig
HUSH = {(0xB0, 123, 0), (0xB1, 123, 0), (0xB9, 123, 0)}  # all notes off on every channel that is used


@pytest.fixture(scope="module")
def rig(tmp_path_factory):
    if missing := _missing():
        if os.environ.get("CI"):
            pytest.fail(f"CI must have a rig, but these are missing: {missing}")
        pytest.skip(f"no rig: {missing} missing (apt install jackd2 fluidsynth timgm6mb-soundfont)")
    patch = pytest.MonkeyPatch()
    patch.setenv("JACK_DEFAULT_SERVER", f"companion{os.getpid()}")
    patch.setenv("JACK_NO_START_SERVER", "1")
    patch.setenv("JACK_NO_AUDIO_RESERVATION", "1")
    rig = Rig(tmp_path_factory.mktemp("rig"))
    yield rig
    rig.free_name()
    patch.undo()


@pytest.fixture
def jack_midi(rig):
    """The rig, where this Python has a binding of RtMidi that can talk to it: rtmidi2's wheel, which takes the place of python-rtmidi
    from Python 3.13 on, carries a JACK library that jackd2 does not answer ("protocol mismatch")."""
    pytest.importorskip("rtmidi", reason="this Python has no python-rtmidi, so no MIDI through JACK")
    return rig


@pytest.fixture
def ear(jack_midi, rig):
    ear = Ear(f"ear{time.time_ns() % 100_000}")
    yield ear
    ear.close()


def test_midi_arrives_byte_for_byte(ear, make_stage, make_loop, read):
    arrangement = make_loop(0, 1, bass="walking", parts=("click", "bass", "left"), pattern="charleston")
    stage = make_stage()
    stage.do(Load(arrangement), Play(400, turns=2))
    stage.run(60)
    voices = default_voices()
    hush = [sound.wire() for sound in panic((), channels(voices))]
    expected = [*hush, *(sound.wire() for sound in programs(voices))]  # on opening the port
    expected += [sound.wire() for _, _, sound in stage.output.sent]
    expected += hush  # on leaving
    with SoundLink(to_port(ear.name)) as link:
        reports = read(link)
        ready = reports.wait_for(Ready)
        assert ready.output == "midi" and ear.name in ready.sentence
        link.send(Load(arrangement))
        link.send(Play(400, turns=2))
        reports.wait_for(Finished)
    ear.until(lambda: len(ear.heard) >= len(expected))
    assert ear.listen(0.2) == expected


class OutOfTime(AssertionError):
    """Every sound was heard, but not when it was due."""


class LostTime(Exception):
    """The JACK server says that it lost time itself (XRun): what was recorded then proves nothing."""


BPM = 197  # a beat is no whole number of frames
RINGS_S = 0.5  # from the last bar's end until all of it is recorded
KEPT_S = 0.003  # who wakes no later than this had the machine to itself


def _in_time(take) -> None:
    """Call `take` until it is in time, three times at most: a shared machine now and then stands still for a tenth of a second, which
    a server's log need not show. What is wrong with the product is wrong each time, also while a thread that only waits is in time; a
    sound that is missing fails at once."""
    ours: list[OutOfTime] = []
    for _ in range(3):
        try:
            with Witness() as witness:
                take()
            return
        except LostTime:
            pass
        except OutOfTime as fault:
            if witness.worst_s < KEPT_S:
                ours.append(fault)
    if len(ours) > 1:
        raise ours[-1]
    pytest.skip("the machine or its JACK server lost time itself")


def test_sound_is_heard_on_the_beat(rig, jack_midi, make_loop, read):
    def take() -> None:
        synth = rig.synth()
        try:
            with SoundLink(to_port("synth")) as link:
                reports = read(link)
                assert reports.wait_for(Ready).output == "midi"
                link.send(Load(make_loop(0, bass="off", count_in_bars=1)))
                recording = rig.record("synth:left")
                link.send(Play(BPM, turns=2))
                reports.wait_for(Finished)
                lost_time = rig.lost_time()
                time.sleep(RINGS_S)
                rig.end(recording)
        finally:
            rig.end(synth)
        onsets = _onsets(rig.taken(), 0.2)
        assert len(onsets) == 3 * 4
        if lost_time:
            raise LostTime
        beats = np.arange(len(onsets)) * 60 / BPM
        off_s = onsets / RATE - beats
        off_s -= np.median(off_s)
        # RtMidi hands messages to JACK once a period, and the synthesiser mixes in blocks of 64 frames.
        if np.abs(off_s).max() >= rig.period / RATE + 0.003:
            raise OutOfTime(f"off the beat by {off_s} s")

    _in_time(take)


@pytest.fixture
def roomy(rig):
    """Periods of 21 ms: where a sound stands among the frames does not hang on them, and the server loses no time."""
    subprocess.run(["jack_bufsize", "1024"], check=True, capture_output=True)
    yield
    subprocess.run(["jack_bufsize", str(rig.period)], check=True, capture_output=True)


def test_built_in_sound_is_on_the_frame(rig, roomy, make_loop, read):
    def take() -> None:
        with SoundLink(SoundConfig(mode="builtin", audio_backend="jack", midi_in=("nobody",))) as link:
            reports = read(link)
            assert reports.wait_for(Ready).output == "builtin"
            port = next(port for port in rig.ports() if port.startswith("companion") and "playback" in port)
            link.send(Load(make_loop(0, bass="off", count_in_bars=1)))
            recording = rig.record(port)
            link.send(Play(BPM, turns=3))
            reports.wait_for(Finished)
            lost_time = rig.lost_time()
            time.sleep(RINGS_S)
            rig.end(recording)
        onsets = _onsets(rig.taken(), 0.2)
        assert len(onsets) == 4 * 4
        if lost_time:
            raise LostTime
        grid = np.arange(len(onsets)) * 60 / BPM * RATE
        off = onsets - grid
        if off.max() - off.min() > 2:  # each within one frame of one grid
            raise OutOfTime(f"off the grid by {off} frames")

    _in_time(take)


@pytest.mark.parametrize("by", ["built in", "soundfont"])
def test_the_demonstrated_hand_is_heard_at_its_pitch_and_on_the_frame(rig, roomy, make_loop, read, tmp_path, by):
    """By the piano and by a SoundFont: both keys of the shell within 20 cents of equal temperament (A4 = 440 Hz), each strike within a frame of one grid."""

    def take() -> None:
        font = str(general_midi()) if by == "soundfont" else ""
        config = SoundConfig(
            mode="builtin", audio_backend="jack", midi_in=("nobody",), soundfont=font, kept=str(tmp_path / "notes")
        )
        arrangement = make_loop(0, bass="off", parts=("left",), count_in_bars=0, pattern="two")
        with SoundLink(config) as link:
            reports = read(link)
            assert reports.wait_for(Ready).output == "builtin"
            link.send(Load(arrangement))
            link.send(Play(BPM, turns=1))  # behind the plain voice the full one is made
            reports.wait_for(Finished)
            reports.wait_until(lambda: len(list((tmp_path / "notes").glob("*.note"))) >= 2)
            port = next(port for port in rig.ports() if port.startswith("companion") and "playback" in port)
            recording = rig.record(port)
            link.send(Play(BPM, turns=3))
            reports.wait_for(Finished)
            lost_time = rig.lost_time()
            time.sleep(RINGS_S)
            rig.end(recording)
            assert not [notice for notice in reports.seen if isinstance(notice, Notice) and notice.kind == "error"]
        taken = rig.taken()
        onsets = _like_the_first(taken, np.arange(3 * 2) * 2 * 60 / BPM * RATE)
        spectrum = np.abs(np.fft.rfft(taken[onsets[0] : onsets[0] + 4 * RATE], 8 * RATE))
        for note in (41, 51):
            hertz = 440 * 2 ** ((note - 69) / 12)
            near = slice(round(8 * hertz * 2 ** (-20 / 1200)), round(8 * hertz * 2 ** (20 / 1200)) + 1)
            around = slice(round(8 * hertz * 2 ** (-90 / 1200)), round(8 * hertz * 2 ** (90 / 1200)) + 1)
            assert spectrum[near].max() == spectrum[around].max() > 3 * np.median(spectrum[around])
        if lost_time:
            raise LostTime
        off = onsets - np.arange(len(onsets)) * 2 * 60 / BPM * RATE
        if off.max() - off.min() > 2:
            raise OutOfTime(f"off the grid by {off} frames")

    _in_time(take)


def _like_the_first(samples: np.ndarray, grid: np.ndarray) -> np.ndarray:
    """Frames, within 20 ms of the grid, where the first sound begins again, by its second differences, which an older one that dies away hardly has."""
    start = int(np.argmax(np.abs(samples) > 0.01))
    sharp = np.diff(samples, 2)
    pattern, reach = sharp[start : start + round(0.05 * RATE)], round(0.02 * RATE)
    found = []
    for due in start + np.round(grid).astype(int):
        near = sharp[max(0, due - reach) : due + reach + len(pattern)]
        match = np.correlate(near, pattern, "valid")
        assert match.max() > 0.3 * pattern @ pattern, f"nothing sounds at frame {due}"
        found.append(max(0, due - reach) + int(np.argmax(match)))
    return np.array(found)


def _onsets(samples: np.ndarray, apart_s: float) -> np.ndarray:
    """Frames where sound begins after silence."""
    loud = np.flatnonzero(np.abs(samples) > 0.01)
    first = np.concatenate(([True], np.diff(loud) > 0.06 * RATE))
    onsets = loud[first]
    return onsets[np.concatenate(([True], np.diff(onsets) > apart_s * RATE))]


def test_app_killed_leaves_no_note_hanging(ear, tmp_path):
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
            link = SoundLink(SoundConfig(mode="midi", midi_out=sys.argv[1], api="jack"))
            link.start()
            chord = Chord("F7", Tone("F"), ("1", "3", "5", "b7"), "seventh")
            bar = GrooveBar(0, Meter(4, 4), (GrooveChord(0, 3840, chord, (41, 51)),))
            link.send(Load(Arrangement((bar,), pattern="whole", parts=("click", "bass", "left"), count_in_bars=0)))
            link.send(Play(60))
            while not any(isinstance(report, BeatReport) for report in link.poll()):
                time.sleep(0.01)
            print("playing", flush=True)
            time.sleep(60)
    """)
    )
    app = subprocess.Popen(
        [sys.executable, program, ear.name],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(REPOSITORY)},
    )
    assert app.stdout.readline() == "playing\n"
    ear.until(ear.hanging)
    app.kill()
    app.wait()
    app.stdout.close()
    ear.until(lambda: not ear.hanging())


def test_sound_process_killed_leaves_no_note_hanging(ear, make_loop, read):
    with SoundLink(to_port(ear.name)) as link:
        reports = read(link)
        link.send(Load(make_loop(0, parts=("click", "bass", "left"), pattern="whole", count_in_bars=0)))
        link.send(Play(60))
        reports.wait_for(BeatReport)
        ear.until(ear.hanging)
        ear.heard.clear()
        os.kill(link.pid, signal.SIGKILL)
        reports.wait_for(Ready)
        assert any(isinstance(report, Finished) for report in reports.seen)
        # Nobody can send for a killed process; the next one begins with all notes off on every channel used.
        ear.until(lambda: set(ear.heard) >= HUSH)


def test_killed_once_too_often_it_stays_off_and_its_notes_are_ended(ear, make_loop, read):
    with SoundLink(to_port(ear.name)) as link:
        reports = read(link)
        for _ in range(RESTARTS):
            reports.wait_for(Ready)
            os.kill(link.pid, signal.SIGKILL)
        reports.wait_for(Ready)
        link.send(Load(make_loop(0, parts=("click", "bass", "left"), pattern="whole", count_in_bars=0)))
        link.send(Play(60))
        reports.wait_for(BeatReport)
        ear.until(ear.hanging)
        ear.heard.clear()
        os.kill(link.pid, signal.SIGKILL)
        reports.wait_for(Finished)
        assert link.is_off and not link.alive
        ear.until(lambda: set(ear.heard) >= HUSH)


def test_sound_process_ended_politely_sends_every_note_off(ear, make_loop, read):
    with SoundLink(to_port(ear.name)) as link:
        reports = read(link)
        link.send(Load(make_loop(0, parts=("click", "bass", "left"), pattern="whole", count_in_bars=0)))
        link.send(Play(60))
        reports.wait_for(BeatReport)
        ear.until(ear.hanging)
        os.kill(link.pid, signal.SIGTERM)
        reports.wait_for(Finished)
        ear.until(lambda: not ear.hanging())


def test_port_gone_and_back(rig, jack_midi, make_loop, read):
    synth = rig.synth()
    try:
        with SoundLink(to_port("synth")) as link:
            reports = read(link)
            assert reports.wait_for(Ready).output == "midi"
            link.send(Load(make_loop(0, 1)))
            link.send(Play(200))
            reports.wait_for(BeatReport)
            rig.end(synth)
            assert reports.wait_for(Notice).kind == "lost"
            reports.wait_for(BeatReport)  # the beat goes on, on the screen
            synth = rig.synth()
            assert reports.wait_for(Notice).kind == "back"
            recording = rig.record("synth:left", 2)
            recording.wait(30)
            assert np.abs(rig.taken()).max() > 0.01
            link.send(Stop())
            reports.wait_for(Finished)
    finally:
        rig.end(synth)


def test_keyboards_are_heard_and_stamped_when_played(rig, ear, read):
    import rtmidi

    keyboard = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="keyboard")
    keyboard.open_virtual_port("keys")
    second = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name="pads")
    second.open_virtual_port("keys")
    try:
        config = SoundConfig(mode="midi", midi_out=ear.name, api="jack", midi_in=("keyboard", "pads"))
        with SoundLink(config) as link:
            reports = read(link)
            reports.wait_for(Ready)
            assert {reports.wait_for(Notice).kind, reports.wait_for(Notice).kind} == {"info"}
            late_ms = []
            for note in range(48, 68):
                sent_s = time.perf_counter()
                keyboard.send_message([0x90, note, 70])
                heard = reports.wait_for(NoteIn)
                assert (heard.note, heard.velocity) == (note, 70) and "keyboard" in heard.port
                late_ms.append((heard.time_s - sent_s) * 1000)
            assert min(late_ms) > 0, "stamped when it was played; how soon it is heard is measured in tests/bench"
            second.send_message([0x90, 40, 0])
            assert reports.wait_for(NoteIn).velocity == 0
            second.send_message([0xB0, 64, 127])
            pedal = reports.wait_for(PedalIn)
            assert pedal.down and "pads" in pedal.port
            second.delete()
            lost = reports.wait_for(Notice)
            assert lost.kind == "lost" and "pads" in lost.sentence
    finally:
        keyboard.delete()


def test_devices_are_listed_and_explained(rig, ear, capfd):
    report = describe_devices(SoundConfig(midi_out=ear.name, midi_in=("nobody",), audio_backend="jack"))
    assert any(ear.name in port.name and port.api == "jack" for port in report.outputs)
    assert report.kind == "midi" and ear.name in report.sentence and "as you asked" in report.sentence
    assert report.audio_backend == "JACK" and "nobody" in report.input_sentence
    assert capfd.readouterr().err == ""
