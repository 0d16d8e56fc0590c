"""Words spoken once and kept: each a WAV file in a folder of its voice, so that the next time it is only read."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

import numpy as np

from companion.base.files import write_target
from companion.errors import CompanionError, SpeechError
from companion.speech.commands import SpeechCommand, find_speech
from companion.speech.utterance import read_wav, resampled, trimmed, write_wav

PACE, MOST_PACE = 200, 320  # words a minute: as a voice speaks, and the fastest that one still understands
_TRIES = 3
_VERSION = 1  # of how they are made ready


class Speaker:
    """folder: where what was spoken is kept. The voice is looked for when something is said first."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._command: SpeechCommand | None = None

    def samples(self, words: str, most_s: float, rate: int, *, keep: bool = True) -> np.ndarray:
        """The words from their onset on, mono float32 at `rate`, spoken faster where they would last longer than `most_s`. Takes a while; raises
        SpeechError where there is no voice. keep: in the folder."""
        if self._command is None:
            self._command = find_speech()
        if not keep:
            return resampled(*self._spoken(self._command, words, most_s), rate)
        name = f"{'-'.join(words.split())}-{round(most_s * 1000)}.wav"
        path = self._folder / f"{self._command.voice}-{_VERSION}" / name
        with contextlib.suppress(OSError, SpeechError):
            return resampled(*read_wav(path.read_bytes()), rate)
        voice, own_rate = self._spoken(self._command, words, most_s)
        with contextlib.suppress(OSError, CompanionError):  # it is spoken again the next time
            path.parent.mkdir(parents=True, exist_ok=True)
            write_target(path, write_wav(voice, own_rate), force=True)
        return resampled(voice, own_rate, rate)

    def _spoken(self, command: SpeechCommand, words: str, most_s: float) -> tuple[np.ndarray, int]:
        pace = PACE
        for _ in range(_TRIES):
            with tempfile.TemporaryDirectory(prefix="companion-speech-") as folder:
                target = os.path.join(folder, "words.wav")
                command.run(words, pace, target)
                try:
                    data = Path(target).read_bytes()
                except OSError as error:
                    raise SpeechError("The speech command wrote no file: the changes are not called.") from error
            samples, rate = read_wav(data)
            voice = trimmed(samples, rate)
            if len(voice) <= most_s * rate or pace == MOST_PACE:
                break
            pace = min(MOST_PACE, round(pace * 1.05 * len(voice) / (most_s * rate)))
        return voice, rate
