"""Whether the sound process, or the listening one, hangs, told from what it says and from our own turns.

Our own turns are counted, not the seconds on the clock: after a pause of the whole machine (a closed lid) or of the app itself (Ctrl+Z) no
more than one turn has gone by, and the sound process has the time to answer that it would have had.
"""

from __future__ import annotations

from companion.sound.messages import Alive

TURN_S = 0.25  # how often the process is asked whether it lives
PATIENCE_S = 1.5  # so long without an answer and it hangs: with the turn before and the telling, 2 s at most
# What takes longer where nothing is wrong: a start from a slow disk, systems that look for their devices, and what the microphone heard,
# which is worked out in one go where it was late and has no real time to keep.
_PATIENCE_S = {"start": 12.0, "audio": 8.0, "core": 4.0, "windows": 4.0, "listening": 4.0}
_NAMES = {"jack": "JACK", "audio": "The sound device", "core": "Core MIDI", "windows": "Windows MIDI"}


def patience_s(at: str) -> float:
    """How long the process may be silent while it is in a call to that system."""
    return _PATIENCE_S.get(at, PATIENCE_S)


def system_name(at: str) -> str:
    """What the student knows the system as; "" for none."""
    return _NAMES.get(at, "")


class Watchdog:
    """at: the system whose library the process was in when it last told ("start" while it comes up, "" for none, "listening" for none in the
    listening process)."""

    def __init__(self) -> None:
        self.at = "start"
        self._silent_turns = 0

    def heard(self, report: object) -> None:
        """Any report is a sign of life."""
        self._silent_turns = 0
        if isinstance(report, Alive):
            self.at = report.at

    def turn(self) -> bool:
        """One of our turns, TURN_S long, is over. Whether the process hangs."""
        self._silent_turns += 1
        return self._silent_turns * TURN_S >= patience_s(self.at)
