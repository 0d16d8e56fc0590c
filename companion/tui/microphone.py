"""The app's part in listening: when the microphone is on, the sign that it is, one key that turns it off, and what it has to say."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from textual.app import App

from companion.errors import CompanionError
from companion.hands.hand import pitch_name
from companion.tui.draw.words import signs
from companion.tui.sound_report import SoundReport
from companion.tui.widgets.foot import Foot

if TYPE_CHECKING:
    from companion.session.microphone import Microphone
    from companion.session.student_settings import StudentSettings
    from companion.sound.messages import Keyboards
    from companion.store.paths import Paths

SIGN = " ◉ microphone on "
RECORDS = " ◉ recording the sound "
CHECKS = " ◉ microphone: play {note} softly "  # until the piano is checked, or something is played
OFF = "The microphone is off: nothing is listened to."
HAS_KEYBOARD = "A keyboard is heard, so the microphone is not needed and stays off."
CHECK = "The microphone is on. To check the piano, play C3, F3 and B♭3 softly, one after another."
LISTENS = "The microphone is on: it listens to your left hand."
FITS = "It sounds as it was learned: go on."
OTHERWISE = "The piano sounds otherwise than it was learned{tuned}: learn it anew, or choose another (F5, then m)."
COMES_BACK = "The click is heard too: headphones on, or measure it with F5, m."
COMES_BACK_NO_LONGER = "The click is heard no longer: slips are marked again."
_TUNED_CENTS = 5.0  # off by less, the tuning is not what differs


class Listening:
    """link: to the sound process. say: a sentence. set_up: opens the page that asks and sets up."""

    def __init__(
        self,
        app: App[Any],
        paths: Paths,
        student: StudentSettings,
        link: Any,
        say: Callable[[str], None],
        set_up: Callable[[], None],
    ) -> None:
        self._app, self._paths, self._student, self._link = app, paths, student, link
        self._say, self._set_up = say, set_up
        self._microphone: Microphone | None = None
        self._keyboard = False
        self._asked_note: int | None = None  # while the piano is checked
        self.checks = True  # whether a piano that was learned is checked as it begins to listen

    @property
    def microphone(self) -> Microphone:
        """Made when it is first asked for: no start waits for it."""
        if self._microphone is None:
            from companion.session.microphone import Microphone

            self._microphone = Microphone(
                self._paths, lambda: self._student.now, self._link.send, self._post, str(self._paths.sound_faults)
            )
        return self._microphone

    def _post(self, report: object) -> None:
        self._app.post_message(SoundReport(report))

    def _show(self) -> None:
        for screen in self._app.screen_stack:
            for foot in screen.query(Foot):
                foot.redraw()

    @property
    def sign(self) -> str:
        """What every screen shows while the microphone is on, else ""."""
        if self._microphone is None or not self._microphone.wanted:
            return ""
        if self._microphone.records:
            return RECORDS
        return SIGN if self._asked_note is None else CHECKS.format(note=signs(pitch_name(self._asked_note)))

    @property
    def listens(self) -> bool:
        """Whether it hears now."""
        return self._microphone is not None and self._microphone.listens

    def keyboards(self, keyboards: Keyboards) -> None:
        """Which keyboards there are: with one no microphone is needed."""
        self._keyboard = bool(keyboards.heard)
        self.choose()

    def choose(self) -> None:
        """On or off, as settings and keyboards have it."""
        if self._student.now.listening.microphone or self._microphone is not None:
            self.microphone.choose(keyboard=self._keyboard)
            self._show()

    def turn(self, keep: Callable[[bool], None]) -> None:
        """One key: off where it is on, else on where it was allowed before, else the page that asks. keep: told whether it may listen from now on."""
        if self.sign:
            keep(False)
            self.choose()
            self._say(OFF)
        elif self._keyboard:
            self._say(HAS_KEYBOARD)
        elif self._student.now.listening.piano:
            keep(True)
            self.choose()
        else:
            self._set_up()

    def send(self, message: object) -> None:
        """What the practice asks of it."""
        if self._microphone is not None:
            if self._asked_note is not None:
                self._asks_note(None)  # what is due is listened for now
                self._say(LISTENS)
            recorded = self._microphone.records
            self._microphone.send(message)
            if self._microphone.records != recorded:
                self._show()

    def check(self, *, on: bool) -> None:
        """Whether a piano that was learned is checked as it begins to listen; a check that waits is over."""
        self.checks = on
        self._asks_note(None)

    def _asks_note(self, note: int | None) -> None:
        if note != self._asked_note:
            self._asked_note = note
            self._show()

    def hear(self, report: object) -> None:
        """A report of the listening process."""
        microphone = self._microphone
        if microphone is None or not type(report).__module__.endswith("listening.messages"):
            return
        self._obey(microphone, report)

    def _obey(self, microphone: Microphone, report: object) -> None:
        from companion.sound.listening.messages import (
            ComesBack,
            LatenessFound,
            Learn,
            MicrophoneOff,
            MicrophoneReady,
            NoteLearned,
            PianoChecked,
            Recorded,
            RecordFailed,
        )

        try:
            microphone.hear(report)
        except CompanionError as error:
            self._say(f"! {error}")
        if isinstance(report, MicrophoneOff):
            self._asked_note = None
            if report.sentence:
                self._say(f"! {report.sentence}")
        elif isinstance(report, MicrophoneReady) and self.checks:
            from companion.sound.listening.verdicts import CHECKED

            if microphone.fault:
                self._say(f"! {microphone.fault}")
            elif microphone.has_piano:
                microphone.send(Learn(CHECKED))
                self._asked_note = CHECKED[0]
                self._say(CHECK)
            else:
                self._say(LISTENS)
        elif isinstance(report, ComesBack):
            self._say(f"! {COMES_BACK}" if report.does else COMES_BACK_NO_LONGER)
        elif isinstance(report, LatenessFound):
            self._student.keep_listening(microphone_ms=round(1000.0 * report.late_s, 1))
        elif isinstance(report, NoteLearned) and self._asked_note is not None:
            self._asks_note(report.next or report.wanted)
        elif isinstance(report, PianoChecked):
            self._asks_note(None)
            tuned = f", {report.cents:+.0f} cents" if abs(report.cents) >= _TUNED_CENTS else ""
            self._say(FITS if report.fits else OTHERWISE.format(tuned=tuned))
        if isinstance(report, MicrophoneOff | MicrophoneReady | Recorded | RecordFailed):
            self._show()

    def close(self) -> None:
        """The app is left."""
        if self._microphone is not None:
            self._microphone.close()
