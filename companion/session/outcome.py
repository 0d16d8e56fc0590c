"""How a pass went: heard or told, its record for the log, and what the student is shown of it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from uuid import uuid4

from companion.base.text import plural
from companion.practice.facts import BROKE_OFF, RAN, SLIPPED, UNTOLD, Facts, facts_of
from companion.practice.marking.apart import by_hand, together_of
from companion.practice.marking.ornaments import ornament_words
from companion.practice.marking.summary import ChangeCost, heard_chords, pass_lines, weakest_changes
from companion.practice.marking.swinging import onsets_of, swinging
from companion.practice.model import ChordMark, PassMarks, PassRecord
from companion.practice.planning.layers import layer_name
from companion.session.after_pass import NO_ADVICE, Advice, of_slips
from companion.session.drill import Drill, NextPass
from companion.session.layers import layers_on
from companion.session.passes import PassEar
from companion.session.stand import Stand

MOST_CHANGES = 3  # in the summary of a pass
# What is shown of a told pass; where bars slipped, these are named.
TOLD_WORDS = {RAN: "It ran.", BROKE_OFF: "It broke off."}


@dataclass(frozen=True, slots=True)
class Outcome:
    """source: "heard" or "told". fact: one of practice/facts.py, "" where nothing was said. slipped: indices of bars in the chorus. marks: None
    where it was not heard. heard_by: as in PassRecord."""

    source: str
    fact: str = UNTOLD
    share_right: float = 0.0
    slipped: frozenset[int] = frozenset()
    marks: PassMarks | None = None
    heard_by: str = ""

    @property
    def tells(self) -> bool:
        """Whether it says anything of how well the bars are known, so that it moves a drill."""
        return self.fact != UNTOLD

    @property
    def drill_share(self) -> float:
        """The share that a drill is told: that of the worse hand, 0 where one was disturbed, so that the pass is not clean."""
        hands = by_hand(self.marks).values() if self.marks is not None else ()
        shares = (0.0 if hand.is_disturbed else hand.figures.share_right for hand in hands)
        return min(shares, default=self.share_right)

    def slipped_hands(self, pass_share: float) -> tuple[str, ...] | None:
        """The hands that did not pass: too little right, too much disturbed, or late against the other one over the pass. None where it was
        not heard."""
        if self.marks is None:
            return None
        together = together_of(self.marks)
        late = together.late_hand if together is not None else ""
        return tuple(
            part
            for part, own in by_hand(self.marks).items()
            if own.is_disturbed or own.figures.share_right < pass_share - 1e-9 or part == late
        )


UNHEARD = Outcome("told")


def heard(marks: PassMarks, by: str = "") -> Outcome:
    """Of a pass that was marked. by: as PassRecord.heard_by."""
    slipped = marks.slipped_bars()
    return Outcome("heard", facts_of(slipped).fact, marks.figures.share_right, slipped, marks, by)


def told(facts: Facts, loop: Collection[int]) -> Outcome:
    """Of a pass that the student tells of. loop: indices in the chorus of the bars that were played."""
    return Outcome("told", facts.fact, facts.share_right(loop), facts.slipped & frozenset(loop))


@dataclass(frozen=True, slots=True)
class PassResult:
    """A pass that is over. lines: the summary for the screen. changes: the chord changes that cost most. marks: None where it was told.
    advice: what to do about it."""

    record: PassRecord
    lines: tuple[str, ...]
    changes: tuple[ChangeCost, ...] = ()
    marks: PassMarks | None = None
    advice: Advice = NO_ADVICE


@dataclass(frozen=True, slots=True)
class PlayedPass:
    """A pass while it was played. started_at: aware of its zone. loop: indices in the chorus. kind: as in the log. round: of the fading drill, 0 without. cues: the mean strength of those shown, 0 to 1. broken: a fault cut it off."""

    started_at: datetime
    duration_s: float
    loop: Sequence[int]
    tempo_bpm: float
    kind: str
    round: int = 0
    cues: float = 1.0
    broken: bool = False


def make_record(
    stand: Stand, played: PlayedPass, outcome: Outcome, *, clean: bool, chords: tuple[dict[str, Any], ...] | None = None
) -> PassRecord:
    """The pass as the log keeps it. clean: whether it counts as passed. chords: their rows, None for those of the marks."""
    marks = outcome.marks
    figures = marks.figures if marks else None
    if chords is None:
        chords = tuple(chord_row(stand, mark) for mark in marks.chords) if marks else ()
    return PassRecord(
        id=uuid4().hex,
        started_at=played.started_at.isoformat(timespec="milliseconds"),
        duration_s=round(played.duration_s, 3),
        song_id=stand.song.id,
        title=stand.song.title,
        key=stand.key.name,
        loop_name=stand.loop_name,
        loop=tuple(played.loop),
        sections=sections_in(stand, played.loop),
        tempo_bpm=played.tempo_bpm,
        target_bpm=stand.song.tempo_bpm,
        pattern=stand.pattern,
        hands=stand.hands,
        kind=played.kind,
        round=played.round,
        cues=played.cues,
        source=outcome.source,
        fact=outcome.fact,
        share_right=outcome.share_right,
        clean=clean,
        slipped=tuple(sorted(outcome.slipped)),
        offset_ms=figures.offset_ms if figures else None,
        spread_ms=figures.spread_ms if figures else None,
        evenness_ms=figures.evenness_ms if figures else None,
        extra=figures.extra if figures else 0,
        by_hand=_by_hand(stand, marks),
        heard_by=outcome.heard_by,
        unsure=len(marks.unsure) if marks else 0,
        broken=played.broken,
        chords=chords,
    )


def _by_hand(stand: Stand, marks: PassMarks | None) -> dict[str, Any]:
    if stand.hands != "both":
        return {}
    return hand_figures(stand, marks) if marks else {"layer": layer_name(layers_on(stand))}


def hand_figures(stand: Stand, marks: PassMarks) -> dict[str, Any]:
    """A pass with both hands, each by itself and against the other, as the log keeps it (see PassRecord)."""
    figures: dict[str, Any] = {
        part: {
            "share_right": round(own.figures.share_right, 4),
            "offset_ms": own.figures.offset_ms,
            "spread_ms": own.figures.spread_ms,
        }
        for part, own in by_hand(marks).items()
    }
    together = together_of(marks)
    figures["layer"] = layer_name(layers_on(stand))
    return figures | ({"together_ms": together.ms} if together is not None else {})


def chord_row(stand: Stand, mark: ChordMark) -> dict[str, Any]:
    """A marked chord, or note of the melody, as the log keeps it."""
    return {
        **place_row(stand, mark.index, mark.chord),
        **({"part": mark.part} if mark.part != "left" else {}),
        "verdict": mark.verdict,
        "offset_ms": None if mark.offset_ms is None else round(mark.offset_ms, 1),
        "played": [note for strike in mark.strikes for note in strike.played],
    }


def place_row(stand: Stand, index: int, chord: int) -> dict[str, Any]:
    """Where a chord stands, and what it is: the head of its row in the log."""
    bar = stand.bars[index]
    return {"index": index, "section": bar.section, "bar": bar.bar, "chord": chord, "symbol": bar.chords[chord].symbol}


def sections_in(stand: Stand, loop: Sequence[int]) -> tuple[str, ...]:
    """The sections that lie in the loop from their first bar to their last, each once."""
    inside = set(loop)
    whole: dict[tuple[str, int], bool] = {}
    for bar in stand.bars:
        place = (bar.section, bar.occurrence)
        whole[place] = whole.get(place, True) and bar.index in inside
    return tuple(dict.fromkeys(section for (section, _), complete in whole.items() if complete))


def record_of(
    ear: PassEar,
    drill: Drill,
    planned: NextPass,
    outcome: Outcome,
    duration_s: float,
    *,
    broken: bool = False,
) -> PassRecord:
    """The pass for the log. drill: as it was while the pass was played. planned: what the drill had planned. broken: a fault cut it off."""
    assert ear.began_at is not None  # it was begun by the practice, which says when
    played = PlayedPass(
        ear.began_at,
        duration_s,
        planned.loop,
        ear.tempo_bpm,
        f"{drill.kind}+probe" if planned.probe else drill.kind,
        drill.round,
        drill.cues(planned.loop),
        broken,
    )
    clean = outcome.tells and drill.is_clean(outcome.slipped, outcome.drill_share)
    peeked = drill.fade.peeked if drill.fade else frozenset()
    slipped = (outcome.slipped | peeked) & frozenset(planned.loop)
    fact = SLIPPED if outcome.fact == RAN and slipped else outcome.fact
    return make_record(ear.stand, played, replace(outcome, slipped=slipped, fact=fact), clean=clean)


def result_of(ear: PassEar, record: PassRecord, marks: PassMarks | None, reason: str) -> PassResult:
    """reason: why the drill moved what it moved, "" for nothing."""
    if marks is None:
        words = TOLD_WORDS.get(record.fact, "")
        return PassResult(record, tuple(filter(None, (words, reason))), advice=of_slips(record.slipped))
    symbols = {(mark.index, mark.chord): ear.stand.bars[mark.index].chords[mark.chord].symbol for mark in marks.chords}
    changes = tuple(weakest_changes([heard_chords(marks.chords, symbols)], MOST_CHANGES, ear.beat_s))
    places = {index: f"{ear.stand.bars[index].section} bar {ear.stand.bars[index].bar}" for index in ear.stand.loop}
    lines = pass_lines(marks, ear.beat_s, changes, places)
    swing = swinging([onsets_of(ear.arrangement, marks)]).sentence  # of a pass with the right hand
    ornaments = ornament_words([marks], ear.presses)
    unsure = f"Not sure of {plural(len(marks.unsure), 'chord')}: not counted." if marks.unsure else ""
    return PassResult(
        record, tuple(filter(None, (*lines[:1], unsure, *lines[1:], swing, ornaments, reason))), changes, marks
    )
