"""The way of a loop through all keys while it is played: after each pass, or every few, it goes on in the next key without a gap.

The practice asks for the next stand at the end of a pass. It is worked out before that, while the pass is played, and told all through its
last pass; the song is in the new key from the first beat in it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from companion.errors import CompanionError
from companion.session.changes import AllKeysPlayed, Change, NextKey, Said
from companion.session.keys import KeyWalk, in_key, key_order
from companion.session.playback import Playback
from companion.session.stand import Stand
from companion.sound.messages import BeatReport, Load


class AllKeys:
    """walk: None while the song stays in one key. next_stand: that of the pass to come, None where it stays in its key or was not worked out.
    looks_ahead: whether it is to be worked out as soon as nothing else waits. tell: takes what there is to show."""

    def __init__(self, playback: Playback, tell: Callable[[Change], None]) -> None:
        self.walk: KeyWalk | None = None
        self.next_stand: Stand | None = None
        self.looks_ahead = False
        self._playback, self._tell = playback, tell
        self._turning = False  # the stand in the next key was handed out and has not sounded yet
        self._worked_out: tuple[Stand, Stand] | None = None  # a stand, and the same in the next key

    def begin(self, stand: Stand, order: str, passes: int) -> None:
        """From the stand's key on. order: one of session.keys.ORDERS. passes: in each key."""
        self.walk, self._turning = KeyWalk(key_order(stand.key, order, stand.seed), passes), False
        self.look_ahead(stand)

    def stay(self) -> None:
        """In the key that is sounding."""
        if self.next_stand is not None and self._worked_out is not None:
            self._lead_to(self._worked_out[0], None)
        self.walk = self.next_stand = self._worked_out = None
        self._turning = self.looks_ahead = False

    @property
    def turns_in_round(self) -> int:
        """How often the loop is played until it is back in its key: once where it stays there."""
        return len(self.walk.keys) * self.walk.passes if self.walk is not None else 1

    def look_ahead(self, stand: Stand) -> None:
        """Work out the stand in the next key, where the present pass is the last in its key."""
        self.looks_ahead = False
        self.next_stand = self._coming(stand)
        if self.next_stand is not None:
            self._tell(NextKey(self.next_stand))
            self._lead_to(stand, self.next_stand)

    def _lead_to(self, stand: Stand, coming: Stand | None) -> None:
        """Have what sounds lead to another stand, from the next bar on, so that changes are called and the bass goes to
        the key that comes; None for to its own first bar."""
        if self._playback.playing and not self._turning:
            bars = coming.arrangement().bars if coming is not None else ()
            self._playback.send(Load(replace(stand.arrangement(), coming=bars)))

    def _coming(self, stand: Stand) -> Stand | None:
        """Worked out once. None where another pass comes in this key, or the hand has no shell in the next, which is said."""
        if self.walk is None or not self.walk.is_last_pass or self._playback.is_last_pass:
            return None
        if self._worked_out is None or self._worked_out[0] is not stand:
            try:
                self._worked_out = stand, in_key(stand, self.walk.next_key)
            except CompanionError as error:
                self.stay()
                self._tell(Said(str(error)))
                return None
        return self._worked_out[1]

    def after_pass(self, stand: Stand) -> Stand | None:
        """What the practice asks at the end of a pass: the stand for the next where it is in another key."""
        coming = self._coming(stand)
        self._turning = coming is not None
        if coming is None and self.walk is not None:
            self.walk = self.walk.after_pass()
        return coming

    def turns(self, beat: BeatReport) -> bool:
        """Whether with this beat the first pass in the next key begins."""
        if self.walk is None or beat.turn < 0 or beat.position or beat.pulse:
            return False
        self.looks_ahead = True  # once the beat is drawn
        if not self._turning:
            return False
        if self.walk.is_last_key:
            self._tell(AllKeysPlayed(self.walk.next_key))
        self.walk, self._turning, self.next_stand = self.walk.after_pass(), False, None
        return True

    def changed(self, stand: Stand, *, spoilt: bool) -> None:
        """The student changed the stand, perhaps to another key, which is gone on from. spoilt: the pass that sounds does not count any more,
        so the key stays for the next."""
        self._worked_out = None
        if self.walk is None:
            return
        if stand.key.tonic.pc != self.walk.key.tonic.pc:
            self.walk = self.walk.from_key(stand.key)
        if spoilt:
            self.next_stand = None
        else:
            self.look_ahead(stand)
        self._turning = False

    def tempo_changed(self, tempo_bpm: float) -> None:
        """The stand to come has the tempo too."""
        if self.next_stand is not None:
            self.next_stand = self.next_stand.with_tempo(tempo_bpm)

    def stopped(self, stand: Stand) -> None:
        """A key that was to come has not: its pass never began."""
        self._turning = False
        if self.walk is not None:
            self.walk = replace(self.walk, done=0)
            self.look_ahead(stand)
