"""The stand's lists to choose from: how to practise, through which keys, which key, which loop, how loud."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from companion.base.text import plural
from companion.errors import LogError, SettingsError
from companion.groove.calls import CALLS_WHEN, MOST_BPM
from companion.session import led
from companion.session.called import cannot_speak, too_fast
from companion.session.conductor import Conductor
from companion.session.frame_loops import ENDING, INTRODUCTION, frame_bars
from companion.session.keys import ORDERS
from companion.session.loops import find_loop
from companion.session.stand import Stand
from companion.session.stand_changes import keys_to_choose
from companion.session.taking_back import ChangeStand
from companion.session.tempi import typed_tempo
from companion.tui.draw.words import VOICE_WORDS, signs, stepped_volume, volume_words
from companion.tui.screens.finger_choice import FingerChoice
from companion.tui.screens.pick import Item
from companion.tui.screens.read import lesson_text
from companion.tui.screens.swing_choice import SwingChoice
from companion.tui.screens.tune_choice import TuneChoice
from companion.tui.screens.ways import Ways

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion

MOST_PASSES = 16  # in each key
_ONE_KEY = ""
# (hands, whether the companion plays what is left), its words, and the letter that takes it
HAND_CHOICES = (
    (("left", False), "left hand", "l"),
    (("left", True), "left hand, and hear the melody", "m"),
    (("right", False), "right hand", "r"),
    (("right", True), "right hand, and hear the shells", "s"),
    (("both", False), "both hands", "b"),
)


class StandLists:
    """draw: shows what a call to the conductor came to, and other fields of the View. change: puts a changed stand in place, loop: one with
    another loop. here: index in the chorus of the bar that is shown large. obey: does what an action says, by its method. swing: how the
    melody is played."""

    def __init__(
        self,
        companion: Companion,
        conductor: Conductor,
        draw: Callable[..., None],
        change: ChangeStand,
        loop: Callable[[Callable[[Stand], Stand]], None],
        here: Callable[[], int],
        obey: Callable[[str], None],
    ) -> None:
        self._companion, self._conductor = companion, conductor
        self._draw, self._change, self._loop = draw, change, loop
        self._obey = obey
        self._passes = 1  # in each key
        self.swing = SwingChoice(companion, conductor, draw, change, here).choose
        self.whole_tune = TuneChoice(companion, conductor, draw, change, here, obey).choose
        self.ways = Ways(companion, conductor, draw, change, loop, self._plays_melody, self.perform).choose
        self.fingers = FingerChoice(companion, conductor, change, here).choose

    def all_else(self) -> None:
        """All that is not done while playing, each with a letter that takes it at once."""
        unwanted = ("fingers",) if self._conductor.stand.hands == "left" else ()  # where no right hand plays
        listed = [action for action in self._companion.keymap.actions("stand") if action.listed]
        actions = [action for action in listed if action.id not in unwanted]
        items = [Item(f"{action.listed}  {action.words}", action, action.listed) for action in actions]

        def taken(item: Item | None) -> None:
            if item is not None:
                self._obey(item.value.method)

        self._companion.open("pick", "What else? A letter, or ↑ ↓ and enter", items, 0, taken=taken)

    def lesson(self) -> None:
        """Open the lesson of the song."""
        song = self._conductor.stand.original
        text = lesson_text(self._companion.practice_log, song, self._companion.settings.practice.most_loss)
        self._companion.open("read", f"Lesson: {song.title}", text)

    def hands(self) -> None:
        """Choose the hands to play with, and whether the companion plays what is left."""
        stand = self._conductor.stand
        chosen = [value for value, _, _ in HAND_CHOICES]
        now = stand.hands, stand.rest_sounds
        start = chosen.index(now) if now in chosen else chosen.index(("both", False))

        def taken(item: Item | None) -> None:
            if item is None or not self._change(lambda stand: stand.with_hands(*item.value)):
                return
            first = ""
            if self._is_new(item.value[0]):
                self._draw(self._conductor.practise("listen"), summary=(), peeked=None)
                first = " First hear it once: Space starts."
            self._companion.say(f"You play: {item.words[3:]}.{first}")

        items = [Item(f"{key}  {words}", value, key) for value, words, key in HAND_CHOICES]
        self._companion.open("pick", "Which hands do you play with?", items, start, taken=taken)

    def _plays_melody(self) -> bool:
        """Whether the right hand takes part, now or in any pass of the song: to who plays with the left one alone nothing of it is offered."""
        stand = self._conductor.stand
        if stand.hands != "left" or stand.rest_sounds:
            return True
        try:
            return self._companion.practice_log.hands_of(stand.original.id) - {"left"} != set()
        except LogError:
            return False

    def _is_new(self, hands: str) -> bool:
        """Whether these hands, the right one among them, have not played the song yet; what cannot be read now is not new."""
        if hands == "left":
            return False
        try:
            return hands not in self._companion.practice_log.hands_of(self._conductor.stand.original.id)
        except LogError:
            return False

    def all_keys(self) -> None:
        """Through all keys, in which order and how many passes in each; or no longer."""

        def changed(order: str, step: int) -> str:
            self._passes = max(1, min(MOST_PASSES, self._passes + step))
            return self._order_words(order)

        def taken(item: Item | None) -> None:
            if item is None:
                return
            if item.value == _ONE_KEY:
                self._conductor.keys.stay()
                self._draw([])
                self._companion.say("It stays in this key.")
                return
            self._draw(self._conductor.through_all_keys(item.value, self._passes), summary=())
            starts = "" if self._conductor.playing else "Space starts."
            self._companion.say(f"Through all keys {ORDERS[item.value]}. {starts}")

        items = [Item(self._order_words(order), order) for order in (*ORDERS, _ONE_KEY)]
        title = "Through all keys? ← fewer passes in each, more →"
        self._companion.open("pick", title, items, 0, None, changed, taken=taken)

    def _order_words(self, order: str) -> str:
        if order == _ONE_KEY:
            return "stay in this key"
        return f"{ORDERS[order]}, {plural(self._passes, 'pass', 'passes')} in each key"

    def keys(self) -> None:
        """Choose a key."""
        stand = self._conductor.stand
        own, keys = stand.original.key, keys_to_choose(stand)
        items = [Item(signs(key.name) + ("   the song's own" if key == own else ""), key) for key in keys]
        start = next((n for n, key in enumerate(keys) if key.tonic.pc == stand.key.tonic.pc), 0)

        def taken(item: Item | None) -> None:
            if item is not None:
                self._change(lambda stand: stand.with_key(item.value))

        self._companion.open("pick", "Which key?", items, start, taken=taken)

    def loops(self) -> None:
        """Choose a loop."""
        stand = self._conductor.stand
        loops = stand.section_loops()
        items = [Item(f"{name}   {plural(len(bars), 'bar')}", (bars, name)) for name, bars in loops]
        for name in (INTRODUCTION, ENDING):
            if bars := frame_bars(stand, name):
                items.append(Item(f"{name}   {plural(len(bars), 'bar')}", name))
        names = [name for name, _ in loops]
        start = names.index(stand.loop_name) if stand.loop_name in names else 0

        def taken(item: Item | None) -> None:
            if item is not None and isinstance(item.value, str):
                self.perform(item.value)
            elif item is not None:
                self._loop(lambda stand: stand.with_loop(*item.value))

        self._companion.open("pick", "Loop what?", items, start, taken=taken)

    def calls(self) -> None:
        """Choose when the changes are called."""
        items = [Item(words, when) for when, words in CALLS_WHEN.items()]
        start = list(CALLS_WHEN).index(self._conductor.stand.calls)

        def taken(item: Item | None) -> None:
            if item is None or not self._change(lambda stand: stand.change(calls=item.value)):
                return
            tempo_bpm = self._conductor.stand.tempo_bpm
            if item.value == "off":
                self._companion.say("The changes are not called.")
            elif fault := cannot_speak(self._companion.sound):
                self._companion.say(fault)
            elif tempo_bpm > MOST_BPM:
                self._companion.say(too_fast(tempo_bpm))
            else:
                self._companion.say("The changes are called, each a beat ahead.")

        self._companion.open("pick", "Call the changes?", items, start, taken=taken)

    def aloud(self) -> None:
        """Say aloud what a pass came to, or no longer."""
        self._companion.keep_aloud(not self._companion.settings.practice.aloud)
        self._companion.say(self._companion.aloud.tried(self._companion.sound))

    def bars(self) -> None:
        """Type the bars to loop."""
        stand = self._conductor.stand

        def fault(text: str) -> str:
            try:
                find_loop(stand, text)
            except SettingsError as error:
                return str(error)
            return ""

        def taken(text: str | None) -> None:
            if text is not None:
                self._loop(lambda stand: find_loop(stand, text))

        names = ", ".join(name for name, _ in stand.section_loops()[1:])
        hint = f"Bars such as 5-8, a section ({names}), bars of one such as {stand.bars[0].section} 1-2, or whole."
        self._companion.open("ask", f"Loop which bars? {stand.loop_name} now", "", hint, fault, taken=taken)

    def tempo(self) -> None:
        """Type or tap the tempo."""
        if self._conductor.tempo_is_fixed:
            self._companion.say(led.TEMPO_IS_FIXED)
            return
        now_bpm = self._conductor.stand.tempo_bpm

        def taken(text: str | None) -> None:
            if text is not None and not self._conductor.tempo_is_fixed:
                self._draw(self._conductor.change_tempo(typed_tempo(text, now_bpm)))

        self._companion.open("tempo", now_bpm, taken=taken)

    def volumes(self) -> None:
        """Set the volumes; each change is heard at once."""
        volumes = self._companion.volumes
        items = [Item(volume_words(voice, volumes[voice]), voice) for voice in VOICE_WORDS]

        def changed(voice: str, step: int) -> str:
            volume = stepped_volume(volumes[voice], step)
            self._companion.set_volume(voice, volume)
            return volume_words(voice, volume)

        self._companion.open("pick", "How loud? ← less, more →", items, 0, None, changed)

    def perform(self, looping: str = "") -> None:
        """The whole tune once through, as the stand is set; what sounds stops. looping: what of it is to go round and round at once."""
        if self._conductor.playing:
            self._draw(self._conductor.stop())
        self._companion.open("performance", self._conductor.stand, looping)
