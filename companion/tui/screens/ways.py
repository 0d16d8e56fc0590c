"""The list of ways to practise, and which bars first where a way takes cues from the whole form."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from companion.base.text import plural
from companion.errors import LogError
from companion.practice.planning.whole_chords import new_chords
from companion.session.changes import NeedsKeyboard
from companion.session.chords.memory import known_chords
from companion.session.conductor import Conductor
from companion.session.drill import KINDS, NEXT_KINDS, drill_settings, new_drill
from companion.session.loops import is_much_for
from companion.session.stand import Stand
from companion.session.swung_sheet import ready_to_swing
from companion.session.taking_back import ChangeStand
from companion.tui.actions import BY_ID
from companion.tui.draw.drill import kind_words
from companion.tui.draw.lines import loop_words
from companion.tui.screens.pick import Item

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion

_NAMES = "names"
_WHOLE_CHORDS, _PERFORMANCE = "chords", "performance"  # no ways of practising the stand: screens of their own
_WITH_THE_MELODY = ("together", "swing")  # kinds that are nothing without it
# Kinds that take cues away, of few bars first (common practice: small parts first).
# kind -> the letter that takes it, and what it does, in a line.
KIND_LINES = {
    "listen": ("l", "hear all of it once, before you play it"),
    "play": ("p", "round and round, everything shown"),
    "symbols": ("s", "each round hides more, down to the symbols"),
    "fade": ("m", "each round hides more; slips bring it back"),
    "climb": ("t", "faster after clean passes, else slower"),
    "fade+climb": ("u", "now the one moves, now the other"),
    "together": ("h", "bar by bar; a hand that slips goes alone"),
    "swing": ("w", "the melody both ways, then by heart"),
    "symbols-only": ("a", "one pass, nothing shown but chord symbols"),
    "dark": ("d", "one pass, nothing shown but the beat"),
    "free": ("f", "waits for each shell; needs a keyboard"),
    _WHOLE_CHORDS: ("c", "each chord whole, then its shell"),
    _NAMES: ("n", "a name for a moment: strike its shell"),
    _PERFORMANCE: ("g", "the whole tune once, recorded and marked"),
}  # fmt: skip
_SAID = (
    "listen",
    "play",
    "swing",
    "free",
)  # kinds that have no line of their own on the stand, which says what starts them
_OTHER_SCREENS = {_WHOLE_CHORDS: "Chords in root position", _NAMES: "Names", _PERFORMANCE: "Give a performance"}


def way_item(kind: str, does: str = "") -> Item:
    """A way to practise in a line: its letter, its name and what it does. does: in place of what the table says."""
    letter, usually = KIND_LINES[kind]
    name = _OTHER_SCREENS[kind] if kind in _OTHER_SCREENS else kind_words(kind)
    return Item(f"{letter}  {name:<29}{does or usually}", kind, letter)


class Ways:
    """draw, change, loop: as in StandLists. plays_melody: whether the right hand takes part. perform: opens the performance."""

    def __init__(
        self,
        companion: Companion,
        conductor: Conductor,
        draw: Callable[..., None],
        change: ChangeStand,
        loop: Callable[[Callable[[Stand], Stand]], None],
        plays_melody: Callable[[], bool],
        perform: Callable[[], None],
    ) -> None:
        self._companion, self._conductor = companion, conductor
        self._draw, self._change, self._loop = draw, change, loop
        self._plays_melody, self._perform = plays_melody, perform

    def choose(self, then: Callable[[], None]) -> None:
        """How to practise. then: called when one was taken up."""
        items = self._items()

        def taken(item: Item | None) -> None:
            if item is None:
                return
            if item.value == _PERFORMANCE:
                self._perform()
            elif item.value in _OTHER_SCREENS:
                self._open_chords(names=item.value == _NAMES)
            elif is_much_for(self._conductor.stand, item.value, self._conductor.kind):
                self._choose_bars(item.value, then)
            else:
                self._take_up(item.value, then)

        kind, drill = self._conductor.kind, self._conductor.state.drill
        if drill is not None and drill.finished:
            kind = NEXT_KINDS.get(kind, kind)
        start = [item.value for item in items].index(kind)
        self._companion.open("pick", "How do you want to practise?", items, start, taken=taken)

    def _items(self) -> list[Item]:
        climb = new_drill(self._conductor.stand, "climb", drill_settings(self._companion.settings)).climb
        kept = (
            f"up or down, till {round(100 * climb.settles_at)} % of passes are clean"
            if climb and climb.settles_at
            else ""
        )
        kinds = [kind for kind in KINDS if kind not in _WITH_THE_MELODY or self._plays_melody()]
        listens = self._conductor.sources.listens and self._conductor.stand.hands != "right"
        does = {"climb": kept, "free": "waits for each shell" if listens else ""}
        items = [way_item(kind, does.get(kind, "")) for kind in kinds]
        new, comes_first = self._whole_chords()
        items.insert(0 if comes_first else len(items), way_item(_WHOLE_CHORDS, new))
        return [*items, way_item(_NAMES), way_item(_PERFORMANCE)]

    def _take_up(self, kind: str, then: Callable[[], None]) -> None:
        if kind == "swing" and not self._change(ready_to_swing):
            return
        if kind == "together" and not self._change(lambda stand: stand.with_hands("both")):
            return
        changes = self._conductor.practise(kind)
        if any(isinstance(change, NeedsKeyboard) for change in changes):
            self._draw(changes)
            return
        self._draw(changes, summary=(), peeked=None)
        then()
        if kind in _SAID:
            key = self._companion.keymap.key_list(BY_ID["start-stop"], "stand")
            self._companion.say(f"{kind_words(kind)}: {loop_words(self._conductor.stand)}. {key.capitalize()} starts.")

    def _choose_bars(self, kind: str, then: Callable[[], None]) -> None:
        whole, *sections = self._conductor.stand.section_loops()
        items, letters = [], set()
        for name, bars in (*sections, whole):
            letter = name[0].lower()
            letter = letter if letter.isalnum() and letter not in letters else ""
            letters.add(letter)
            items.append(Item(f"{letter:<1}  {name:<16}{plural(len(bars), 'bar')}", (bars, name), letter))

        def taken(item: Item | None) -> None:
            if item is not None:
                self._loop(lambda stand: stand.with_loop(*item.value))
                self._take_up(kind, then)

        self._companion.open("pick", f"{kind_words(kind)}: which bars first?", items, 0, taken=taken)

    def _whole_chords(self) -> tuple[str, bool]:
        """What the line of the song's chords in root position says, "" for the usual, and whether it comes first: where they are new to
        the student and nothing of the song was played yet."""
        stand, log = self._conductor.stand, self._companion.practice_log
        try:
            new, chords = new_chords(stand.song, known_chords(log))
            comes_first = new > 0 and not log.count(stand.original.id)
        except LogError:
            new, chords, comes_first = 0, 0, False
        return (f"{new} of {plural(chords, 'chord')} new to you" if new else ""), comes_first

    def _open_chords(self, *, names: bool) -> None:
        """The chords of the loop in root position, by the hand that plays, or their names and shells, by the left one; what sounds stops."""
        if self._conductor.playing:
            self._draw(self._conductor.stop())
        stand = self._conductor.stand
        hand = "right" if stand.hands == "right" and not names else "left"
        self._companion.open("chords", stand, hand, from_stand=True, names=names)
