"""`companion listen`: what the microphone hears now, and how surely, to try one's own place: nothing is kept but on --as, and then figures alone."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from companion.errors import SoundError
from companion.hands.hand import pitch_name
from companion.sound.listening.link import MicrophoneLink
from companion.sound.listening.messages import (
    LevelHeard,
    MicrophoneConfig,
    MicrophoneOff,
    NotesHeard,
    TellLevel,
    TellNotes,
)
from companion.store.pianos import read_piano

if TYPE_CHECKING:
    from companion.store.paths import Paths
    from companion.store.settings import Settings

LEVEL_EVERY_S = 2.0
POLL_S = 0.02


def listen(paths: Paths, settings: Settings, piano: str | None, seconds: float) -> Iterator[dict[str, Any]]:
    """What is heard, for so many seconds: {"notes": [{"note", "midi", "confidence"}], "time_s"} for each strike, {"now_db", "loud_db", "quiet_db", "advice"} every
    two seconds. piano: the name of one that was learned, None for that of the settings. Raises SoundError where there is no microphone."""
    name = piano or settings.listening.piano
    data = read_piano(paths, name)[1] if name else b""
    audio = settings.sound.audio if settings.sound.audio != "null" else ""
    link = MicrophoneLink(MicrophoneConfig(audio, data))
    link.start()
    link.send(TellLevel(tell=True))
    link.send(TellNotes(tell=True))
    began_s = time.perf_counter()
    told_s = began_s
    try:
        while time.perf_counter() < began_s + seconds:
            for report in link.poll():
                if isinstance(report, MicrophoneOff):
                    raise SoundError(report.sentence or "the microphone stopped")
                if isinstance(report, NotesHeard):
                    notes = [
                        {"note": pitch_name(each.midi), "midi": each.midi, "confidence": round(each.confidence, 2)}
                        for each in report.notes
                    ]
                    yield {"notes": notes, "time_s": round(report.onset_s - began_s, 3)}
                elif isinstance(report, LevelHeard) and time.perf_counter() >= told_s + LEVEL_EVERY_S:
                    told_s = time.perf_counter()
                    level = {"now_db": report.now_db, "loud_db": report.loud_db, "quiet_db": report.quiet_db}
                    yield {key: round(value) for key, value in level.items()} | {"advice": report.advice}
            time.sleep(POLL_S)
    finally:
        link.close()


def words_of(heard: dict[str, Any]) -> str:
    """A line of it."""
    if "notes" in heard:
        return "  ".join(f"{each['note']} {100 * each['confidence']:.0f} %" for each in heard["notes"])
    return (
        f"now {heard['now_db']} dB, loudest {heard['loud_db']}, quiet {heard['quiet_db']}. {heard['advice']}".rstrip()
    )
