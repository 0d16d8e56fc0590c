"""Called changes as they sound: the conductor, the thread that speaks, the sound process and its built-in sound, recorded through JACK.

Two pulses to the bar: on the first a click and nothing else, which is the grid, on the second the name of the next bar's chord, which is over
when that comes.
"""

from __future__ import annotations

import queue
import time
from pathlib import Path

import numpy as np
from sound.jack_rig import RATE, Rig

from companion.chart.reader import parse_chart
from companion.session.called import Caller
from companion.session.changes import Ended
from companion.session.conductor import Conductor
from companion.session.playback import Playback
from companion.session.stand import Stand
from companion.session.stand_changes import CLICKS
from companion.sound.link import SoundLink
from companion.sound.messages import Ready, SoundConfig
from companion.store.log.practice_log import PracticeLog
from companion.store.settings import Settings

SPOKEN_WITHIN_S = 120.0
SYMBOLS = ("C6", "F7", "Bbmaj7", "Ebm7", "Ab13", "Dbmaj7", "F#m7b5", "B7b9", "Em7", "A7", "Dm7", "G7")
_QUIET_S, _LOOK_S = 0.03, 0.002


def chart(calls: int, tempo_bpm: float) -> str:
    """So many bars of 2/4, each of another chord than the one before."""
    bars = " | ".join(SYMBOLS[number % len(SYMBOLS)] for number in range(calls))
    head = f'title = "Called"\nkey = "C"\nmeter = "2/4"\ntempo = {tempo_bpm:g}\nform = "A"\n'
    return f'{head}[section.A]\nbars = "{bars}"\n'


def take(rig: Rig, settings: Settings, folder: Path, calls: int, tempo_bpm: float) -> tuple[np.ndarray, bool]:
    """(samples of one pass that calls so many chords, whether the server lost time). folder: where what is spoken is kept."""
    reports: queue.SimpleQueue[object] = queue.SimpleQueue()
    with (
        PracticeLog.in_memory() as log,
        SoundLink(SoundConfig(mode="builtin", audio_backend="jack", midi_in=("nobody",))) as link,
    ):
        link.listen(reports.put)
        while not isinstance(report := reports.get(timeout=SPOKEN_WITHIN_S), Ready):
            pass
        assert report.output == "builtin", report.sentence
        faults: list[str] = []
        caller = Caller(folder, link.send, faults.append)
        conductor = Conductor(Playback(link, speak=caller.want), lambda: log, lambda: settings)
        stand = Stand.put(parse_chart(chart(calls, tempo_bpm), id="called"), settings)
        click = next(each for each in CLICKS if each.mode == "bar")
        conductor.put(stand.change(bass="off", demonstrate=False, click=click, calls="always", count_in_bars=0))
        assert caller.wait(SPOKEN_WITHIN_S) and not faults, faults
        port = next(port for port in rig.ports() if port.startswith("companion") and "playback" in port)
        recording = rig.record(port, round(calls * 2 * 60 / tempo_bpm) + 4)
        changes = conductor.start(passes=1)
        end_s = time.perf_counter() + SPOKEN_WITHIN_S + calls * 120 / tempo_bpm
        while not any(isinstance(change, Ended) for change in changes):
            assert time.perf_counter() < end_s, "it does not end"
            changes = (
                conductor.hear(report)
                if (report := _next(reports)) is not None
                else conductor.tick(time.perf_counter())
            )
        lost_time = rig.lost_time()
        recording.wait(30)
        rig.processes.remove(recording)
    return rig.taken(), lost_time


def _next(reports: queue.SimpleQueue[object]) -> object | None:
    try:
        return reports.get(timeout=0.05)
    except queue.Empty:
        return None


def sounds_after(samples: np.ndarray, at_s: float, within_s: float) -> float | None:
    """When the first sound begins after a silence, looked for from a time on; None for none. The first 2 ms above a tenth of the loudest of
    this stretch, after 30 ms of quiet."""
    size = round(_LOOK_S * RATE)
    first = max(0, round((at_s - _QUIET_S) * RATE))
    part = np.abs(samples[first : round((at_s + within_s) * RATE)])
    levels = part[: len(part) // size * size].reshape(-1, size).max(axis=1)
    loud = levels > max(0.005, 0.1 * levels.max(initial=0.0))
    quiet = round(_QUIET_S / _LOOK_S)
    at = next((at for at in np.flatnonzero(loud) if not loud[max(0, at - quiet) : at].any()), None)
    return None if at is None else first / RATE + float(at) * _LOOK_S


def off_ms(samples: np.ndarray, calls: int, tempo_bpm: float, near_s: float = 0.15) -> list[float | None]:
    """Of each chord that is called within a pass, how much later than its beat its name begins, in milliseconds; None where none begins
    near it. The clicks are the grid: the first is found, and the last one must be where that says. Raises
    ValueError."""
    start_s = float(np.flatnonzero(np.abs(samples) > 0.01)[0]) / RATE
    pulse_s = 60 / tempo_bpm
    last_s = start_s + (calls - 1) * 2 * pulse_s
    found = sounds_after(samples, last_s - 0.02, 0.1)
    if found is None or abs(found - last_s) > 0.01:
        raise ValueError("the clicks do not keep one tempo")
    offs: list[float | None] = []
    for number in range(calls - 1):  # after the last bar none comes
        due_s = start_s + (2 * number + 1) * pulse_s
        begins_s = sounds_after(samples, due_s - near_s, 2 * near_s)
        offs.append(None if begins_s is None else (begins_s - due_s) * 1000)
    return offs
