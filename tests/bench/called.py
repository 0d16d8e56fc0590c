"""Called changes as they sound: how far from its beat each spoken name begins, in a recording of the app's own path through JACK.

    python tests/bench/called.py [CALLS A TEMPO]

Needs espeak-ng, jackd, the JACK example clients, FluidSynth and a SoundFont (see heard.py). Fourteen calls at each of 40, 60 and 80 beats a minute by
default, and at 100, where nothing is to be called. A take in which the server's log tells of an XRun is made again.
Goal: every name begins within 60 ms of its beat, none is missing, and none is called above 80.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1])]

from sound.called_live import off_ms, take
from sound.jack_rig import Rig, _missing

from companion.store.paths import find_paths
from companion.store.settings import shipped_settings

TEMPI = (40.0, 60.0, 80.0, 100.0)
NEAR_MS, MOST_BPM, TAKES, PERIOD = 60.0, 80.0, 5, 1024


def main() -> int:
    calls = int(sys.argv[1]) if len(sys.argv) > 1 else 14
    if missing := _missing():
        print(f"not measured: {missing} missing")
        return 2
    os.environ.update(
        JACK_DEFAULT_SERVER=f"called{os.getpid()}", JACK_NO_START_SERVER="1", JACK_NO_AUDIO_RESERVATION="1"
    )
    met = True
    with tempfile.TemporaryDirectory() as folder:
        settings = shipped_settings(find_paths({"COMPANION_HOME": folder}))
        rig = Rig(Path(folder))
        try:
            # Longer periods lose time less often; where a sound stands among the frames does not hang on them.
            subprocess.run(["jack_bufsize", str(PERIOD)], check=True, capture_output=True)
            print(f"load average {os.getloadavg()[0]:.1f}, periods of {PERIOD} frames")
            print(
                f"{'tempo':>6}{'called':>8}{'missing':>9}{'earliest':>10}{'median':>8}{'latest':>8}   ms after its beat"
            )
            for tempo_bpm in TEMPI:
                for _ in range(TAKES):
                    samples, lost_time = take(rig, settings, Path(folder) / "speech", calls + 1, tempo_bpm)
                    if not lost_time:
                        break
                else:
                    print(f"{tempo_bpm:6g}   not judged: the server lost time in {TAKES} takes")
                    continue
                offs = off_ms(samples, calls + 1, tempo_bpm)
                heard = np.array([off for off in offs if off is not None])
                asked = calls if tempo_bpm <= MOST_BPM else 0
                figures = f"{heard.min():10.1f}{np.median(heard):8.1f}{heard.max():8.1f}" if len(heard) else ""
                print(f"{tempo_bpm:6g}{len(heard):8}{asked - len(heard):9}{figures}", flush=True)
                met = met and len(heard) == asked and bool((np.abs(heard) < NEAR_MS).all())
        finally:
            rig.free_name()
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
