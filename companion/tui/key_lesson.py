"""The keys that a student's first song teaches by using them: one sentence at a time, ticked off by what happens, in whatever order."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from companion.tui.actions import BY_ID
from companion.tui.keymap import Keymap, key_words

if TYPE_CHECKING:  # the song list comes before all that a stand needs
    from companion.tui.draw.view import View

_ALL_USED = "{ticks} These keys are all you need. {today} tells what comes next, {help} has every other key."
_HEAR_FIRST = "{start-stop} starts: hear it once, with your hands still."
_HEARD_OUT = "Hear it to its end with your hands still; then it is your turn."


@dataclass(frozen=True, slots=True)
class _Key:
    """name: as it is kept. words: with the first keys of actions in them; while it plays, and while nothing sounds, "" for nothing to be said then.
    used: whether what is between two Views is that."""

    name: str
    playing: str
    stopped: str
    used: Callable[[View, View], bool]


def _listens(view: View) -> bool:
    return view.drill is not None and view.drill.listens


def _began(before: View, after: View) -> bool:
    return after.playing and not before.playing


def _tempo_changed(before: View, after: View) -> bool:
    same = before.stand.song is after.stand.song and _listens(before) == _listens(after)
    return same and before.stand.tempo_bpm != after.stand.tempo_bpm


def _shell_struck(before: View, after: View) -> bool:
    """By a keyboard one is right; without one a pass was played."""
    right = any(sign.verdict == "right" and sign.fresh for sign in after.signs.values())
    return after.playing and not _listens(after) and (right or after.waits > before.waits)


def _told(before: View, after: View) -> bool:
    """A bar that slipped, or what waits; beginning anew is no word for what waits."""
    return after.slips > before.slips or (after.waits < before.waits and not _began(before, after))


_KEYS = (
    _Key("start", "", "{start-stop} starts.", _began),
    _Key("tempo", "Too fast, too slow? {slower} makes it slower, {faster} faster. Try one.", "", _tempo_changed),
    _Key("shell", "Strike both filled keys together on each beat: that is the shell.", "{start-stop} starts. Now you play along.", _shell_struck),
    _Key("answer", "{slip} when a bar slips; {play-here} once a pass is over: it ran.", "", _told),
    _Key(
        "repeat",
        "It goes round by itself. {start-stop} stops it, and plays it again.",
        "{start-stop} plays it again, {play-here} from the marked bar on.",
        _began,
    ),
)  # fmt: skip
NAMES = tuple(key.name for key in _KEYS)
_OF_A_KEYBOARD = {"answer"}  # nobody need tell of what is heard


class KeyLesson:
    """unused: names of the keys that were not used yet, as they are kept. keep: told them each time there are fewer; say: shows a sentence."""

    def __init__(
        self, unused: Sequence[str], keymap: Keymap, keep: Callable[[str], None], say: Callable[[str], None]
    ) -> None:
        self.unused = tuple(name for name in NAMES if name in unused)
        self._keymap, self._keep, self._say = keymap, keep, say
        self._began_to_listen: bool | None = None  # the last time that it began

    def teach(self, before: View, after: View, *, heard: bool) -> View:
        """The view with what is taught in it, once what happened is ticked off. heard: whether a keyboard or the microphone hears the student."""
        if not self.unused:
            return after
        used = {key.name for key in _KEYS if key.used(before, after)}
        if "start" in used:
            if (
                _listens(after) != self._began_to_listen
            ):  # the first time, or the first since it was listened to: that is no repeating
                used.discard("repeat")
            self._began_to_listen = _listens(after)
        if heard:
            used |= _OF_A_KEYBOARD
        if used & {*self.unused}:
            self._leave(lambda name: name in used)
            if not self.unused:
                self._say(self._with_keys(_ALL_USED).format(ticks="✓" * len(NAMES)))
        return replace(after, taught=self._words(after))

    def end(self) -> None:
        """The keys are known."""
        if self.unused:
            self._leave(lambda name: True)

    def _leave(self, is_known: Callable[[str], bool]) -> None:
        left = tuple(name for name in self.unused if not is_known(name))
        if left != self.unused:
            self.unused = left
            self._keep(" ".join(left))

    def _words(self, view: View) -> str:
        """What is taught now, behind a tick for each key that was used; "" for nothing."""
        if not self.unused or view.asking or not (view.drill is None or _listens(view)):
            return ""
        ticks = "".join("·" if key.name in self.unused else "✓" for key in _KEYS)
        if view.playing and view.waits:
            return ticks  # before the sentence that tells which key answers
        words = self._while_listening(view) if _listens(view) else ""
        for key in _KEYS:
            if key.name in self.unused and not words:
                words = key.playing if view.playing else key.stopped
        return f"{ticks} {self._with_keys(words)}" if words else ""

    def _while_listening(self, view: View) -> str:
        if not view.playing:
            return _HEAR_FIRST
        return _HEARD_OUT if "tempo" not in self.unused else ""

    def _with_keys(self, words: str) -> str:
        for name, action in BY_ID.items():
            if f"{{{name}}}" in words:
                keys = self._keymap.keys(action, "stand")
                words = words.replace(f"{{{name}}}", key_words(keys[0]) if keys else "?")
        return words
