"""The stand: the chart, the chord and shell of now and next, the keyboard, and a key for everything that can be set.

The screen keeps no beat of its own: it draws the reports of the sound process when they are due.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from textual import events
from textual.app import ComposeResult

from companion.errors import CompanionError
from companion.practice.drills.fading import Cue
from companion.practice.planning.plan import PlanItem
from companion.session import stand_changes as moves
from companion.session.stand import Stand
from companion.sound.messages import BeatReport, Load, SetTempo
from companion.tui.draw.chart import BARS_A_LINE, bars_a_line, lay_out
from companion.tui.draw.plan import PARTS, share_rows
from companion.tui.draw.view import View
from companion.tui.draw.words import plural
from companion.tui.screens.app_screen import AppScreen, bindings
from companion.tui.screens.choices import StandChoices
from companion.tui.screens.exporting import StandExport
from companion.tui.screens.practising import StandPractice
from companion.tui.screens.walking import StandKeys
from companion.tui.widgets.foot import Foot
from companion.tui.widgets.stand_parts import (
    BeatPart,
    ChartPart,
    KeyboardPart,
    NowPart,
    StandPart,
    StatePart,
    TitlePart,
)

SOUND_OFF = "The sound stays off. Leave with F10 and start again."


class StandScreen(StandKeys, StandExport, StandPractice, StandChoices, AppScreen):
    place = "stand"
    BINDINGS = bindings("stand")

    def __init__(
        self, stand: Stand, cursor: int = 0, pins_before: list[dict] | None = None, item: PlanItem | None = None
    ) -> None:
        """item: of today's plan, played as soon as the stand is there."""
        super().__init__()
        self._item = item
        self.view = View(stand, cursor)
        self.pins_before = pins_before or []

    def again(self) -> StandScreen:
        """The same stand as a new screen, with its drill where it was."""
        screen = StandScreen(self.stand, self.view.cursor, self.pins_before)
        screen.kind, screen.practice = self.kind, self.practice
        screen.view = replace(screen.view, drill=self.view.drill)
        return screen

    # --- what is shown

    def compose(self) -> ComposeResult:
        yield TitlePart(id="title")
        yield BeatPart(id="beat")
        yield ChartPart(id="chart")
        yield NowPart(id="now")
        yield KeyboardPart(id="keyboard")
        yield StatePart(id="state")
        yield Foot(self.keymap, "stand", id="foot")

    def on_mount(self) -> None:
        self._share()
        self.show(sound=self.companion.sound, notice=self.companion.notice)
        self.send_load()
        if self._item is not None:
            self.call_after_refresh(self.start_item, self._item)

    def on_resize(self, event: events.Resize) -> None:
        self._share()

    def _share(self) -> None:
        rows = share_rows(self.size.height, len(lay_out(self.stand.bars, bars_a_line(self.size.width))))
        for part in PARTS:
            for widget in self.query(f"#{part}"):
                widget.styles.height = rows[part]
                widget.display = rows[part] > 0

    @property
    def stand(self) -> Stand:
        return self.view.stand

    def show(self, **fields: object) -> None:
        """Change the view and draw what differs. Nothing is there to draw on any more once the stand was left."""
        self.view = replace(self.view, **fields)
        for foot in self.query(Foot):
            foot.visible = not self.view.is_dark
        for part in self.query(StandPart):
            part.show(self.view)

    def show_notice(self) -> None:
        self.show(notice=self.companion.notice, sound=self.companion.sound)

    def say(self, sentence: str) -> None:
        self.companion.say(sentence)

    # --- what the sound process tells

    def on_started(self, number: int | None = None) -> None:
        """number: of the Play that begins; one that was stopped again before it began is no longer asked for."""
        if number is None or number == self._play_number:
            self._started = self.view.playing

    def on_beat(self, beat: BeatReport) -> None:
        """Draw a beat that is due now. Beats of a pass that was stopped meanwhile are not drawn."""
        if not (self.view.playing and self._started):
            return
        self.turn_to_next_key(beat)
        signs = self.signs_now()
        before, self.view = self.view, replace(self.view, beat=beat, signs=signs)
        same = (
            before.beat is not None
            and before.signs == signs
            and (before.sounding, before.here, before.chord_no)
            == (self.view.sounding, self.view.here, self.view.chord_no)
        )
        if same:  # most beats: only their own line moves
            for part in self.query(BeatPart):
                part.show(self.view)
        else:
            self.show()

    # --- playing

    def send_load(self) -> None:
        self.companion.send(Load(self.stand.arrangement()))

    def play(self, first_bar: int) -> None:
        """Count in and play from a position in the loop, in the way that was chosen."""
        if getattr(self.companion.link, "is_off", False):
            self.say(SOUND_OFF)
        elif not self.is_left:
            self.begin(first_bar)

    def stop(self) -> None:
        if self.view.playing or self.view.asking:
            for message in self.end():
                self.companion.send(message)
            self.show(asking=False, slips=frozenset())
            self.stopped()

    def on_key(self, event: events.Key) -> None:
        """What was played stays on a stopped stand until a key is pressed."""
        if self.view.summary and not self.view.playing and not self.view.asking:
            self.show(summary=())

    def action_start_stop(self) -> None:
        self.companion.unsay()
        if self.view.asking:
            self.mark_slip()
        elif self.view.playing:
            self.stop()
        else:
            self.play(0)

    def action_play_here(self) -> None:
        if self.view.asking:
            self.answer_by_slips()
            return
        if self.view.playing:
            return
        if self.view.cursor in self.stand.loop:
            self.play(self.stand.loop.index(self.view.cursor))
        else:
            self.say("The marked bar is outside the loop; starting at the loop's first bar.")
            self.play(0)

    # --- the marked bar

    def _mark(self, step: int) -> None:
        if not self.view.playing:
            self.show(cursor=max(0, min(len(self.stand.bars) - 1, self.view.cursor + step)))

    def action_earlier(self) -> None:
        self._mark(-1)

    def action_later(self) -> None:
        self._mark(1)

    def action_line_up(self) -> None:
        self._mark(-BARS_A_LINE)

    def action_line_down(self) -> None:
        self._mark(BARS_A_LINE)

    # --- settings of the stand

    def change(self, make: Callable[[Stand], Stand], *, load: bool = True) -> bool:
        """Put a changed stand in place of this one; it is heard from the next bar. False where it cannot be."""
        try:
            stand = make(self.stand)
        except (CompanionError, ValueError) as error:
            self.companion.complain(str(error))
            return False
        before = self.stand
        self.companion.unsay()  # it may stand where the change is to be seen
        self.show(stand=stand)
        self.companion.keep_playing(moves.keep_playing(stand, self.companion.settings.playing))
        if not self.stand_changed(before, load) and load:
            self.send_load()
        return True

    def _tempo(self, tempo_bpm: float) -> None:
        if self.tempo_is_fixed() or not self.change(lambda stand: stand.with_tempo(tempo_bpm), load=False):
            return
        if self.practice is not None:
            self.practice.change_tempo(self.stand.tempo_bpm)
            self.show(drill=self.practice.drill if self.kind != "play" else None)
        self.companion.send(SetTempo(self.stand.tempo_bpm))

    def action_slower(self) -> None:
        self._tempo(self.stand.tempo_bpm - 1)

    def action_faster(self) -> None:
        self._tempo(self.stand.tempo_bpm + 1)

    def action_much_slower(self) -> None:
        self._tempo(self.stand.tempo_bpm - 5)

    def action_much_faster(self) -> None:
        self._tempo(self.stand.tempo_bpm + 5)

    def action_target_tempo(self) -> None:
        self._tempo(self.stand.song.tempo_bpm)

    def _loop(self, make: Callable[[Stand], Stand]) -> None:
        self.change(make)
        if not self.view.playing:
            self._to_loop()

    def action_next_loop(self) -> None:
        self._loop(moves.next_loop)

    def action_whole_form(self) -> None:
        self._loop(moves.whole_form)

    def action_loop_from(self) -> None:
        self._loop(lambda stand: moves.loop_from(stand, self.view.here))

    def action_loop_to(self) -> None:
        self._loop(lambda stand: moves.loop_to(stand, self.view.here))

    def action_pattern(self) -> None:
        self.change(moves.next_pattern)

    def action_click(self) -> None:
        self.change(moves.next_click)

    def action_bass(self) -> None:
        self.change(moves.next_bass)

    def action_count_in(self) -> None:
        if self.change(moves.next_count_in):
            self.say(f"Count-in: {plural(self.stand.count_in_bars, 'bar')}, from the next start.")

    def action_demonstrate(self) -> None:
        self.change(lambda stand: stand.change(demonstrate=not stand.demonstrate))

    def is_hidden(self) -> bool:
        """Whether the shell of the bar that is shown large is hidden; then it is said."""
        if self.view.cue(self.view.here) >= Cue.NAMES:
            return False
        self.say("That is hidden now. h shows the bar for a moment.")
        return True

    def action_songs(self) -> None:
        self.stop()
        self.companion.back_to_songs()
