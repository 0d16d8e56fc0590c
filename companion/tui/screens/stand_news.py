"""What the conductor tells, as the stand says and shows it: each change gives fields of the View, a sentence or a page."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from companion.session.changes import (
    AllKeysPlayed,
    Began,
    Change,
    DrillLeft,
    Ended,
    NeedsKeyboard,
    PassOver,
    Said,
)
from companion.session.drill import KINDS, Drill
from companion.session.ear import RIGHT_HAND_UNHEARD
from companion.session.minutes import RestDue
from companion.session.one_change import practise_alone
from companion.tui.actions import BY_ID
from companion.tui.cautions import REST_TITLE, rest_text
from companion.tui.draw.drill import change_words, finished_lines, summary_lines
from companion.tui.draw.view import View
from companion.tui.draw.words import signs
from companion.tui.one_timer import OneTimer

if TYPE_CHECKING:
    from companion.session.conductor import Conductor
    from companion.tui.companion_app import Companion

SUMMARY_S = 8.0
SOUND_OFF = "The sound stays off. Leave with F10 and start again."
CUT_OFF = "Cut off: this pass does not count."
FREE_NEEDS = (
    "Free time waits until the right keys are down, so it needs a keyboard that is heard. None is there: plug one in by USB "
    "or MIDI and look at F5; at an acoustic piano F12 lets the microphone listen. Without either, play along slowly instead: s makes it slower."
)
RIGHT_HAND_NEEDS = (
    f"{RIGHT_HAND_UNHEARD} With the left hand, or with both, it listens for the shells: o, then h, chooses the hands."
)
REST_AFTER_PASS = "You have played for 25 minutes. Rest about five after this pass."


class StandNews:
    """view: gives what is on the screen. summary: its timer; a summary goes by itself only while the music plays on."""

    def __init__(self, companion: Companion, view: Callable[[], View], summary: OneTimer) -> None:
        self._companion, self._view, self._summary = companion, view, summary

    def told(self) -> dict[str, Any]:
        """What the app has to say, as fields of the View."""
        app = self._companion
        return {"notice": app.notice, "sound": app.sound, "item_done": app.todays_item.leads_on}

    def after(self, before: View, after: View) -> View:
        """The View once it was looked at what of the keys is to be taught."""
        sources = self._companion.conductor.sources
        heard = sources.key_heard or sources.microphone
        return self._companion.first_start.lesson.teach(before, after, heard=heard)

    def fields_of(self, change: Change) -> dict[str, Any]:
        """What a change puts on the screen, as fields of the View; what there is to say is said."""
        match change:
            case Began(index):
                if self._view().summary:
                    self._summary.start(SUMMARY_S)
                return {"cursor": index}
            case PassOver():
                self._summary.start(SUMMARY_S)
                self._companion.tell_of_log()
                self._companion.todays_item.played()
                return {"summary": self._lines(change)}
            case Ended():
                self._summary.stop()
                self._companion.todays_item.played()  # what was listened to leaves no pass
                return self._ended(change)
            case RestDue(now=True):
                self._companion.open("read", REST_TITLE, rest_text())
            case RestDue():
                self._companion.say(REST_AFTER_PASS)
            case AllKeysPlayed(key):
                self._companion.say(f"All twelve keys: back in {signs(key.name)}.")
            case DrillLeft(kind):
                self._companion.say(f"Another loop: {KINDS[kind]} is over. m takes it up again here.")
                return {"summary": ()}
            case NeedsKeyboard(right_hand):
                self._companion.open("read", "Free time", RIGHT_HAND_NEEDS if right_hand else FREE_NEEDS)
            case Said(sentence):
                self._companion.say(sentence)
        return {}

    def _lines(self, over: PassOver | None) -> tuple[str, ...]:
        if over is None:
            return ()
        view, key = self._view(), self._companion.keymap.key_list(BY_ID["alone"], "stand")
        return summary_lines(over.result, over.drill, view.stand, key, view.came_from)

    def alone(self, conductor: Conductor) -> list[Change]:
        """Practise just the change that slipped, or go back to what was before, and say so."""
        view, key = self._view(), self._companion.keymap.key_list(BY_ID["alone"], "stand")
        if self._companion.sound_is_off:
            self._companion.say(SOUND_OFF)
            return []
        if view.came_from:
            self._companion.say(f"Back to {view.came_from}.")
        elif view.alone is None:
            self._companion.say("Nothing slipped that could be practised by itself.")
        else:
            self._companion.say(f"{change_words(view.alone, view.stand)} by itself; {key} goes back.")
        return practise_alone(conductor)

    def _ended(self, ended: Ended) -> dict[str, Any]:
        """The question, or what was played and what is next. It stays until a key is pressed."""
        drill: Drill | None = ended.last.drill if ended.last is not None else None
        done = finished_lines(drill) if drill is not None and drill.finished else ()
        lines = (CUT_OFF,) if ended.broken else self._lines(ended.last)
        # Slips are marked from the first bar on.
        return {"cursor": self._view().here if ended.asks is None else ended.asks, "summary": (*done, *lines)}
