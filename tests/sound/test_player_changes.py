"""What is changed while the player plays: the tempo, and another loop at the next bar. On a clock turned by hand: no test here sleeps."""

from __future__ import annotations

import pytest

from companion.groove.model import Click
from companion.groove.timeline import timeline
from companion.sound.messages import (
    BeatReport,
    Load,
    Play,
    SetTempo,
    Started,
)
from companion.sound.player import START_S


def test_tempo_changes_on_the_next_beat_and_nothing_before_moves(stage, make_loop):
    stage.do(Load(make_loop(0, 1)), Play(60))
    start_s = stage.of(Started)[0].time_s
    stage.run(5.5)
    stage.do(SetTempo(120))
    stage.run(4)
    due = [beat.due_s - start_s for beat in stage.of(BeatReport)]
    assert due == pytest.approx([0, 1, 2, 3, 4, 5, 6, 6.5, 7, 7.5, 8, 8.5, 9], abs=1e-9)
    assert [beat.tempo_bpm for beat in stage.of(BeatReport)][5:8] == [60, 120, 120]


def test_tempo_change_at_the_bar_line(stage, make_loop):
    stage.do(Load(make_loop(0, 1)), Play(60))
    start_s = stage.of(Started)[0].time_s
    stage.run(5.5)
    stage.do(SetTempo(120, at="bar"))
    stage.run(4)
    due = [beat.due_s - start_s for beat in stage.of(BeatReport)]
    assert due[4:] == pytest.approx([4, 5, 6, 7, 8, 8.5, 9], abs=1e-9)


def test_the_last_of_several_tempo_changes_wins(stage, make_loop):
    stage.do(Load(make_loop(0, 1)), Play(60))
    stage.run(5.5)
    stage.do(SetTempo(90, at="bar"), SetTempo(100), SetTempo(120))
    stage.run(5)
    assert {beat.tempo_bpm for beat in stage.of(BeatReport)[6:]} == {120}


def test_swing_follows_a_tempo_change(stage, make_loop):
    arrangement = make_loop(0, parts=("click", "bass", "left"), pattern="charleston", count_in_bars=0)
    stage.do(Load(arrangement), Play(120))
    stage.run(4.5)
    stage.do(SetTempo(280, at="bar"))
    stage.run(8)
    after = timeline(arrangement, [280])
    ticks = [event.tick for event in after.events if event.part == "left" and event.note == 41]
    offsets = after.seconds(tuple(ticks))
    due = [due_s for due_s, note in stage.struck("left") if note == 41][-4:]
    assert due[1] - due[0] == pytest.approx(offsets[1] - offsets[0], abs=1e-9) or due[2] - due[1] == pytest.approx(
        offsets[1] - offsets[0], abs=1e-9
    )


@pytest.mark.parametrize(
    ("old", "sounding", "new", "expected"),
    [
        ((0, 1, 2, 3), 1, (0, 1, 2, 3), 2),  # the same loop goes on
        ((0, 1, 2, 3), 1, (2, 3), 2),  # the bar after the sounding one is in the new loop
        ((0, 1, 2, 3), 3, (0, 1), 0),  # it is not: from the start
        ((0, 1), 1, (0, 1, 2, 3), 2),  # a longer loop: the music goes on instead of turning back
        ((0, 1, 2, 3), 3, (4, 5), 4),
        ((4, 5), 5, (5, 4), 4),  # playing order, not number
    ],
)
def test_a_new_loop_is_taken_up_at_the_next_bar(stage, make_loop, old, sounding, new, expected):
    stage.do(Load(make_loop(*old, count_in_bars=0)), Play(240))
    stage.run(START_S + 0.5 + old.index(sounding))
    stage.do(Load(make_loop(*new)))
    stage.run(1)
    assert [beat.index for beat in stage.of(BeatReport) if beat.pulse == 0][-2:] == [sounding, expected]


def test_a_change_that_comes_too_late_to_work_out_waits_one_bar(stage, make_loop):
    stage.do(Load(make_loop(0, 1, 2, 3, count_in_bars=0)), Play(240))
    stage.run(START_S + 0.9999)
    stage.do(Load(make_loop(0, 1, 2, 3, click=Click("off"))))
    stage.now_s += stage.player.gap_s()
    stage.player.advance()  # without the time to prepare
    assert stage.struck("click")[-1][0] == pytest.approx(stage.now_s)
    stage.run(1.5)
    assert stage.struck("click")[-1][0] < stage.now_s - 0.6
