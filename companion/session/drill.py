"""What is drilled on a loop and how far it has come: the fading, the climb, both or neither. Immutable; a pass gives a new Drill."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from companion.chart.loops import loop_key, loop_name
from companion.errors import LogError
from companion.groove.model import HAND_PARTS
from companion.groove.swung_choice import SwungChoice
from companion.practice.drills import climbing, fading, lining_up, two_ways
from companion.practice.drills.climbing import ClimbState
from companion.practice.drills.fading import FULL, Cue, FadeBar, FadeState
from companion.practice.drills.lining_up import LiningUp
from companion.practice.drills.together import after_both
from companion.practice.drills.two_ways import TwoWays
from companion.practice.facts import UNTOLD
from companion.practice.model import PassRecord
from companion.session.stand import TEMPO_LIMITS, Stand
from companion.store.settings import Settings

if TYPE_CHECKING:
    from companion.store.log.practice_log import PracticeLog

# kind -> words for the screen. "listen" is heard once, with the melody; "swing" is a phrase of it heard and played both ways; "free" waits on each chord and needs a keyboard, or a microphone.
# "symbols" fades down to the chord symbols; "symbols-only" and "dark" are one pass each, as a section is recalled.
KINDS = {
    "listen": "listen",
    "play": "play along",
    "symbols": "from symbols",
    "fade": "from memory",
    "climb": "up to tempo",
    "fade+climb": "from memory and up to tempo",
    "swing": "straight, then swinging",
    "symbols-only": "symbols alone",
    "together": "hands together",
    "dark": "in the dark",
    "free": "in free time",
}
NEXT_KINDS = {"symbols": "fade", "symbols-only": "fade"}  # what to go on with once that is there
ROUND_BY_ROUND = ("symbols", "fade", "fade+climb")  # each hides more
ONE_PASS = ("symbols-only", "dark")  # nothing is kept of where they stand
START_SHARE = 0.6  # of the target, where nothing is known of the loop (our own choice: slow enough to be right at once)
LATEST_PASSES = 12  # how many say how well a bar is known
LATEST_READ = 200  # passes of the song looked at for that


@dataclass(frozen=True, slots=True)
class NextPass:
    """What is played next. loop: indices in the chorus. probe: a try at the target tempo, on the loop's last bars. straight: with the
    melody as it is written, whatever version is chosen. hands, pattern: "" for those of the stand."""

    tempo_bpm: float
    loop: tuple[int, ...]
    probe: bool = False
    straight: bool = False
    hands: str = ""
    pattern: str = ""

    def put_on(self, stand: Stand) -> Stand:
        """The stand as this pass wants it: a probe plays only its own bars."""
        if self.straight and not stand.swung.is_straight:
            stand = stand.with_swung(SwungChoice())
        if self.loop != stand.loop:
            stand = stand.with_loop(self.loop, loop_name(self.loop))
        hands, pattern = self.hands or stand.hands, self.pattern or stand.pattern
        return replace(stand, tempo_bpm=self.tempo_bpm, hands=hands, pattern=pattern)


@dataclass(frozen=True, slots=True)
class Drill:
    """kind: one of KINDS. fade, climb, two_ways and lining_up: None where they take no part. loop: the whole loop. tempo_bpm: where nothing climbs.
    reason: why the last pass moved what it moved, "" where there is nothing to say."""

    kind: str
    loop: tuple[int, ...]
    tempo_bpm: float
    pass_share: float
    fade: FadeState | None = None
    climb: ClimbState | None = None
    two_ways: TwoWays | None = None
    lining_up: LiningUp | None = None
    reason: str = ""

    @property
    def next_pass(self) -> NextPass:
        """What comes next: the whole loop, a part of it, or a try at the target on its last bars."""
        if (hands := self.lining_up) is not None:
            return NextPass(self.tempo_bpm, hands.bars, hands=hands.hands, pattern=hands.pattern)
        if self.climb is None:
            return NextPass(
                self.tempo_bpm, self.loop, straight=self.two_ways is not None and self.two_ways.now.straight
            )
        wanted = climbing.next_pass(self.climb)
        # The probe takes the loop's last bars: coming from its end, the next bar line leads there without a jump.
        loop = self.loop[-wanted.bars :] if wanted.bars else self.loop
        return NextPass(max(TEMPO_LIMITS[0], wanted.tempo_bpm), loop, wanted.probe)

    def put_on(self, stand: Stand) -> Stand:
        """The stand as the next pass wants it."""
        stand = self.next_pass.put_on(stand.to_listen() if self.listens else stand)
        # Called, a chord that is hidden would be given away.
        return stand.change(calls="off") if stand.calls == "shown" and self.hides_symbols else stand

    @property
    def finished(self) -> bool:
        """Whether everything that was drilled is there. Playing along never is."""
        drilled = (self.fade, self.climb, self.two_ways, self.lining_up)
        parts = [part.finished for part in drilled if part is not None]
        return bool(parts) and all(parts)

    @property
    def climbs(self) -> bool:
        """Whether it sets the tempo."""
        return self.climb is not None and not self.finished

    @property
    def round(self) -> int:
        """The round of hiding, from 1; 0 where nothing is hidden."""
        return self.fade.round if self.fade else 0

    @property
    def listens(self) -> bool:
        """Whether the next pass is heard, and nothing of it marked."""
        return self.kind == "listen" or (self.two_ways is not None and self.two_ways.now.listens)

    @property
    def is_dark(self) -> bool:
        """Whether nothing is shown but the beat."""
        return self._hides_all or (self.fade is not None and self.fade.is_dark)

    @property
    def _hides_all(self) -> bool:
        return self.two_ways is not None and not self.two_ways.now.shown and not self.finished

    @property
    def is_one_pass(self) -> bool:
        """Whether it is a pass that has not ended yet and shows nothing above its goal until then."""
        return self._hides_all or (self.fade is not None and self.fade.is_silent)

    @property
    def hides_symbols(self) -> bool:
        """Whether it may hide the name of a chord, so that nothing else may tell it."""
        return self._hides_all or (self.fade is not None and not self.finished and self.fade.goal < Cue.SYMBOL)

    def cue(self, index: int) -> Cue:
        """What may be shown of a bar of the chorus."""
        if self._hides_all and index in self.loop:
            return Cue.PLACE
        return FULL if self.fade is None or index not in self.loop else fading.level(self.fade, index)

    def cues(self, loop: Sequence[int]) -> float:
        """Mean strength of the cues over some bars, 0 (none) to 1 (all)."""
        if self._hides_all:
            return 0.0
        levels = {bar.index: level for bar, level in zip(self.fade.bars, self.fade.levels)} if self.fade else {}
        return sum(levels.get(index, FULL) for index in loop) / (FULL * len(loop))

    def asks_as(self, other: Drill) -> bool:
        """Whether it asks for the same pass as another drill, with as much shown of each bar."""
        mine, theirs = self.next_pass, other.next_pass
        return mine == theirs and all(self.cue(index) == other.cue(index) for index in mine.loop)

    def unpeeked(self) -> Drill:
        """For the next pass, where this one moves nothing yet: the bars that were looked at are its own."""
        return self if self.fade is None else replace(self, fade=replace(self.fade, peeked=frozenset()))

    def peek(self, index: int) -> Drill:
        """The student looked at a bar: a slip of that bar."""
        return (
            self if self.fade is None or index not in self.loop else replace(self, fade=fading.peek(self.fade, index))
        )

    def is_clean(self, slipped: frozenset[int], share_right: float) -> bool:
        """Whether a pass counts as passed."""
        if self.fade is not None:
            return fading.is_passed(self.fade, slipped, share_right)
        return share_right >= self.pass_share - 1e-9

    def after(
        self, slipped: frozenset[int], share_right: float, day: str = "", slipped_hands: Collection[str] | None = None
    ) -> Drill:
        """The drill after the pass it planned. day: on which it was played, such as "2026-11-25". slipped_hands: None where nobody knows
        which, so that it is both where the pass was not clean."""
        if self.fade is not None and self.climb is not None:
            both = after_both(self.fade, self.climb, slipped, share_right, day)
            return replace(self, fade=both.fade, climb=both.climb, reason=both.reason)
        if self.fade is not None:
            return replace(self, fade=fading.after_pass(self.fade, slipped, share_right))
        if self.climb is not None:
            return replace(self, climb=climbing.after_pass(self.climb, self.is_clean(slipped, share_right), day))
        if self.two_ways is not None:
            return replace(self, two_ways=two_ways.after_pass(self.two_ways, self.is_clean(slipped, share_right)))
        if self.lining_up is not None:
            if slipped_hands is None:
                slipped_hands = () if self.is_clean(slipped, share_right) else HAND_PARTS
            state = lining_up.after_pass(self.lining_up, slipped_hands, slipped)
            return replace(self, lining_up=state, reason=state.reason)
        return self

    def after_hearing(self) -> Drill:
        """The drill after a pass that it listened to."""
        return self if self.two_ways is None else replace(self, two_ways=two_ways.after_pass(self.two_ways, clean=True))


@dataclass(frozen=True, slots=True)
class DrillSettings:
    """How the student wants to drill (settings, [practice]). way: of fading; rule: of the climb; start_share: of the target."""

    pass_share: float = fading.DEFAULT_PASS_SHARE
    way: str = "bars"
    rule: str = "gentle"
    aim: float = climbing.DEFAULT_AIM
    start_share: float = START_SHARE
    stretch: bool = False
    seed: int = 0


def drill_settings(settings: Settings) -> DrillSettings:
    """What the student's settings say of drills."""
    practice = settings.practice
    return DrillSettings(
        pass_share=practice.pass_share,
        way=practice.fade,
        rule=practice.climb,
        aim=practice.clean_share,
        start_share=practice.start_share,
        stretch=practice.stretch,
        seed=settings.playing.seed,
    )


def new_drill(
    stand: Stand,
    kind: str,
    settings: DrillSettings,
    passes: Iterable[PassRecord] = (),
    *,
    saved_fade: str | None = None,
    saved_climb: str | None = None,
    saved_hands: str | None = None,
    working_bpm: float | None = None,
) -> Drill:
    """The drill on the stand's loop, taken up where it was left if it was not finished.

    passes: of this song from the log, latest last. saved_fade, saved_climb, saved_hands: as the log kept them (see kept_as). working_bpm: the tempo the loop settled at
    before, to begin with. Raises LogError where a saved drill is damaged and ValueError for an unknown kind.
    """
    if kind not in KINDS:
        raise ValueError(f"{kind!r} is not a way of practising: expected one of {', '.join(KINDS)}.")
    parts = kind.split("+")
    drill = Drill(kind, stand.loop, stand.tempo_bpm, settings.pass_share)
    if kept_as(kind) or kind in ONE_PASS:
        drill = replace(drill, fade=_fade(stand, kind, settings, passes, saved_fade))
    if kind == "together":
        drill = replace(drill, lining_up=_lining_up(stand, saved_hands))
    if kind == "swing":
        drill = replace(drill, two_ways=TwoWays())
    if "climb" in parts:
        drill = replace(drill, climb=_climb(stand, kind, settings, saved_climb, working_bpm))
    return drill


def kept_as(kind: str) -> str:
    """Under what name the log keeps where the fading of a way of practising stands, "" for none."""
    return "" if kind in ONE_PASS else next((part for part in kind.split("+") if part in ("fade", "symbols")), "")


def take_up(stand: Stand, kind: str, settings: DrillSettings, log: PracticeLog) -> tuple[Drill, str]:
    """The drill on the stand's loop with what the log knows of it by its hands, and what there is to say about that.

    Where the log cannot be read, or what it kept is damaged, the drill begins anew.
    """
    if kind in ("play", "listen", "swing"):  # nothing of the log is needed, and the start should not wait for it
        return new_drill(stand, kind, settings), ""
    song_id, key, hands = stand.song.id, loop_key(stand.loop), stand.hands
    try:
        working = log.state(song_id, key, "working_bpm", hands)
        return new_drill(
            stand,
            kind,
            settings,
            log.passes(song_id, limit=LATEST_READ, hands=hands),
            saved_fade=log.state(song_id, key, kept_as(kind), hands),
            saved_climb=log.state(song_id, key, "climb", hands),
            saved_hands=log.state(song_id, key, "together", "both"),
            working_bpm=float(working) if working else None,
        ), ""
    except (LogError, ValueError, TypeError) as error:
        return new_drill(stand, kind, settings), f"{error} The drill begins anew."


def _fade(
    stand: Stand, kind: str, settings: DrillSettings, passes: Iterable[PassRecord], saved: str | None
) -> FadeState:
    known = bar_strengths(passes, stand.loop)
    bars = [FadeBar(i, stand.bars[i].section, stand.bars[i].bar, known[i]) for i in stand.loop]
    goal = Cue.SYMBOL if kind.startswith("symbols") else Cue.PLACE
    if saved is not None and kind not in ONE_PASS:
        state = fading.from_json(saved)
        same = [replace(bar, strength=0.0) for bar in state.bars] == [replace(bar, strength=0.0) for bar in bars]
        if same and (state.way, state.goal) == (settings.way, goal) and _goes_on(state, kind):
            return replace(state, pass_share=settings.pass_share)
    way = "silent" if kind in ONE_PASS else settings.way
    return fading.start(bars, way, settings.seed, settings.pass_share, goal)


def _lining_up(stand: Stand, saved: str | None) -> LiningUp:
    bars = stand.arrangement().bars
    fresh = lining_up.start(stand.loop, stand.pattern, [lining_up.difficulty(bar, stand.pattern) for bar in bars])
    state = lining_up.from_json(saved) if saved is not None else fresh
    return state if (state.loop, state.patterns) == (fresh.loop, fresh.patterns) else fresh


def _climb(
    stand: Stand, kind: str, settings: DrillSettings, saved: str | None, working_bpm: float | None
) -> ClimbState:
    target_bpm = stand.tempo_bpm
    rule = (stand.song.lesson and stand.song.lesson.climb) or settings.rule
    if saved is not None:
        state = climbing.from_json(saved)
        if state.target_bpm == target_bpm and _goes_on(state, kind):
            state = climbing.by_rule(state, rule)
            return replace(state, aim=settings.aim, stretches=(state.stretches or 0) if settings.stretch else None)
    start_bpm = working_bpm or target_bpm * settings.start_share
    return climbing.start(start_bpm, target_bpm, rule, aim=settings.aim, stretch=settings.stretch)


def _goes_on(state: FadeState | ClimbState, kind: str) -> bool:
    """Whether a saved part of a drill is taken up. Nothing is kept of a drill that is over, so where two parts are drilled, one that is
    finished waits for the other."""
    return not state.finished or "+" in kind


def bar_strengths(passes: Iterable[PassRecord], loop: Sequence[int]) -> dict[int, float]:
    """How well each bar is known, 0 to 1: how often it was right in its latest passes, one without cues counting twice
    as much as one with all of them."""
    latest: dict[int, list[tuple[float, bool]]] = {index: [] for index in loop}
    for record in passes:
        if record.fact == UNTOLD:
            continue  # played along and nothing said: it tells of minutes, not of bars
        for index in set(record.loop) & latest.keys():
            latest[index].append((1.0 - record.cues / 2, index not in record.slipped))
    strengths = {}
    for index, tries in latest.items():
        tries = tries[-LATEST_PASSES:]
        # One unseen failure more than was seen: a single good pass is not yet knowledge.
        strengths[index] = sum(weight * right for weight, right in tries) / (sum(weight for weight, _ in tries) + 1.0)
    return strengths
