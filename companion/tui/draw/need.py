"""What the chosen hands need: one drawing in the middle of the stand, chosen by one key.

Each is a row of NEEDS: its name, its words, for which stands there is any, and a function of the View, the columns and the rows that are
there, which gives at most so many rows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from companion.practice.drills.fading import Cue
from companion.session.stand import Stand
from companion.tui.draw.keyboard import Keys, centred_keyboard
from companion.tui.draw.left_keys import left_keys
from companion.tui.draw.melody import graces, key_window, lines_of, right_keys, written_bars
from companion.tui.draw.row import Row
from companion.tui.draw.staff import draw_staff, staff_rows
from companion.tui.draw.strip import LEAST_COLUMNS as STRIP_COLUMNS
from companion.tui.draw.strip import ROWS, draw_strip
from companion.tui.draw.view import View


@dataclass(frozen=True, slots=True)
class Need:
    """name: in the settings; words: for a list; draw: the rows of a View in so many columns and rows, None where the room goes to the chart;
    fits: whether a stand has any; rows: that it needs before anything grows, None for whatever there is."""

    name: str
    words: str
    draw: Callable[[View, int, int], list[Row]] | None
    fits: Callable[[Stand], bool] = lambda stand: True
    rows: Callable[[Stand], int | None] = lambda stand: None


def keys_of(view: View) -> Keys:
    """What the keyboard shows of a View. In the count-in all of it is yet to come."""
    # With the right hand alone none of the left one's: no key is to be pressed by the other.
    now, named, coming = left_keys(view) if view.hands != "right" else ((), (), ())
    sung, to_be_sung = right_keys(view)
    shown = () if view.counting_in else now + sung
    return Keys(key_window(view), shown, coming + to_be_sung, view.down, graces(view), named)


def _keyboard(view: View, width: int, height: int) -> list[Row]:
    return centred_keyboard(keys_of(view), width, height)


def _strip(view: View, width: int, height: int) -> list[Row]:
    """The melody by name over the keyboard, where there is room for both."""
    strip = draw_strip(written_bars(view, max(2, width // STRIP_COLUMNS)), width, view.stand.arranged.voices)
    left = height - len(strip)
    return [*strip, *_keyboard(view, width, left)] if left >= _LEAST_KEYBOARD else strip[:height]


def _written(view: View, width: int, height: int) -> list[Row]:
    """The bars of now and next on staves; by name where the window is too low for them."""
    lines = lines_of(view.stand)
    if height < staff_rows(lines):
        return _strip(view, width, height) if view.hands != "left" else _keyboard(view, width, height)
    return draw_staff(written_bars(view, max(2, width // _STAFF_COLUMNS)), width, lines, view.hands)


def _plays_melody(stand: Stand) -> bool:
    return stand.hands != "left"


def strip_rows(stand: Stand) -> int:
    """Of the strip over the keyboard."""
    ornaments = 1 if stand.arranged.ornaments or stand.arranged.bars else 0
    return ROWS + stand.arranged.voices - 1 + ornaments + _LEAST_KEYBOARD + 1


KEYBOARD, STRIP, WRITTEN, NOTHING = "keyboard", "melody", "written", "chart"
_LEAST_KEYBOARD = 5
_STAFF_COLUMNS = 30
NEEDS = (
    Need(KEYBOARD, "the keyboard", _keyboard),
    Need(STRIP, "the melody by name", _strip, _plays_melody, strip_rows),
    Need(WRITTEN, "written notes", _written, rows=lambda stand: staff_rows(lines_of(stand))),
    Need(NOTHING, "more of the chart", None),
)


def needs_of(stand: Stand) -> Sequence[Need]:
    """Those there are for a stand."""
    return tuple(need for need in NEEDS if need.fits(stand))


def need_of(view: View) -> Need:
    """The chosen one, the keyboard where there is none such for this stand. Where keys of a melody are hidden, its notes stand over the keyboard: they
    are what goes next."""
    needs = needs_of(view.stand)
    chosen = next((need for need in needs if need.name == view.need), NEEDS[0])
    if chosen.name != KEYBOARD or not _hides_keys(view):
        return chosen
    return next((need for need in needs if need.name == STRIP), chosen)


def _hides_keys(view: View) -> bool:
    """Whether a drill that takes cues away round by round has begun to, of the right hand."""
    drill = view.drill
    if drill is None or drill.fade is None or drill.is_one_pass or not view.hides or not _plays_melody(view.stand):
        return False
    return any(drill.cue(index) < Cue.KEYS for index in drill.loop)


def need_after(view: View) -> Need:
    """The one after the chosen one, round and round."""
    needs = needs_of(view.stand)
    return needs[(needs.index(need_of(view)) + 1) % len(needs)]


def draw_need(view: View, width: int, height: int) -> list[Row]:
    """The chosen one in at most `height` rows of at most `width` columns."""
    draw = need_of(view).draw
    return draw(view, width, height) if draw is not None and width > 0 and height > 0 else []
