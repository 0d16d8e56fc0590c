"""Does the left hand run by itself? What it loses under the melody, told after each pass with both hands, against what was put in."""

from __future__ import annotations

import random
from collections import defaultdict
from dataclasses import replace
from datetime import UTC, date, datetime
from statistics import median

import pytest
from desk import nothing, play, put, right
from session_songs import SUNG

from companion.practice.marking.robust import qn
from companion.practice.model import PassRecord
from companion.practice.planning.by_itself import (
    ASK_ALONE,
    HandFigures,
    Loss,
    loss_of,
    runs_by_itself,
    weeks_words,
)
from companion.session.outcome import PassResult


def human(seed: int, spread_ms: float, late_ms: float = 0.0, drops: float = 0.0, melody_ms: float = 8.0):
    """A pair of hands: the left one's strikes spread so far about so far behind the beat; a share of its chords is left out."""
    rng = random.Random(seed)
    dropped: dict[object, bool] = {}
    put_in: dict[int, list[float]] = defaultdict(list)

    def hands(moment):
        strike = moment.expected
        if strike.part == "right":
            return [(rng.gauss(0.0, melody_ms / 1000.0), note) for note in strike.notes]
        chord = moment.turn, strike.group
        if dropped.setdefault(chord, rng.random() < drops):
            return nothing(moment)
        off_ms = rng.gauss(late_ms, spread_ms)
        put_in[moment.turn] += [off_ms] * len(strike.notes)
        return [(off_ms / 1000.0, note) for note in strike.notes]

    hands.put_in = put_in  # ms, of the left hand, by pass
    return hands


@pytest.fixture
def stand(settings):
    return put(SUNG, settings, pattern="four").with_tempo(80.0)


def passes(practise, stand, hands, count):
    desk = play(practise(hands, stand=stand, keyboard=True), count)
    return desk.practice


@pytest.mark.parametrize(
    ("spread_ms", "late_ms", "drops", "small"),
    [(10.0, 0.0, 0.0, True), (30.0, 0.0, 0.0, False), (10.0, 35.0, 0.0, False), (12.0, 0.0, 0.3, False)],
)
def test_the_loss_is_what_was_put_in(practise, log, stand, spread_ms, late_ms, drops, small) -> None:
    before, now = human(1, 10.0), human(2, spread_ms, late_ms, drops)
    passes(practise, stand, before, 3)
    practice = passes(practise, stand.with_hands("both"), now, 2)
    alone, both = log.passes(hands="left"), log.passes(hands="both")
    losses = [loss_of(record, alone) for record in both]
    usual = [median(figure(before.put_in[turn]) for turn in range(3)) for figure in (qn, median)]
    for turn, (record, loss) in enumerate(zip(both, losses, strict=True)):
        slipped = [row for row in record.chords if row.get("part", "left") == "left" and row["verdict"] != "right"]
        assert loss.share == pytest.approx(len(slipped) / 9, abs=1e-3)
        assert loss.spread_ms == pytest.approx(qn(now.put_in[turn]) - usual[0], abs=0.3)
        assert loss.late_ms == pytest.approx(median(now.put_in[turn]) - usual[1], abs=0.3)
    assert all(loss.is_small() for loss in losses) == small
    lines = practice.result.lines
    assert ("it runs by itself" in " ".join(lines)) == losses[-1].is_small()
    proposed = [line for line in lines if line.startswith("The next layer may come")]
    assert bool(proposed) == small == runs_by_itself(both, alone)


def test_without_a_pass_of_the_left_hand_alone_it_is_asked_for(practise, stand) -> None:
    practice = passes(practise, stand.with_hands("both"), right, 1)
    assert ASK_ALONE in practice.result.lines
    practice = passes(practise, stand, right, 1)
    assert ASK_ALONE not in practice.result.lines and "under the melody" not in " ".join(practice.result.lines)


def test_only_like_is_compared_with_like(practise, log, stand) -> None:
    passes(practise, stand.change(pattern="whole"), right, 1)
    passes(practise, stand.with_tempo(100.0), right, 1)
    passes(practise, stand.with_loop((4, 5, 6, 7), "B"), right, 1)
    both = passes(practise, stand.with_hands("both").with_loop((0, 1, 2, 3), "A"), right, 1)
    assert ASK_ALONE in both.result.lines
    assert len(log.passes(hands="left")) == 3


def test_a_new_layer_is_a_new_question(practise, log, stand) -> None:
    """A swung melody on top: two good passes with the straight one say nothing of it."""
    passes(practise, stand, right, 1)
    passes(practise, stand.with_hands("both"), right, 2)
    alone, both = log.passes(hands="left"), log.passes(hands="both")
    assert runs_by_itself(both, alone)
    swung = [replace(both[-1], by_hand=both[-1].by_hand | {"layer": "swung melody"}), both[-1]]
    assert not runs_by_itself([*both, swung[0]], alone)
    assert runs_by_itself([*both, swung[0], swung[0]], alone)


def test_how_large_a_loss_is_small_may_be_set(practise, stand, log) -> None:
    loss = Loss(HandFigures(1.0, 0.0, 10.0), HandFigures(0.9, 0.0, 10.0), 0.6)
    assert not loss.is_small() and loss.is_small(0.1) and not loss.is_small(0.05)
    passes(practise, stand, right, 1)
    desk = play(practise(human(5, 5.0, drops=0.2), stand=stand.with_hands("both"), keyboard=True, most_loss=0.5), 1)
    assert "it runs by itself" in " ".join(desk.practice.result.lines)


def test_the_weeks_are_looked_back_on() -> None:
    """Monday the 2nd and the 9th of November 2026, with a pass alone before."""

    def record(day: int, hands: str, share: float, **by_hand) -> PassRecord:
        at = datetime(2026, 11, day, 18, 0, tzinfo=UTC).isoformat(timespec="milliseconds")
        left = {"left": {"share_right": share, "offset_ms": 5.0, "spread_ms": 20.0}} if hands == "both" else {}
        return PassRecord(
            id=f"{day}{hands}", started_at=at, duration_s=20.0, song_id="x", title="X", key="C", loop_name="A", loop=(0, 1),
            sections=("A",), tempo_bpm=80.0, target_bpm=120.0, pattern="four", hands=hands, kind="play", round=0, cues=1.0,
            source="heard", fact="ran", share_right=share, clean=True, slipped=(), offset_ms=0.0, spread_ms=12.0, by_hand=left,
        )  # fmt: skip

    alone = [record(1, "left", 1.0)]
    both = [record(3, "both", 0.9), record(5, "both", 0.8), record(10, "both", 1.0)]
    assert weeks_words(both, alone, date(2026, 11, 12), UTC) == (
        "week of Nov 2: 15 % of the chords lost, spread +8 ms, +5 ms in time",
        "week of Nov 9: no chord lost, spread +8 ms, +5 ms in time",
    )
    assert PassResult(both[0], ()).record.by_hand["left"]["share_right"] == 0.9
