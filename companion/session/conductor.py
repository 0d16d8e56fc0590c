"""The song on the stand, between the student, the practice and the sound process, which nothing else writes to.

Told what the student wants and what the sound process reports, each the moment it comes; `state` is how things stand after it. It wants to be
called again (`tick`) at `wake_s`: a pass is closed before the next one's bar line. Times are seconds of the sound process's clock.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import fields

from companion.session.all_keys import AllKeys
from companion.session.changes import (
    Began,
    Change,
    Changes,
    DrillLeft,
    PassOver,
    Said,
    Sounded,
    State,
)
from companion.session.ear import Ear
from companion.session.free_told import FreeOnStand
from companion.session.left_song import LeftSong
from companion.session.minutes import Minutes
from companion.session.playback import Playback
from companion.session.practice import Practice
from companion.session.shown_passes import ShownPasses
from companion.session.sources import Sources
from companion.session.stand import Stand
from companion.session.taking_back import Before, remember
from companion.session.taking_up import practice_on
from companion.session.telling import NOTHING_SOUNDS, answer_words, tell_slip
from companion.sound.messages import BeatReport, Finished, Load, Play, SetTempo
from companion.store.log.practice_log import PracticeLog
from companion.store.settings import Settings


class Conductor:
    """kind: how the student practises, one of session.drill.KINDS. asks: a pass that was not heard is asked about though one plays along.
    practice: None before the first start. sources: what hears the student. before: what changes on the stand took the place of, to take them back. shown: what is shown of the passes of the song. keep: told the stand
    each time playing begins, for what is to be kept; gives a sentence to say, or ""."""

    stand: Stand  # from the first `put` on

    def __init__(
        self,
        playback: Playback,
        log: Callable[[], PracticeLog],
        settings: Callable[[], Settings],
        *,
        minutes: Minutes | None = None,
        clock: Callable[[], float] = time.perf_counter,
        keep: Callable[[Stand], str] = lambda stand: "",
    ) -> None:
        self.minutes = minutes or Minutes()
        self.practice: Practice | None = None
        self.kind = "play"
        self.asks = False
        self._then = "play"  # the kind after listening
        self._then_asks = False
        self.sources = Sources()
        self._log = log
        self._settings = settings
        self._clock = clock
        self._keep = keep
        self.playback = playback
        self.shown = ShownPasses()
        self.before: Before = []
        self._changes = Changes()
        self._free = FreeOnStand(self.minutes, self._changes, Ear(playback.send, lambda: self.sources.listens))
        self.keys = AllKeys(self.playback, self._changes.append)
        self._left: dict[str, LeftSong] = {}  # by the song's id

    def put(self, stand: Stand) -> None:
        """Another song: one plays along, with the left hand, in its key."""
        self._leave()
        self.keys = AllKeys(self.playback, self._changes.append)
        self.shown = ShownPasses()
        self.before = []
        self.take_up(stand, "play")
        self._changes.said(stand.room_said)
        self.load()

    def put_again(self, song_id: str) -> None:
        """A song that was on the stand before, as it was left, with question and the walk through the keys."""
        if self.stand.original.id != song_id:
            self._leave()
            self._take_back(self._left[song_id])
        self.load()

    def _leave(self) -> None:
        if self.playing:
            self._end()
        self._changes.clear()
        if hasattr(self, "stand"):
            self._left[self.stand.original.id] = LeftSong(*(getattr(self, each.name) for each in fields(LeftSong)))
            self.practice = None  # with its question, which waits

    def _take_back(self, left: LeftSong) -> None:
        for each in fields(left):
            setattr(self, each.name, getattr(left, each.name))

    def load(self) -> None:
        """Hand the sound process what is on the stand, after it was lent to something else."""
        self.playback.send(Load(self.stand.arrangement()))

    @property
    def state(self) -> State:
        """How things stand now."""
        return State(
            self.practice.planned if self.practice is not None and self.kind in ("listen", "swing") else self.stand,
            playing=self.playing,
            beat=self.playback.beat,
            drill=self.practice.drill if self.practice is not None and self.kind != "play" else None,
            next_stand=self.keys.next_stand,
            **self.shown.words(self.practice),
            **self._free.fields,
            **({} if self.asking else self.shown.offers(self.stand)),
        )

    @property
    def playing(self) -> bool:
        """Whether something is played, or free time waits."""
        return self.playback.playing or self._free.waits

    @property
    def asking(self) -> bool:
        """Whether the student is to say how the pass went."""
        return self.practice is not None and self.practice.asking

    @property
    def tempo_is_fixed(self) -> bool:
        """Whether a climb sets the tempo."""
        return self.practice is not None and self.practice.drill.climbs

    @property
    def wake_s(self) -> float | None:
        """When `tick` is next wanted; None for not at all."""
        closes_s = self.practice.closes_s if self.playing and self.practice is not None else None
        times = 0.0 if self.keys.looks_ahead else None, self.playback.next_beat_s, closes_s
        return min((time_s for time_s in times if time_s is not None), default=None)

    # --- ways of practising

    def practise(self, kind: str, *, then_asks: bool = False) -> list[Change]:
        """Take up a way of practising on the stand's loop. then_asks: whether one is asked how it went when one plays along after listening."""
        if kind == "free" and (needs := self.sources.needs_keyboard(self.stand.hands)):
            return [needs]
        self._take_up(kind, then_asks=then_asks)
        return self._changes.told()

    def take_up(self, stand: Stand, kind: str, *, asks: bool = False) -> list[Change]:
        """Put a stand with another loop in place of this one, to be practised in that way."""
        self._end()
        self.stand = stand
        self.shown.one_change = None
        self._take_up(kind, asks=asks)
        self._then = "play"
        return self._changes.told()

    def _take_up(self, kind: str, *, asks: bool = False, then_asks: bool = False) -> None:
        self._end()
        self.let_go()
        if self.kind != "listen":
            self._then = self.kind
        self.kind = kind
        self.asks = asks
        self._then_asks = then_asks
        self.practice = None
        self.shown.clear()
        if "climb" in kind and self.stand.tempo_bpm < self.stand.song.tempo_bpm:
            # A climb goes to the tempo on the stand; one that was slowed down to practise is no target.
            self.stand = self.stand.with_tempo(self.stand.song.tempo_bpm)
        if kind != "play":  # what asks, waits or climbs stays in one key
            self.keys.stay()
            self.practice = self._new_practice() if kind != "free" else None

    def _new_practice(self) -> Practice:
        practice, fault = practice_on(
            self.stand, self.kind, self._settings(), self._log(), self.minutes, self.sources.key_heard, self.asks
        )
        self._changes.said(fault)
        self.shown.told = None
        practice.next_stand = lambda: self.keys.after_pass(self.stand)
        practice.microphone = lambda: self.sources.microphone
        practice.turns_in_round = lambda: self.keys.turns_in_round
        return practice

    def through_all_keys(self, order: str, passes: int = 1) -> list[Change]:
        """Take the loop through all keys. order: one of session.keys.ORDERS. passes: in each key."""
        if self.kind != "play" or self.asks:  # what asks after each pass does not go on by itself
            self._take_up("play")
        self.keys.begin(self.stand, order, passes)
        return self._changes.told()

    # --- playing

    def start(self, first_bar: int = 0, passes: int = 0) -> list[Change]:
        """Count in and play, or begin to wait. first_bar: position in the loop. passes: how many, 0 for ever."""
        self._changes.said(self._keep(self.stand))
        if self.kind == "free":
            self._start_free()
            return self._changes.told()
        if self.practice is None or self.practice.drill.finished or (self.kind == "play" and not self.asking):
            self.let_go()
            self.practice = self._new_practice()
        self.playback.passes = passes
        self.shown.begin()
        self._obey(self.practice, self.practice.begin(first_bar, passes))
        if first_bar:  # what is left of the loop is no pass: the key stays for the one after
            self.keys.next_stand = None
        return self._changes.told()

    def _start_free(self) -> None:
        if needs := self.sources.needs_keyboard(self.stand.hands):
            self._changes.append(needs)
        elif self._free.begin(self.stand, self._log(), self._clock(), self.shown):
            self.playback.end()

    def stop(self) -> list[Change]:
        """Break off what is played or asked; the pass does not count."""
        listened = self.practice if self.playing else None
        self._end()
        if listened is not None:
            self._after_listening(listened)
        return self._changes.told()

    def _end(self) -> None:
        if self._free.waits:
            self._free.stop(self._clock(), self.shown)
            self._offer_rest()
        elif self.practice is not None and self.playing:
            self._obey(self.practice, self.practice.stop())
            self._ended(self.practice)

    def let_go(self) -> None:
        """Nobody is going to tell how what waits went."""
        if self.practice is not None:
            self.practice.let_go()
            self.practice.write()

    def _ended(self, practice: Practice) -> None:
        """Nothing sounds any more: the question, or what was played and what is next."""
        self.playback.end()
        self.playback.passes = 0
        self.keys.stopped(self.stand)
        self._changes.append(self.shown.ended(practice))
        self._offer_rest()

    def _obey(self, practice: Practice, messages: list[object]) -> None:
        """Tell the sound process, then write what passes leave in the log, which the sound need not wait for."""
        for message in messages:
            if isinstance(message, Play):
                self.playback.play(message)
                self._changes.append(Began(practice.drill.next_pass.loop[message.first_bar]))
            else:
                self.playback.send(message)
        practice.write()

    # --- what the sound process reports, and time

    def hear(self, report: object) -> list[Change]:
        """Take a report the moment it comes."""
        self.sources.take(report)
        if self._free.waits:
            if self._free.hear(report, self.shown):
                self._offer_rest()
        elif self.practice is not None and self.playback.owns(report):
            self._hear_pass(self.practice, report)
        self._show_beats(self._clock())
        return self._changes.told()

    def _hear_pass(self, practice: Practice, report: object) -> None:
        messages = practice.hear(report)
        self._obey(practice, messages)
        self._see(practice)
        if isinstance(report, BeatReport):
            self.playback.reported(report)
        elif isinstance(report, Finished) and not any(isinstance(message, Play) for message in messages):
            self._ended(practice)
            self._after_listening(practice)

    def _after_listening(self, practice: Practice) -> None:
        """The goal was heard to its last strike: what it was heard for comes next."""
        if practice.heard_out:
            self._take_up(self._then, asks=self._then_asks)

    def tick(self, now_s: float) -> list[Change]:
        """Show the beats that are heard now, close the pass whose last strike can no longer come, look ahead."""
        self._show_beats(now_s)
        if self.playing and self.practice is not None:
            self._obey(self.practice, self.practice.tick(now_s))
            self._see(self.practice)
        if self.keys.looks_ahead:
            self.keys.look_ahead(self.stand)
        return self._changes.told()

    def _show_beats(self, now_s: float) -> None:
        for beat in self.playback.heard(now_s):
            if self.keys.turns(beat) and self.practice is not None:
                self.stand = self.practice.stand
                self._changes.said(self._keep(self.stand) or self.stand.room_said)
            self.shown.follow(self.practice.live if self.practice else None)
            self._changes.append(Sounded(beat))

    def _see(self, practice: Practice) -> None:
        """Tell of a pass that is over, and what there is to say."""
        self._changes.said(practice.say)
        practice.say = ""
        news = self.shown.news(practice)
        self._changes += news
        if any(isinstance(each, PassOver) for each in news):
            self._offer_rest()

    def _offer_rest(self) -> None:
        if self.playing or not self.asking:
            self._changes += self.minutes.offer_rest(playing=self.playing)

    # --- the student's word

    def mark_slip(self, index: int) -> None:
        """The bar of the chorus slipped; see ShownPasses.mark."""
        self.shown.mark(self.practice, index)

    def slip(self) -> list[Change]:
        """The bar that sounds slipped; where it began only just now, the one before it."""
        practice = self.practice if self.playing else None
        return [Said(tell_slip(practice, self.playback.beat, self._clock()) if practice else NOTHING_SOUNDS)]

    def answer(self, *, broke_off: bool = False) -> list[Change]:
        """How the passes that wait went: they ran, but for the bars that were marked; broke_off: the last one, or the one that sounds, did."""
        practice, asking = self.practice, self.asking
        if practice is None or not (asking or self.playing):
            return []
        waited = len(practice.waiting.passes)
        self._obey(practice, practice.answer(self.shown.slips if asking else None, broke_off=broke_off))
        self._changes.said("" if asking else answer_words(waited, at_its_end=practice.waiting.ran, broke_off=broke_off))
        self._see(practice)
        if asking and not self.playing:
            self._ended(practice)
        return self._changes.told()

    def attend(self) -> None:
        """A key was pressed, of whatever kind: somebody is there."""
        if self.practice is not None:
            self.practice.waiting.attend()

    def peek(self, index: int) -> None:
        """The student looks at a hidden bar, which is a slip of it."""
        if self.practice is not None:
            self.practice.peek(index)

    # --- changes on the stand

    def change_stand(self, make: Callable[[Stand], Stand], *, load: bool = True) -> list[Change]:
        """Put a changed stand in place of this one; it is heard from the next bar on. load: False where nothing of it sounds. Raises what
        `make` does: CompanionError or ValueError where the stand cannot be so."""
        before = self.stand
        self.stand = make(before)
        remember(self.before, before, self.stand)
        self._changes.said(self.stand.room_said if self.stand.room_said != before.room_said else "")
        self._changes.said(self._keep(self.stand) if self.playing else "")
        if before.loop != self.stand.loop:
            self.shown.one_change = None
        if self.practice is not None and self.kind != "play" and before.loop != self.stand.loop:
            kind = self.kind
            self._take_up("play")
            self._changes.append(DrillLeft(kind))
        elif before.hands != self.stand.hands and self.kind != "play":  # each hand has a drill of its own
            self._take_up("play" if self.kind == "together" else self.kind, asks=self.asks)
        self.keys.changed(self.stand, spoilt=load and self.playing)
        if load and self.practice is not None:
            self.shown.clear()
            self._obey(self.practice, self.practice.change_stand(self.stand))
        elif load:
            self.load()
        elif self.practice is not None:
            self.practice.stand = make(self.practice.stand)
        return self._changes.told()

    def change_tempo(self, tempo_bpm: float) -> list[Change]:
        """Another tempo: where a keyboard is heard from the next bar line on, else from the next beat. Nothing while a climb sets it."""
        if self.tempo_is_fixed:
            return []
        before = self.stand
        self.stand = before.with_tempo(tempo_bpm)
        remember(self.before, before, self.stand)
        if self.practice is not None:
            self._obey(self.practice, self.practice.change_tempo(self.stand.tempo_bpm))
        else:
            self.playback.send(SetTempo(self.stand.tempo_bpm))
        self.keys.tempo_changed(self.stand.tempo_bpm)
        return self._changes.told()
