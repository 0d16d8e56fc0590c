"""The keys of the actions: which may be used, how they are called, and the table with the student's own in it."""

from __future__ import annotations

from collections.abc import Mapping

from companion.tui.actions import ACTIONS, BY_ID, TYPING_PLACES, Action

_KEY_WORDS = {
    "space": "space",
    "enter": "enter",
    "tab": "tab",
    "escape": "esc",
    "up": "↑",
    "down": "↓",
    "left": "←",
    "right": "→",
}
# Not every keyboard has them; of a page turner the first two may be chosen.
PAGE_KEYS = {"pagedown": "PgDn", "pageup": "PgUp", "home": "Home", "end": "End"}
_USABLE = "a letter, a digit, f1 to f12, up, down, left, right, space, tab, enter, escape, pagedown or pageup"


def key_words(key: str) -> str:
    """A key as its cap says it: "escape" -> "esc", "f1" -> "F1", "S" -> "shift S"."""
    if key in _KEY_WORDS or key in PAGE_KEYS:
        return (_KEY_WORDS | PAGE_KEYS)[key]
    if len(key) == 1 and key.isupper():
        return f"shift {key}"
    return key.upper() if key[:1] == "f" and key[1:].isdigit() else key


def allowed_key(key: str) -> bool:
    """Letters, digits, F1 to F12, arrows, space, tab, enter and escape: what every terminal and multiplexer lets through; and the two keys of
    a page turner."""
    if key in _KEY_WORDS or key in ("pagedown", "pageup") or (len(key) == 1 and key.isascii() and key.isalnum()):
        return True
    return key[:1] == "f" and key[1:].isdigit() and 1 <= int(key[1:]) <= 12


def is_text(key: str) -> bool:
    """Whether the key types a sign."""
    return len(key) == 1 or key == "space"


class Keymap:
    """The table with the student's own keys in it. faults: one sentence for each wish left out."""

    def __init__(self, own: Mapping[str, tuple[str, ...]] | None = None) -> None:
        self.faults: list[str] = []
        wishes = {name: tuple(keys) for name, keys in (own or {}).items() if self._possible(name, tuple(keys))}
        self._keys = {action.id: action.keys for action in ACTIONS} | wishes
        while clash := self._first_clash(wishes):
            name, key, taken = clash
            self.faults.append(f"keys.{name}: {key_words(key)} is the key for {taken}; give that another first.")
            self._keys[name] = BY_ID[name].keys
            del wishes[name]

    def _possible(self, name: str, keys: tuple[str, ...]) -> bool:
        """Whether a wish is right in itself; if not, its fault is noted."""
        action = BY_ID.get(name)
        wrong = next((key for key in keys if not allowed_key(key)), None)
        if action is None:
            self.faults.append(f"keys.{name}: there is no such action; the help (F1) lists their names.")
        elif wrong is not None:
            self.faults.append(f"keys.{name}: {wrong!r} is not a usable key; expected {_USABLE}.")
        elif not all(self._usable(keys, place) for place in action.where):
            self.faults.append(f"keys.{name}: no key is left for it; expected one that is no letter where you type.")
        else:
            return True
        return False

    def _first_clash(self, wishes: Mapping[str, tuple[str, ...]]) -> tuple[str, str, str] | None:
        """(action, key, the other action with that key) of the first wish that cannot stand beside the rest."""
        for name, keys in wishes.items():
            for key in keys:
                taken = self._taken(key, BY_ID[name])
                if taken:
                    return name, key, taken
        return None

    def _taken(self, key: str, wisher: Action) -> str:
        for place in wisher.where:
            for action in ACTIONS:
                if action.id != wisher.id and place in action.where and key in self.keys(action, place):
                    return action.id
        return ""

    @staticmethod
    def _usable(keys: tuple[str, ...], place: str) -> tuple[str, ...]:
        return tuple(key for key in keys if place not in TYPING_PLACES or not is_text(key))

    def keys(self, action: Action, place: str) -> tuple[str, ...]:
        """The keys of an action in a place; none of them letters where letters are typed."""
        return self._usable(self._keys[action.id], place) if place in action.where else ()

    def all_keys(self, action: Action) -> tuple[str, ...]:
        """Every key of an action, the student's own or ours."""
        return self._keys[action.id]

    def actions(self, place: str) -> list[Action]:
        """What there is to do in a place, in the order of the table. place: one of PLACES."""
        return [action for action in ACTIONS if place in action.where]

    @property
    def word_keys(self) -> tuple[str, str, str]:
        """The first keys for "it ran", "it broke off" and "this bar slipped"."""
        ran, broke_off, slip = (key_words(self._keys[name][0]) for name in ("play-here", "broke-off", "slip"))
        return ran, broke_off, slip

    def key_list(self, action: Action, place: str) -> str:
        """The keys in words: "esc or F2"."""
        return " or ".join(key_words(key) for key in self.keys(action, place))
