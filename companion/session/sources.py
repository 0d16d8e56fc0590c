"""What hears the student play: keyboards and a microphone."""

from __future__ import annotations

from companion.session.changes import NeedsKeyboard
from companion.sound.listening.messages import listens_after
from companion.sound.messages import Keyboards, NoteIn


class Sources:
    """key_heard: whether a key of a keyboard that is there ever was. microphone: whether one listens."""

    def __init__(self) -> None:
        self.key_heard = False
        self.microphone = False
        self._keyboards = False  # whether any is there

    @property
    def has_keyboard(self) -> bool:
        """Whether keys are heard."""
        return self.key_heard or self._keyboards

    @property
    def listens(self) -> bool:
        """Whether a microphone is what hears, as no keyboard is there."""
        return self.microphone and not self.has_keyboard

    def needs_keyboard(self, hands: str) -> NeedsKeyboard | None:
        """Why nothing can wait for these hands, None where it can: a microphone hears the left hand, alone or under the right one."""
        if self.has_keyboard or (self.microphone and hands != "right"):
            return None
        return NeedsKeyboard(right_hand=self.microphone)

    def take(self, report: object) -> None:
        """A report of the sound process or of a listening one."""
        self.key_heard |= isinstance(report, NoteIn)
        self.microphone = listens_after(report, self.microphone)
        if isinstance(report, Keyboards):
            self._keyboards = bool(report.heard)
            self.key_heard &= self._keyboards  # the last one went: from the next start on the student's word counts
