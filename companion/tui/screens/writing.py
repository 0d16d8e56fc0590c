"""Writing a song bar by bar from a paper lead sheet: letters go into the bar, F-keys do everything else.

Every change is in the draft's journal before it is drawn.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from textual import events
from textual.app import ComposeResult
from textual.timer import Timer

from companion.authoring.draft import CHORDS, MELODY, Draft, Page, Spot
from companion.authoring.draft_song import bar_faults, melody_faults
from companion.authoring.journal import Journal
from companion.authoring.manuscript import Manuscript
from companion.authoring.melody_input import MelodyTake, with_key_pressed
from companion.authoring.preview import Preview
from companion.base.text import is_printable, plural
from companion.errors import ChartError
from companion.session.leading import lead_in
from companion.session.stand import Stand
from companion.sound.messages import NoteIn
from companion.tui.draw.row import Row
from companion.tui.draw.writing import WritingView, draw_written
from companion.tui.screens.app_screen import AppScreen, bindings
from companion.tui.screens.song_menu import SongMenu
from companion.tui.widgets.drawing import Drawing
from companion.tui.widgets.foot import Foot

_SHELLS_AFTER_S = 0.15  # the shells are worked out once the fingers pause
_EDIT_KEYS = ("backspace", "delete", "insert", "home", "end")


def faults_of(page: Page, line: str) -> dict[Spot, str]:
    """Why bars cannot be read, their chords or their notes."""
    return bar_faults(page) if line == CHORDS else melody_faults(page)


class WrittenPart(Drawing):
    """The page being written."""

    shown: WritingView | None = None

    def picture(self, width: int, height: int) -> list[Row]:
        """See `Drawing.picture`."""
        return draw_written(self.shown, width, height) if self.shown is not None else []


class WritingScreen(AppScreen):
    """Dismissed with the id of the song as it was saved last, "" where it was not. draft: what is written so far. journal: where it
    is kept. saved: the draft's page is what the song's file says."""

    place = "writing"
    BINDINGS = bindings("writing")

    def __init__(self, draft: Draft, journal: Journal, *, saved: bool = False) -> None:
        super().__init__()
        self._manuscript = Manuscript(draft, journal, saved=saved)
        self._preview = Preview()
        self._menu = SongMenu(self.companion, self)
        self._timer: Timer | None = None
        self._take: MelodyTake | None = None  # while a melody is played in
        self.shown = WritingView(draft, bar_faults(draft.page), saved=saved)

    @property
    def draft(self) -> Draft:
        """What is written so far."""
        return self._manuscript.draft

    @property
    def is_saved(self) -> bool:
        """Whether the page is what the song's file holds."""
        return self._manuscript.is_saved

    def compose(self) -> ComposeResult:
        """The page, and the keys under it."""
        yield WrittenPart(id="written")
        yield Foot(self.keymap, "writing", id="foot")

    def on_mount(self) -> None:
        """Keep the draft at once, so that nothing of it can be lost."""
        if not self.is_saved:
            self._keeping(self._manuscript.keep)
        self.shown = replace(self.shown, hand=self.companion.settings.hand)
        self._show()
        self._find_shells()

    # --- changes

    def change(self, make: Callable[[Draft], Draft]) -> None:
        """Change the draft: into the journal first, then onto the screen."""
        before = self.draft
        self._keeping(lambda: self._manuscript.change(make))
        same = self.draft.page is before.page and self.draft.line == before.line
        faults = self.shown.faults if same else faults_of(self.draft.page, self.draft.line)
        # Shells of this bar stay until the new ones are known, so that the keys do not flicker at every letter.
        stay = self.draft.at == before.at and self.draft.at not in faults and self.draft.bar.text.strip()
        shells = self.shown.shells if stay else None
        self.shown = replace(
            self.shown, draft=self.draft, faults=faults, shells=shells, no_shell="", saved=self.is_saved
        )
        self._show()
        if self._timer is not None:
            self._timer.stop()
        self._timer = self.set_timer(_SHELLS_AFTER_S, self._find_shells)

    def _keeping(self, work: Callable[[], None]) -> bool:
        """Whether what is not saved is kept; where it is not, that is said."""
        try:
            work()
        except OSError as error:
            self.companion.say(f"Your draft cannot be kept ({error.strerror}): save it (F2), or throw it away (F5).")
            return False
        return True

    def _show(self) -> None:
        if self.is_left:
            return
        part = self.query_one(WrittenPart)
        part.shown = replace(self.shown, notice=self.companion.notice)
        part.redraw()

    def show_notice(self) -> None:
        """Draw the notice, which stands on the page."""
        self._show()

    def action_song_menu(self) -> None:
        """Choose what to set, or what to do with the song."""
        self._menu.show()

    # --- typing

    def on_key(self, event: events.Key) -> None:
        """Type and edit; what is neither goes on to the keys of the screen."""
        if event.key in _EDIT_KEYS:
            self._edit(event.key)
        elif (sign := event.character) and is_printable(sign):
            self.change(lambda draft: draft.type(sign))
        else:
            return
        event.stop()
        event.prevent_default()

    def on_paste(self, event: events.Paste) -> None:
        """A line of bars from elsewhere."""
        text = "".join(sign for sign in event.text if sign in "\n\t" or is_printable(sign))
        self.change(lambda draft: draft.type(text))

    def _edit(self, key: str) -> None:
        last = len(self.draft.section.bars) - 1
        moves: dict[str, Callable[[Draft], Draft]] = {
            "backspace": Draft.back,
            "delete": Draft.delete if self.draft.mark is not None else Draft.clear_bar,
            "insert": Draft.insert,
            "home": lambda draft: draft.go_to(draft.at[0], 0),
            "end": lambda draft: draft.go_to(draft.at[0], last),
        }
        self.change(moves[key])

    def action_next_bar(self) -> None:
        """To the next bar; behind the last one a new one."""
        self.change(Draft.next_bar)

    def action_bar_before(self) -> None:
        """To the bar before."""
        self.change(lambda draft: draft.go(-1))

    def action_bar_after(self) -> None:
        """To the bar after."""
        self.change(lambda draft: draft.go(1))

    def action_line_before(self) -> None:
        """To the line above."""
        self.change(lambda draft: draft.go_line(-1))

    def action_line_after(self) -> None:
        """To the line below."""
        self.change(lambda draft: draft.go_line(1))

    def action_new_section(self) -> None:
        """Begin a section here."""
        self.change(Draft.new_section)

    def action_take_back(self) -> None:
        """Take the last change back."""
        if not self.draft.past:
            self.companion.say("There is nothing to take back.")
        self.change(Draft.undo)

    def action_do_again(self) -> None:
        """Make again what was taken back."""
        if not self.draft.future:
            self.companion.say("Nothing was taken back.")
        self.change(Draft.redo)

    def action_copy(self) -> None:
        """First press: mark from here. Second: copy what is marked."""
        if self.draft.mark is None:
            self.change(Draft.start_mark)
            return
        self.change(Draft.copy)
        count = len(self.draft.clip)
        self.companion.say(f"Copied: {plural(count, 'bar')}. F9 puts them in where you are.")

    def action_paste(self) -> None:
        """Put in the bars that were copied."""
        if not self.draft.clip:
            self.companion.say("Nothing is copied yet: F8 marks from a bar on, F8 again copies.")
        self.change(Draft.paste)

    # --- notes

    def action_line(self) -> None:
        """Type the notes under the chords, or the chords again."""
        line = CHORDS if self.draft.line == MELODY else MELODY
        self.change(lambda draft: draft.on_line(line))

    def hear(self, report: object) -> None:
        """A report of the sound process: a key of the piano is typed as a note, or belongs to what is played in; one that leads is none."""
        if lead_in(report, self.companion.settings.leading) is not None:
            return
        if self._take is not None:
            if self._take.hear(report):
                self._taken_down(self._take)
        elif isinstance(report, NoteIn) and report.velocity and self.draft.line == MELODY:
            self.change(lambda draft: with_key_pressed(draft, report.note))

    def play_in(self) -> None:
        """Take down what is played from this bar to the end of the section."""
        self._find_shells()
        stand = self._preview.of_stretch(self.draft.at)
        if stand is None:
            self.companion.say("This bar has no chords that are understood yet: the click and the bass go by them.")
        elif not self.companion.keyboards.heard:
            self.companion.say(
                "No keyboard is heard: F5 in the list of songs shows them. Notes can be typed without one."
            )
        else:
            self.change(lambda draft: draft.on_line(MELODY))
            self._take = MelodyTake(stand, self.draft, self.companion.settings.practice.latency_ms / 1000)
            self.companion.playback.play_apart(stand.arrangement(), stand.tempo_bpm)
            self.companion.say(f"Play after two bars of click: {plural(len(stand.loop), 'bar')}. Esc gives it up.")

    def _taken_down(self, take: MelodyTake) -> None:
        self._take = None
        bars = take.bars()
        reading = take.reading
        if reading is None or not reading.notes:
            self.companion.say("No key was heard: nothing was changed.")
            return
        self.change(lambda draft: draft.with_notes(bars))
        more = f" {plural(reading.brushed, 'key')} left out as brushed." if reading.brushed else ""
        swing = f" Swing of {reading.ratio:.1f} to 1 taken out." if reading.ratio > 1 else ""
        self.companion.say(f"Taken down: {plural(len(reading.notes), 'note')}.{swing}{more} F6 takes it back.")

    # --- shells, and hearing

    def _find_shells(self) -> None:
        """Work out the shells of the song so far, and show those of this bar."""
        self._preview.read(self.draft.page, self.companion.settings)
        self.shown = replace(self.shown, shells=self._preview.shells(self.draft.at), no_shell=self._preview.no_shell)
        self._show()

    def action_hear(self) -> None:
        """The bar once, with its shells and the bass."""
        self._find_shells()
        self._hear(self._preview.of_bar(self.draft.at), "This bar cannot be heard before it is understood.")

    def hear_section(self) -> None:
        """The section one is in once, as far as it is understood."""
        self._find_shells()
        self._hear(self._preview.of_section(self.draft.at[0]), "Nothing of this section can be heard yet.")

    def _hear(self, stand: Stand | None, otherwise: str) -> None:
        if stand is None:
            self.companion.say(otherwise)
        else:
            self.companion.playback.play_apart(stand.arrangement(), stand.tempo_bpm)

    # --- saving and leaving

    def action_save(self) -> None:
        """Write the song's file, asking for a title first where it has none."""
        if not self.draft.page.title.strip():
            self._menu.ask_title(then=self.action_save)
            return
        try:
            path = self._manuscript.save(self.companion.paths, self.companion.settings)
        except ChartError as error:
            self._to_fault(error)
            return
        self.shown = replace(self.shown, draft=self.draft, saved=True)
        self.companion.say(f"Saved: {path}")

    def _to_fault(self, error: ChartError) -> None:
        """Go to the first bar at fault, which says why; any other fault is told whole."""
        fault = error.faults[0]
        names = [section.name for section in self.draft.page.sections]
        if fault.section in names:
            section = names.index(fault.section)
            self.change(lambda draft: draft.go_to(section, max(0, fault.bar - 1)))
        more = f", and {len(error.faults) - 1} more" if len(error.faults) > 1 else ""
        if self.draft.at in self.shown.faults:
            self.companion.say(f"Not saved: section {fault.section}, bar {fault.bar} is not understood yet{more}.")
        else:
            self.companion.complain(f"Not saved: {fault}{more}")

    def throw_away(self) -> None:
        """Give up what is not saved."""
        self._manuscript.forget()
        self._leave()

    def action_leave_writing(self) -> None:
        """The first press ends what is played in, or the marking of bars, if any are marked."""
        if self._take is not None:
            self._take = None
            self.companion.playback.silence()
            self.companion.say("Given up: nothing was changed.")
            return
        if self.draft.mark is not None:
            self.change(lambda draft: replace(draft, mark=None))
            return
        if self._manuscript.is_empty:
            self._manuscript.forget()
        elif not self.is_saved:
            if not self._keeping(lambda: self._manuscript.keep(firmly=True)):
                return
            self.companion.say("Not saved; your draft is kept: F6 goes on with it.")
        self._leave()

    def _leave(self) -> None:
        self.companion.playback.silence()
        self.dismiss(self._manuscript.saved_id)
