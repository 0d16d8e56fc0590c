"""The stand's way through all keys: after each pass, or every few, the loop goes on in the next key without a gap.

The practice asks for the next stand at the end of a pass. It is worked out before that, while the pass is played, and said
all through its last pass; the screen changes to it with the first beat in the new key.
"""

from __future__ import annotations

from dataclasses import replace

from companion.errors import CompanionError
from companion.session.keys import ORDERS, KeyWalk, in_key, key_order
from companion.session.practice import Practice
from companion.session.stand import Stand
from companion.sound.messages import BeatReport
from companion.tui.draw.view import View
from companion.tui.draw.words import signs
from companion.tui.screens.pick import Item, PickScreen

MOST_PASSES = 16
_ONE_KEY = ""


class StandKeys:
    """Mixed into the stand's screen, before the mixin of its practice. walk: None while it stays in one key."""

    view: View
    walk: KeyWalk | None = None
    _walk_passes = 1
    _coming: Stand | None = None  # handed to the practice, not yet heard
    _prepared: tuple[Stand, Stand] | None = None  # a stand, and the same in the next key

    def action_all_keys(self) -> None:
        orders = [*ORDERS, _ONE_KEY]

        def changed(order: str, step: int) -> str:
            self._walk_passes = max(1, min(MOST_PASSES, self._walk_passes + step))
            return self._order_words(order)

        def taken(item: Item | None) -> None:
            if item is not None:
                self._set_walk(item.value)

        items = [Item(self._order_words(order), order) for order in orders]
        self.app.push_screen(
            PickScreen("Through all keys? ← fewer passes in each, more →", items, 0, None, changed), taken
        )

    def _order_words(self, order: str) -> str:
        if order == _ONE_KEY:
            return "stay in this key"
        return f"{ORDERS[order]}, {self._walk_passes} pass{'' if self._walk_passes == 1 else 'es'} in each key"

    def _set_walk(self, order: str) -> None:
        if order == _ONE_KEY:
            self.walk = None
            self.show(next_stand=None)
            self.say("It stays in this key.")
            return
        if self.kind != "play" or self.asks:  # what asks after each pass does not go on by itself
            self.set_kind("play")
        self.walk = KeyWalk(key_order(self.stand.key, order, self.stand.seed), self._walk_passes)
        if self.practice is not None:
            self.practice.next_stand = self._stand_in_next_key
        self._tell_next()
        self.say(f"Through all keys {ORDERS[order]}. " + ("" if self.view.playing else "Space starts."))

    def _new_practice(self, drill) -> Practice:
        practice = super()._new_practice(drill)
        practice.next_stand = self._stand_in_next_key
        return practice

    def set_kind(self, kind: str, hands: str = "left", *, asks: bool = False) -> bool:
        """Another way of practising stays in one key."""
        done = super().set_kind(kind, hands, asks=asks)
        if done and self.walk is not None and kind != "play":
            self.walk = None
            self.show(next_stand=None)
        return done

    def stand_changed(self, before: Stand, load: bool) -> bool:
        """A key that the student chose is gone on from; what was prepared is worked out anew."""
        self._coming = self._prepared = None
        if self.walk is not None:
            if self.stand.key.tonic.pc != self.walk.key.tonic.pc:
                self.walk = self.walk.from_key(self.stand.key)
            if load and self.view.playing:  # this pass does not count any more, so the key stays for the next
                self.show(next_stand=None)
            else:
                self._tell_next()
        return super().stand_changed(before, load)

    def begin(self, first_bar: int) -> None:
        """What is left of the loop from a later bar on is no pass: the key stays for the one after."""
        super().begin(first_bar)
        if self.walk is not None and first_bar:
            self.show(next_stand=None)

    def stopped(self) -> None:
        """A key that was to come has not: its pass never began."""
        super().stopped()
        self._coming = None
        if self.walk is not None:
            self.walk = replace(self.walk, done=0)
            self._tell_next()

    # --- at the end of a pass

    def _stand_in_next_key(self) -> Stand | None:
        """What the practice asks: the stand for the next pass, None where the key stays."""
        walk = self.walk
        if walk is None:
            return None
        if not walk.is_last_pass:
            self.walk = walk.after_pass()
            self.call_later(self._tell_next)
            return None
        self._coming = self._next_stand()
        return self._coming

    def _next_stand(self) -> Stand | None:
        """The stand in the next key, worked out once. None where the hand has no shell there, which is said."""
        if self._prepared is None or self._prepared[0] is not self.stand:
            try:
                self._prepared = self.stand, in_key(self.stand, self.walk.next_key)
            except CompanionError as error:
                self.companion.complain(str(error))
                self.walk = None
                return None
        return self._prepared[1]

    def _tell_next(self) -> None:
        """Show the key to come while the last pass in this one is played."""
        if self.walk is not None and self.walk.is_last_pass:
            self.show(next_stand=self._next_stand())
        elif self.view.next_stand is not None:
            self.show(next_stand=None)

    def turn_to_next_key(self, beat: BeatReport) -> None:
        """With the first beat of the new key the screen changes to it."""
        coming = self._coming
        if self.walk is None or beat.turn < 0 or beat.position or beat.pulse:
            return
        if coming is None:
            self.call_later(self._tell_next)
            return
        self._coming, closed = None, self.walk.is_last_key
        self.walk = self.walk.after_pass()
        self.show(stand=coming, next_stand=None)
        self.call_later(self._tell_next)  # the next key's shells are worked out once the beat is drawn
        if closed:
            self.say(f"All twelve keys: back in {signs(coming.key.name)}.")
