"""A page to read over the screen: help, cautions, a reason, an error."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from textual import events
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

from companion.base.text import plural, shown
from companion.chart.model import Song
from companion.errors import CompanionError
from companion.tui.actions import BY_ID, PLACES
from companion.tui.cautions import CAUTIONS, CAUTIONS_TITLE
from companion.tui.draw.words import hanging
from companion.tui.keymap import Keymap
from companion.tui.screens.app_screen import OnTop, bindings
from companion.tui.widgets.foot import Foot

if TYPE_CHECKING:
    from companion.store.log.practice_log import PracticeLog

_SIDES = 5  # columns of border, padding and scroll bar


class ReadScreen(OnTop, ModalScreen[None]):
    """Plain text under a title. text: or a function of the width and height there is. high: as tall as the window allows, else
    as tall as the text needs. folder: what the page tells of lies in it, and one key opens it."""

    BINDINGS = bindings("read")
    AUTO_FOCUS = ""

    def __init__(
        self, title: str, text: str | Callable[[int, int], str], *, high: bool = False, folder: Path | None = None
    ) -> None:
        super().__init__(classes="high" if high else "")
        self._title, self._text, self._folder = title, text, folder

    def compose(self) -> ComposeResult:
        """The text, and the keys under it."""
        with VerticalScroll(id="page", can_focus=False) as page:
            page.border_title = Content(shown(self._title))
            yield Static("", markup=False, id="page-text")
        offers = {"folder": "open its folder"} if self._folder is not None else {}
        yield Foot(self.companion.keymap, "read", offers, id="page-foot")

    def on_resize(self, event: events.Resize) -> None:
        """Set the text anew, as its lines depend on the width."""
        width, height = max(1, self.size.width - _SIDES), max(1, self.size.height - 3)
        text = hanging(shown(self._text), width) if isinstance(self._text, str) else shown(self._text(width, height))
        self.query_one("#page-text", Static).update(text)

    def action_pick_up(self) -> None:
        """A line up."""
        self.query_one("#page", VerticalScroll).scroll_up(animate=False)

    def action_pick_down(self) -> None:
        """A line down."""
        self.query_one("#page", VerticalScroll).scroll_down(animate=False)

    def action_page_up(self) -> None:
        """A page up."""
        self.query_one("#page", VerticalScroll).scroll_page_up(animate=False)

    def action_page_down(self) -> None:
        """A page down."""
        self.query_one("#page", VerticalScroll).scroll_page_down(animate=False)

    def action_beginning(self) -> None:
        """To the first line."""
        self.query_one("#page", VerticalScroll).scroll_home(animate=False)

    def action_ending(self) -> None:
        """To the last line."""
        self.query_one("#page", VerticalScroll).scroll_end(animate=False)

    def action_folder(self) -> None:
        """Open the folder that the page tells of."""
        if self._folder is not None:
            self.dismiss(None)
            self.companion.show_folder(self._folder)

    def action_close_page(self) -> None:
        """Go back."""
        self.dismiss(None)


def cautions_text() -> str:
    """What to heed so that practising does not hurt; see `session.cautions`."""
    return "\n".join(f"• {line}" for line in CAUTIONS)


def cautions_page() -> ReadScreen:
    """The same as a page."""
    return ReadScreen(CAUTIONS_TITLE, cautions_text())


def help_text(keymap: Keymap, place: str) -> str:
    """Every action of the place with its keys, then the cautions, at last how keys are set."""
    rows = [(keymap.key_list(action, place), action) for action in keymap.actions(place)]
    listed = [action for _, action in rows if action.listed and place == "stand"]
    rows = [(keys, action) for keys, action in rows if keys]
    column = max(len("ctrl+p"), *(len(keys) for keys, _ in rows))
    lines = [f"{keys.rjust(column)}  {action.words}" for keys, action in rows]
    lines.append(f"{'ctrl+p'.rjust(column)}  Find any of these by its words")
    if place == "songs":
        lines.insert(0, "Type some letters of a title, a key (Bb), a feel or a form (AABA) to narrow the list.\n")
    if place == "stand":
        lines += ["", *_STAND_SIGNS]
    if place == "writing":
        lines = [*_WRITING, "", *lines]
    if place == "pick":
        lines.insert(
            0, "A letter takes the line that has it; where none has, it goes to the next line that begins with it.\n"
        )
    if place == "chords":
        lines = [*_CHORDS, "", *lines]
    if listed:
        key = keymap.key_list(BY_ID["all-else"], place)
        lines += ["", f"In the list that {key} opens:", *(f"  {action.listed}  {action.words}" for action in listed)]
    names = ", ".join(action.id for action in dict.fromkeys([*(action for _, action in rows), *listed]))
    own = (
        f'Other keys: in the settings file under [keys], such as start-stop = ["space"]. What can be set here: {names}.'
    )
    return "\n".join([*lines, "", f"{CAUTIONS_TITLE}:", cautions_text(), "", own])


_WRITING = (
    "Type a bar as it stands on the sheet, such as Dm7 G7; enter or | goes to the next. Letters go into the bar.",
    "%  the same bar again      N.C.  no chord      Dm7:3 G7  lengths in beats      Dm7 / / G7  a beat for each slash",
    "del  empties a bar, or takes an empty one away      ins  a new bar before this one      home, end  of the section",
    "What you type is kept at once. It is offered again at the next start, even where the program was ended by force.",
)
_CHORDS = (
    "Each chord in close position: root, third, fifth and seventh or sixth, in any octave, with the right note lowest.",
    "Keys within 80 ms are together. Below the keys: the degree above the root, and the finger. Your teacher's fingers are as good.",
    "The keys are shown until a chord was right at once twice. What was slow or wrong comes again at the end of a round.",
)
_STAND_SIGNS = (
    "Signs: ▶ the bar that sounds   › the marked bar   ║: :║ the loop   ↻ where the loop goes on",
    "On the keys: filled, with a letter = play now   filled by half = the right hand's   an outline = next   ▼ = a key you hold",
    "In written bars: ▶ stands above what is due now, with the right hand's finger.",
    "Behind a chord: • right   < early   > late   ' let go too soon   × wrong note   _ missing   ? not sure",
    "(faint: from the pass before)   ◉ at the foot = the microphone listens",
    "In a hidden bar: C… = the root alone   · · · · = the bar's beats   bar 5 = which bar of its section",
    "On the climb: ◆ where you are   ┄ what is ahead   • clean   × not clean   ○ a try at the target",
)


def help_page(keymap: Keymap, place: str) -> ReadScreen:
    """The keys of a place, one of PLACES, as a page."""
    return ReadScreen(f"Help: {PLACES[place].lower()}", help_text(keymap, place), high=True)


def lesson_text(log: PracticeLog, song: Song, most_loss: float | None = None) -> str:
    """The teacher's note to the student and the steps, ticked off where the log says so."""
    from companion.practice.planning.lessons import step_words
    from companion.session.overview import lesson_of_song

    note = " ".join(song.lesson.note.split()) if song.lesson else ""
    lines = [note, ""] if note else []
    if not (song.lesson and song.lesson.steps):
        lines += ["No teacher wrote steps into this song. These are the usual ones:", ""]
    try:
        states = lesson_of_song(log, song, *(() if most_loss is None else (most_loss,)))
    except CompanionError as error:
        return "\n".join([*lines, str(error)])
    for state in states:
        done = "done" if state.done else f"{state.clean} of {state.step.passes}"
        lines.append(f"{'✓' if state.done else ' '} {state.number}. {step_words(state.step, song)}   ({done})")
        if state.step.note:
            lines.append(f"     {' '.join(state.step.note.split())}")
    if not any(state.clean for state in states) and (offer := _chords_offer(log, song)):
        lines += ["", offer]
    return "\n".join(lines)


def _chords_offer(log: PracticeLog, song: Song) -> str:
    """To a student who begins with chords that are new: what comes before the shells. "" where none is new."""
    from companion.practice.planning.whole_chords import new_chords
    from companion.session.chords.memory import known_chords

    try:
        new, chords = new_chords(song, known_chords(log))
    except CompanionError:
        return ""
    return (
        f"{new} of {plural(chords, 'chord')} here are new to you in root position: m teaches them, before the shells."
        if new
        else ""
    )


def progress_page(log: PracticeLog, song: Song) -> ReadScreen:
    """Where a song stands by each pair of hands that played it, drawn to the window's size."""
    from companion.practice.planning.lessons import HAND_WORDS
    from companion.reports.report import names_told
    from companion.session.overview import hands_known, now_here, progress_of
    from companion.tui.draw.progress import progress_pages

    pages = [progress_of(log, song, now_here(), hands) for hands in hands_known(log, song)]
    names = names_told(log, song)
    whose = f", {HAND_WORDS[pages[0].hands]}" if len(pages) == 1 else ""
    return ReadScreen(
        f"Progress: {song.title}{whose}", lambda width, height: progress_pages(pages, width, height, names), high=True
    )
