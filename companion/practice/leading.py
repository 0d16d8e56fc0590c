"""Leading the music from the piano: what each key, pedal, foot switch and page turner does. A table, and what may stand in it.

Keys are MIDI numbers, C4 = 60. Controllers and programs as MIDI 1.0 counts them; programs are written 1 to 128, as they are listed.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from companion.theory.pitch import Pitch

STEP_BPM = 5  # a foot is busy for a whole beat: one beat a minute at a time would take too many presses
# What can be done so -> its words.
LEADS = {
    "start-stop": "start, or stop",
    "start": "start",
    "stop": "stop",
    "repeat": "again from the loop's first bar",
    "slower": f"{STEP_BPM} beats a minute slower",
    "faster": f"{STEP_BPM} beats a minute faster",
    "next-loop": "loop the next section",
    "next-way": "practise in the next way",
    "slip": "this bar slipped",
    "ran": "what waits for your word ran",
}
# MIDI 1.0, table of controllers: those that are pedals by their name.
SUSTAIN = 64
_PEDALS = {SUSTAIN: "sustain pedal", 66: "sostenuto pedal", 67: "soft pedal"}
_PAGES = ("down", "up")
_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
_TEXT = re.compile(r"(key|control|program|page) (\S+)")
EXPECTED = 'a list of "key C8", "control 67", "program 5", "page down" and the like'


@dataclass(frozen=True, slots=True)
class Switch:
    """Something to press. kind: "key" (number: MIDI), "control" (0 to 127), "program" (1 to 128) or "page" (0 down, 1 up: of a page
    turner, which types the keys of that name)."""

    kind: str
    number: int

    @classmethod
    def parse(cls, text: str) -> Switch:
        """Read it as the settings write it: "key C8". Raises ValueError."""
        match = _TEXT.fullmatch(text)
        if match is None:
            raise ValueError(text)
        kind, what = match[1], match[2]
        number = _PAGES.index(what) if kind == "page" else Pitch.parse(what).midi if kind == "key" else int(what)
        if not 0 <= number - (kind == "program") <= 127:
            raise ValueError(text)
        return cls(kind, number)

    @property
    def text(self) -> str:
        """As the settings write it."""
        return f"{self.kind} {self._what}"

    @property
    def words(self) -> str:
        """For the student: "key C8", "soft pedal", "Page Down"."""
        if self.kind == "page":
            return f"Page {self._what.capitalize()}"
        if self.kind == "control":
            return _PEDALS.get(self.number, f"foot switch (control {self.number})")
        return self.text if self.kind == "key" else f"foot switch (program {self.number})"

    @property
    def _what(self) -> str:
        if self.kind == "key":
            return f"{_NAMES[self.number % 12]}{self.number // 12 - 1}"
        return _PAGES[self.number] if self.kind == "page" else str(self.number)


PAGE_SWITCHES = {"down": Switch("page", 0), "up": Switch("page", 1)}
Table = Mapping[str, tuple[Switch, ...]]  # a name of LEADS -> what does it


def lead_of(table: Table, switch: Switch, music: Collection[int] = ()) -> str:
    """What it does, a name of LEADS; "" for nothing. music: keys that are played, which lead to nothing."""
    if switch.kind == "key" and switch.number in music:
        return ""
    return next((lead for lead, switches in table.items() if switch in switches), "")


def learn(table: Table, lead: str, switch: Switch) -> dict[str, tuple[Switch, ...]]:
    """The table in which it does this, and nothing else any more."""
    left = {name: tuple(each for each in switches if each != switch) for name, switches in table.items()}
    return left | {lead: (*left.get(lead, ()), switch)}


def refusal(switch: Switch, music: Collection[int]) -> str:
    """Why it cannot lead, "" where it can. music: the keys that may be played, which follow each other."""
    if switch.kind != "key" or switch.number not in music:
        return ""
    low, high = Switch("key", min(music)), Switch("key", max(music))
    return (
        f"{switch.words[4:]} is music: your hands play from {low.words[4:]} to {high.words[4:]} here. "
        "Press a key outside of that, at an end of the keyboard, or a pedal."
    )
