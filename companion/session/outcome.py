"""How a pass went: heard or told, its line in the log, and what the student is shown of it."""

from __future__ import annotations

from dataclasses import dataclass

from companion.practice.marking.summary import ChangeCost, heard_chords, pass_lines, weakest_changes
from companion.practice.model import PassMarks, PassRecord
from companion.session.drill import Drill, NextPass
from companion.session.passes import ANSWERS, PassEar, Told, make_record, symbol_at

MOST_CHANGES = 3  # in the summary of a pass


@dataclass(frozen=True, slots=True)
class Outcome:
    """source: "heard" or "told". answer: the student's words, "" where nothing was said. slipped: indices of bars in the chorus. marks: None
    where it was not heard."""

    source: str
    answer: str = ""
    share_right: float = 0.0
    slipped: frozenset[int] = frozenset()
    marks: PassMarks | None = None

    @property
    def tells(self) -> bool:
        """Whether it says anything of how well the bars are known, so that it moves a drill."""
        return self.marks is not None or bool(self.answer)

    @property
    def drill_share(self) -> float:
        """The share that a drill is told: 0 where extra keys lay about, so that the pass is not clean."""
        return 0.0 if self.marks is not None and self.marks.is_littered else self.share_right


UNHEARD = Outcome("told")


def fitting_answer(share_right: float) -> Told:
    """The answer that says no more than the share of right bars does."""
    return next((answer for answer in ANSWERS if answer.share <= share_right), ANSWERS[-1])


def heard(marks: PassMarks) -> Outcome:
    """Of a pass that was marked."""
    return Outcome("heard", "", marks.figures.share_right, marks.slipped_bars(), marks)


@dataclass(frozen=True, slots=True)
class PassResult:
    """A pass that is over. lines: the summary for the screen. changes: the chord changes that cost most. marks: None where it was told."""

    record: PassRecord
    lines: tuple[str, ...]
    changes: tuple[ChangeCost, ...] = ()
    marks: PassMarks | None = None


def record_of(
    ear: PassEar,
    drill: Drill,
    played: NextPass,
    outcome: Outcome,
    hands: str,
    duration_s: float,
    *,
    broken: bool = False,
) -> PassRecord:
    """The pass for the log. drill: as it was while the pass was played. played: what the drill had planned. broken: a fault cut it off."""
    assert ear.began_at is not None  # it was begun by the practice, which says when
    peeked = drill.fade.peeked if drill.fade else frozenset()
    return make_record(
        ear.stand,
        played.loop,
        started_at=ear.began_at,
        duration_s=duration_s,
        tempo_bpm=ear.tempo_bpm,
        kind=f"{drill.kind}+probe" if played.probe else drill.kind,
        round_=drill.round,
        cues=drill.cues(played.loop),
        source=outcome.source,
        answer=outcome.answer,
        share_right=outcome.share_right,
        clean=outcome.tells and drill.is_clean(outcome.slipped, outcome.drill_share),
        slipped=(outcome.slipped | peeked) & frozenset(played.loop),
        marks=outcome.marks,
        hands=hands,
        broken=broken,
    )


def result_of(ear: PassEar, record: PassRecord, marks: PassMarks | None, reason: str) -> PassResult:
    """reason: why the drill moved what it moved, "" for nothing."""
    if marks is None:
        words = f"{record.answer}." if record.answer else ""
        return PassResult(record, tuple(filter(None, (words, reason))))
    symbols = {(mark.index, mark.chord): symbol_at(ear.stand, mark.index, mark.chord) for mark in marks.chords}
    changes = tuple(weakest_changes([heard_chords(marks.chords, symbols)], MOST_CHANGES))
    lines = pass_lines(marks, ear.beat_s, changes)
    return PassResult(record, (*lines, reason) if reason else lines, changes, marks)
