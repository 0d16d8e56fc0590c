"""A performance: the whole tune once through, recorded from a keyboard or, once the student has said so, by the microphone; marked at its end, kept, and heard again beside the ones before."""

from __future__ import annotations

import contextlib
from functools import partial
from pathlib import Path
from typing import Any

from textual.app import ComposeResult

from companion.errors import LogError, TakeError, WriteError
from companion.session.frame_loops import ENDING, INTRODUCTION, frame_bars
from companion.session.memory import performed_entry
from companion.session.performing import NOTHING_PLAYED, Performed, Performing
from companion.session.stand import Stand
from companion.sound.listening.messages import MicrophoneOff
from companion.sound.messages import Notice, Say
from companion.store.performances import Kept, folder_of, kept_performances, sound_beside
from companion.tui.draw.performance import SHOWS, PerformanceView, draw_performance
from companion.tui.draw.row import Row
from companion.tui.one_timer import OneTimer
from companion.tui.screens.app_screen import AppScreen, bindings
from companion.tui.widgets.drawing import Drawing
from companion.tui.widgets.foot import Foot

_SOUND_OFF = "The sound is off, so nothing counts you in. Leave with F10 and start again."
_NO_KEYBOARD = "No MIDI keyboard is heard (F5) and no microphone is on (F12) to record you."
_GONE = "The {source} went away, so the performance was broken off; what came before is kept."
_ASK = "Record this performance with the microphone?"
_NOT_RECORDED = "Nothing is recorded."
_NO_SOUND = "This one is a sound, which the built-in sound alone plays here (F5). Other programs play the file: {path}"


class PerformanceDrawing(Drawing):
    """All of it but the foot. view: what it draws, None before there is anything."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self.view: PerformanceView | None = None

    def show(self, view: PerformanceView) -> None:
        """Draw this."""
        if view != self.view:
            self.view = view
            self.redraw()

    def picture(self, width: int, height: int) -> list[Row]:
        """See `Drawing.picture`."""
        return draw_performance(self.view, width, height) if self.view is not None else []


class PerformanceScreen(AppScreen):
    """stand: whose tune is performed, as its hands, key and tempo are. The stand below wants its music back at the end."""

    place = "performance"
    BINDINGS = bindings("performance")

    def __init__(self, stand: Stand, looping: str = "") -> None:
        """looping: what of the tune is to go round and round at once, see session.frame_loops; "" for nothing."""
        super().__init__()
        self._looping = looping
        self._stand = stand
        self._made: Performing | None = None
        self._kept: tuple[Kept, ...] = ()
        self._marked, self._shows, self._keeping = 0, "beat", False
        self._drawing = PerformanceDrawing(id="performance")
        self._wake = OneTimer(self, self._tick)

    def compose(self) -> ComposeResult:
        """The drawing and the keys."""
        yield self._drawing
        yield Foot(self.keymap, "performance", id="foot")

    def on_mount(self) -> None:
        """Show what is kept."""
        self._read()
        if self._looping:
            self._loop(self._looping)
        self.show()

    @property
    def performing(self) -> Performing:
        """What goes on."""
        if self._made is None:
            companion = self.companion
            latency_s = companion.settings.practice.latency_ms / 1000.0
            self._made = Performing(self._stand, companion.playback, latency_s=latency_s, minutes=companion.minutes)
        return self._made

    @property
    def playing(self) -> bool:
        """Whether something goes on."""
        return self._made is not None and bool(self._made.playing or self._made.hearing or self._made.looping)

    @property
    def _folder(self) -> Path:
        return folder_of(self.companion.paths, self._stand.original.id)

    def _read(self) -> None:
        def read(kept: list[Kept]) -> None:
            self._kept = tuple(kept)
            self.show()

        self.companion.in_background("Listing the performances", partial(kept_performances, self._folder), read)

    # --- what is shown

    def show(self) -> None:
        """Draw how things stand, and be called when they want it."""
        if self.is_left:
            return
        performing = self.performing
        self._wake.set_for(performing.wake_s)
        offers = {"next-item": "today's next"} if self.companion.todays_item.leads_on else {}
        self.query_one("#foot", Foot).show(offers, visible=True)
        self._drawing.show(
            PerformanceView(
                performing.stand,
                self._kept,
                self._marked,
                self._shows,
                performing.playing,
                performing.hearing,
                performing.beat,
                self._keeping,
                self.companion.notice,
                performing.looping,
                performing.records,
                self.companion.listening.listens and not self.companion.keyboards.heard,
            )
        )

    def show_notice(self) -> None:
        """What is said."""
        if self._made is not None:
            self.show()

    def hear(self, report: object) -> None:
        """A report of the sound process, the moment it comes."""
        performing = self.performing
        before = performing.performed
        performing.hear(report)
        if performing.playing and isinstance(report, Notice) and report.kind == "lost" and not performing.records:
            performing.stop()
            self.companion.say(_GONE.format(source="keyboard"))
        elif self._keeping and isinstance(report, MicrophoneOff) and report.sentence:
            self.companion.say(_GONE.format(source="microphone"))
        self._after(before)

    def _tick(self) -> None:
        self._wake.stop()
        before = self.performing.performed
        self.performing.tick()
        self._after(before)

    def _after(self, before: Performed | None) -> None:
        """Keep and mark what is over."""
        performed, fault = self.performing.performed, self.performing.take_fault()
        if fault:
            self.companion.complain(fault)
        elif performed is not None and performed is not before:
            if performed.was_played:
                self._keep(performed)
            else:
                self.companion.say(NOTHING_PLAYED)
        self.show()

    def _keep(self, performed: Performed) -> None:
        stand, companion = self.performing.stand, self.companion
        self._keeping = True

        def work() -> Kept:
            from companion.session.performed import keep_and_mark

            kept = keep_and_mark(stand, performed, companion.paths, companion.settings.listening.piano)
            if companion.sound == "builtin" and performed.sound is None:
                from companion.export.recorded import write_sound

                write_sound(kept, stand, companion.settings)
            return kept

        def done(kept: Kept) -> None:
            from companion.session.performed import is_achieved

            self._keeping, self._marked = False, 0
            if is_achieved(performed, kept):
                self._met()
            self._kept = (kept, *(each for each in self._kept if each.path != kept.path))
            self.show()

        def failed(sentence: str) -> None:
            self._keeping = False
            companion.complain(sentence)
            self._read()

        companion.in_background("Keeping the performance", work, done, failed)

    def _met(self) -> None:
        """The lesson's last step is done."""
        try:
            self.companion.practice_log.write(performed_entry(self._stand.original.id))
        except LogError as error:
            self.companion.complain(str(error))
        else:
            self.companion.todays_item.played()

    # --- keys

    def action_perform(self) -> None:
        """Count in, or break off."""
        companion, performing = self.companion, self.performing
        companion.unsay()
        before = performing.performed
        if self.playing:
            performing.stop()
        elif companion.sound_is_off:
            companion.say(_SOUND_OFF)
        elif companion.keyboards.heard:
            performing.start()
            before = None
        elif companion.listening.listens:
            self._ask_to_record()
        else:
            companion.say(_NO_KEYBOARD)
        self._after(before)

    def _ask_to_record(self) -> None:
        """Once for each performance."""

        def taken(item: Any) -> None:
            if item is None or not item.value:
                self.companion.say(_NOT_RECORDED)
            elif self.companion.listening.listens:
                self.performing.start(self._folder)
            self.show()

        yes = (
            "y  yes: the sound of this one is kept as a file on this computer, until you throw it away (x); "
            f"nothing is sent. It will lie in {self._folder}"
        )
        self.companion.open("pick", _ASK, [("n  no, record nothing", False, "n"), (yes, True, "y")], 0, taken=taken)

    def _loop(self, name: str) -> None:
        """Introduction or ending round and round, or no longer."""
        companion, performing = self.companion, self.performing
        companion.unsay()
        if performing.playing:
            return
        if performing.looping and performing.looping == frame_bars(performing.stand, name):
            performing.stop()
        elif companion.sound_is_off:
            companion.say(_SOUND_OFF)
        elif not performing.loop(name):
            companion.say(f"This tune has no {name} yet: choose one in the list of the whole tune.")
        self.show()

    def action_loop_introduction(self) -> None:
        """The introduction by itself, round and round."""
        self._loop(INTRODUCTION)

    def action_loop_ending(self) -> None:
        """The ending by itself, round and round."""
        self._loop(ENDING)

    def action_perform_shows(self) -> None:
        """Another thing to see meanwhile."""
        names = list(SHOWS)
        self._shows = names[(names.index(self._shows) + 1) % len(names)]
        self.show()

    def action_up(self) -> None:
        """Mark the one above."""
        self._mark(-1)

    def action_down(self) -> None:
        """Mark the one below."""
        self._mark(1)

    def _mark(self, step: int) -> None:
        if not self.performing.playing:
            self._marked = max(0, min(len(self._kept) - 1, self._marked + step))
            self.show()

    def action_hear_performance(self) -> None:
        """Hear the marked one again, or no longer."""
        from companion.session.take_file import read_recording

        performing = self.performing
        if performing.playing or not self._kept:
            return
        if performing.hearing:
            performing.stop()
        elif recording := self._kept[self._marked].recording:
            self._hear_sound(recording)
        else:
            try:
                performing.hear_again(read_recording(self._kept[self._marked].path).presses)
            except (TakeError, ValueError) as error:
                self.companion.complain(str(error))
        self.show()

    def _hear_sound(self, path: Path) -> None:
        from companion.session.performed import sound_again

        def read(sound: tuple[Say, float]) -> None:
            if not self.is_left and not self.playing:
                self.performing.hear_sound(*sound)
                self.show()

        if self.companion.sound == "builtin":
            self.companion.in_background("Reading the recording", partial(sound_again, path), read)
        else:
            self.companion.say(_NO_SOUND.format(path=path))

    def action_performance_marks(self) -> None:
        """What was marked in the marked one."""
        if self._kept and not self.performing.playing:
            kept = self._kept[self._marked]
            when = kept.performed_at.strftime("%Y-%m-%d %H:%M")
            sound = sound_beside(kept.path)
            as_sound = f"As sound, without the click: {sound.name}" if sound.exists() else ""
            if kept.recording:
                as_sound = f"As the microphone heard it: {kept.recording.name}"
            told = ("\n".join(kept.words), kept.at_length, as_sound)
            text = "\n\n".join(filter(None, told)) or "Nothing is known of it."
            self.companion.open("read", f"Performed {when}", text, folder=self._folder)

    def action_forget_performance(self) -> None:
        """Throw the marked one away, once the student has said so."""
        if not self._kept or self.playing:
            return
        kept = self._kept[self._marked]

        def taken(item: Any) -> None:
            from companion.store.performances import forget_performance

            if item is None or not item.value:
                return
            try:
                forget_performance(kept)
            except TakeError as error:
                self.companion.complain(str(error))
            self._marked = max(0, self._marked - 1)
            self._read()

        items = [("n  no, keep it", False, "n"), ("y  yes, throw it away", True, "y")]
        when = kept.performed_at.strftime("%Y-%m-%d %H:%M")
        self.companion.open("pick", f"Throw away what you performed at {when}?", items, 0, taken=taken)

    def action_keyboards(self) -> None:
        """Stop, and open the list of keyboards and outputs."""
        self.stop()
        super().action_keyboards()

    def on_screen_resume(self) -> None:
        """Another screen was on top."""
        self.show_notice()

    def stop(self) -> None:
        """Break off what goes on."""
        if self._made is not None:
            before = self._made.performed
            self._made.stop()
            self._after(before)

    def fall_silent(self) -> None:
        """The app is being left: what was played up to now is kept, and marked by nobody."""
        from companion.session.performed import keep_unmarked

        performing = self.performing
        performed = performing.leave()
        if performed is not None and performed.was_played:
            with contextlib.suppress(WriteError):  # there is nobody left to tell
                keep_unmarked(performing.stand, performed, self.companion.paths)

    def action_leave(self) -> None:
        """Back to the stand; what plays is not stopped by that."""
        if self.playing:
            self.companion.say("It plays. Space stops it; then esc leads back.")
            return
        self.companion.playback.silence()
        self.companion.conductor.load()
        self.leave()
