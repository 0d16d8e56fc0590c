"""The first use: three pages on the left hand, the keyboard and the sound, each of which may be skipped."""

from __future__ import annotations

from typing import Any

from textual.app import ComposeResult
from textual.widgets import Static

from companion.sound.messages import Keyboards, NoteIn, Outputs, Ready
from companion.tui.draw.first_pages import PAGES, REACHES, a_shell, hand_page, keyboard_page, reach_of, sound_page
from companion.tui.draw.row import Row
from companion.tui.draw.words import stepped_volume
from companion.tui.screens.app_screen import AppScreen, bindings
from companion.tui.widgets.drawing import Drawing
from companion.tui.widgets.foot import Foot

# page -> words in the footer for the keys that are for this page alone
_OFFERS = {
    "hand": {"first-next": "keep this reach"},
    "keyboard": {
        "first-next": "next",
        "first-look": "look again",
        "keyboards": "choose",
        "first-microphone": "acoustic piano",
    },
    "sound": {
        "first-next": "I hear it",
        "first-hear": "hear it",
        "first-nothing": "I hear nothing",
    },
}


class PageDrawing(Drawing):
    """The page of a FirstScreen."""

    def __init__(self, screen: FirstScreen, **options: Any) -> None:
        super().__init__(**options)
        self._of = screen

    def picture(self, width: int, height: int) -> list[Row]:
        """See `Drawing.picture`."""
        return self._of.rows(width)[:height]


class FirstScreen(AppScreen):
    """page: one of PAGES. reach: as it is chosen, in semitones; kept when the page is left by its own key."""

    place = "first"
    BINDINGS = bindings("first")
    takes_piano = True

    def __init__(self) -> None:
        super().__init__()
        self.page = PAGES[0]
        self.reach = min(REACHES)
        self._struck: list[int] = []
        self._held: set[int] = set()
        self._looked = self._unheard = False

    def compose(self) -> ComposeResult:
        """The page, a line for what is said, and the keys."""
        yield PageDrawing(self, id="first-page")
        yield Static("", id="notice", markup=False)
        yield Foot(self.keymap, "first", _OFFERS[self.page], id="foot")

    def on_mount(self) -> None:
        """Begin with the reach of the settings, or the next smaller one there is."""
        wide = self.companion.settings.hand.reach
        self.reach = max((reach for reach in REACHES if reach <= wide), default=min(REACHES))
        self.show()

    def rows(self, width: int) -> list[Row]:
        """What the page shows."""
        app = self.companion
        if self.page == "hand":
            return hand_page(self.reach, bool(app.keyboards.heard), width)
        if self.page == "keyboard":
            return keyboard_page(app.keyboards, self._struck, self._looked, width)
        shell, volume = a_shell(app.settings.hand), app.volumes["left"]
        return sound_page(shell, volume, app.sound_words, app.sound, self._unheard, width)

    def show(self) -> None:
        """Draw the page and its keys."""
        if self.is_left or not self.is_mounted:
            return
        self.query_one(PageDrawing).redraw()
        self.query_one(Foot).show(_OFFERS[self.page], visible=True)

    def show_notice(self) -> None:
        """What is said, and where it sounds."""
        super().show_notice()
        self.show()

    def hear(self, report: object) -> None:
        """A report of the sound process, the moment it comes."""
        if isinstance(report, NoteIn):
            self._press(report.note, down=report.velocity > 0)
        if isinstance(report, NoteIn | Keyboards | Outputs | Ready):
            self.call_after_refresh(self.show)

    def _press(self, note: int, *, down: bool) -> None:
        if not down:
            self._held.discard(note)
            return
        self._held.add(note)
        if self.page == "hand":
            self.reach = reach_of(self._held) or self.reach
        elif self.page == "keyboard":
            self._struck.append(note)

    def action_first_next(self) -> None:
        """Keep what the page shows, and go on."""
        if self.page == "hand" and self.reach != self.companion.settings.hand.reach:
            self.companion.keep_reach(self.reach)
        self.action_first_skip()

    def action_first_skip(self) -> None:
        """Go on, and leave all as it is."""
        number = PAGES.index(self.page) + 1
        if number == len(PAGES):
            self.dismiss(None)
            return
        self.page = PAGES[number]
        self.show()

    def action_first_skip_all(self) -> None:
        """To the songs."""
        self.dismiss(None)

    def action_less(self) -> None:
        """A smaller reach, or softer."""
        self._step(-1)

    def action_more(self) -> None:
        """A wider reach, or louder."""
        self._step(1)

    def _step(self, step: int) -> None:
        if self.page == "hand":
            reaches = list(REACHES)
            self.reach = reaches[max(0, min(len(reaches) - 1, reaches.index(self.reach) + step))]
        elif self.page == "sound":
            self.companion.set_volume("left", stepped_volume(self.companion.volumes["left"], step))
            self.action_first_hear()
        self.show()

    def action_first_hear(self) -> None:
        """Hear a shell, as in every song."""
        if self.page == "sound":
            self.companion.playback.sample(a_shell(self.companion.settings.hand).midi)

    def action_first_nothing(self) -> None:
        """Tell what to do where nothing is heard."""
        if self.page == "sound":
            self._unheard = True
            self.show()

    def action_first_microphone(self) -> None:
        """An acoustic piano, listened to through the microphone."""
        if self.page == "keyboard":
            self.companion.open("microphone")

    def action_first_look(self) -> None:
        """Have the ports looked at again, with what is listened to left as it is."""
        if self.page == "keyboard":
            self._looked = True
            self.companion.playback.configure()
            self.show()
