"""How the app says something: one line for a while where it covers nothing that is played, or a page."""

from __future__ import annotations

from textual.filter import LineFilter

from companion.base.text import shown
from companion.tui.terminal_filter import Sieve

_NOTICE_S = 8.0
_SIEVE = Sieve()


class Saying:
    """Mixed into the app. notice: what is being said, "" for nothing."""

    notice = ""
    _notice_timer = None

    def get_line_filters(self) -> list[LineFilter]:
        """Every line that is drawn goes through these."""
        return [*super().get_line_filters(), _SIEVE]  # type: ignore[misc]

    def say(self, sentence: str) -> None:
        """Show one sentence for a while where it covers nothing that is played."""
        self.notice = shown(" ".join(sentence.split()))
        if self._notice_timer is not None:
            self._notice_timer.stop()
        self._notice_timer = self.set_timer(_NOTICE_S, self._unsay)
        self._tell_screens()

    def complain(self, text: str) -> None:
        """Say what went wrong: in the one line where it fits or something plays, else on a page."""
        playing = self.stand_screen is not None and self.stand_screen.view.playing
        if playing or ("\n" not in text and len(text) <= self.size.width - 4):
            self.say(text)
        else:
            from companion.tui.screens.read import ReadScreen

            self.push_screen(ReadScreen("Please note", text))

    def _unsay(self) -> None:
        self.notice = ""
        self._tell_screens()

    def _tell_screens(self) -> None:
        for screen in self.screen_stack:
            place = getattr(screen, "place", "")
            if place == "stand" and screen.is_mounted:
                screen.show(notice=self.notice, sound=self.sound)
            elif place in ("songs", "writing") and screen.is_mounted:
                screen.show_notice()
