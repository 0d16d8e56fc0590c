"""What the stand's widgets draw: one immutable picture of the moment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace

from companion.chart.model import PlacedChord
from companion.groove.patterns import strikes_by_key
from companion.hands.left.model import Choice
from companion.practice.drills.fading import FULL, Cue
from companion.practice.drills.free_time import Target
from companion.session.changes import ChordIndex, Sign, State
from companion.session.drill import Drill
from companion.session.stand import Stand
from companion.sound.messages import BeatReport
from companion.tui.draw.plan import PARTS

_ALL, _BEAT, _TITLE, _STATE = frozenset(PARTS), frozenset({"beat"}), frozenset({"title"}), frozenset({"state"})
# Which parts show a field of the View or of its stand. One that is not named may be shown by all.
_SHOWN_BY = {
    "answer": _STATE,
    "waits": _STATE | {"now"},
    "down": frozenset({"need"}),
    "alone": frozenset(),  # the footer tells
    "came_from": frozenset(),
    "notice": _STATE,
    "sound": _STATE,
    "taught": _STATE,
    "item_done": frozenset(),  # the keys below tell it
    "cursor": _ALL - _STATE,
}
_SHOWN_BY_OF_STAND = {
    "tempo_bpm": _TITLE | _STATE,  # as many bars are counted in as it asks for
    "pattern": _STATE | {"need"},
    "click": _STATE,
    "bass": _STATE,
    "demonstrate": _STATE,
    "count_in_bars": _STATE,
}


@dataclass(frozen=True, slots=True)
class View:
    """How things stand (see session.changes.State), and what is on the screen besides.

    cursor: the marked bar, in the chorus. sound: "builtin", "midi", "silent" or "" while the sound process is not up. notice: one sentence to
    show for a while, "" for none. peeked: a bar that is shown for a moment whatever its cue. summary: lines about what was played last.
    need: the name of what the hands are shown, see draw.need. large_beat: whether the beat is drawn across the width. item_done: whether the work
    that Today wanted here is done, and something is left.
    taught: which key does what, for who has not used it yet, "" for nothing.
    start_key: starts it; pattern_key: the next pattern. word_keys: for "it ran", "it broke off" and "this bar slipped".
    """

    stand: Stand
    cursor: int = 0
    playing: bool = False
    beat: BeatReport | None = None
    sound: str = ""
    notice: str = ""
    drill: Drill | None = None
    signs: Mapping[ChordIndex, Sign] = field(default_factory=dict)
    peeked: int | None = None
    asking: bool = False
    waits: int = 0
    slips: frozenset[int] = frozenset()
    summary: tuple[str, ...] = ()
    waiting: Target | None = None
    down: frozenset[int] = frozenset()
    answer: str = ""
    next_stand: Stand | None = None
    alone: ChordIndex | None = None
    came_from: str = ""
    need: str = "keyboard"
    large_beat: bool = True
    item_done: bool = False
    taught: str = ""
    word_keys: tuple[str, str, str] = ("enter", "n", "tab")
    start_key: str = "space"
    pattern_key: str = "p"

    @property
    def hands(self) -> str:
        """Which the student plays with, one of chart.lesson.HANDS."""
        coming = self.drill.next_pass.hands if self.drill is not None else ""
        return coming or self.stand.hands

    @property
    def pattern(self) -> str:
        """The left hand's rhythm of the next pass."""
        return (self.drill.next_pass.pattern if self.drill is not None else "") or self.stand.pattern

    def after(self, state: State, **more: object) -> View:
        """The view once things stand so. more: other fields."""
        so = {each.name: getattr(state, each.name) for each in fields(State)}
        return replace(self, **{**so, **more})

    def changed_parts(self, before: View) -> frozenset[str]:
        """Names of the parts of the stand (see draw.plan.PARTS) that may look other than they did."""
        changed: set[str] = set()
        for each in fields(View):
            if each.name != "stand" and getattr(before, each.name) != getattr(self, each.name):
                beats_on = each.name == "beat" and self._beats_on_from(before)
                changed |= self._shows_beat if beats_on else _SHOWN_BY.get(each.name, _ALL)
        if before.stand is not self.stand:
            for each in fields(Stand):
                if getattr(before.stand, each.name) != getattr(self.stand, each.name):
                    changed |= _SHOWN_BY_OF_STAND.get(each.name, _ALL)
        return frozenset(changed)

    @property
    def _shows_beat(self) -> frozenset[str]:
        parts = _BEAT | {"now"} if self.counting_in else _BEAT
        # With each beat: a melody, and a hand that strikes key by key.
        moves = self.hands != "left" or strikes_by_key(self.pattern)
        return parts | {"need"} if moves else parts

    def _beats_on_from(self, before: View) -> bool:
        """Whether nothing but what shows each beat tells of the other beat."""
        drawn = [(view.sounding, view.here, view.chord_no, view.tempo_bpm) for view in (before, self)]
        return before.beat is not None and drawn[0] == drawn[1]

    @property
    def sounding(self) -> bool:
        """Whether a bar of the song sounds (not the count-in), or is waited for."""
        return self.playing and (self.waiting is not None or (self.beat is not None and self.beat.turn >= 0))

    @property
    def counting_in(self) -> bool:
        """Whether the count-in sounds."""
        return self.playing and self.beat is not None and self.beat.turn < 0

    @property
    def framing(self) -> str:
        """What sounds that is no bar of the song: "count-in", "introduction" or "ending"."""
        return (self.beat.frame if self.beat is not None else "") or "count-in"

    @property
    def here(self) -> int:
        """The bar shown large: the sounding one, in the count-in the first to come, else the marked one."""
        if not self.sounding:
            return self.cursor
        sounds = self.waiting or self.beat
        assert sounds is not None
        return min(sounds.index, len(self.stand.bars) - 1)

    @property
    def chord_no(self) -> int:
        """Which chord of the bar `here` is on, from 0."""
        if self.waiting is not None:
            return self.waiting.chord
        if not self.sounding or self.beat is None:
            return 0
        bar = self.stand.bars[self.here]
        tick = self.beat.pulse * bar.meter.pulse_ticks
        started = [number for number, placed in enumerate(bar.chords) if bar.meter.ticks(placed.beat) <= tick]
        return started[-1] if started else 0

    @property
    def now(self) -> tuple[PlacedChord, Choice]:
        """The chord with its shell, whatever the cues: to be drawn by draw.cues only."""
        return self.stand.choices_at(self.here)[self.chord_no]

    @property
    def coming_chord(self) -> ChordIndex:
        """The chord to prepare: in the count-in the first. How many chords a hidden bar has is not told: there it is the first of the next
        bar."""
        if self.counting_in:
            return self.here, 0
        hidden = self.cue(self.here) < Cue.ROOT
        if not hidden and self.chord_no + 1 < len(self.stand.bars[self.here].chords):
            return self.here, self.chord_no + 1
        return self._next_index, 0

    @property
    def coming(self) -> tuple[PlacedChord, Choice, int]:
        """The chord to prepare, and how many beats off the bar line it comes in (its beat, from 1)."""
        index, number = self.coming_chord
        placed, choice = self.of_coming.stand.choices_at(index)[number]
        return placed, choice, int(placed.beat) + 1

    @property
    def of_coming(self) -> View:
        """The view that has the chord to prepare: at the loop's end the one in the next key, where there is one."""
        loop = self.stand.loop
        if self.next_stand is None or self.counting_in or self.here != loop[-1] or self.coming_chord != (loop[0], 0):
            return self
        return replace(self, stand=self.next_stand)

    @property
    def _next_index(self) -> int:
        """A try at the target plays only the loop's end: it follows on the whole loop's last bar."""
        last = self.beat is not None and self.beat.position == len(self.stand.loop) - 1
        if self.drill is not None and last and self.drill.next_pass.probe:
            return self.drill.next_pass.loop[0]
        return self.stand.next_index(self.here)

    # --- what a drill hides

    @property
    def hides(self) -> bool:
        """Whether a drill is on that takes cues away."""
        return self._hiding is not None

    @property
    def _hiding(self) -> Drill | None:
        drill = self.drill
        return drill if drill is not None and (drill.fade or drill.two_ways) and not drill.finished else None

    @property
    def offers(self) -> dict[str, str]:
        """The actions that are offered now, by name, with a word or two for each."""
        offers = {"next-item": "today's next"} if self.item_done else {}
        return offers | ({"alone": "back"} if self.came_from else {"alone": "what slipped"} if self.alone else {})

    @property
    def tells(self) -> bool:
        """Whether the summary stands where chord and keys are else: while nothing is played or asked."""
        return bool(self.summary) and not self.playing and not self.asking

    @property
    def is_dark(self) -> bool:
        """Silent recall is being played: nothing is shown but the beat."""
        return self.playing and self._hiding is not None and self._hiding.is_dark and self.peeked is None

    def cue(self, index: int) -> Cue:
        """What may be shown of a bar of the chorus."""
        drill = self._hiding
        if drill is None or index == self.peeked or (self.asking and drill.is_one_pass):
            return FULL
        if index in (self.here, self._next_index):
            return drill.cue(index)
        # The same bar of a section that comes again would give away what is hidden: it shows no more than the least.
        place = self.stand.place_of(index, 0)
        return min(drill.cue(twin) for twin in (index, *drill.loop) if self.stand.place_of(twin, 0) == place)

    @property
    def tempo_bpm(self) -> float:
        """Of the bar that sounds, else of the next pass."""
        if self.sounding and self.beat is not None:
            return self.beat.tempo_bpm
        return self.drill.next_pass.tempo_bpm if self.drill is not None and self.drill.climb else self.stand.tempo_bpm
