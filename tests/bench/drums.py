"""The ride cymbal and the hi-hat of the built-in sound beside those of General MIDI SoundFonts: how bright they are, how they die away, how loud the ride is beside the
wooden click and the bass, what a stroke costs.

    python tests/bench/drums.py [SOUNDFONT ...]

Needs FluidSynth and SoundFonts (on Debian: fluidsynth, timgm6mb-soundfont, fluid-soundfont-gm), else ours are printed alone. Goals: the spectral centroid 0.6 to 1.6 times
that of each; levels within 6 dB of the nearest of them; the ride not softer than the click on every beat, and 8 LU or more below the bass, so that it covers nothing (our own choice); under 60 ms a
stroke.
"""

from __future__ import annotations

import glob
import subprocess
import sys
import tempfile
import time
import wave
from dataclasses import replace
from pathlib import Path

import mido
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import companion.export.track as track
from companion.groove.model import Click
from companion.groove.ride import CYMBALS
from companion.groove.timeline import timeline
from companion.session.stand import Stand
from companion.sound.drums import hi_hat, ride
from companion.sound.voices import render
from companion.store.library import find_song
from companion.store.paths import find_paths
from companion.store.settings import shipped_settings

RATE = 48000
TIMES_S = (0.02, 0.05, 0.1, 0.2, 0.4, 0.8, 1.4)


def sampled(font: str, note: int, folder: Path) -> np.ndarray:
    """One stroke at velocity 84, mono, from its onset on."""
    struck = mido.MidiTrack(
        [
            mido.Message("note_on", channel=9, note=note, velocity=84, time=480),
            mido.Message("note_off", channel=9, note=note, time=1920),
            mido.MetaMessage("end_of_track", time=960),
        ]
    )
    file = mido.MidiFile(ticks_per_beat=480, tracks=[struck])
    source, target = folder / "stroke.mid", folder / "stroke.wav"
    file.save(source)
    command = ["fluidsynth", "-q", "-ni", "-F", str(target), "-T", "wav", "-O", "s16", "-r", str(RATE)]
    command += ["-o", "synth.reverb.active=0", "-o", "synth.chorus.active=0", "-g", "1", font, str(source)]
    subprocess.run(command, check=True, timeout=120, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    with wave.open(str(target)) as sound:
        mono = np.frombuffer(sound.readframes(sound.getnframes()), "<i2").reshape(-1, 2).mean(axis=1) / 32768
    return mono[int(np.argmax(np.abs(mono) > 1e-3 * np.abs(mono).max())) :]


def figures(samples: np.ndarray) -> str:
    power = np.abs(np.fft.rfft(samples.astype(float))) ** 2
    hz = np.fft.rfftfreq(len(samples), 1 / RATE)
    levels = []
    for at_s in (0.0, *TIMES_S):
        part = samples[round(at_s * RATE) :][: RATE // 50].astype(float)
        levels.append(10 * np.log10(np.mean(part**2) + 1e-12) if len(part) else -120.0)
    fallen = " ".join(f"{level - levels[0]:6.1f}" if level > -90 else "     –" for level in levels[1:])
    return f"{(hz * power).sum() / power.sum():6.0f} Hz   {fallen} dB"


def loudness_lufs(stand: Stand, part: str, mode: str) -> float:
    """Of one part alone, before it is brought to the track's loudness."""
    arrangement = replace(stand.arrangement(), parts=(part,), click=Click(mode), bass="walking", count_in_bars=0)
    brought, track.mastered = track.mastered, lambda stereo, rate: stereo
    try:
        return track.loudness_lufs(track.mix(timeline(arrangement, [120.0])), track.RATE)
    finally:
        track.mastered = brought


def main(fonts: list[str]) -> None:
    print(f"{'':34}   centroid   after {', '.join(f'{at_s:g}' for at_s in TIMES_S)} s")
    for note, name in zip(CYMBALS, ("hi-hat", "ride")):
        print(f"{name + ', ours':34} {figures(render('drums', note, RATE))}")
        for font in fonts:
            with tempfile.TemporaryDirectory() as folder:
                print(f"{name + ', ' + Path(font).name:34.34} {figures(sampled(font, note, Path(folder)))}")
    paths = find_paths()
    settings = shipped_settings(paths)
    stand = Stand.put(find_song("ferry-at-half-past-six", paths, settings), settings)
    for part, mode in (("click", "every"), ("click", "ride"), ("bass", "off")):
        print(f"{part if part == 'bass' else mode:10} {loudness_lufs(stand, part, mode):6.1f} LUFS")
    for make in (ride, hi_hat):
        took = []
        for _ in range(10):
            began = time.process_time()
            make(RATE)
            took.append(1000 * (time.process_time() - began))
        print(f"{make.__name__:10} {min(took):5.1f} ms at least, {sorted(took)[5]:.1f} in the middle")


if __name__ == "__main__":
    main(sys.argv[1:] or sorted(glob.glob("/usr/share/sounds/sf2/*.sf2")))
