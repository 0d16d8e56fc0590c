"""What the built-in voices are made of, beside those they took the place of and beside sampled General MIDI pianos: brightness by register and velocity, how they die away, how
their partials are stretched, what a small loudspeaker loses and one loudspeaker instead of two, how loud they are against each other, what a note costs. And their spectra as a picture.

    python tests/bench/voices.py [--picture spectra.png] [more.sf2 ...]

Needs FluidSynth and a General MIDI SoundFont (on Debian: fluidsynth timgm6mb-soundfont), else ours are printed alone; the picture needs Pillow. Goals, against the first SoundFont: the
spectral centroid 0.6 to 1.6 times its in each register and a third or more higher from velocity 40 to 110; the level at 0.5, 1 and 2 s within 6 dB of it; the third
partial's stretch within 5 cents of it; under 3 dB lost below 250 Hz; the hand as loud as the bass within 1 dB; under 60 ms a note.
"""

from __future__ import annotations

import argparse
import glob
import subprocess
import sys
import tempfile
import time
import wave
from pathlib import Path

import mido
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from dataclasses import replace
from itertools import islice, pairwise

sys.path.insert(0, str(Path(__file__).resolve().parent))

from voices_before import before

import companion.export.track as track
from companion.groove.timeline import timeline
from companion.session.stand import Stand
from companion.sound.voices import forget, frequency_hz, render_full
from companion.store.library import read_songs
from companion.store.paths import find_paths
from companion.store.settings import shipped_settings

RATE = 48000
NOTES = (40, 45, 50, 55, 60, 65, 72, 79)
VELOCITIES = (40, 80, 110)
SECONDS = 4.0
TIMES_S = (0.5, 1.0, 2.0)
SMALL_HZ = 250.0  # below it a telephone or a laptop gives next to nothing
FONTS = sorted(glob.glob("/usr/share/sounds/sf2/*.sf2"))


def sampled(font: str, note: int, velocity: int, folder: Path, program: int = 0) -> np.ndarray:
    """One note of a General MIDI instrument, mono, from its onset on. program: as the wire carries it, -1 for percussion."""
    channel = 9 if program < 0 else 0
    track = mido.MidiTrack(
        [
            mido.Message("program_change", program=max(0, program), channel=channel, time=0),
            mido.Message("note_on", note=note, velocity=velocity, channel=channel, time=0),
            mido.Message("note_off", note=note, velocity=0, channel=channel, time=round(SECONDS * 960)),
        ]
    )
    file = mido.MidiFile(ticks_per_beat=480)
    file.tracks.append(track)
    source, target = folder / "note.mid", folder / "note.wav"
    file.save(source)
    command = ["fluidsynth", "-q", "-ni", "-F", str(target), "-T", "wav", "-O", "s16", "-r", str(RATE)]
    command += ["-o", "synth.reverb.active=0", "-o", "synth.chorus.active=0", "-g", "1", font, str(source)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    with wave.open(str(target)) as file_:
        data = np.frombuffer(file_.readframes(file_.getnframes()), "<i2").reshape(-1, 2)
    mono = data.mean(axis=1) / 32768
    onset = int(np.argmax(np.abs(mono) > 0.02 * np.abs(mono).max()))
    return mono[onset : onset + round(SECONDS * RATE)]


def spectrum(samples: np.ndarray, seconds: float = 0.5) -> tuple[np.ndarray, np.ndarray]:
    """(Hz, power) of the beginning."""
    part = samples[: round(seconds * RATE)].astype(float)
    part = part * np.hanning(2 * len(part))[len(part) :]  # falling half: the onset counts whole
    power = np.abs(np.fft.rfft(part, 1 << 17)) ** 2
    return np.fft.rfftfreq(1 << 17, 1 / RATE), power


def centroid_hz(samples: np.ndarray) -> float:
    hz, power = spectrum(samples)
    amplitude = np.sqrt(power)
    return float((hz * amplitude).sum() / amplitude.sum())


def level_db(samples: np.ndarray, at_s: float, pitch_hz: float) -> float:
    """Against the first tenth of a second."""

    def rms(start_s: float) -> float:
        part = samples[round(start_s * RATE) : round((start_s + 0.1) * RATE)].astype(float)
        return float(np.sqrt(np.mean(part**2)) + 1e-9)

    return 20 * np.log10(rms(at_s) / rms(0.02))


def partial_hz(samples: np.ndarray, near_hz: float) -> float:
    part = samples[:RATE].astype(float) * np.hanning(RATE)
    power = np.abs(np.fft.rfft(part, 1 << 20))
    hz = np.fft.rfftfreq(1 << 20, 1 / RATE)
    where = (hz > near_hz * 0.97) & (hz < near_hz * 1.03)
    return float(hz[where][np.argmax(power[where])])


def stretch_cents(samples: np.ndarray, pitch_hz: float) -> float:
    """How much wider than a twelfth the third partial lies above the first."""
    first = partial_hz(samples, pitch_hz)
    return 1200 * np.log2(partial_hz(samples, 3 * first) / (3 * first))


def lost_db(samples: np.ndarray) -> float:
    """On a loudspeaker that gives nothing below SMALL_HZ."""
    hz, power = spectrum(samples)
    return float(-10 * np.log10(power[hz >= SMALL_HZ].sum() / power.sum()))


def ours(note: int, velocity: int, voice: str = "left") -> np.ndarray:
    """Both sides as one loudspeaker gives them."""
    return render_full(voice, note, RATE, velocity).mean(axis=0) / 32767


def folded_db(note: int) -> float:
    """What is lost where both sides are one."""
    sides = render_full("left", note, RATE, 80).astype(float)
    return float(10 * np.log10((sides**2).mean() / (sides.mean(axis=0) ** 2).mean()))


def loudness(folder: Path, songs: int = 5) -> list[tuple[str, float, float]]:
    """(song, LUFS of the left hand, of the bass), each alone, at equal volumes."""
    paths = find_paths({"COMPANION_HOME": str(folder)})
    settings = shipped_settings(paths)
    track.mastered = lambda stereo, rate: stereo  # as loud as it is played
    found = []
    for song in islice(read_songs(paths, settings), songs):
        arrangement = Stand.put(song, settings).change(demonstrate=True).arrangement()
        alone = [timeline(replace(arrangement, parts=(part,)), [song.tempo_bpm]) for part in ("left", "bass")]
        left, bass = (track.loudness_lufs(track.mix(each), track.RATE) for each in alone)
        found.append((song.id, float(left), float(bass)))
    return found


def figures(fonts: list[str], folder: Path) -> None:
    print(
        "                centroid Hz, at velocity 40, 80, 110      level at 0.5, 1, 2 s (dB)    stretch (cents)  lost small, one (dB)"
    )
    for note in NOTES:
        rows = [("before", {velocity: before("left", note, RATE) for velocity in VELOCITIES})]
        rows.append(("ours", {velocity: ours(note, velocity) for velocity in VELOCITIES}))
        for font in fonts:
            sounds = {velocity: sampled(font, note, velocity, folder) for velocity in VELOCITIES}
            rows.append((Path(font).stem[:9], sounds))
        for who, sounds in rows:
            bright = " ".join(f"{centroid_hz(sounds[velocity]):7.0f}" for velocity in VELOCITIES)
            falls = " ".join(f"{level_db(sounds[80], at_s, frequency_hz(note)):6.1f}" for at_s in TIMES_S)
            one = f"{folded_db(note):6.1f}" if who == "ours" else ""
            cents = stretch_cents(sounds[80], frequency_hz(note))
            print(
                f"{note:>3} {who:9} {bright:>36}          {falls}      {cents:6.1f}         {lost_db(sounds[80]):5.1f}{one}"
            )
    print("\nloudness, LUFS: left hand, bass")
    for song_id, left, bass in loudness(folder):
        print(f"{song_id:32}{left:7.1f}{bass:7.1f}")
    costs = []
    for note in NOTES:
        forget()
        start_s = time.process_time()
        ours(note, 80)
        costs.append((time.process_time() - start_s) * 1000)
    print(f"\na note costs {min(costs):.0f} to {max(costs):.0f} ms of the processor, once")


PICTURED = (("left", 40, 0), ("left", 50, 0), ("left", 60, 0), ("left", 72, 0), ("bass", 33, 32), ("click", 0, -1))
WIDTH, HEIGHT, FLOOR_DB = 620, 250, -72.0


def picture(path: str, fonts: list[str], folder: Path) -> None:
    """Spectra of the first half second, the loudest line at 0 dB: before grey, ours blue, sampled red."""
    from PIL import Image, ImageDraw

    page = Image.new("RGB", (2 * WIDTH, 3 * HEIGHT), "white")
    draw = ImageDraw.Draw(page)
    for number, (voice, note, program) in enumerate(PICTURED):
        left, top, most_hz = number % 2 * WIDTH, number // 2 * HEIGHT, 1500.0 if voice == "bass" else 6000.0
        curves = [(before(voice, note, RATE), "#9a9a9a"), (ours(note, 80, voice), "#1f4fd8")]
        if fonts:
            curves.insert(1, (sampled(fonts[0], 77 if voice == "click" else note, 80, folder, program), "#d84a3a"))
        for db in range(0, -72, -12):
            y = top + 14 + (HEIGHT - 34) * db / FLOOR_DB
            draw.line([(left + 34, y), (left + WIDTH - 8, y)], fill="#e4e4e4")
            draw.text((left + 6, y - 6), str(db), fill="#555555")
        for hz in np.arange(0, most_hz + 1, most_hz / 6):
            draw.text((left + 34 + (WIDTH - 50) * hz / most_hz, top + HEIGHT - 16), f"{hz:.0f}", fill="#555555")
        for samples, colour in curves:
            hz, power = spectrum(samples)
            edges = np.searchsorted(hz, np.linspace(0, most_hz, WIDTH - 49))
            loud = np.array([power[a : max(b, a + 1)].max() for a, b in pairwise(edges)])
            db = np.maximum(10 * np.log10(loud / power.max() + 1e-12), FLOOR_DB)
            points = [(left + 34 + x, top + 14 + (HEIGHT - 34) * value / FLOOR_DB) for x, value in enumerate(db)]
            draw.line(points, fill=colour, width=2 if colour == "#1f4fd8" else 1)
        draw.text((left + 250, top + 2), f"{voice} {note}: grey before, blue ours, red sampled", fill="black")
    page.save(path)
    print(f"\n{path}")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--picture", default="", help="a PNG file of spectra")
    parser.add_argument("fonts", nargs="*", help="more SoundFonts to stand beside")
    options = parser.parse_args()
    fonts = [*FONTS[:1], *options.fonts]
    with tempfile.TemporaryDirectory() as name:
        figures(fonts, Path(name))
        if options.picture:
            picture(options.picture, fonts, Path(name))
    return 0


if __name__ == "__main__":
    sys.exit(main())
