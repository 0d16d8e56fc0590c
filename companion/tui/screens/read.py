"""A page to read over the screen: help, cautions, a reason, an error."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from companion.tui.actions import PLACES, Keymap
from companion.tui.cautions import CAUTIONS, CAUTIONS_TITLE
from companion.tui.screens.place import bindings
from companion.tui.widgets.foot import Foot


class ReadScreen(ModalScreen[None]):
    """Plain text under a title. high: as tall as the window allows, else as tall as the text needs."""

    BINDINGS = bindings("read")
    AUTO_FOCUS = ""

    def __init__(self, title: str, text: str, *, high: bool = False) -> None:
        super().__init__(classes="high" if high else "")
        self._title, self._text = title, text

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="page", can_focus=False) as page:
            page.border_title = self._title
            yield Static(self._text, markup=False, id="page-text")
        yield Foot(self.app.keymap, "read", id="page-foot")  # type: ignore[attr-defined]

    def action_pick_up(self) -> None:
        self.query_one("#page", VerticalScroll).scroll_up(animate=False)

    def action_pick_down(self) -> None:
        self.query_one("#page", VerticalScroll).scroll_down(animate=False)

    def action_close_page(self) -> None:
        self.dismiss(None)


def cautions_text() -> str:
    return "\n".join(f"• {line}" for line in CAUTIONS)


def cautions_page() -> ReadScreen:
    return ReadScreen(CAUTIONS_TITLE, cautions_text())


def help_text(keymap: Keymap, place: str) -> str:
    """Every action of the place with its keys, then the cautions."""
    rows = [(keymap.key_list(action, place), action) for action in keymap.actions(place)]
    rows = [(keys, action) for keys, action in rows if keys]
    column = max(len(keys) for keys, _ in rows)
    lines = [f"{keys.rjust(column)}  {action.words}" for keys, action in rows]
    lines.append(f"{'ctrl+p'.rjust(column)}  Find any of these by its words")
    if place == "songs":
        lines.insert(0, "Type some letters of a title, a key (Bb), a feel or a form (AABA) to narrow the list.\n")
    if place == "stand":
        lines += ["", *_STAND_SIGNS]
    names = ", ".join(action.id for _, action in rows)
    own = f'Your own keys go into the settings file under [keys], such as start-stop = ["space"]. The names: {names}.'
    return "\n".join([*lines, "", own, "", f"{CAUTIONS_TITLE}:", cautions_text()])


_STAND_SIGNS = (
    "Signs: ▶ the bar that sounds   › the marked bar   ║: :║ the loop   ↻ where the loop goes on",
    "On the keys: letter and finger = play now   ○ = the next shell",
)


def help_page(keymap: Keymap, place: str) -> ReadScreen:
    return ReadScreen(f"Help: {PLACES[place].lower()}", help_text(keymap, place), high=True)
