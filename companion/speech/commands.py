"""The system's own speech as a command that writes a WAV file: espeak-ng or espeak, `say` on macOS, System.Speech through PowerShell on Windows.

The options are those of their manuals: espeak-ng(1), say(1), and Microsoft's reference of SpeechSynthesizer (the last two from memory).
"""

from __future__ import annotations

import hashlib
import platform
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass

from companion.errors import SpeechError

TIMEOUT_S = 8.0  # a command that needs longer for a few words hangs; PowerShell alone takes a second
_MISSING = {
    "win32": "No speech was found: expected PowerShell with System.Speech.",
    "darwin": "No speech was found: expected the command say.",
}
_MISSING_ELSEWHERE = (
    "No speech was found: expected the command espeak-ng or espeak (on Debian: apt-get install espeak-ng)."
)


@dataclass(frozen=True, slots=True)
class SpeechCommand:
    """voice: names command and version, for a folder. line: (what to say, words a minute, WAV file) -> the command line."""

    voice: str
    line: Callable[[str, int, str], list[str]]

    def run(self, words: str, words_a_minute: int, target: str) -> None:
        """Write the words as a WAV file. Raises SpeechError where that fails or takes too long."""
        _run(self.line(pronounced(words), words_a_minute, target))


def find_speech(system: str = sys.platform) -> SpeechCommand:
    """The command there is. Raises SpeechError where there is none, or it does not answer."""
    if system == "darwin" and (path := shutil.which("say")):
        return SpeechCommand(_name("say", platform.mac_ver()[0]), _say(path))
    if system == "win32" and (path := shutil.which("powershell") or shutil.which("pwsh")):
        return SpeechCommand(_name("system-speech", platform.version()), _system_speech(path))
    if system not in _MISSING:
        for command in ("espeak-ng", "espeak"):
            if path := shutil.which(command):
                return SpeechCommand(_name(command, _run([path, "--version"])), _espeak(path))
    raise SpeechError(_MISSING.get(system, _MISSING_ELSEWHERE))


def pronounced(words: str) -> str:
    """As a voice is to be told: a lone A is a letter, not the article."""
    return re.sub(r"\bA\b", "eigh", words)


def _espeak(path: str) -> Callable[[str, int, str], list[str]]:
    return lambda words, pace, target: [path, "-v", "en-us", "-s", str(pace), "-w", target, words]


def _say(path: str) -> Callable[[str, int, str], list[str]]:
    form = ["--file-format=WAVE", "--data-format=LEI16@22050"]
    return lambda words, pace, target: [path, "-r", str(pace), "-o", target, *form, words]


def _system_speech(path: str) -> Callable[[str, int, str], list[str]]:
    def line(words: str, pace: int, target: str) -> list[str]:
        rate = max(-10, min(10, round((pace - 180) / 18)))  # it counts from -10 to 10, 0 being some 180 words a minute
        script = (
            "Add-Type -AssemblyName System.Speech; $s = New-Object System.Speech.Synthesis.SpeechSynthesizer; "
            f"$s.Rate = {rate}; $s.SetOutputToWaveFile('{target.replace(chr(39), chr(39) * 2)}'); $s.Speak('{words}'); $s.Dispose()"
        )
        return [path, "-NoProfile", "-NonInteractive", "-Command", script]

    return line


def _name(command: str, version: str) -> str:
    return f"{command}-{hashlib.sha1(version.encode(), usedforsecurity=False).hexdigest()[:8]}"


def _run(line: list[str]) -> str:
    """What the command prints. Raises SpeechError."""
    try:
        done = subprocess.run(
            line,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=TIMEOUT_S,
            check=True,
            encoding="utf-8",
            errors="replace",
        )
    except subprocess.TimeoutExpired:
        raise SpeechError(f"The speech command does not answer ({line[0]}): the changes are not called.") from None
    except (OSError, subprocess.CalledProcessError) as error:
        why = error.strerror if isinstance(error, OSError) else f"it ended with {error.returncode}"
        raise SpeechError(f"The speech command failed ({line[0]}: {why}): the changes are not called.") from error
    return done.stdout
