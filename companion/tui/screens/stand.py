"""The stand: the chart, the chord and shell of now and next, the keyboard, and a key for everything that can be set.

It draws what the conductor tells and keeps no beat of its own: one timer calls the conductor when that wants it.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from typing import Any

from textual import events
from textual.app import ComposeResult

from companion.errors import CompanionError
from companion.practice.drills.fading import FULL, Cue
from companion.practice.planning.layers import PERFORMANCE
from companion.practice.planning.plan import PlanItem
from companion.session import led, stand_changes
from companion.session.changes import Change, Said
from companion.session.conductor import Conductor
from companion.session.left_song import worked_bpm
from companion.session.plan_items import start_item
from companion.session.stand import Stand
from companion.session.telling import NOTHING_SOUNDS
from companion.tui.actions import BY_ID
from companion.tui.draw.drill import bar_names
from companion.tui.draw.lines import count_in_words
from companion.tui.draw.need import need_after
from companion.tui.draw.view import View
from companion.tui.one_timer import OneTimer
from companion.tui.screens.app_screen import AppScreen, bindings
from companion.tui.screens.exporting import StandExport
from companion.tui.screens.shell_choice import ShellChoice
from companion.tui.screens.stand_lists import StandLists
from companion.tui.screens.stand_news import SOUND_OFF, StandNews
from companion.tui.widgets.foot import Foot
from companion.tui.widgets.stand_picture import StandPicture

PEEK_S = 1.5


class StandScreen(AppScreen):
    """The song on the stand: chart, beat, chord and shell of now, keyboard."""

    place = "stand"
    BINDINGS = bindings("stand")

    def __init__(self, stand: Stand, cursor: int = 0, item: PlanItem | None = None, *, again: bool = False) -> None:
        """item: of today's plan, played as soon as the stand is there. again: as it was left this evening."""
        super().__init__()
        self._item, self._again = item, again
        self.view = View(stand, cursor)
        self._wake = OneTimer(self, self._tick)
        self._summary = OneTimer(self, self._hide_summary)

    def again(self) -> StandScreen:
        """The same stand as a new screen, with all as it was."""
        return StandScreen(self.stand, self.view.cursor, again=True)

    @property
    def conductor(self) -> Conductor:
        """What it draws the word of."""
        return self.companion.conductor

    @property
    def stand(self) -> Stand:
        """The song with all that is set for it."""
        return self.view.stand

    @cached_property
    def _lists(self) -> StandLists:
        return StandLists(
            self.companion, self.conductor, self.draw, self.change, self._loop, lambda: self.view.here, self.obey
        )

    @cached_property
    def _shells(self) -> ShellChoice:
        return ShellChoice(self.companion, self.conductor, self.change)

    @cached_property
    def _news(self) -> StandNews:
        return StandNews(self.companion, lambda: self.view, self._summary)

    @cached_property
    def _export(self) -> StandExport:
        return StandExport(self.companion, lambda: self.view)

    @cached_property
    def _picture(self) -> StandPicture:
        return StandPicture(Foot(self.keymap, "stand", id="foot"))

    # --- what is shown

    def compose(self) -> ComposeResult:
        """The parts from top to bottom."""
        yield from self._picture.widgets()

    def on_mount(self) -> None:
        """Put the song on the stand of the conductor, and begin the item of the day where there is one."""
        settings, start_key = self.companion.settings, self.keymap.key_list(BY_ID["start-stop"], "stand")
        self.view = replace(
            self.view,
            need=settings.need,
            large_beat=settings.large_beat,
            word_keys=self.keymap.word_keys,
            start_key=start_key,
            pattern_key=self.keymap.key_list(BY_ID["pattern"], "stand"),
        )
        self._picture.share(self.view, self.size)
        if self._again:
            self.conductor.put_again(self.stand.original.id)
        else:
            self.conductor.put(self.stand)
        self.draw(self.companion.first_start.begin_song(self.conductor, self._item))
        self.show_notice()
        if self._item is not None:
            self.call_after_refresh(self._start_item, self._item)

    def on_resize(self, event: events.Resize) -> None:
        """Share the lines out among the parts."""
        self._picture.share(self.view, self.size)

    def show(self, **fields: Any) -> None:
        """Change what is on the screen besides how things stand."""
        self.draw([], **fields)

    def show_notice(self) -> None:
        """What is said, and what sounds."""
        self.show(**self._news.told())

    def draw(self, changes: list[Change], **fields: Any) -> None:
        """Show what a call to the conductor came to, and how things stand. fields: of the View, besides. Nothing is there to draw on any
        more once the stand was left."""
        self.companion.aloud.tell(changes, self.conductor.state)
        news: dict[str, Any] = {}
        for change in changes:
            news |= self._news.fields_of(change)
        before = self.view
        self.view = self._news.after(before, before.after(self.conductor.state, **news | fields))
        self._wake.set_for(self.conductor.wake_s)
        stand = self.conductor.stand
        self.companion.keep_stand(stand, worked_bpm(self.conductor.practice, stand))
        if before == self.view:
            return
        self.offers = self.view.offers
        self._picture.show(self.view, before, self.size)

    def _hide_summary(self) -> None:
        if self.view.playing:
            self.show(summary=())

    # --- what the sound process tells, and time

    def hear(self, report: object) -> None:
        """A report of the sound process, the moment it comes."""
        self.draw(led.hear(self.conductor, report, self.companion.settings))

    def _tick(self) -> None:
        self._wake.stop()  # it may be a little early: it is set again where nothing came of it
        self.draw(self.conductor.tick(time.perf_counter()))

    # --- playing

    def _play(self, first_bar: int) -> None:
        """Count in and play from a position in the loop, in the way that was chosen."""
        if self.companion.sound_is_off:
            self.companion.say(SOUND_OFF)
        elif not self.is_left:
            self.draw(self.conductor.start(first_bar))

    def _start_item(self, item: PlanItem) -> None:
        if self.is_left:
            return
        try:
            changes = start_item(self.conductor, item)
        except (CompanionError, ValueError) as error:
            self.companion.complain(str(error))
            return
        self.draw(changes)
        if item.layer == PERFORMANCE:
            self._lists.perform()

    def stop(self) -> None:
        """Break off what is played or asked."""
        self.draw(self.conductor.stop())

    def pause(self) -> None:
        """Break off what is played; a question that is asked waits until one is back."""
        if self.view.playing:
            self.stop()

    def on_key(self, event: events.Key) -> None:
        """What was played stays on a stopped stand until a key is pressed; any key tells that somebody is there."""
        self.conductor.attend()
        if self.view.summary and not self.view.playing and not self.view.asking:
            self.show(summary=())

    def action_start_stop(self) -> None:
        """Start, or stop."""
        self.companion.unsay()
        if self.view.playing:
            self.stop()
        else:
            self._play(0)

    def action_turned(self, page: str) -> None:
        """A page turner leads: "down" or "up"."""
        self.draw(led.turn(self.conductor, page, self.companion.settings))

    def action_play_here(self) -> None:
        """Play from the marked bar; where passes wait for the student's word: they ran, but for the marked bars."""
        if self.view.asking or self.view.playing:
            self.draw(self.conductor.answer())
        elif self.view.cursor in self.stand.loop:
            self._play(self.stand.loop.index(self.view.cursor))
        else:
            self.companion.say("The marked bar is outside the loop; starting at the loop's first bar.")
            self._play(0)

    def action_alone(self) -> None:
        """Practise just the change that slipped, or go back to what was before."""
        self.draw(self._news.alone(self.conductor))
        self._to_loop()

    def action_slip(self) -> None:
        """The bar that sounds slipped; once it is stopped the marked one, or it did not after all."""
        if self.view.asking:
            self.conductor.mark_slip(self.view.cursor)
        self.draw([] if self.view.asking else self.conductor.slip())

    def action_broke_off(self) -> None:
        """The last pass broke off, or the one that sounds."""
        self.draw(self.conductor.answer(broke_off=True) or [Said(NOTHING_SOUNDS)])

    def action_peek(self) -> None:
        """Show for once what the drill hides of a bar."""
        index = self.view.here
        if not self.view.hides or self.view.cue(index) == FULL:
            self.companion.say("Nothing is hidden here.")
            return
        self.conductor.peek(index)
        self.show(peeked=index)
        self.companion.say(f"A look at {bar_names((index,), self.stand)}: it counts as a slip.")
        self.set_timer(PEEK_S, lambda: self._hide_again(index))

    def _hide_again(self, index: int) -> None:
        if self.view.peeked == index:
            self.show(peeked=None)

    def action_mark_bar(self, step: int) -> None:
        """Mark the bar so many after the marked one, below 0 before it."""
        if not self.view.playing:
            self.show(cursor=max(0, min(len(self.stand.bars) - 1, self.view.cursor + step)))

    # --- settings of the stand

    def change(self, make: Callable[[Stand], Stand], *, load: bool = True) -> bool:
        """Put a changed stand in place of this one, heard from the next bar. False where it cannot be. load: whether it sounds."""
        self.companion.unsay()  # it would cover what changes
        try:
            changes = self.conductor.change_stand(make, load=load)
        except (CompanionError, ValueError) as error:
            self.companion.complain(str(error))
            return False
        self.draw(changes)
        return True

    def _tempo(self, tempo_bpm: float) -> None:
        if self.conductor.tempo_is_fixed:
            self.companion.say(led.TEMPO_IS_FIXED)
        else:
            self.draw(self.conductor.change_tempo(tempo_bpm))

    def action_change_tempo(self, step_bpm: int) -> None:
        """So many pulses a minute faster, below 0 slower."""
        self._tempo(self.stand.tempo_bpm + step_bpm)

    def action_target_tempo(self) -> None:
        """The tempo that the song asks for."""
        self._tempo(self.stand.song.tempo_bpm)

    def _loop(self, make: Callable[[Stand], Stand]) -> None:
        self.change(make)
        self._to_loop()

    def _to_loop(self) -> None:
        if not self.view.playing and self.view.cursor not in self.stand.loop:
            self.show(cursor=self.stand.loop[0])

    def action_loop(self, which: str) -> None:
        """The next section as the loop, or the whole form: a name of LOOPS."""
        self._loop(stand_changes.LOOPS[which])

    def action_loop_from(self) -> None:
        """The loop begins here."""
        self._loop(lambda stand: stand_changes.loop_from(stand, self.view.here))

    def action_loop_to(self) -> None:
        """The loop ends here."""
        self._loop(lambda stand: stand_changes.loop_to(stand, self.view.here))

    def action_turn(self, what: str) -> None:
        """The next rhythm of the left hand, way to click or style of bass: a name of stand_changes.ROUNDS."""
        self.change(stand_changes.ROUNDS[what])

    def action_need(self) -> None:
        """The next thing that the middle of the stand can show, kept for the next time."""
        need = need_after(self.view)
        self.companion.keep_screen("need", need.name)
        self.show(need=need.name)
        self.companion.say(f"Shown now: {need.words}.")

    def action_beat(self) -> None:
        """The large beat, shown or not, kept for the next time."""
        self.companion.keep_screen("large_beat", not self.view.large_beat)
        self.show(large_beat=not self.view.large_beat)

    def action_count_in(self) -> None:
        """The next number of bars counted in."""
        if self.change(stand_changes.next_count_in):
            self.companion.say(count_in_words(self.view))

    def action_demonstrate(self) -> None:
        """Let the left hand be heard, or not."""
        self.change(lambda stand: stand.change(demonstrate=not stand.demonstrate))

    # --- lists and pages

    def action_practise(self) -> None:
        """Choose a way to practise."""
        self._lists.ways(self._to_loop)

    def action_list(self, name: str) -> None:
        """Open one of the lists to choose from, by its name."""
        getattr(self._lists, name)()

    def action_why(self) -> None:
        """Tell why this shell."""
        if not self._is_hidden():
            self._shells.why(self.view)

    def action_other_shell(self) -> None:
        """Choose another shell for the chord of now."""
        if not self._is_hidden():
            self._shells.choose(self.view)

    def _is_hidden(self) -> bool:
        """Whether the shell of the bar that is shown large is hidden; then it is said."""
        if self.view.cue(self.view.here) >= Cue.NAMES:
            return False
        self.companion.say("That is hidden now. h shows the bar for a moment.")
        return True

    def action_undo(self) -> None:
        """Take the last change back: of tempo, loop, key or what sounds, or of a shell."""
        self._shells.take_back(self._tempo)

    def action_export(self, what: str = "ask") -> None:
        """Write the song to a file. what: "ask" which, or "send"."""
        getattr(self._export, what)()

    def action_progress(self) -> None:
        """Open the progress of the song, while nothing sounds."""
        if self.view.playing:
            self.companion.say("Stop first (space), then look at the progress.")
        else:
            self.companion.show_progress(self.stand.original)

    def action_today(self) -> None:
        """Stop, and open the plan of the day."""
        self.pause()
        super().action_today()

    def action_keyboards(self) -> None:
        """Stop, and open the list of keyboards and outputs."""
        self.pause()
        super().action_keyboards()

    def action_songs(self) -> None:
        """Go back to the song list; what plays is not stopped by that."""
        if self.view.playing:
            self.companion.say("It plays. Space stops it; then esc leads to the songs.")
        else:
            self.companion.back_to_songs()
