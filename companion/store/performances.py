"""Performances that were recorded: a Standard MIDI File each, in a folder a song, named by the time they were played. Where the microphone recorded one, its sound lies beside it.

Format 1: the first track has the tempo of every beat and, as text events (Standard MIDI Files 1.0, FF 01), what was marked; then the student's hands, and on
channel 10 (General MIDI's percussion) the beats, where click or bass gave the time.
"""

from __future__ import annotations

import io
import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

from companion.base.files import clear_unfinished, write_whole
from companion.errors import TakeError, WriteError
from companion.store.paths import Paths

_DIVISION = 960  # ticks a quarter
_NAMED = "%Y-%m-%d %H.%M.%S"  # no colon: Windows has none in names
_OPENS, _GOES_ON, _CLICK_VELOCITY = 76, 77, 88  # high and low wood block (General MIDI)
_SUSTAIN, _DRUMS = 64, 9
_SECOND = 1_000_000
_RECORDING = ".wav"
_AT_LENGTH = "Marks:\n"  # what the text event with all of them begins with


@dataclass(frozen=True, slots=True)
class Kept:
    """A performance that is kept. words: what was marked in short, a sentence each; at_length: the same in full, lines."""

    path: Path
    performed_at: datetime
    words: tuple[str, ...] = ()
    at_length: str = ""

    @property
    def recording(self) -> Path | None:
        """The sound of one that the microphone recorded, None where it was a keyboard."""
        path = recording_beside(self.path)
        return path if path.exists() else None


def folder_of(paths: Paths, song_id: str) -> Path:
    """Where the performances of a song lie; it may not be there yet."""
    return paths.performances / song_id


def performance_path(folder: Path, performed_at: datetime) -> Path:
    """Where one is kept."""
    return folder / f"{performed_at.strftime(_NAMED)}.mid"


def keep_performance(
    folder: Path,
    performed_at: datetime,
    keys: Iterable[tuple[float, int, int]],
    pedals: Iterable[tuple[float, bool]],
    pulses: Sequence[tuple[float, bool]],
    quarters: Fraction,
    *,
    clocked: bool,
    words: Sequence[str] = (),
    at_length: str = "",
) -> Path:
    """Write one, over an earlier writing of the same; see session.performing.Performed. quarters: of a pulse. words, at_length: see Kept. Raises
    WriteError."""
    path = performance_path(folder, performed_at)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(
            path,
            _midi(
                keys,
                pedals,
                pulses,
                quarters,
                clocked=clocked,
                texts=[*words, *([_AT_LENGTH + at_length] if at_length else [])],
            ),
            follow=False,
        )
    except OSError as error:
        raise WriteError(f"{path} cannot be written, so this performance is not kept: {error.strerror}") from None
    return path


def kept_performances(folder: Path) -> list[Kept]:
    """The latest first. What is no performance in that folder is passed over; what a crash left unfinished is thrown away. A sound that the microphone
    recorded is one by itself too, so that none lies there unseen."""
    clear_unfinished(folder)
    found = []
    try:
        paths = {path.with_suffix(".mid") for ending in (".mid", _RECORDING) for path in folder.glob(f"*{ending}")}
    except OSError:
        return []
    for path in sorted(paths, reverse=True):
        try:
            performed_at = datetime.strptime(path.stem, _NAMED).astimezone()
        except ValueError:
            continue
        texts = _texts(path)
        words = tuple(text for text in texts if not text.startswith(_AT_LENGTH))
        at_length = next((text.removeprefix(_AT_LENGTH) for text in texts if text.startswith(_AT_LENGTH)), "")
        found.append(Kept(path, performed_at, words, at_length))
    return found


def _texts(path: Path) -> tuple[str, ...]:
    import mido

    try:
        file = mido.MidiFile(path, clip=True, charset="utf-8")
        return tuple(message.text for message in file.tracks[0] if message.type == "text")
    except Exception:  # mido meets broken bytes with errors of many kinds; the file may still be heard, or say why not
        return ()


def sound_beside(path: Path) -> Path:
    """Where the sound of a performance lies, if it was made of its keys."""
    return path.with_suffix(".flac")


def recording_beside(path: Path) -> Path:
    """Where the sound of a performance lies, if the microphone recorded it."""
    return path.with_suffix(_RECORDING)


def forget_performance(kept: Kept) -> None:
    """Throw one away for good, with its sound. Raises TakeError."""
    try:
        for path in (recording_beside(kept.path), sound_beside(kept.path), kept.path):
            path.unlink(missing_ok=True)
    except OSError as error:
        raise TakeError(f"{kept.path} cannot be thrown away: {error.strerror}") from None


def _midi(
    keys: Iterable[tuple[float, int, int]],
    pedals: Iterable[tuple[float, bool]],
    pulses: Sequence[tuple[float, bool]],
    quarters: Fraction,
    *,
    clocked: bool,
    texts: Sequence[str],
) -> bytes:
    import mido  # 39 ms, needed only here

    grid = _Grid([time_s for time_s, _ in pulses], quarters)
    first = [(0, mido.MetaMessage("text", text=text)) for text in texts]
    first += [(tick, mido.MetaMessage("set_tempo", tempo=tempo)) for tick, tempo in grid.tempos]
    hands = [
        (grid.tick(time_s), mido.Message("note_on", channel=0, note=key, velocity=velocity))
        for time_s, key, velocity in keys
    ]
    hands += [
        (grid.tick(time_s), mido.Message("control_change", channel=0, control=_SUSTAIN, value=127 * down))
        for time_s, down in pedals
    ]
    beats: list[tuple[int, Any]] = []
    for number, (_, opens) in enumerate(pulses if clocked else ()):
        note, tick = _OPENS if opens else _GOES_ON, number * grid.pulse_ticks
        for at, velocity in ((tick, _CLICK_VELOCITY), (tick + grid.pulse_ticks // 8, 0)):
            beats.append((at, mido.Message("note_on", channel=_DRUMS, note=note, velocity=velocity)))
    file = mido.MidiFile(type=1, ticks_per_beat=_DIVISION, charset="utf-8")
    file.tracks += [_track(first), _track(hands), *([_track(beats)] if beats else [])]
    data = io.BytesIO()
    file.save(file=data)
    return data.getvalue()


def _track(events: list[tuple[int, Any]]) -> Any:
    import mido

    track, at = mido.MidiTrack(), 0
    for tick, message in sorted(events, key=lambda event: event[0]):
        track.append(message.copy(time=tick - at))
        at = tick
    return track


class _Grid:
    """Seconds as ticks, every pulse as many: the tempo of each is set by when the next one came."""

    def __init__(self, pulses_s: Sequence[float], quarters: Fraction) -> None:
        self.pulse_ticks = int(_DIVISION * quarters)
        self.tempos: list[tuple[int, int]] = []
        self._lines: list[tuple[float, int, float]] = []  # second, tick, seconds a tick from there on
        at_s = 0.0
        spans = [after - before for before, after in itertools.pairwise(pulses_s)] or [0.5]
        for number, span in enumerate(spans):
            # Each is set by where the file stands, not by the span alone, so that no rounding adds up.
            until_s = pulses_s[number + 1] if number + 1 < len(pulses_s) else at_s + span
            tempo = max(1, min(16_777_215, round((until_s - at_s) * _SECOND / float(quarters))))
            self.tempos.append((number * self.pulse_ticks, tempo))
            rate = tempo / _SECOND / _DIVISION
            self._lines.append((at_s, number * self.pulse_ticks, rate))
            at_s += rate * self.pulse_ticks

    def tick(self, time_s: float) -> int:
        """The nearest tick."""
        start_s, tick, rate = next((line for line in reversed(self._lines) if line[0] <= time_s), self._lines[0])
        return max(0, tick + round((time_s - start_s) / rate))
