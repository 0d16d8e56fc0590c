"""The stand's drills: it hands each report of the sound process to the practice at once, sends what that answers, and shows
what came of it. Mixed into the stand's screen."""

from __future__ import annotations

import time
from dataclasses import replace

from companion.practice.drills.fading import FULL
from companion.practice.model import PassMarks
from companion.practice.planning.plan import PlanItem
from companion.session.drill import KINDS, START_SHARE, Drill, drill_settings, new_drill, take_up
from companion.session.free import FreeTime
from companion.session.passes import ANSWERS
from companion.session.practice import Practice
from companion.session.stand import Stand
from companion.sound.messages import BeatReport, Finished, Play
from companion.tui.cautions import REST_TITLE, rest_text
from companion.tui.draw.drill import bar_names, finished_lines, kind_words, summary_lines
from companion.tui.draw.view import Place, Sign, View
from companion.tui.screens.pick import Item, PickScreen
from companion.tui.screens.read import ReadScreen, lesson_text

PEEK_S = 1.5
BROKEN_OFF = "Broken off: this pass does not count."
SUMMARY_S = 8.0
_LATE_S = 0.002  # a timer may be a little early
# kind -> what it does, in a line.
KIND_LINES = {
    "play": "round and round, everything shown",
    "fade": "each round hides more; what slips comes back",
    "climb": "faster after clean passes, slower after bad",
    "fade+climb": "now the one moves, now the other",
    "dark": "one pass, nothing shown but the beat",
    "free": "waits for each shell; needs a keyboard",
}
FREE_NEEDS = (
    "Free time waits until the right keys are down, so it needs a keyboard that is heard. None is there: plug one in by USB "
    "or MIDI and look at F5. Without one, play along slowly instead: s makes it slower."
)


def kind_line(kind: str) -> str:
    return f"{kind_words(kind):<29}{KIND_LINES[kind]}"


def signs_of(marks: PassMarks | None, fresh: bool = True) -> dict[Place, Sign]:
    return {(mark.index, mark.chord): Sign(mark.verdict, fresh) for mark in marks.chords} if marks else {}


class StandPractice:
    """kind: how the student practises. practice: the present drill, None before the first start. free: free time."""

    view: View
    kind = "play"
    practice: Practice | None = None
    free: FreeTime | None = None
    asks = False  # though one plays along: an item of today's plan wants to know
    hands = "left"
    _started = False
    _play_number = 0
    _tick_s = 0.0
    _seen: object = None  # the result that is shown already
    _last_signs: dict[Place, Sign] = {}

    # --- choosing

    def action_practise(self) -> None:
        items = [Item(kind_line(kind), kind) for kind in KINDS]
        start = list(KINDS).index(self.kind)

        def taken(item: Item | None) -> None:
            if item is not None and self.set_kind(item.value) and item.value in ("play", "free"):
                self.say(f"{kind_words(item.value)}. Space starts.")

        self.app.push_screen(PickScreen("How do you want to practise?", items, start), taken)

    def set_kind(self, kind: str, hands: str = "left", *, asks: bool = False) -> bool:
        """Take up a way of practising on the stand's loop with these hands; False where it cannot be."""
        if kind == "free" and not self._has_keyboard:
            self.app.push_screen(ReadScreen("Free time", FREE_NEEDS))
            return False
        self.stop()
        self.kind, self.practice, self.free = kind, None, None
        self.asks, self.hands = asks, hands
        self._last_signs = {}
        self.show(drill=None, signs={}, summary=(), slips=frozenset(), asking=False, peeked=None)
        if "climb" in kind and self.stand.tempo_bpm < self.stand.song.tempo_bpm:
            # A climb goes to the tempo on the stand; one that was slowed down to practise is no target.
            self.change(lambda stand: stand.with_tempo(stand.song.tempo_bpm), load=False)
        if kind not in ("play", "free"):
            self.practice = self._new_practice(self._take_up())
            self.show(drill=self.practice.drill)
            self._to_loop()
        return True

    @property
    def _has_keyboard(self) -> bool:
        return self.companion.key_heard or bool(self.companion.keyboards.heard)

    def _take_up(self) -> Drill:
        wishes = drill_settings(self.companion.settings)
        if self.kind == "play":  # nothing of the log is needed, and space should not wait for it
            return new_drill(self.stand, "play", wishes)
        drill, fault = take_up(self.stand, self.kind, wishes, self.companion.practice_log, self.hands)
        if fault:
            self.say(fault)
        return drill

    def _new_practice(self, drill: Drill) -> Practice:
        self._seen = None
        return Practice(
            self.stand,
            drill,
            self.companion.practice_log,
            latency_ms=self.companion.settings.practice.latency_ms,
            keyboard=self.companion.key_heard,
            minutes=self.companion.minutes,
            asks=self.asks,
            hands=self.hands,
        )

    def start_item(self, item: PlanItem) -> None:
        """Set the stand as an item of today's plan wants it, and play."""

        def set_up(stand: Stand) -> Stand:
            stand = stand.with_loop(item.loop, item.loop_name).change(pattern=item.pattern)
            return stand if item.drill == "climb" or not item.tempo_bpm else stand.with_tempo(item.tempo_bpm)

        if self.is_left or not self.change(set_up):
            return
        kind = item.drill
        if kind == "free" and not self._has_keyboard:  # a step in free time takes a pass at any tempo too
            kind = "play"
            self.change(lambda stand: stand.with_tempo(START_SHARE * stand.song.tempo_bpm))
        self.set_kind(kind, item.hands, asks=item.passes > 0)
        self.say(item.words)
        self._to_loop()
        self.play(0)

    def _to_loop(self) -> None:
        if self.view.cursor not in self.stand.loop:
            self.show(cursor=self.stand.loop[0])

    # --- playing

    def begin(self, first_bar: int) -> None:
        if self.kind == "free":
            self._begin_free()
            return
        if self.kind == "play" or self.practice is None or self.practice.drill.finished:
            self.practice = self._new_practice(self._take_up())
        self._last_signs = {}
        self._obey(self.practice.begin(first_bar))

    def _begin_free(self) -> None:
        if not self._has_keyboard:
            self.app.push_screen(ReadScreen("Free time", FREE_NEEDS))
            return
        self.free = FreeTime(
            self.stand,
            self.companion.practice_log,
            time.perf_counter(),
            minutes=self.companion.minutes,
            hands=self.hands,
        )
        if self.free.target is None:
            self.free = None
            self.say("No chord is played in this loop, so there is nothing to wait for.")
            return
        self._seen = None
        self.show(playing=True, beat=None, waiting=self.free.target, summary=(), signs={})

    def _obey(self, messages: list[object]) -> None:
        """Tell the sound process, and be ready for what follows."""
        for message in messages:
            if isinstance(message, Play):
                self._started = False
                self._play_number = next(self.companion.play_numbers)
                message = replace(message, number=self._play_number)
                drill = self.practice.drill if self.kind != "play" else None
                cursor = self.practice.drill.next_pass.loop[message.first_bar]
                self.show(playing=True, beat=None, asking=False, slips=frozenset(), cursor=cursor, drill=drill)
                if self.view.summary:
                    self.set_timer(SUMMARY_S, self._hide_summary)
                self._tick_s = 0.0
            self.companion.send(message)
        if self.practice is not None:
            self.practice.write()

    def end(self) -> list[object]:
        """Break off. Gives what the sound process is to be told."""
        if self.free is not None:
            lines = self.free.lines
            self.free = None
            self.show(cursor=self.view.here, waiting=None, summary=lines)
            return []
        return self.practice.stop() if self.practice is not None else []

    # --- what the sound process tells, the moment it tells it

    def hear(self, report: object) -> None:
        if self.free is not None:
            self._hear_free(report)
        if self.practice is None or not self.view.playing:
            return
        if isinstance(report, BeatReport | Finished) and not self._started:
            return  # of a pass that was stopped meanwhile
        messages = self.practice.hear(report)
        self._obey(messages)
        self._see()
        if isinstance(report, Finished) and not any(isinstance(message, Play) for message in messages):
            self.stopped()
        elif isinstance(report, BeatReport) and report.pulse == 0:
            self._plan_tick()

    def _plan_tick(self) -> None:
        """The pass is closed by a timer, before the bar line that the next pass begins at."""
        closes_s = self.practice.closes_s if self.practice else None
        if closes_s is not None and closes_s != self._tick_s:
            self._tick_s = closes_s
            self.set_timer(max(0.001, closes_s - time.perf_counter() + _LATE_S), self._tick)

    def _tick(self) -> None:
        if self.practice is None or not self.view.playing:
            return
        self._obey(self.practice.tick(time.perf_counter()))
        self._see()
        self._plan_tick()

    def _hear_free(self, report: object) -> None:
        free = self.free
        free.hear(report)
        fields = {"waiting": free.target} if free.target != self.view.waiting else {}
        if free.result is not self._seen:
            self._seen = free.result
            fields["summary"] = free.lines
            self.set_timer(SUMMARY_S, self._hide_summary)
            self.companion.tell_of_log()
            self._offer_rest()
        if free.say:
            self.say(free.say)
            free.say = ""
        if fields:
            self.show(**fields)

    def _see(self) -> None:
        """Show what a report changed: a pass that is over, a sentence, the drill."""
        practice = self.practice
        if practice.say:
            self.say(practice.say)
            practice.say = ""
        if practice.result is self._seen:
            return
        self._seen = practice.result
        self._last_signs = signs_of(practice.result.marks, fresh=False)
        lines = summary_lines(practice.result, practice.drill, self.stand)
        self.show(
            drill=practice.drill if self.kind != "play" else None, summary=lines, signs=signs_of(practice.result.marks)
        )
        self.set_timer(SUMMARY_S, self._hide_summary)
        self.companion.tell_of_log()
        self._offer_rest()

    def signs_now(self) -> dict[Place, Sign]:
        """The signs of the pass so far over those of the pass before."""
        return self._last_signs | signs_of(self.practice.live) if self.practice is not None else {}

    def _hide_summary(self) -> None:
        if self.view.playing:
            self.show(summary=())

    def stopped(self) -> None:
        """Nothing sounds any more: the question, or what was played and what is next."""
        self._started = False
        practice = self.practice
        fields: dict[str, object] = {}
        if practice is not None and self.kind != "free":
            result = practice.result if practice.result is self._seen else None
            lines = summary_lines(result, practice.drill, self.stand) if result else ()
            if practice.broken is not None:
                lines = (BROKEN_OFF,)
            done = finished_lines(practice.drill) if practice.drill.finished else ()
            fields = {"asking": practice.asking, "summary": (*done, *lines)}
            if practice.asking:  # slips are marked from the first bar on
                fields["cursor"] = practice.drill.next_pass.loop[0]
        self.show(**{"cursor": self.view.here, "playing": False, "beat": None} | fields)
        self._offer_rest()

    # --- a rest

    def _offer_rest(self) -> None:
        if not self.companion.minutes.rest_is_due:
            return
        if self.view.playing:
            self.say("You have played for 25 minutes. Rest about five after this pass.")
        elif not self.view.asking:
            self.companion.minutes.rested()
            self.app.push_screen(ReadScreen(REST_TITLE, rest_text()))

    # --- the student's word

    def _answer(self, key: str) -> None:
        if not self.view.asking:
            self.say("1 to 4 say how a pass went, when no keyboard is heard and a drill asks.")
            return
        slips = self.view.slips
        self.show(asking=False, slips=frozenset())
        self._obey(self.practice.answer(key, slips))
        self._see()
        if not self.view.playing:
            self.stopped()

    def action_answer_1(self) -> None:
        self._answer("1")

    def action_answer_2(self) -> None:
        self._answer("2")

    def action_answer_3(self) -> None:
        self._answer("3")

    def action_answer_4(self) -> None:
        self._answer("4")

    def mark_slip(self) -> None:
        """The marked bar slipped, or did not after all."""
        if self.view.cursor in self.practice.drill.next_pass.loop:
            slips = self.view.slips ^ {self.view.cursor}
            self.show(slips=slips, signs={(index, 0): Sign("wrong") for index in slips})

    def answer_by_slips(self) -> None:
        """Enter: the bars that slipped say enough."""
        slips, bars = self.view.slips, len(self.practice.drill.next_pass.loop)
        if not slips:
            self.say("Press 1 to 4, or mark the bars that slipped with space first.")
            return
        right = 1 - len(slips) / bars
        fitting = [answer for answer in ANSWERS if answer.share <= right] or ANSWERS[-1:]
        self._answer(fitting[0].key)

    # --- a look

    def action_peek(self) -> None:
        index = self.view.here
        if not self.view.hides or self.view.cue(index) == FULL:
            self.say("Nothing is hidden here.")
            return
        self.practice.peek(index)
        self.show(peeked=index, drill=self.practice.drill)
        self.say(f"A look at {bar_names((index,), self.stand)}: it counts as a slip.")
        self.set_timer(PEEK_S, lambda: self._cover(index))

    def _cover(self, index: int) -> None:
        if self.view.peeked == index:
            self.show(peeked=None)

    # --- changes on the stand while a drill is set

    def stand_changed(self, before: Stand, load: bool) -> bool:
        """Hand a changed stand to the practice. False where there is none to tell the sound process of it."""
        practice = self.practice
        if practice is None:
            return False
        if before.loop != self.stand.loop and self.kind != "play":
            kind = self.kind
            self.set_kind("play")
            self.say(f"Another loop: {KINDS[kind]} is over. m takes it up again here.")
            return False
        if load:
            self._obey(practice.change_stand(self.stand))
            self._last_signs = {}
            if self.view.signs:
                self.show(signs={})
        return load

    def tempo_is_fixed(self) -> bool:
        """Whether a climb sets the tempo; then it is said."""
        if self.practice is not None and self.practice.drill.climb is not None and not self.practice.drill.finished:
            self.say("The climb sets the tempo. m, play along: then the tempo is yours again.")
            return True
        return False

    # --- pages

    def action_today(self) -> None:
        self.stop()
        super().action_today()

    def action_keyboards(self) -> None:
        self.stop()
        super().action_keyboards()

    def action_progress(self) -> None:
        if self.view.playing:
            self.say("Stop first (space), then look at the progress.")
        else:
            self.companion.show_progress(self.stand.original)

    def action_lesson(self) -> None:
        self.app.push_screen(
            ReadScreen(
                f"Lesson: {self.stand.song.title}", lesson_text(self.companion.practice_log, self.stand.original)
            )
        )
