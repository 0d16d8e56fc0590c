"""An acoustic piano heard live: FluidSynth through a JACK server into our capture, click and bass of the companion leaking in through a small room and taken out, lost sound made good.

    python tests/bench/microphone.py [--strikes 200] [--loops 4] [--loudspeaker 0.1] [--losses 4] [--slips 0.25] [--seed 1] [--period 1024] [--click every]

At 104 a minute; of the slips each of the ten kinds in turn; busy loops beside it. --loudspeaker: gain of its way into the microphone, 0 for headphones. --losses: so often the capture is
stopped for 100 ms, so that sound is lost. --period: frames of the server, which holds a key back until its next period begins: of evenly spread strikes the half lies within a quarter of a
period of their median, 95 of 100 within 0.475 of one, whoever listens. What is judged is what is told of each strike, and its mark. Needs jackd, the JACK example clients, FluidSynth and
a SoundFont (on Debian: jackd2 fluidsynth timgm6mb-soundfont).
Goals: of 100 clean strikes at least 95 right and at most 0.3 held against the player; 85 of 100 slips caught, 1 passed as right; onset within 10 ms and the verdict within 215 ms at the
95th percentile; 15 % of a core. Onsets are told against their own median, which holds the ways of both sounds through the server; that is what the set-up takes off.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from listening_live import (
    PERIOD,
    LiveRoom,
    LostTime,
    busy,
    leak_db,
    live_room,
    marks_by_strike,
    practise,
    processor_s,
)
from listening_player import SLIPS, Player, Strike, key_of
from sound.jack_rig import RATE, _missing

from companion.chart.reader import parse_chart
from companion.groove.model import Click
from companion.groove.names import CLICK_MODES
from companion.session.drill import DrillSettings, new_drill
from companion.session.microphone import Microphone
from companion.session.practice import Practice
from companion.session.stand import Stand
from companion.sound.listening.messages import EchoMeasured
from companion.sound.listening.own_sound import AHEAD_S, echo_of
from companion.sound.messages import BeatReport
from companion.store.log.patient_log import PatientLog
from companion.store.paths import find_paths
from companion.store.settings import load_settings

BPM = 104.0
LOST_S = 0.1
SLOW_S = 0.02
MEASURES = 4
CHART = """title = "Eight for the Ear"
key = "Bb"
meter = "4/4"
tempo = 104
form = "A"
[section.A]
bars = "Bb6 | G7 | Cm7 | F7 | Dm7 | G7 | Cm7 | F7"
"""


def main() -> int:
    parser = argparse.ArgumentParser()
    defaults = {"strikes": 200, "loops": 4, "loudspeaker": 0.1, "losses": 4, "slips": 0.25, "seed": 1, "period": PERIOD}
    for name, value in defaults.items():
        parser.add_argument(f"--{name}", type=type(value), default=value)
    parser.add_argument("--click", choices=tuple(CLICK_MODES), default="every")
    asked = parser.parse_args()
    if missing := _missing():
        print(f"not measured: {missing} missing")
        return 2
    with tempfile.TemporaryDirectory() as folder:
        return measure(Path(folder), asked)


def measure(folder: Path, asked: argparse.Namespace) -> int:
    paths = find_paths({"COMPANION_HOME": str(folder / "home")})
    with live_room(folder, asked.loudspeaker or None, asked.period) as room, PatientLog.begin(paths) as log:
        behind_s = 0.0
        if asked.loudspeaker:
            echo = next((each for each in measures(room) if each.is_good), None)
            if echo is None:
                print("not measured: the server loses too much time to take the loudspeaker out")
                return 2
            behind_s = late_s(echo.response)
            print(
                f"leak {leak_db(asked.loudspeaker):+.0f} dB beside a key of the piano, heard {1000 * behind_s:.0f} ms late, {echo.quality_db:.0f} dB of it can be taken out"
            )
        stand = Stand.put(parse_chart(CHART, id="eight"), load_settings(paths))
        stand = stand.change(pattern="four", bass="walking", click=Click(asked.click), count_in_bars=1).with_tempo(BPM)
        practice = Practice(stand, new_drill(stand, "play", DrillSettings()), log)
        practice.microphone = lambda: True
        # A key waits for half a period, and is heard as the first of the period before: so much too early.
        behind_s += asked.period / 2 / RATE
        player = Player(room.hands, 60.0 / BPM, asked.slips, behind_s=behind_s, seed=asked.seed)
        losses: list[float] = []
        last_beat: list[BeatReport] = []

        def beat(report: BeatReport) -> None:
            last_beat[:] = [report]
            if report.turn >= 0 and report.pulse == 2 and report.position in (1, 5) and len(losses) < asked.losses:
                losses.append(time.perf_counter())
                threading.Thread(target=lose, args=(room.microphone.pid,)).start()

        passes = -(-asked.strikes // (4 * len(stand.loop)))
        server = LostTime(room.rig.log)
        began_s, worked_s = time.perf_counter(), processor_s(room.microphone.pid)
        with busy(asked.loops):
            results = practise(room, practice, player, lambda: bool(last_beat) and last_beat[0].turn >= passes, beat)
        core = (processor_s(room.microphone.pid) - worked_s) / (time.perf_counter() - began_s)
        server.close()
    passes_told = dict(Counter(f"{each.record.source} {each.record.heard_by}".strip() for each in results))
    print(
        f"{len(player.played)} strikes at {BPM:.0f} a minute, passes {passes_told}, {asked.loops} busy loops, load {os.getloadavg()[0]:.0f}"
    )
    print(
        f"sound lost {len(losses)} times for {LOST_S * 1000:.0f} ms; the server lost time {len(server.at_s)} times; {100 * core:.0f} % of a core (goal 15)"
    )
    return tell(list(player.played.values()), marks_by_strike(results), losses, server.at_s)


def measures(room: LiveRoom) -> Iterator[EchoMeasured]:
    """Again where time was lost meanwhile, as the student is asked to."""
    for _ in range(MEASURES):
        yield room.measure(Microphone.noise())


def late_s(response: bytes) -> float:
    echo = echo_of(response)
    return echo.late_s - AHEAD_S if echo else 0.0


def lose(pid: int) -> None:
    """The listening process hears nothing for a moment, as where a machine has other things to do."""
    os.kill(pid, signal.SIGSTOP)
    time.sleep(LOST_S)
    os.kill(pid, signal.SIGCONT)


def outcome(strike: Strike, marks: dict) -> str:
    """What is told of a strike: right, slip, or not sure. Its time is judged by the marks of its pass, where the practice took that for heard."""
    kind = strike.said.verdict.kind
    if kind == "right":
        mark = marks.get(key_of(strike.said.verdict.due), "not sure" if strike.slip in ("early", "late") else "right")
        return mark if mark in ("right", "not sure") else "slip"
    return "not sure" if kind == "not sure" else "slip"


def tell(strikes: list[Strike], marks: dict, losses: list[float], server_s: list[float]) -> int:
    strikes = [strike for strike in strikes if strike.said is not None]
    slow = [
        strike for strike in strikes if strike.meant_s and not 0 <= (strike.struck_s or 9e9) - strike.meant_s < SLOW_S
    ]
    print(f"left out, as the player's thread was late or out of time: {len(slow)} strikes")
    strikes = [strike for strike in strikes if strike not in slow]
    lost = [strike for strike in strikes if any(abs(strike.due.time_s - loss_s) < 0.6 for loss_s in losses)]
    away = [
        strike
        for strike in strikes
        if strike not in lost and any(-0.5 < at_s - strike.due.time_s < 0.5 for at_s in server_s)
    ]
    print(
        f"left out, as the server lost time beside them: {len(away)} strikes, {dict(Counter(outcome(each, marks) for each in away if not each.slip))} of the clean ones"
    )
    strikes = [strike for strike in strikes if strike not in away]
    whole = [strike for strike in strikes if strike not in lost]
    clean = Counter(outcome(strike, marks) for strike in whole if not strike.slip)
    slips = [strike for strike in whole if strike.slip]
    caught = Counter((strike.slip, outcome(strike, marks)) for strike in slips)
    shares = [100 * clean[one] / max(1, clean.total()) for one in ("right", "slip", "not sure")]
    print(
        "{} clean: {:.1f} % right (goal 95), {:.1f} % held against the player (0.3), {:.1f} % not sure".format(
            clean.total(), *shares
        )
    )
    all_caught, passed = (sum(count for (_, how), count in caught.items() if how == one) for one in ("slip", "right"))
    print(
        f"{len(slips)} slips: {100 * all_caught / max(1, len(slips)):.0f} % caught (goal 85), {100 * passed / max(1, len(slips)):.1f} % passed as right (1)"
    )
    for kind in SLIPS:
        print(
            f"  {kind:14}"
            + ", ".join(f"{how} {caught[kind, how]}" for how in ("slip", "not sure", "right") if caught[kind, how])
        )
    print(
        f"where sound was lost: {dict(Counter(outcome(strike, marks) for strike in lost))}, {sum(bool(s.slip) for s in lost)} of them slips"
    )
    heard = [
        s
        for s in whole
        if s.struck_s is not None
        and not s.slip
        and s.said.verdict.onset_s is not None
        and s.said.verdict.kind == "right"
    ]
    if heard:
        off = 1000 * np.array([s.said.verdict.onset_s - s.struck_s for s in heard])
        delay = 1000 * np.array([s.said.said_s - s.struck_s for s in heard])
        far = np.abs(off - np.median(off))
        print(
            f"onset: {np.median(off):+.1f} ms as the player struck; against that median {np.median(far):.1f}, p95 {np.percentile(far, 95):.1f} (3, 10), worst {far.max():.1f}"
        )
        print(f"right is told {np.median(delay):.0f} ms after the strike, p95 {np.percentile(delay, 95):.0f} (215)")
    return 0


if __name__ == "__main__":
    # A process started from here takes this one's server.
    os.environ.setdefault("JACK_DEFAULT_SERVER", f"bench{os.getpid()}")
    os.environ.update(JACK_NO_START_SERVER="1", JACK_NO_AUDIO_RESERVATION="1")
    sys.exit(main())
