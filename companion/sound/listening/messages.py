"""What the app and the listening process say to each other: plain, picklable data without sound in it, but for what is measured at set-up.

Times are seconds of `time.perf_counter()`.
"""

from __future__ import annotations

from dataclasses import dataclass

from companion.sound.listening.verdicts import Awaited, Due, HeardNote, StrokeVerdict, Verdict
from companion.sound.messages import ForMicrophone


@dataclass(frozen=True, slots=True)
class MicrophoneConfig:
    """backend: of miniaudio, "" for the system's own. piano: of piano.to_bytes, b"" for one never heard. headphones: nothing that is played comes
    back into the microphone. response: of echo.Response's taps, float32, b"" for none. late_s: how late strikes are heard, None where that is to be found (lateness.py). played: name of the memory that holds what is played, "" for none.
    realtime: whether to ask the system for real-time priority."""

    backend: str = ""
    piano: bytes = b""
    headphones: bool = True
    response: bytes = b""
    late_s: float | None = None
    played: str = ""
    realtime: bool = True


# --- from the app to the listening process


@dataclass(frozen=True, slots=True)
class Expect(ForMicrophone):
    """Strikes that will be due. afresh: what was due before is not any more."""

    dues: tuple[Due, ...]
    afresh: bool = False


@dataclass(frozen=True, slots=True)
class Await(ForMicrophone):
    """A shell is waited for from now on, in place of any before; None for none any more."""

    awaited: Awaited | None = None


@dataclass(frozen=True, slots=True)
class Learn:
    """Notes are going to be played one after another, from the first of these on. name: of the piano to be learned by them, "" where one is only checked."""

    notes: tuple[int, ...]
    name: str = ""


@dataclass(frozen=True, slots=True)
class MeasureEcho:
    """The measuring noise is played now."""


@dataclass(frozen=True, slots=True)
class Use:
    """Another piano, or another way to listen, from now on."""

    config: MicrophoneConfig


@dataclass(frozen=True, slots=True)
class TellLevel:
    """Whether to tell how loud it is, ten times a second."""

    tell: bool


@dataclass(frozen=True, slots=True)
class TellNotes:
    """Whether to tell whatever is struck, when nothing is known of what is due."""

    tell: bool


@dataclass(frozen=True, slots=True)
class Record(ForMicrophone):
    """Write what is heard from now on into a sound file (recorder.py): only where the student asked for this one. path: of a WAV."""

    path: str


@dataclass(frozen=True, slots=True)
class EndRecord(ForMicrophone):
    """Write no longer. keep: else nothing of it stays."""

    keep: bool


# --- from the listening process to the app


@dataclass(frozen=True, slots=True)
class MicrophoneReady:
    """It listens. latency_s: from a strike until it can be told, at the least."""

    latency_s: float


@dataclass(frozen=True, slots=True)
class MicrophoneOff:
    """It listens no longer. sentence: why, for the student; "" where it was asked to stop."""

    sentence: str = ""


@dataclass(frozen=True, slots=True)
class StrikeHeard:
    """A verdict. said_s: when it was known."""

    verdict: Verdict
    said_s: float


@dataclass(frozen=True, slots=True)
class StrokeHeard:
    """Of a shell that is waited for. said_s: when it was known."""

    verdict: StrokeVerdict
    said_s: float


@dataclass(frozen=True, slots=True)
class LatenessFound:
    """How late strikes are heard, to be kept in the config."""

    late_s: float


@dataclass(frozen=True, slots=True)
class NotesHeard:
    """Keys that went down together, where all are told."""

    onset_s: float
    notes: tuple[HeardNote, ...]


@dataclass(frozen=True, slots=True)
class LevelHeard:
    """In dB of full scale: how loud it is now, the loudest of the last seconds, and the quiet between. advice: a sentence, "" where all is well. is_played: whether something stands out of
    the quiet."""

    now_db: float
    loud_db: float
    quiet_db: float
    advice: str = ""
    is_played: bool = False


@dataclass(frozen=True, slots=True)
class NoteLearned:
    """A note of the scale was heard. wanted: which was asked for; heard: which it was, None where that is not clear; cents: how far it lies from a' = 440 Hz
    and equal temperament; next: which is asked for now, None where that was the last. again: asked for once more, as this was not it."""

    wanted: int
    heard: int | None
    cents: float
    next: int | None
    again: bool


@dataclass(frozen=True, slots=True)
class PianoLearned:
    """All notes were heard. piano: of piano.to_bytes. cents: the whole piano's tuning."""

    name: str
    piano: bytes
    cents: float


@dataclass(frozen=True, slots=True)
class PianoChecked:
    """fits: whether what was played sounds as the piano that was learned. cents: by how much it is tuned otherwise."""

    fits: bool
    cents: float


@dataclass(frozen=True, slots=True)
class ComesBack:
    """What is played comes back into the microphone, loud enough to be taken for the piano; does: or no longer. As long as it does nothing is held against the player."""

    does: bool


@dataclass(frozen=True, slots=True)
class EchoMeasured:
    """quality_db: how much of the noise can be taken out. response: to be kept in the config; is_good: whether that will do. heard: whether the noise
    came back at all."""

    quality_db: float
    response: bytes
    is_good: bool
    heard: bool


@dataclass(frozen=True, slots=True)
class Recorded:
    """A sound file is there, whole. start_s, end_s: when its first sample was heard and when its last was over. late_s: how late strikes are heard in it, None
    where that is not known yet."""

    path: str
    start_s: float
    end_s: float
    late_s: float | None


@dataclass(frozen=True, slots=True)
class RecordFailed:
    """Nothing of it is kept. sentence: why."""

    sentence: str


def listens_after(report: object, before: bool) -> bool:
    """Whether a microphone listens once this was reported."""
    return isinstance(report, MicrophoneReady) or (before and not isinstance(report, MicrophoneOff))
