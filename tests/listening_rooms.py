"""Where the takes made up for the listener are played: room and microphone, noise, a voice, and the companion's own sound coming back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import count

import numpy as np
from listening_conditions import Condition
from pianos_sampled import RATE

from companion.groove.click import kept_time
from companion.groove.model import Click, NoteEvent
from companion.groove.ride import CYMBALS
from companion.groove.swing import swing_ratio
from companion.sound.listening.echo import RESPONSE, Echo, measure, measuring_noise
from companion.sound.listening.verdicts import Due
from companion.sound.mixer import Mixer
from companion.sound.voices import render, render_full
from companion.theory.meter import Meter


@dataclass(frozen=True, eq=False)
class Place:
    """response: of room and microphone, from a note's onset on."""

    response: np.ndarray

    @classmethod
    def some(cls, condition: Condition, rng: np.random.Generator) -> Place:
        seconds = rng.uniform(*condition.room)
        count = int(min(seconds, 0.8) * RATE)
        tail = rng.normal(0, 1, count) * np.exp(-6.9 * np.arange(count) / (seconds * RATE))
        tail[: int(0.004 * RATE)] = 0.0
        tail = np.convolve(tail, [0.5, 0.35, 0.15])[:count]  # walls take the high
        tail *= np.sqrt(rng.uniform(*condition.wet) / max(float(np.square(tail).sum()), 1e-9))
        for _ in range(5):  # first reflections
            tail[int(rng.uniform(0.002, 0.025) * RATE)] += rng.uniform(-0.35, 0.35)
        tail[0] += 1.0
        return cls(_coloured(tail, rng, condition.laptop))

    def heard(self, dry: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        return convolved(dry, self.response)


def _coloured(response: np.ndarray, rng: np.random.Generator, laptop: bool) -> np.ndarray:
    """A microphone's own colour: some broad dips and bumps; a laptop's gives little below 150 Hz. Without a delay of its own to speak of (least phase)."""
    size = 1 << 14
    hz = np.fft.rfftfreq(size, 1 / RATE) + 1.0
    db = np.zeros_like(hz)
    for _ in range(4):
        db += rng.uniform(-4, 4) * np.exp(-0.5 * (np.log2(hz / 10 ** rng.uniform(2.0, 3.6)) / 0.5) ** 2)
    if laptop:
        db -= 10.0 * np.log10(1.0 + (150.0 / hz) ** 4) - 5.0 * np.exp(-0.5 * (np.log2(hz / 2500.0) / 0.5) ** 2)
    cepstrum = np.fft.irfft(db * np.log(10) / 20.0, size)
    cepstrum[1 : size // 2] *= 2.0
    cepstrum[size // 2 + 1 :] = 0.0
    return np.fft.irfft(np.fft.rfft(response, size) * np.exp(np.fft.rfft(cepstrum)), size)[: len(response) + 400]


def noise_of(condition: Condition, size: int, loud: float, rng: np.random.Generator) -> np.ndarray:
    spectrum = np.fft.rfft(rng.normal(0, 1, size))
    hz = np.fft.rfftfreq(size, 1 / RATE)
    noise = np.fft.irfft(spectrum / np.sqrt(np.maximum(hz, 50.0) / 50.0) ** 0.7, size)
    noise *= loud * 10.0 ** (condition.noise_db / 20.0) / rms(noise, active=False)
    if condition.hum_db is not None:
        at = np.arange(size) / RATE
        hum = sum(np.sin(2 * np.pi * 50.0 * k * at + k) / k for k in range(1, 9))
        noise += hum * loud * 10.0 ** (condition.hum_db / 20.0)
    return noise.astype(np.float32)


def voice(size: int, rng: np.random.Generator) -> np.ndarray:
    """Speech-like: syllables of a gliding buzz through two or three resonances (source and filter), and pauses."""
    sound = np.zeros(size)
    at = 0
    while at < size:
        length = int(rng.uniform(0.12, 0.35) * RATE)
        if rng.random() < 0.75:
            pitch = rng.uniform(95, 220) * (1 + np.linspace(0, rng.uniform(-0.2, 0.2), length))
            phase = np.cumsum(pitch) / RATE
            buzz = sum(np.sin(2 * np.pi * k * phase) / k for k in range(1, 25))
            spectrum, hz = np.fft.rfft(buzz), np.fft.rfftfreq(length, 1 / RATE)
            shape = sum(
                1.0 / (1.0 + ((hz - centre) / 90.0) ** 2)
                for centre in (rng.uniform(300, 800), rng.uniform(900, 2200), 2600)
            )
            syllable = np.fft.irfft(spectrum * shape, length) * np.hanning(length)
            end = min(size, at + length)
            sound[at:end] += syllable[: end - at]
        at += length
    return sound / rms(sound)


def with_leak(
    sound: np.ndarray, condition: Condition, dues: list[Due], beat_s: float, loud: float, rng: np.random.Generator
) -> np.ndarray:
    """What keeps the time and the bass through loudspeakers into the microphone, and, where that is asked for, taken out again."""
    sides = (mixed if condition.mixed else click_and_bass)(condition, dues, beat_s, len(sound))
    played = sides.mean(axis=0)
    speaker = replace(condition, laptop=True, room=(0.2, 0.5), wet=(0.3, 0.8))
    late = np.zeros(int(rng.uniform(0.005, 0.04) * RATE))
    paths = [np.concatenate([late, Place.some(speaker, rng).response]) for _ in range(condition.speakers)]
    gain = 10.0 ** (condition.leak_db / 20.0) * loud / rms(_through(sides, paths))
    paths = [gain * path for path in paths]
    behind = np.stack([slower(side, 1.0 - condition.ppm * 1e-6) for side in sides])
    leaked = _through(np.pad(behind, ((0, 0), (0, max(0, len(sound) - behind.shape[1]))))[:, : len(sound)], paths)
    heard = (sound + leaked).astype(np.float32)
    if not condition.cancelled:
        return heard
    probe = measuring_noise()
    answer = _through(np.tile(np.pad(probe, (0, RESPONSE)), (len(sides), 1)), paths)
    echo = Echo(measure(probe, answer + noise_of(condition, len(answer), loud, rng)))
    blocks = range(0, len(heard), 800)
    return np.concatenate([echo.clean(heard[at : at + 800], played[at : at + 800]) for at in blocks])


def _through(sides: np.ndarray, paths: list[np.ndarray]) -> np.ndarray:
    """One loudspeaker gives what both sides have in common; each of two its own half."""
    sides = sides.mean(axis=0, keepdims=True) if len(paths) == 1 else sides / 2.0
    return np.sum([convolved(side, path) for side, path in zip(sides, paths)], axis=0)


def click_and_bass(condition: Condition, dues: list[Due], beat_s: float, size: int) -> np.ndarray:
    """(1, samples)"""
    played = np.zeros(size, dtype=np.float32)
    first_s = dues[0].time_s % beat_s
    for beat in range(int((size / RATE - first_s) / beat_s)):
        root = _root(dues, first_s + beat * beat_s)
        for one, level in ((render("click", int(beat % 4 == 0), RATE), 0.5), (render("bass", root, RATE), 0.6)):
            start = round((first_s + beat * beat_s) * RATE)
            length = min(len(one), len(played) - start)
            played[start : start + length] += level * one[:length]
    return played[None]


def mixed(condition: Condition, dues: list[Due], beat_s: float, size: int) -> np.ndarray:
    """(2, samples): bars of what keeps the time as the built-in sound has it, the full notes through its own mixer, and a bass on each beat."""
    mixer = Mixer(RATE)
    meter = Meter(4, 4)
    first_s, keys = dues[0].time_s % beat_s, count()
    events = kept_time(Click(mode=condition.mixed), meter, "swing", swing_ratio(60.0 / beat_s))
    events += [NoteEvent(pulse * meter.pulse_ticks, meter.pulse_ticks * 9 // 10, "bass", 0, 90) for pulse in range(4)]
    for bar in range(int((size / RATE - first_s) / (4 * beat_s))):
        for event in events:
            at_s = first_s + (4 * bar + event.tick / meter.pulse_ticks) * beat_s
            end_s = at_s + event.ticks / meter.pulse_ticks * beat_s
            voice = "drums" if event.note in CYMBALS else event.part
            note = _root(dues, at_s) if event.part == "bass" else event.note
            key = (next(keys), 0)
            mixer.schedule(round(at_s * RATE), event.part, _full(voice, note), event.velocity, key)
            mixer.release(round(end_s * RATE), key)
    return np.concatenate([mixer.render(800) for _ in range(-(-size // 800))], axis=1)[:, :size]


_full = cache(partial(render_full, rate=RATE))


def _root(dues: list[Due], at_s: float) -> int:
    """The bass under what is due nearest to a time."""
    root = min(dues, key=lambda due: abs(due.time_s - at_s)).notes[0]
    return root - 12 if root > 44 else root


def levelled(sound: np.ndarray) -> np.ndarray:
    """An automatic level: turns down at once what is loud, and up again within some seconds."""
    size = np.sqrt(np.convolve(np.square(sound), np.ones(800) / 800, mode="same"))[::160] + 1e-6
    gains, gain = [], 1.0
    for one in size:
        wanted = min(8.0, 0.08 / float(one))
        gain += (wanted - gain) * (0.2 if wanted < gain else 0.004)
        gains.append(gain)
    return (sound * np.interp(np.arange(len(sound)), np.arange(len(gains)) * 160, gains)).astype(np.float32)


def rms(sound: np.ndarray, active: bool = True) -> float:
    """Of what is not silence."""
    power = np.square(np.asarray(sound, dtype=np.float64))
    if active:
        blocks = power[: len(power) // 800 * 800].reshape(-1, 800).mean(axis=1)
        power = blocks[blocks > 1e-3 * blocks.max()]
    return float(np.sqrt(power.mean() + 1e-20))


def convolved(sound: np.ndarray, response: np.ndarray) -> np.ndarray:
    size = len(sound) + len(response)
    size = 1 << int(np.ceil(np.log2(size)))
    return np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(response, size), size)[: len(sound)].astype(np.float32)


def slower(sound: np.ndarray, factor: float) -> np.ndarray:
    at = np.arange(int(len(sound) / factor)) * factor
    return np.interp(at, np.arange(len(sound)), sound).astype(np.float32)
