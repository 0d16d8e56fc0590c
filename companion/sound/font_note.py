"""One key of a SoundFont's instrument, struck and held, as an array: sample, loop, envelopes, vibrato and filter of the SoundFont Technical Specification 2.04, chapters 8 and 9.

Units there: time cents (1200 to the octave, 0 is a second), absolute cents (0 is 8.176 Hz), centibels (ten to the decibel).
"""

from __future__ import annotations

import numpy as np

from companion.sound.soundfont import SoundFont, Zone

HELD_S = 6.0  # a whole note at 40 beats a minute; what dies away sooner is cut
# Attenuations count two fifths of what is written, as in the hardware that most SoundFonts were made for (so do the synthesisers in use: common practice).
_ATTENUATION = 0.4
_FALL_DB = 100.0  # that an envelope's decay time stands for (8.1.2, generator 36)
_WINDOW = 1024  # frames of a slice that is filtered by itself
_OPEN_CENTS = 13500  # a filter as wide as this does nothing
_SILENT = 3e-4


def held_note(font: SoundFont, bank: int, program: int, note: int, velocity: int, rate: int) -> np.ndarray | None:
    """float32, shape (2, frames), from the very frame of the key on; None where the instrument has no such key. Louder with velocity as the standard says. Raises SoundFontError."""
    total = np.zeros((2, round(HELD_S * rate)), np.float32)
    zones = font.zones(bank, program, note, velocity)
    for zone in zones:
        mono = _zone_note(font, zone, note, velocity, rate)
        angle = (np.clip(zone[17], -500, 500) / 1000 + 0.5) * np.pi / 2  # generator 17, pan, in tenths of a percent
        total[0, : len(mono)] += np.float32(np.cos(angle)) * mono
        total[1, : len(mono)] += np.float32(np.sin(angle)) * mono
    loud = np.abs(total).max(axis=0)
    if not zones or not (peak := loud.max()) or not np.isfinite(peak):
        return None
    return total[:, : np.flatnonzero(loud > _SILENT * peak)[-1] + 1]


def _zone_note(font: SoundFont, zone: Zone, note: int, velocity: int, rate: int) -> np.ndarray:
    key = zone[46] if zone[46] >= 0 else note
    velocity = zone[47] if zone[47] > 0 else velocity
    samples = font.samples(zone.sample)
    times = np.arange(round(HELD_S * rate), dtype=np.float64) / rate
    root = zone[58] if 0 <= zone[58] <= 127 else zone.root
    cents = (key - root) * zone[56] + 100 * zone[51] + zone[52] + zone.cents
    step = 2 ** (cents / 1200) * zone.rate / rate
    steps = step * 2 ** (_bend_cents(zone, times) / 1200)
    places = np.cumsum(steps) - steps[0]
    sound = _resampled(samples, places, zone)
    times = times[: len(sound)]
    sound = sound * _volume(zone, key, times)
    sound = _filtered(sound, zone, velocity, times, rate)
    quieter_db = _ATTENUATION * max(0, zone[48]) / 10 + 40 * np.log10(127 / velocity)  # 8.4.1: velocity to attenuation
    return np.asarray(sound * 10 ** (-quieter_db / 20), np.float32)


def _seconds(time_cents: int) -> float:
    return 0.0 if time_cents <= -12000 else float(2 ** (min(time_cents, 8000) / 1200))


def _resampled(samples: np.ndarray, places: np.ndarray, zone: Zone) -> np.ndarray:
    """The samples at those places, by a third-order curve through four neighbours (Catmull and Rom); the loop goes round."""
    first, behind = zone.loop
    loops = zone[54] & 1 and 0 <= first < behind - 1 and behind <= len(samples)
    if not loops:
        places = places[: np.searchsorted(places, len(samples) - 2)]
    whole = places.astype(np.int64)
    part = (places - whole).astype(np.float32)

    def at(shift: int) -> np.ndarray:
        index = whole + shift
        if loops:
            index = np.where(index >= behind, first + (index - first) % (behind - first), index)
        return samples[np.clip(index, 0, len(samples) - 1)]

    before, here, next_, after = at(-1), at(0), at(1), at(2)
    slope, next_slope = (next_ - before) / 2, (after - here) / 2
    curve = 2 * (here - next_) + slope + next_slope
    return np.asarray(((curve * part + (3 * (next_ - here) - 2 * slope - next_slope)) * part + slope) * part + here)


def _volume(zone: Zone, key: int, times: np.ndarray) -> np.ndarray:
    """The envelope of the volume (generators 33 to 37, 39, 40): rises evenly, holds, falls evenly in decibels to where it stays. And the tremolo (13)."""
    delay, attack = _seconds(zone[33]), _seconds(zone[34])
    hold = _seconds(zone[35] + zone[39] * (60 - key))
    decay = max(_seconds(zone[36] + zone[40] * (60 - key)), 1e-3)
    stays_db = min(max(zone[37], 0) / 10, _FALL_DB)
    fallen_db = np.clip((times - delay - attack - hold) * _FALL_DB / decay, 0, stays_db)
    level = 10 ** (-fallen_db / 20)
    if zone[37] >= 1000:
        level = level * (fallen_db < _FALL_DB)
    if delay or attack:
        level = level * np.clip((times - delay) / max(attack, 1e-4), 0, 1)
    if zone[13]:
        level = level * 10 ** (zone[13] / 200 * _swing(zone, 21, 22, times))
    return np.asarray(level)


def _swing(zone: Zone, delay: int, frequency: int, times: np.ndarray) -> np.ndarray:
    """A slow wave up and down, a triangle from -1 to 1 that begins at 0 (9.1.6)."""
    turns = np.maximum(times - _seconds(zone[delay]), 0) * 8.176 * 2 ** (zone[frequency] / 1200)
    return np.asarray(1 - np.abs((turns + 0.75) % 1 * 4 - 2))


def _second_envelope(zone: Zone, times: np.ndarray) -> np.ndarray:
    """From 0 to 1 and down to where it stays (generators 25 to 29), for pitch and filter."""
    delay, attack, hold = (_seconds(zone[number]) for number in (25, 26, 27))
    decay = max(_seconds(zone[28]), 1e-3)
    stays = 1 - min(max(zone[29], 0), 1000) / 1000
    fallen = np.clip((times - delay - attack - hold) / decay, 0, 1 - stays)
    return np.asarray(np.clip((times - delay) / max(attack, 1e-4), 0, 1) - fallen)


def _bend_cents(zone: Zone, times: np.ndarray) -> np.ndarray:
    """Vibrato and whatever else moves the pitch (generators 5 to 7)."""
    bend = np.zeros(len(times))
    if zone[7]:
        bend += zone[7] * _second_envelope(zone, times)
    if zone[5]:
        bend += zone[5] * _swing(zone, 21, 22, times)
    if zone[6]:
        bend += zone[6] * _swing(zone, 23, 24, times)
    return bend


def _filtered(sound: np.ndarray, zone: Zone, velocity: int, times: np.ndarray, rate: int) -> np.ndarray:
    """Through the low-pass of two poles (generators 8 to 11), which the second envelope may open. In slices that overlap by half, each through the filter as it is in its middle."""
    if zone[8] >= _OPEN_CENTS and not zone[11]:
        return sound
    half = _WINDOW // 2
    count = -(-len(sound) // half) + 1
    padded = np.zeros((count + 1) * half)
    padded[half : half + len(sound)] = sound
    window = np.sin(np.pi * (np.arange(_WINDOW) + 0.5) / _WINDOW) ** 2
    slices = np.lib.stride_tricks.sliding_window_view(padded, _WINDOW)[::half] * window
    middles = times[np.clip(np.arange(len(slices)) * half, 0, len(times) - 1)]
    cents = np.clip(zone[8] + zone[11] * _second_envelope(zone, middles), 1500, _OPEN_CENTS)
    hertz = np.minimum(8.176 * 2 ** (cents / 1200), 0.45 * rate)
    answers = np.fft.irfft(np.fft.rfft(slices, 2 * _WINDOW) * _low_pass(hertz, max(0, zone[9]) / 10, rate), 2 * _WINDOW)
    out = np.zeros(len(padded) + 2 * _WINDOW)
    for number, answer in enumerate(answers):
        out[number * half : number * half + 2 * _WINDOW] += answer
    return out[half : half + len(sound)]


def _low_pass(hertz: np.ndarray, peak_db: float, rate: int) -> np.ndarray:
    """Of a second-order low-pass for each cut-off, shape (cut-offs, lines); at 0 dB it has no peak. Digital by the bilinear transform (R. Bristow-Johnson, "Cookbook formulae for audio
    EQ biquad filter coefficients", from memory)."""
    turn = 2 * np.pi * hertz[:, None] / rate
    quality = 10 ** ((peak_db - 3.01) / 20)
    alpha = np.sin(turn) / (2 * quality)
    delay = np.exp(-2j * np.pi * np.fft.rfftfreq(2 * _WINDOW))[None, :]
    above = (1 - np.cos(turn)) / 2 * (1 + delay) ** 2
    below = (1 + alpha) - 2 * np.cos(turn) * delay + (1 - alpha) * delay**2
    return np.asarray(above / below)
