"""How steady is the beat? Prints how far from due each note was sent, beside an app that repaints and one busy core.

    python tests/bench/steadiness.py [--seconds 20] [--midi-out NAME]

Three rows in the same surroundings: the sound process with real-time priority, the same without, and mido's MidiFile.play(), which stands for a
general-purpose player in the app's own process. Milliseconds. The goal: 99 of 100 within 0.2 with real-time priority, within 3 without.
"""

from __future__ import annotations

import argparse
import csv
import io
import multiprocessing
import sys
import tempfile
import threading
import time
from pathlib import Path

from rich.console import Console
from rich.table import Table

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from companion.groove.model import Arrangement, GrooveBar, GrooveChord
from companion.sound.link import SoundLink
from companion.sound.messages import Finished, Load, Play, Ready, SoundConfig
from companion.theory.chord import Chord
from companion.theory.meter import Meter
from companion.theory.pitch import Tone

TEMPO_BPM = 240
FRAMES_PER_SECOND = 20


def busy() -> None:
    while True:
        sum(range(10_000))


class Repainting:
    """A thread of this process that draws a screen of 120 by 40 twenty times a second, as an app does."""

    def __enter__(self) -> None:
        self._going = True
        self._thread = threading.Thread(target=self._draw, daemon=True)
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._going = False
        self._thread.join()

    def _draw(self) -> None:
        console = Console(file=io.StringIO(), width=120, height=40, force_terminal=True)
        frame = 0
        while self._going:
            started_s = time.perf_counter()
            table = Table(title=f"Bar {frame}")
            for column in range(8):
                table.add_column(f"{column}")
            for row in range(16):
                table.add_row(*(f"[b]F7[/b] {frame} {row} {column}" for column in range(8)))
            console.print(table)
            console.file.seek(0)
            console.file.truncate()
            frame += 1
            time.sleep(max(0.0, started_s + 1 / FRAMES_PER_SECOND - time.perf_counter()))


def arrangement() -> Arrangement:
    meter = Meter(4, 4)
    chord = Chord("F7", Tone("F"), ("1", "3", "5", "b7"), "seventh")
    bars = tuple(GrooveBar(number, meter, (GrooveChord(0, meter.bar_ticks, chord, (41, 51)),)) for number in range(12))
    return Arrangement(bars, pattern="charleston", bass="walking", demonstrate=True, count_in_bars=0)


def ours(seconds: float, realtime: bool, midi_out: str) -> tuple[list[float], bool]:
    """(milliseconds off due of each note-on, whether real-time priority was granted)."""
    turns = max(1, round(seconds / (12 * 4 * 60 / TEMPO_BPM)))
    with tempfile.TemporaryDirectory() as folder:
        trace = Path(folder) / "trace.csv"
        mode = "midi" if midi_out else "silent"
        config = SoundConfig(mode=mode, midi_out=midi_out, trace=str(trace), realtime=realtime)
        granted = False
        with SoundLink(config) as link:
            link.send(Load(arrangement()))
            link.send(Play(TEMPO_BPM, turns=turns))
            finished = False
            while not finished:
                for report in link.poll():
                    granted = report.realtime if isinstance(report, Ready) else granted
                    finished = finished or isinstance(report, Finished)
                time.sleep(0.01)
        with trace.open(newline="") as file:
            rows = [row for row in csv.DictReader(file) if row["what"] == "note_on"]
    return [abs(float(row["sent_s"]) - float(row["due_s"])) * 1000 for row in rows], granted


def mido_play(seconds: float) -> list[float]:
    """The same density of notes by MidiFile.play() in a thread of the repainting process."""
    import mido

    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(TEMPO_BPM))])
    for _ in range(round(seconds * TEMPO_BPM / 60)):
        track += [mido.Message("note_on", note=41, velocity=64, time=0), mido.Message("note_off", note=41, time=480)]
    song = mido.MidiFile(ticks_per_beat=480)
    song.tracks.append(track)
    sent_s: list[float] = []
    due_s: list[float] = []
    elapsed_s, start_s = 0.0, time.time()
    for message in song.play():
        now_s = time.time()
        elapsed_s += message.time
        if message.type == "note_on":
            sent_s.append(now_s - start_s)
            due_s.append(elapsed_s)
    return [abs(sent - due) * 1000 for sent, due in zip(sent_s, due_s)]


def line(who: str, off_ms: list[float]) -> str:
    ordered = sorted(off_ms)
    at = [ordered[min(len(ordered) - 1, int(len(ordered) * share))] for share in (0.5, 0.95, 0.99)]
    return f"{who:<34}{len(ordered):>6} notes" + "".join(f"{value:>9.3f}" for value in (*at, ordered[-1]))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--midi-out", default="", help="part of a port's name; without it nothing is sent, only timed")
    options = parser.parse_args()
    load = multiprocessing.get_context("spawn").Process(target=busy, daemon=True)
    load.start()
    try:
        print(f"{'milliseconds off due':<46}{'p50':>9}{'p95':>9}{'p99':>9}{'worst':>9}")
        with Repainting():
            for realtime in (True, False):
                off_ms, granted = ours(options.seconds, realtime, options.midi_out)
                priority = "real-time priority" if granted else "real-time refused" if realtime else "ordinary priority"
                print(line(f"sound process, {priority}", off_ms), flush=True)
            print(line("mido MidiFile.play()", mido_play(options.seconds)))
    finally:
        load.terminate()
        load.join()


if __name__ == "__main__":
    main()
