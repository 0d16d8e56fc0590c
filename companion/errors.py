"""The one root error and its tree, and the exit codes of the commands.

    CompanionError
    ├── ChordError        a chord symbol that cannot be read
    ├── ChartError        a chart file with faults; carries every Fault found
    ├── SheetError        a file of another format that cannot be read as a lead sheet
    ├── SongNotFound      no song of that id, title or path
    ├── ShellError        no legal shell for a chord, or a pin that cannot be kept
    ├── HandsError        a hand is to play where there is nothing for it
    ├── GrooveError       a pattern, click or bass that does not exist or does not fit the meter
    ├── SettingsError     a settings file or an option with a bad value
    ├── LogError          the practice log cannot be opened or written
    ├── TakeError         a recorded take that cannot be read or does not fit the song
    ├── WriteError        a file that cannot be written where the student wants it
    ├── SpeechError       nothing can be spoken: no speech on this system, or it fails
    └── SoundError        a port, a device or the sound process is not there
        └── PianoError    an acoustic piano that is not known, or cannot be learned from what is heard

Every message is one plain sentence: where, what, and what was expected.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


class ExitCode(IntEnum):
    """What a command returns to the shell."""

    OK = 0
    FAULT = 1  # the student's input is at fault: a song, a chord, a setting
    USAGE = 2  # the command line itself is wrong (argparse's own code)
    SOUND = 3  # a named port or device is not there


class CompanionError(Exception):
    """Root of every error the companion raises on purpose.

    `title` is a few words for a dialog's head, `str(error)` the sentence below it.
    """

    title = "Something went wrong"
    exit_code = ExitCode.FAULT


class ChordError(CompanionError):
    """A chord symbol that cannot be read."""

    title = "Chord not understood"


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a chart file.

    line: counted from 1, 0 where the whole file is meant. section: its name, or "". bar: counted from 1 within
    the section, 0 where no bar is meant. message: what is wrong and what was expected, one sentence.
    """

    path: str
    line: int
    message: str
    section: str = ""
    bar: int = 0

    def __str__(self) -> str:
        parts = [f"{self.path}:{self.line}" if self.line else self.path]
        names = [f"section {self.section}" if self.section else "", f"bar {self.bar}" if self.bar else ""]
        parts += [", ".join(filter(None, names)), self.message]
        return ": ".join(filter(None, parts))


class ChartError(CompanionError):
    """Every fault of one chart file, in the order of its lines (never empty)."""

    title = "Chart not understood"

    def __init__(self, faults: list[Fault] | tuple[Fault, ...]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class SheetError(CompanionError):
    """A file of another format that cannot be read as a lead sheet."""

    title = "File not understood"


class SongNotFound(CompanionError):
    """No song of that id, title or path."""

    title = "Song not found"


class ShellError(CompanionError):
    """No legal shell for a chord, or a pin that cannot be kept."""

    title = "No shell fits"


class HandsError(CompanionError):
    """A hand is to play where there is nothing for it."""

    title = "Nothing for this hand"


class GrooveError(CompanionError):
    """A pattern, click or bass that does not exist or does not fit the meter."""

    title = "Groove not understood"


class SettingsError(CompanionError):
    """A settings file or an option with a bad value."""

    title = "Setting not understood"


class LogError(CompanionError):
    """The practice log cannot be opened or written."""

    title = "Practice log not usable"


class TakeError(CompanionError):
    """A recorded take that cannot be read or does not fit the song."""

    title = "Take not understood"


class WriteError(CompanionError):
    """A place that the student named and that cannot, or must not, be written to."""

    title = "Not written"


class SpeechError(CompanionError):
    """Nothing can be spoken: no speech on this system, or it fails."""

    title = "Speech"


class SoundError(CompanionError):
    """A port, a device or the sound process is not there."""

    title = "Sound not available"
    exit_code = ExitCode.SOUND


class PianoError(SoundError):
    """An acoustic piano that is not known, or cannot be learned from what is heard."""

    title = "Piano not known"
    exit_code = ExitCode.FAULT
