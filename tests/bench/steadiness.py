"""How steady is the beat? Prints how far from due each note was sent, beside an app that repaints and one busy core.

    python tests/bench/steadiness.py [--events 2000] [--midi-out NAME]

The left hand four to the bar with click and bass: four notes on every beat, eight beats a second. All rows in one run, in the same surroundings:
- the sound process with real-time priority and without;
- FluidSynth's own sequencer in a process of its own, where libfluidsynth is installed;
- mido's MidiFile.play(), in a process of its own and in a thread of the app's process, where a player without a sound process would have it;
- an asyncio timer that sleeps to absolute deadlines, in a thread of the app's process.

Milliseconds. Drift: the mean of the last hundred notes less that of the first hundred. The last column: how many times steadier than MidiFile.play()
in the app, at the 99th percentile. The goals: with real-time priority 0.05 at the 99th percentile, 0.5 at worst, 100 times steadier;
without it 2, 5 and 8 times.
"""

from __future__ import annotations

import argparse
import asyncio
import csv
import ctypes
import ctypes.util
import io
import multiprocessing
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
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

TEMPO_BPM = 480
BEAT_S = 60 / TEMPO_BPM
NOTES_PER_BEAT = 4  # click, bass, two of the shell
BEATS_PER_BAR = 4
FRAMES_PER_SECOND = 20
ENDS = 100  # notes at either end that drift is told from
SPAWN = multiprocessing.get_context("spawn")

Times = list[tuple[float, float]]  # (due, sent) in seconds of one clock, of each note-on


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


# --- ours


def arrangement() -> Arrangement:
    meter = Meter(4, 4)
    chord = Chord("F7", Tone("F"), ("1", "3", "5", "b7"), "seventh")
    bars = tuple(GrooveBar(number, meter, (GrooveChord(0, meter.bar_ticks, chord, (41, 51)),)) for number in range(12))
    return Arrangement(bars, pattern="four", bass="walking", parts=("click", "bass", "left"), count_in_bars=0)


def ours(beats: int, realtime: bool, midi_out: str) -> tuple[Times, bool]:
    """The notes, and whether real-time priority was granted."""
    turns = -(-beats // (12 * BEATS_PER_BAR))
    with tempfile.TemporaryDirectory() as folder:
        trace = Path(folder) / "trace.csv"
        config = SoundConfig(
            mode="midi" if midi_out else "silent", midi_out=midi_out, trace=str(trace), realtime=realtime
        )
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
    return [(float(row["due_s"]), float(row["sent_s"])) for row in rows][: beats * NOTES_PER_BEAT], granted


# --- the others


def mido_play(beats: int) -> Times:
    import mido

    song = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(TEMPO_BPM))])
    for _ in range(beats):
        track += [mido.Message("note_on", note=41 + number, velocity=64, time=0) for number in range(NOTES_PER_BEAT)]
        track += [
            mido.Message("note_off", note=41 + number, time=0 if number else 480) for number in range(NOTES_PER_BEAT)
        ]
    song.tracks.append(track)
    times: Times = []
    elapsed_s, start_s = 0.0, time.time()
    for message in song.play():
        now_s = time.time()
        elapsed_s += message.time
        if message.type == "note_on":
            times.append((elapsed_s, now_s - start_s))
    return times


def asyncio_timer(beats: int) -> Times:
    async def play() -> Times:
        times: Times = []
        start_s = time.perf_counter()
        for beat in range(beats):
            due_s = start_s + beat * BEAT_S
            await asyncio.sleep(due_s - time.perf_counter())
            times += [(due_s, time.perf_counter()) for _ in range(NOTES_PER_BEAT)]
        return times

    return asyncio.run(play())


def fluidsynth_sequencer(beats: int) -> Times:
    """Driven by FluidSynth's own audio thread, which writes to nowhere every 2 ms. Empty where libfluidsynth is not installed. The
    start of its clock is not told: its grid is laid through the median of what it sent, which favours it."""
    name = ctypes.util.find_library("fluidsynth")
    if name is None:
        return []
    fluid = ctypes.CDLL(name)

    def make(what: str, *arguments: object) -> ctypes.c_void_p:
        maker = getattr(fluid, what)
        maker.restype = ctypes.c_void_p
        return ctypes.c_void_p(maker(*arguments))

    settings = make("new_fluid_settings")
    for key, text in ((b"audio.driver", b"file"), (b"audio.file.name", b"/dev/null"), (b"audio.file.type", b"raw")):
        fluid.fluid_settings_setstr(settings, key, text)
    fluid.fluid_settings_setnum(settings, b"synth.sample-rate", ctypes.c_double(48000))
    fluid.fluid_settings_setint(settings, b"audio.period-size", 96)
    synth = make("new_fluid_synth", settings)
    sequencer = make("new_fluid_sequencer2", 0)
    fluid.fluid_sequencer_register_fluidsynth(sequencer, synth)
    called = ctypes.CFUNCTYPE(None, ctypes.c_uint, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_void_p)
    sent: list[float] = []
    note = called(lambda tick, event, sequencer, data: sent.append(time.perf_counter()))
    client = fluid.fluid_sequencer_register_client(sequencer, b"bench", note, None)
    event = make("new_fluid_event")
    fluid.fluid_event_set_source(event, -1)
    fluid.fluid_event_set_dest(event, client)
    fluid.fluid_event_timer(event, None)
    tick_s = [0.5 + beat * BEAT_S for beat in range(beats) for _ in range(NOTES_PER_BEAT)]
    for at_s in tick_s:
        fluid.fluid_sequencer_send_at(sequencer, event, round(at_s * 1000), 1)
    driver = make("new_fluid_audio_driver", settings, synth)
    end_s = time.perf_counter() + tick_s[-1] + 5
    while len(sent) < len(tick_s) and time.perf_counter() < end_s:
        time.sleep(0.05)
    fluid.delete_fluid_audio_driver(driver)
    start_s = statistics.median(at - tick for at, tick in zip(sent, tick_s))
    return [(start_s + tick, at) for at, tick in zip(sent, tick_s)]


def apart(play: Callable[[int], Times], beats: int) -> Times:
    """The same in a process of its own."""
    with SPAWN.Pool(1) as pool:
        return pool.apply(play, (beats,))


# --- telling


def percentile(values: list[float], share: float) -> float:
    return values[min(len(values) - 1, int(len(values) * share))]


def line(who: str, times: Times, yardstick: float) -> str:
    """yardstick: the 99th percentile that this one's is compared with, in milliseconds."""
    off_ms = [(sent - due) * 1000 for due, sent in times]
    ordered = sorted(map(abs, off_ms))
    shown = [percentile(ordered, share) for share in (0.5, 0.95, 0.99)]
    drift = sum(off_ms[-ENDS:]) / ENDS - sum(off_ms[:ENDS]) / ENDS
    figures = "".join(f"{value:>9.3f}" for value in (*shown, ordered[-1], drift))
    return f"{who:<44}{len(times):>6}{figures}{yardstick / shown[2]:>9.1f}"


def measure(beats: int, midi_out: str) -> dict[str, Times]:
    rows: dict[str, Times] = {}
    for realtime in (True, False):
        times, granted = ours(beats, realtime, midi_out)
        priority = "real-time priority" if granted else "real-time refused" if realtime else "ordinary priority"
        rows[f"sound process, {priority}"] = times
    rows["FluidSynth's sequencer, own process"] = apart(fluidsynth_sequencer, beats)
    rows["mido MidiFile.play(), own process"] = apart(mido_play, beats)
    rows["mido MidiFile.play(), in the app"] = mido_play(beats)
    rows["asyncio timer, in the app"] = asyncio_timer(beats)
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--events", type=int, default=2000)
    parser.add_argument("--midi-out", default="", help="part of a port's name; without it nothing is sent, only timed")
    options = parser.parse_args()
    load = SPAWN.Process(target=busy, daemon=True)
    load.start()
    try:
        with Repainting():
            rows = measure(max(2 * ENDS, options.events) // NOTES_PER_BEAT, options.midi_out)
    finally:
        load.terminate()
        load.join()
    in_app = sorted(abs(sent - due) * 1000 for due, sent in rows["mido MidiFile.play(), in the app"])
    print(
        f"{'milliseconds off due':<44}{'notes':>6}"
        + "".join(f"{word:>9}" for word in ("p50", "p95", "p99", "worst", "drift", "times"))
    )
    for who, times in rows.items():
        print(line(who, times, percentile(in_app, 0.99)) if times else f"{who:<44}  not installed")


if __name__ == "__main__":
    main()
