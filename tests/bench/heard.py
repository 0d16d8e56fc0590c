"""What really sounds: the onsets of the click in a recording, against the grid.

    python tests/bench/heard.py [CLICKS [PERIOD [CLICKS OF A TAKE]]]

Needs jackd, the JACK example clients, FluidSynth and a General MIDI SoundFont (on Debian: jackd2 fluidsynth timgm6mb-soundfont). A JACK server
without hardware of its own, real-time where the system grants it, periods of 128 frames by default; 500 clicks by default at 231 a minute, once over MIDI through
FluidSynth and once with the built-in sound, recorded in takes of 100. The grid has the tempo's own period; only a take's first beat is fitted (by the median), so a
drift shows. A take in which the server's log tells of an XRun is counted and made again: time was lost then, by the server or by a client that was late, ours
among them, and where its sounds stand proves nothing; but none may be missing there either. Longer periods lose time less often, and where the built-in sound's
clicks stand among the frames does not hang on them: `heard.py 500 1024 500` hears two minutes without a break.
Goals: through FluidSynth 99 of 100 within 3.5 ms and none missing; built in: within one frame, no time lost.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from sound.jack_rig import RATE, Rig, _missing
from sound.test_rig import _onsets

from companion.groove.model import Arrangement, GrooveBar, GrooveChord
from companion.sound.link import SoundLink
from companion.sound.messages import Finished, Load, Play, Ready, SoundConfig
from companion.theory.chord import Chord
from companion.theory.meter import Meter
from companion.theory.pitch import Tone

TEMPO_BPM = 231  # beats that do not fall on whole frames
TAKE_CLICKS = 100
TAKES_LOST = 20  # to lost time, before it is given up


def bars(turns: int) -> Arrangement:
    """One bar of four clicks, no count-in and nothing else sounding."""
    meter = Meter(4, 4)
    chord = Chord("F7", Tone("F"), ("1", "3", "5", "b7"), "seventh")
    bar = GrooveBar(0, meter, (GrooveChord(0, meter.bar_ticks, chord, (41, 51)),))
    return Arrangement((bar,), bass="off", count_in_bars=0)


def wait_for(link: SoundLink, kind: type, seconds: float) -> object:
    end_s = time.perf_counter() + seconds
    while time.perf_counter() < end_s:
        for report in link.poll():
            if isinstance(report, kind):
                return report
        time.sleep(0.01)
    raise RuntimeError(f"no {kind.__name__} within {seconds:.0f} s")


def take(rig: Rig, config: SoundConfig, port: str, clicks: int) -> tuple[np.ndarray, bool]:
    """(frames of the onsets, whether the server lost time). port: part of the name of what is recorded."""
    seconds = clicks * 60 / TEMPO_BPM
    with SoundLink(config) as link:
        ready = wait_for(link, Ready, 120)
        if ready.output != config.mode:
            raise RuntimeError(ready.sentence)
        rig.wait_for_port(port)
        recorded = next(name for name in rig.ports() if port in name)
        link.send(Load(bars(clicks // 4)))
        recording = rig.record(recorded, round(seconds) + 3)
        link.send(Play(TEMPO_BPM, turns=clicks // 4))
        wait_for(link, Finished, seconds + 20)
        lost_time = rig.lost_time()
        recording.wait(30)
        rig.processes.remove(recording)
    return _onsets(rig.taken(), 30 / TEMPO_BPM), lost_time


class Heard:
    """All takes of one way of sounding. off_ms: of the clicks of the takes that count; missing: in any take."""

    def __init__(self, rig: Rig, config: SoundConfig, port: str, clicks: int, take_clicks: int) -> None:
        self.off_ms = np.empty(0)
        self.drift_ms = 0.0  # of the take with the most
        self.missing = self.lost = 0
        while len(self.off_ms) + self.missing < clicks and self.lost < TAKES_LOST:
            onsets, lost_time = take(rig, config, port, take_clicks)
            self.missing += abs(take_clicks - len(onsets))
            self.lost += lost_time
            if lost_time or not len(onsets):
                continue
            off = off_ms(onsets)
            self.off_ms = np.concatenate((self.off_ms, off))
            self.drift_ms = max(self.drift_ms, np.median(off[-20:]) - np.median(off[:20]), key=abs)


def off_ms(onsets: np.ndarray) -> np.ndarray:
    """Milliseconds off the grid; a missing click is a step, so each onset stands at its nearest beat."""
    period = RATE * 60 / TEMPO_BPM
    beats = np.round((onsets - onsets[0]) / period)
    off = onsets - onsets[0] - beats * period
    return (off - np.median(off)) / RATE * 1000


def line(name: str, heard: Heard, goal_ms: float) -> str:
    if not len(heard.off_ms):
        return f"{name:20}{heard.missing:9}   not judged: time was lost in {heard.lost} takes"
    far = np.abs(heard.off_ms)
    figures = f"{np.median(far):9.3f}{np.percentile(far, 99):9.3f}{far.max():9.3f}{heard.drift_ms:14.3f}"
    return f"{name:20}{len(far):7}{heard.missing:9}{figures}   goal {goal_ms:.3f}; takes made again for lost time: {heard.lost}"


def main() -> int:
    asked = [int(word) for word in sys.argv[1:]]
    clicks, period, take_clicks = [*asked, *(500, 0, TAKE_CLICKS)[len(asked) :]]
    clicks -= clicks % 4
    take_clicks = min(take_clicks, clicks) // 4 * 4
    if missing := _missing():
        print(f"not measured: {missing} missing")
        return 2
    os.environ.update(
        JACK_DEFAULT_SERVER=f"bench{os.getpid()}", JACK_NO_START_SERVER="1", JACK_NO_AUDIO_RESERVATION="1"
    )
    met = True
    with tempfile.TemporaryDirectory() as folder:
        rig = Rig(Path(folder))
        try:
            if period:
                subprocess.run(["jack_bufsize", str(period)], check=True, capture_output=True)
                rig.period = period
            print(
                f"{clicks} clicks at {TEMPO_BPM}, periods of {rig.period} frames, load average {os.getloadavg()[0]:.1f}"
            )
            print(
                f"{'ms off the grid':20}{'heard':>7}{'missing':>9}{'p50':>9}{'p99':>9}{'worst':>9}{'last - first':>14}"
            )
            synth = rig.synth()
            midi = SoundConfig(mode="midi", midi_out="synth", api="jack", midi_in=("nobody",))
            notes = str(Path(folder) / "notes")
            builtin = SoundConfig(mode="builtin", audio_backend="jack", midi_in=("nobody",), kept=notes)
            for name, config, port, goal_ms in (
                ("FluidSynth", midi, "synth:left", 3.5),
                ("built-in sound", builtin, "companion", 1000 / RATE),
            ):
                heard = Heard(rig, config, port, clicks, take_clicks)
                print(line(name, heard, goal_ms), flush=True)
                far = np.abs(heard.off_ms)
                within = len(far) >= clicks and (np.percentile(far, 99) if config is midi else far.max()) <= goal_ms
                met = met and not heard.missing and within
                if config is midi:
                    rig.end(synth)
        finally:
            rig.close()
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
