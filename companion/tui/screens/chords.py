"""Chords in root position: the song's chords one by one, whole, together or broken, before or beside their shells."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Any

from textual.app import ComposeResult

from companion.chart.loops import WHOLE_FORM
from companion.errors import LogError
from companion.hands.root_position import LEFT_LOWEST, RIGHT_LOWEST
from companion.practice.drills.root_position import NAMES
from companion.session.chords.memory import KIND, SHELL_KIND, keep_setup, known_of_song, last_setup
from companion.session.chords.practice import RootPosition
from companion.session.chords.rounds import Setup, start_tempo
from companion.session.leading import lead_in
from companion.session.stand import Stand
from companion.sound.listening.messages import StrokeHeard
from companion.sound.messages import NoteIn
from companion.tui.draw.roots import RootView, draw_roots, known_text
from companion.tui.draw.row import Row
from companion.tui.notices import FAULT
from companion.tui.one_timer import OneTimer
from companion.tui.screens.app_screen import AppScreen, bindings
from companion.tui.screens.chord_choices import ChordChoices
from companion.tui.widgets.drawing import Drawing
from companion.tui.widgets.foot import Foot

_CHORD_KEYS = range(LEFT_LOWEST - 12, RIGHT_LOWEST + 24)  # every key that one of the chords may have
_SOUND_OFF = "The sound is off, so no click can go along. Leave with F10 and start again."


class RootDrawing(Drawing):
    """All of it but the foot. view: what it draws, None before there is anything."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self.view: RootView | None = None

    def show(self, view: RootView) -> None:
        """Draw this."""
        if view != self.view:
            self.view = view
            self.redraw()

    def picture(self, width: int, height: int) -> list[Row]:
        """See `Drawing.picture`."""
        return draw_roots(self.view, width, height) if self.view is not None else []


class ChordsScreen(AppScreen):
    """stand: whose loop's chords are practised. hand: to begin with. from_stand: whether the stand is below and wants its music back.
    names: the drill of names."""

    place = "chords"
    BINDINGS = bindings("chords")

    def __init__(self, stand: Stand, hand: str = "left", *, from_stand: bool = False, names: bool = False) -> None:
        super().__init__()
        self._names = names
        self._stand, self._hand, self._from_stand = stand, hand, from_stand
        self._roots: RootPosition | None = None
        self._drawing = RootDrawing(id="roots")
        self._wake = OneTimer(self, self._tick)

    def compose(self) -> ComposeResult:
        """The drawing and the keys."""
        yield self._drawing
        yield Foot(self.keymap, "chords", id="foot")

    def on_mount(self) -> None:
        """Read what is known and show the first chord."""
        self.show()

    @property
    def roots(self) -> RootPosition:
        """What is drawn."""
        if self._roots is None:
            companion = self.companion
            self._roots = RootPosition(
                self._stand,
                self._last_setup(),
                companion.practice_log,
                companion.playback,
                latency_s=companion.settings.practice.latency_ms / 1000.0,
                minutes=companion.minutes,
                microphone=lambda: companion.listening.listens and not companion.keyboards.heard,
            )
        return self._roots

    @property
    def playing(self) -> bool:
        """Whether a round goes on."""
        return self._roots is not None and self._roots.playing

    def _last_setup(self) -> Setup:
        """As the chords were practised last."""
        tempo_bpm = start_tempo(self._stand)
        try:
            last = last_setup(self.companion.practice_log, self._hand, tempo_bpm)
        except LogError as error:
            self.companion.complain(str(error))
            last = Setup(hand=self._hand, tempo_bpm=tempo_bpm)
        if self._names:
            return replace(last, way=NAMES, order="random", inversion=0, in_time=False, hear_first=False)
        return replace(last, way="together") if last.way == NAMES else last

    # --- what is shown

    def show(self) -> None:
        """Draw how things stand, and be called when they want it."""
        if self.is_left:
            return
        roots, companion = self.roots, self.companion
        if fault := roots.say():
            companion.say(fault)
        self._wake.set_for(roots.wake_s)
        loop = "" if self._stand.loop_name == WHOLE_FORM else f", {self._stand.loop_name}"
        view = RootView(
            self._stand.song.title + loop,
            roots.setup,
            roots.shown,
            self._stand.hand.reach,
            bool(companion.keyboards.heard) or roots.hears_shells,
            companion.listening.listens,
            companion.notice,
        )
        self._drawing.show(view)

    def show_notice(self) -> None:
        """What is said."""
        if self._roots is not None:
            self.show()

    def hear(self, report: object) -> None:
        """A report of the sound process, the moment it comes."""
        if lead_in(report, self.companion.settings.leading, _CHORD_KEYS) is not None:
            return
        self.roots.hear(report)
        struck = isinstance(report, StrokeHeard) or (isinstance(report, NoteIn) and report.velocity > 0)
        if struck and not self.companion.notice.startswith(FAULT):
            self.companion.unsay()  # what there is to say of the key takes its place
        self._after()

    def _tick(self) -> None:
        self._wake.stop()
        self.roots.tick(time.perf_counter())
        self.show()

    def _after(self) -> None:
        """Something was done, perhaps the last of a round: then a rest may be due."""
        self.show()
        minutes = self.companion.minutes
        if not self.roots.playing:
            self.companion.todays_item.played()
        if not self.roots.playing and minutes.rest_is_due:
            from companion.tui.cautions import REST_TITLE, rest_text

            minutes.rested()
            self.companion.open("read", REST_TITLE, rest_text())

    # --- keys

    def action_chords_start(self) -> None:
        """Begin a round, or stop."""
        self.companion.unsay()
        if self.roots.playing:
            self.roots.stop()
        elif self.roots.setup.in_time and self.companion.sound_is_off:
            self.companion.say(_SOUND_OFF)
        else:
            self.roots.start()
        self._after()

    def action_chords_word(self) -> None:
        """The student has it; where nothing goes on, begin."""
        if not self.roots.playing:
            self.action_chords_start()
            return
        self.roots.word()
        self._after()

    def action_chords_wrong(self) -> None:
        """It was wrong, says the student."""
        self.roots.was_wrong()
        self.show()

    def action_chords_look(self) -> None:
        """Show the keys."""
        self.roots.look()
        self.show()

    def action_chords_listen(self) -> None:
        """Hear the chord."""
        self.roots.listen()

    def action_chords_choose(self) -> None:
        """Choose how the chords are practised."""
        self.roots.stop()
        self.show()
        ChordChoices(self.companion, self._stand, self.roots.setup, self._chosen).show()

    def _chosen(self, setup: Setup) -> None:
        self.roots.change(setup)
        try:
            keep_setup(self.companion.practice_log, setup)
        except LogError as error:
            self.companion.complain(str(error))
        self.show()

    def action_progress(self) -> None:
        """What is known of each chord of the song."""
        self.roots.stop()
        self.show()
        try:
            names = self.roots.setup.way == NAMES
            kind = SHELL_KIND if names else KIND
            text = known_text(known_of_song(self.companion.practice_log, self._stand.song, kind))
        except LogError as error:
            self.companion.complain(str(error))
            return
        self.companion.open(
            "read", f"{'Shells by name' if names else 'Chords in root position'}: {self._stand.song.title}", text
        )

    def action_change_tempo(self, step_bpm: int) -> None:
        """So many pulses a minute faster, below 0 slower; where there was no click there is one now."""
        if self.roots.setup.in_time:
            self.roots.change_tempo(self.roots.setup.tempo_bpm + step_bpm)
        elif self.roots.playing:
            self.companion.say("The companion waits for you here. m sets a click, and then s and f its tempo.")
        else:
            self.roots.change(replace(self.roots.setup, in_time=True))
            self.companion.say("With the click from now on. m chooses, and there it waits again.")
        self.show()

    def action_keyboards(self) -> None:
        """Stop, and open the list of keyboards and outputs."""
        self.roots.stop()
        super().action_keyboards()

    def on_screen_resume(self) -> None:
        """Another screen was on top: a keyboard may have come."""
        self.show_notice()

    def stop(self) -> None:
        """Break off what goes on."""
        if self._roots is not None:
            self._roots.stop()

    def action_leave(self) -> None:
        """Back to where one was; what plays is not stopped by that."""
        if self.playing:
            self.companion.say("It plays. Space stops it; then esc leads back.")
            return
        self.roots.stop()
        self.companion.playback.silence()
        if self._from_stand:
            self.companion.conductor.load()
        self.leave()
