"""A practice track: every note of a performance mixed into one buffer, brought to a sane loudness, wrapped and written.

Each note is added into the two channels where it sounds. That touches what sounds and nothing else, where laying segment
upon segment copies the whole track for each note.

Loudness: integrated loudness by ITU-R BS.1770-4 (K-weighting, gated blocks of 400 ms); the track is brought to
TARGET_LUFS and its peaks are held at PEAK_DBFS. -16 LUFS is what the Audio Engineering Society recommends for
streamed sound (AES TD1004.1.15-10, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import closing
from typing import TYPE_CHECKING

import numpy as np

from companion.export.options import ExportError
from companion.groove.ride import CYMBALS
from companion.groove.timeline import Timeline
from companion.sound.instruments import Instruments
from companion.sound.mixer import PLACES, RELEASE_SECONDS, VOICE_LEVELS, full_scale, place_gains, velocity_gain
from companion.sound.note_files import NoteFiles
from companion.sound.wanted import DRUMS, PERCUSSION_CHANNEL, Wanted

if TYPE_CHECKING:
    from companion.groove.model import NoteEvent
    from companion.store.settings import SoundSettings

RATE = 44100  # what every player of files takes
TARGET_LUFS = -16.0
PEAK_DBFS = -1.5  # half a decibel in hand for what an MP3 adds
MOST_MINUTES = 30  # 600 megabytes of samples while it is made
LEAD_SECONDS = (
    0.5  # of silence before the first click: many players of files swallow the start, and hands need it (ours)
)
TAIL_SECONDS = 1.5  # for the last notes to ring out
_WINDOW_SECONDS, _REACH = 0.005, 8  # how far ahead of a peak the level is turned down, in that many steps
_MOST_BLOCKS = 150
_SILENT_LUFS = -70.0  # the absolute gate of BS.1770


class NoSoundFont(ExportError):
    """The SoundFont of the settings cannot be read."""


def mix(
    performance: Timeline,
    volumes: Mapping[str, float] | None = None,
    rate: int = RATE,
    spoken: Callable[[str], np.ndarray] | None = None,
    sound: SoundSettings | None = None,
) -> np.ndarray:
    """The performance as float32, shape (2, frames), as loud as TARGET_LUFS without passing PEAK_DBFS, after LEAD_SECONDS of silence.

    volumes: 0 to 1 by voice, 1 where none is named. spoken: gives words as samples at `rate`; without it nothing is called. sound: says which SoundFont plays and which instruments; without it the built-in voices do. A track without a note is silent. Raises ExportError where it would
    be longer than MOST_MINUTES, NoSoundFont where that cannot be read.
    """
    starts = performance.seconds([event.tick for event in performance.events])
    ends = performance.seconds([event.tick + event.ticks for event in performance.events])
    seconds = LEAD_SECONDS + performance.seconds([performance.end_tick])[0] + TAIL_SECONDS
    check_length(seconds)
    frames = round(seconds * rate)
    stereo = np.zeros((2, frames), np.float32)
    releases = {part: _release(part, rate) for part in {event.part for event in performance.events}}
    gains = {part: place_gains(PLACES[part]) * (volumes or {}).get(part, 1.0) for part in releases}
    soundfont = sound.soundfont if sound is not None else ""
    with closing(Instruments(NoteFiles(None), rate, soundfont)) as instruments:
        note = _notes(instruments, sound)
        for event, start_s, end_s in zip(performance.events, starts, ends, strict=True):
            if event.words and spoken is None:
                continue
            samples = spoken(event.words) if event.words and spoken is not None else note(event)
            start = round((LEAD_SECONDS + start_s) * rate)
            held = round((LEAD_SECONDS + end_s) * rate) - start
            heard = _let_go(event, samples, held, releases[event.part])[..., : frames - start]
            stereo[:, start : start + heard.shape[-1]] += gains[event.part] * heard
    return mastered(stereo, rate)


def _notes(instruments: Instruments, sound: SoundSettings | None) -> Callable[[NoteEvent], np.ndarray]:
    """Gives each note its samples. Raises NoSoundFont."""

    def note(event: NoteEvent) -> np.ndarray:
        samples = instruments.note(wanted(event))
        if instruments.fault:
            raise NoSoundFont(
                f"{instruments.fault} It stands in the settings as sound.soundfont; expected one that can be read, or none."
            )
        return samples

    def wanted(event: NoteEvent) -> Wanted:
        key, is_cymbal = event.note, event.part == "click" and event.note in CYMBALS
        part = DRUMS if is_cymbal else event.part
        voice = sound.voices[event.part] if sound is not None else None
        if voice is None:
            return Wanted(part, key, event.velocity, bool(key))
        if part == "click":
            key = voice.accent_note if event.note else voice.note
        is_percussion = voice.channel == PERCUSSION_CHANNEL
        program = 0 if is_percussion else voice.program or 1
        return Wanted(part, key, event.velocity, bool(event.note), program, is_percussion)

    return note


def check_length(seconds: float) -> None:
    """Raises ExportError where a track of that length would be longer than MOST_MINUTES."""
    if seconds > MOST_MINUTES * 60:
        raise ExportError(
            f"the track would last {seconds / 60:.0f} minutes; expected at most {MOST_MINUTES}: "
            "fewer choruses, or a loop"
        )


def _release(part: str, rate: int) -> np.ndarray:
    """How a note of the part dies away once it is let go: gains from 1 to 0, shape (frames,)."""
    return np.linspace(1, 0, round(RELEASE_SECONDS[part] * rate), dtype=np.float32)


def _let_go(event: NoteEvent, samples: np.ndarray, held: int, release: np.ndarray) -> np.ndarray:
    """One note as loud as it is struck, shape as `samples`: it rings for `held` frames and is then let go, as on the live mixer."""
    samples = samples[..., : held + len(release)]
    samples = samples * np.float32(VOICE_LEVELS[event.part] * velocity_gain(event.velocity) / full_scale(samples))
    samples[..., held:] *= release[: max(0, samples.shape[-1] - held)]
    return samples


# --- loudness


def mastered(stereo: np.ndarray, rate: int) -> np.ndarray:
    """The samples, changed where they lie: as loud as TARGET_LUFS, peaks turned down for a moment rather than cut off."""
    loudness = loudness_lufs(stereo, rate)
    if loudness <= _SILENT_LUFS:
        return stereo
    stereo *= np.float32(10 ** ((TARGET_LUFS - loudness) / 20))
    return limited(stereo, rate)


def loudness_lufs(stereo: np.ndarray, rate: int) -> float:
    """Integrated loudness by ITU-R BS.1770-4, -70 for silence. stereo: shape (2, frames), full scale 1.

    The blocks of 400 ms stand end to end instead of overlapping, at most _MOST_BLOCKS spread over the track, and the
    filters are applied to each block's spectrum, whose sum of squares is that of the samples (Parseval): within 0.2
    LU of the whole reckoning at a twentieth of its time.
    """
    size = 2 * rate // 5
    count = stereo.shape[1] // size
    if not count:
        return _SILENT_LUFS
    chosen = np.unique(np.linspace(0, count - 1, min(count, _MOST_BLOCKS)).round().astype(int))
    weights = np.repeat(_k_weights(size, rate), 2)
    powers = np.zeros(len(chosen))
    for channel in stereo:
        spectrum = np.fft.rfft(channel[: count * size].reshape(count, size)[chosen], axis=1)
        lines = spectrum.view(spectrum.real.dtype)  # real and imaginary parts side by side
        powers += 2 * np.einsum("ij,ij,j->i", lines, lines, weights.astype(lines.dtype)) / size**2
    heard = powers[_lufs(powers) > _SILENT_LUFS]
    if not len(heard):
        return _SILENT_LUFS
    gate = _lufs(heard.mean()) - 10
    return float(_lufs(heard[_lufs(heard) > gate].mean()))


def _lufs(power: np.ndarray | float) -> np.ndarray | float:
    return -0.691 + 10 * np.log10(np.maximum(power, 1e-12))


# BS.1770-4, tables 1 and 2: the two filters at 48 kHz, as (b0, b1, b2), (a1, a2).
_SHELF = ((1.53512485958697, -2.69169618940638, 1.19839281085285), (-1.69065929318241, 0.73248077421585))
_HIGH_PASS = ((1.0, -2.0, 1.0), (-1.99004745483398, 0.99007225036621))
_FILTER_RATE = 48000


def _k_weights(size: int, rate: int) -> np.ndarray:
    """How much each line of a spectrum counts: both filters, squared. The response is taken at the same frequencies
    whatever the rate, as the standard asks."""
    hz = np.minimum(np.fft.rfftfreq(size, 1 / rate), _FILTER_RATE / 2)
    turns = np.exp(-2j * np.pi * hz / _FILTER_RATE)
    response = np.ones_like(turns)
    for (b0, b1, b2), (a1, a2) in (_SHELF, _HIGH_PASS):
        response *= (b0 + b1 * turns + b2 * turns**2) / (1 + a1 * turns + a2 * turns**2)
    return np.asarray(np.abs(response) ** 2)


def limited(stereo: np.ndarray, rate: int) -> np.ndarray:
    """No sample above PEAK_DBFS: the level goes down smoothly just before a peak and comes back after it."""
    ceiling = 10 ** (PEAK_DBFS / 20)
    if max(stereo.max(initial=0.0), -stereo.min(initial=0.0)) <= ceiling:
        return stereo
    block = max(1, round(_WINDOW_SECONDS * rate / _REACH))
    frames = stereo.shape[1]
    count = -(-frames // block)
    loud = np.zeros(count * block, np.float32)
    np.maximum(np.abs(stereo[0]), np.abs(stereo[1]), out=loud[:frames])
    wanted = np.minimum(1.0, ceiling / np.maximum(loud.reshape(count, block).max(axis=1), 1e-9))
    around = np.pad(wanted, _REACH, constant_values=1.0)
    # The least gain within reach, then its running mean: never above what a block wants, and without a step.
    least = np.lib.stride_tricks.sliding_window_view(around, _REACH + 1).min(axis=1)
    smooth = np.convolve(least, np.full(_REACH + 1, 1 / (_REACH + 1)), "valid")
    centres = (np.arange(count) + 0.5) * block
    gains = np.interp(np.arange(frames), centres, smooth).astype(np.float32)
    return np.clip(stereo * gains, -ceiling, ceiling)
