"""Recorded words made ready for a beat: without the silence around them, as loud as others, at any rate."""

from __future__ import annotations

import io
import wave

import numpy as np

from companion.errors import SpeechError

_HOP_S = 0.005
_SOUNDING = 0.05  # of the loudest stretch: what is louder is a voice
_BEFORE_S, _AFTER_S = 0.005, 0.03  # kept around it, faded in and out
_LEVEL, _PEAK = 0.2, 0.95  # root mean square of what sounds; no sample above


def read_wav(data: bytes) -> tuple[np.ndarray, int]:
    """(samples from -1 to 1, mono float32; rate) of a WAV file of 16 bits. Raises SpeechError for anything else, and for one without a sound."""
    try:
        with wave.open(io.BytesIO(data)) as file:
            channels, width, rate = file.getnchannels(), file.getsampwidth(), file.getframerate()
            # espeak tells no length where it writes to a pipe; what is there counts
            raw = file.readframes(file.getnframes())
    except (wave.Error, EOFError, ValueError) as error:
        raise SpeechError(f"The speech command wrote no WAV file ({error}): the changes are not called.") from error
    samples = (
        np.frombuffer(raw[: len(raw) // (2 * channels) * 2 * channels], "<i2") if width == 2 else np.empty(0, "<i2")
    )
    if not samples.any():
        raise SpeechError("The speech command wrote no sound: the changes are not called.")
    return samples.reshape(-1, channels).mean(axis=1, dtype=np.float32) / np.float32(32768), rate


def write_wav(samples: np.ndarray, rate: int) -> bytes:
    """A WAV file of 16 bits, mono."""
    target = io.BytesIO()
    with wave.open(target, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    return target.getvalue()


def trimmed(samples: np.ndarray, rate: int) -> np.ndarray:
    """From the onset of the voice to its end, at an even level. The onset: where the level of 5 ms first passes a twentieth of the loudest."""
    hop = max(1, round(_HOP_S * rate))
    count = -(-len(samples) // hop)
    levels = np.sqrt(np.square(np.pad(samples, (0, count * hop - len(samples)))).reshape(count, hop).mean(axis=1))
    sounding = np.flatnonzero(levels > _SOUNDING * levels.max())
    before, after = round(_BEFORE_S * rate), round(_AFTER_S * rate)
    first, last = max(0, sounding[0] * hop - before), min(len(samples), (sounding[-1] + 1) * hop + after)
    voice = samples[first:last].copy()
    gain = min(_LEVEL / np.sqrt(np.square(levels[sounding]).mean()), _PEAK / np.abs(voice).max())
    voice *= np.float32(gain)
    voice[:before] *= np.linspace(0, 1, min(before, len(voice)), dtype=np.float32)
    voice[-after:] *= np.linspace(1, 0, min(after, len(voice)), dtype=np.float32)
    return voice


def resampled(samples: np.ndarray, rate: int, wanted: int) -> np.ndarray:
    """The same sound at another rate, by its spectrum: nothing above half of either rate is left."""
    if rate == wanted:
        return samples
    padded = np.pad(samples, (0, rate // 20))  # the spectrum takes end and beginning for neighbours
    frames = round(len(padded) * wanted / rate)
    spectrum = np.fft.rfft(padded)[: frames // 2 + 1]
    moved = np.fft.irfft(spectrum, frames)[: round(len(samples) * wanted / rate)]
    return (moved * (frames / len(padded))).astype(np.float32)
