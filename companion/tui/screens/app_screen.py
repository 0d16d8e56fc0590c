"""What every screen shares: bindings from the table of actions, the footer, the help."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, cast

from textual.actions import parse
from textual.await_complete import AwaitComplete
from textual.binding import Binding, BindingType
from textual.screen import Screen
from textual.widgets import Static

from companion.tui.actions import ACTIONS
from companion.tui.draw.words import whole_words
from companion.tui.keymap import Keymap
from companion.tui.notices import FAULT

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion


_NO_KEY = "no-key"  # of an action that has none, so that the student may give it one
_NOTICE_SIDES = 4  # columns beside a notice


def bindings(place: str) -> list[BindingType]:
    """The table's bindings for one place. Their ids let the app lay the student's own keys over them."""
    return [
        Binding(",".join(action.keys) or _NO_KEY, action.method, action.words, show=False, id=action.id)
        for action in ACTIONS
        if place in action.where
    ]


class OnTop(Screen[Any]):
    """A screen that obeys keys only while it is the one that is shown. Of keys typed fast some come before there is anything to
    draw on, and some after the one that left it, which would close the screen below it too."""

    @property
    def companion(self) -> Companion:
        """The app, as far as a screen may ask it."""
        return cast("Companion", self.app)

    @property
    def is_left(self) -> bool:
        """Whether it was closed, or the app is being left, perhaps before it was ever drawn: nothing is there to draw on."""
        return self.companion.leaving or self not in self.app.screen_stack

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Keys reach the screen on top alone, and none that was left already."""
        return (
            self.is_mounted
            and not self.is_left
            and self.app.screen is self
            and super().check_action(action, parameters)
        )

    def obey(self, method: str) -> None:
        """An action chosen in the command palette, which comes a little later."""
        if self.app.screen is self:
            _, name, arguments = parse(method)
            getattr(self, f"action_{name}")(*arguments)

    def dismiss(self, result: Any = None) -> AwaitComplete:
        """As Textual's, which closes whatever screen is shown when it is called twice."""
        return super().dismiss(result) if self.app.screen is self else AwaitComplete.nothing()  # type: ignore[no-untyped-call]

    def action_quit(self) -> None:
        """End the app; while it plays it is asked first."""
        self.companion.leave_or_ask()

    def leave(self) -> None:
        """Back to the screen below, unless that was done already."""
        if self.app.screen is self:
            self.app.pop_screen()


class AppScreen(OnTop):
    """A screen that has a name in the table of actions."""

    place = ""
    offers: Mapping[str, str] = MappingProxyType(
        {}
    )  # of the actions that are not always offered, those that are now, with words
    takes_piano = False  # whether what the piano plays is for this screen alone
    AUTO_FOCUS = ""

    @property
    def keymap(self) -> Keymap:
        """The keys as the student has them."""
        return self.companion.keymap

    def show_notice(self) -> None:
        """What is being said, or known of sound and plan, has changed. Drawn in the line that is there for it."""
        for line in self.query("#notice").results(Static):
            notice = self.companion.notice
            line.update(whole_words(notice, max(1, self.size.width - _NOTICE_SIDES)))
            line.set_class(notice.startswith(FAULT), "fault")

    def action_help(self) -> None:
        """Open the help of this place."""
        self.companion.open("help", self.keymap, self.place)

    def action_today(self) -> None:
        """Open the plan of the day."""
        self.companion.open("today")

    def action_exports_folder(self) -> None:
        """Open the folder that exports land in."""
        self.companion.show_folder(self.companion.exports)

    def action_next_item(self) -> None:
        """Go on with what comes next today."""
        self.companion.todays_item.go_on()

    def action_microphone(self) -> None:
        """The microphone off, or on."""
        self.companion.listening.turn(lambda on: self.companion.keep_listening(microphone=on))

    def action_keyboards(self) -> None:
        """Open the list of keyboards and outputs."""
        self.companion.open("keyboards")
