"""How much later than it was played a strike is heard, beside what is asked to be played: the loudspeaker's way and the microphone's together, as nobody tells how long a device takes.

Where the own sound was measured the answer begins with it. Else the first strikes that were surely right tell: until eight of them are there none is early or late, and two
dozen settle it. A player who drags is taken for a slow device by it then, by as much as he drags in those alone.
"""

from __future__ import annotations

from dataclasses import replace
from statistics import median

from companion.sound.listening.verdicts import RIGHT, Due, Verdict

FIRST, ENOUGH = 8, 24  # strikes: from here on it is used; from here on it stays


class Lateness:
    """known_s: where it is known, None where it is to be found."""

    def __init__(self, known_s: float | None = None) -> None:
        self.late_s = known_s
        self.is_settled = known_s is not None
        self._found: list[float] = []
        self._asked: dict[int, Due] = {}

    def ask(self, dues: tuple[Due, ...], *, afresh: bool) -> list[Due]:
        """The same strikes, as they are to be heard."""
        if afresh:
            self._asked.clear()
        self._asked |= {due.index: due for due in dues}
        return [replace(due, time_s=due.time_s + (self.late_s or 0.0)) for due in dues]

    def free(self, verdict: Verdict) -> Verdict:
        """What was heard, as it was played."""
        due, onset_s = self._asked.pop(verdict.due.index, verdict.due), verdict.onset_s
        if onset_s is None:
            return replace(verdict, due=due)
        if not self.is_settled and verdict.kind == RIGHT:
            self._found.append(onset_s - due.time_s)
            if len(self._found) >= FIRST:
                self.late_s = median(self._found)
            self.is_settled = len(self._found) >= ENOUGH
        return replace(verdict, due=due, onset_s=due.time_s if self.late_s is None else onset_s - self.late_s)
