"""The footer: the few keys one needs most, as many as the width holds, the help always first."""

from __future__ import annotations

from collections.abc import Mapping

from companion.tui.draw.row import Row, cut, sides
from companion.tui.keymap import Keymap, key_words
from companion.tui.widgets.drawing import Drawing


def foot_row(keymap: Keymap, place: str, width: int, offers: Mapping[str, str] | None = None) -> Row:
    """Key and word of each action that the table wants in the footer, left out from the end where it gets too long. offers: by the names of
    actions, the words of those that are offered now."""
    offers = offers or {}
    row: Row = []
    used = 0
    for action in keymap.actions(place):
        keys = keymap.keys(action, place)
        foot = offers.get(action.id, "" if action.offered else action.foot)
        if not foot or not keys:
            continue
        key, words = f" {key_words(keys[0])} ", f"{foot} "
        used += len(key) + len(words)
        if used > width:
            break
        row += [(key, "strong"), (words, "dim")]
    return row


class Foot(Drawing):
    """The keys that apply here, in the last line."""

    def __init__(self, keymap: Keymap, place: str, offers: Mapping[str, str] | None = None, **options: object) -> None:
        """offers: see `foot_row`."""
        super().__init__(**options)
        self._keymap, self._place = keymap, place
        self._offers: Mapping[str, str] = offers or {}
        self._says: Row | None = None
        self._has_keys = True

    def show(self, offers: Mapping[str, str], *, visible: bool, says: Row | None = None) -> None:
        """Draw anew where it looks other. offers: see `foot_row`. visible: else there is nothing but the sign of a microphone. says: in place of the keys, None for these."""
        if (offers, says, visible) != (self._offers, self._says, self._has_keys):
            self._offers, self._says, self._has_keys = offers, says, visible
            self.redraw()

    def picture(self, width: int, height: int) -> list[Row]:
        """See `Drawing.picture`."""
        sign = self._sign
        room = width - len(sign) - bool(sign)  # `sides` wants a column between both
        row: Row = []
        if self._has_keys:
            row = self._says or foot_row(self._keymap, self._place, room, self._offers)
        return [sides(cut(row, room), [(sign, "notice")], width) if sign else row] if height else []

    @property
    def _sign(self) -> str:
        """That a microphone is on, on every screen."""
        listening = getattr(self.app, "listening", None)
        return listening.sign if listening is not None else ""
