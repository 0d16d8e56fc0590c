"""Setting up a microphone: asked first, then two minutes for a piano and its place. Each page goes on by enter; escape leaves all as it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.widgets import Static

from companion.sound.listening.messages import (
    EchoMeasured,
    Learn,
    LevelHeard,
    MeasureEcho,
    MicrophoneOff,
    NoteLearned,
    PianoLearned,
    TellLevel,
)
from companion.tui.draw.microphone import HIGHEST, LOWEST, ask_page, done_page, echo_page, level_page, notes_page
from companion.tui.draw.row import Row
from companion.tui.screens.app_screen import AppScreen, bindings
from companion.tui.widgets.drawing import Drawing
from companion.tui.widgets.foot import Foot

if TYPE_CHECKING:
    from companion.session.microphone import Microphone
    from companion.tui.screens.pick import Item

_OFFERS = {
    "ask": {"microphone-next": "yes, listen"},
    "level": {"microphone-next": "next"},
    "echo": {"microphone-headphones": "headphones", "microphone-measure": "loudspeakers", "microphone-next": "next"},
    "notes": {"microphone-again": "begin anew", "microphone-name": "another name"},
    "done": {"microphone-next": "go on"},
}
STAYS_OFF = "The microphone stays off: you say yourself how a pass went. F12 asks again."
_NOTES = tuple(range(LOWEST, HIGHEST + 1))


class MicrophonePage(Drawing):
    """The page of a MicrophoneScreen."""

    def __init__(self, screen: MicrophoneScreen, **options: object) -> None:
        super().__init__(**options)
        self._of = screen

    def picture(self, width: int, height: int) -> list[Row]:
        """See `Drawing.picture`."""
        return self._of.rows(width)[:height]


class MicrophoneScreen(AppScreen):
    """page: one of draw.microphone.PAGES."""

    place = "microphone"
    BINDINGS = bindings("microphone")

    def __init__(self) -> None:
        super().__init__()
        self.page = "ask"
        self._level: LevelHeard | None = None
        self._echo: EchoMeasured | None = None
        self._measuring = False
        self._wanted = LOWEST
        self._last: NoteLearned | None = None
        self._cents = 0.0
        self._piano = self._why_off = ""
        self._pianos: list[str] = []

    def compose(self) -> ComposeResult:
        """The page, a line for what is said, and the keys."""
        yield MicrophonePage(self, id="microphone-page")
        yield Static("", id="notice", markup=False)
        yield Foot(self.keymap, "microphone", _OFFERS[self.page], id="foot")

    def on_mount(self) -> None:
        """Who said yes before is asked no more."""
        from companion.session.microphone import USUAL_NAME

        self._piano = self.companion.settings.listening.piano or USUAL_NAME
        self.companion.listening.check(on=False)
        if self.companion.settings.listening.microphone:
            self._to_level()
        self.show()

    def on_unmount(self) -> None:
        """What was begun here ends."""
        self._microphone.send(TellLevel(tell=False))
        self._microphone.send(Learn(()))
        self.companion.listening.check(on=True)

    @property
    def _microphone(self) -> Microphone:
        return self.companion.listening.microphone

    def rows(self, width: int) -> list[Row]:
        """What the page shows."""
        match self.page:
            case "ask":
                return ask_page(width)
            case "level":
                piano = self.companion.settings.listening.piano
                return level_page(self._level, self._microphone.listens, self._why_off, self._pianos, piano, width)
            case "echo":
                return echo_page(self._echo, self._measuring, self.companion.sound != "midi", width)
            case "notes":
                return notes_page(self._wanted, self._last, self._piano, width)
        return done_page(self._cents, self._piano, width)

    def show(self) -> None:
        """Draw the page and its keys."""
        if self.is_left or not self.is_mounted:
            return
        self.query_one(MicrophonePage).redraw()
        offers = dict(_OFFERS[self.page])
        if self._why_off:
            offers["microphone-next"] = "try again"
        elif self.page == "level" and len(self._pianos) > 1:
            offers["microphone-piano"] = "another piano"
        self.query_one(Foot).show(offers, visible=True)

    def hear(self, report: object) -> None:
        """A report of the listening process, the moment it comes."""
        match report:
            case LevelHeard():
                self._level = report
            case EchoMeasured():
                self._echo, self._measuring = report, False
                self._own_sound(headphones=not (report.heard and report.is_good))
            case NoteLearned() if self.page == "notes":
                self._last = report
                self._wanted = report.next if report.next is not None else report.wanted
            case PianoLearned():
                self._cents, self.page = report.cents, "done"
                self.companion.keep_listening(piano=self._piano)
                self._microphone.use()
            case MicrophoneOff():
                self._level, self._measuring, self._why_off = None, False, report.sentence
                self.page = "level" if report.sentence else "ask"
        self.show()

    def _own_sound(self, *, headphones: bool) -> None:
        self.companion.keep_listening(headphones=headphones, microphone_ms=0.0)  # another way of hearing: found anew
        self._microphone.use()

    def _to_level(self) -> None:
        self.page, self._why_off, self._pianos = "level", "", self._microphone.pianos
        self.companion.listening.choose()
        self._microphone.send(TellLevel(tell=True))

    def _to_notes(self) -> None:
        self.page, self._wanted, self._last = "notes", LOWEST, None
        self._microphone.send(TellLevel(tell=False))
        self._microphone.send(Learn(_NOTES, self._piano))

    def action_microphone_next(self) -> None:
        """Go on: from the question, that is a yes."""
        if self.page == "ask":
            if self.companion.keyboards.heard:
                self.companion.say("A keyboard is heard, so no microphone is needed.")
                return
            self.companion.keep_listening(microphone=True)
            self._to_level()
        elif self._why_off:
            self._to_level()
        elif self.page == "level" and self._level is not None:
            self.page = "echo"
        elif self.page == "echo":
            if not self._measuring:
                self._to_notes()
        elif self.page == "done":
            self.leave()
        self.show()

    def action_microphone_headphones(self) -> None:
        """Nothing that sounds comes back."""
        if self.page == "echo" and not self._measuring:
            self._own_sound(headphones=True)
            self._to_notes()
            self.show()

    def action_microphone_measure(self) -> None:
        """Measure how the loudspeakers come back."""
        if self.page == "echo" and not self._measuring and self.companion.sound != "midi":
            self._measuring, self._echo = True, None
            self._microphone.send(MeasureEcho())
            self.companion.in_background("Making the noise", self._microphone.noise, self._play)
            self.show()

    def _play(self, noise: object) -> None:
        self.companion.playback.send(noise)

    def action_microphone_again(self) -> None:
        """The notes from the lowest on."""
        if self.page == "notes":
            self._to_notes()
            self.show()

    def action_microphone_name(self) -> None:
        """Call the piano otherwise."""
        if self.page == "notes":
            self.companion.open(
                "ask", "What is this piano called?", self._piano, check=self._microphone.name_fault, taken=self._named
            )

    def _named(self, name: str | None) -> None:
        if name and name.strip():
            self._piano = name.strip()
            self.action_microphone_again()

    def action_microphone(self) -> None:
        """Off; it is switched on by enter here."""
        if self.companion.listening.sign:
            super().action_microphone()

    def action_microphone_piano(self) -> None:
        """Listen for another of the pianos that were learned."""
        if self.page == "level" and not self._why_off and self._pianos:
            here = self._pianos.index(self._piano) if self._piano in self._pianos else 0
            names = [(name, name) for name in self._pianos]
            self.companion.open("pick", "Which piano?", names, here, taken=self._chosen)

    def _chosen(self, item: Item | None) -> None:
        if item is not None:
            self._piano = item.value
            self.companion.keep_listening(piano=self._piano)
            self._microphone.use()
            self.show()

    def action_leave(self) -> None:
        """Back; what was allowed stays allowed."""
        if self.page == "ask":
            self.companion.say(STAYS_OFF)
        self.leave()
