"""The player on a clock turned by hand: no test here sleeps."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from recording_output import RecordingOutput
from shipped import spread

from companion.errors import GrooveError, SoundError
from companion.groove.model import PARTS, Click, Strike
from companion.groove.timeline import timeline
from companion.sound.messages import (
    BeatReport,
    Finished,
    Load,
    Notice,
    Play,
    Sample,
    SetTempo,
    SetVolume,
    Started,
    Stop,
    Voice,
    default_voices,
)
from companion.sound.player import LATE_S, START_S
from companion.theory.meter import Meter


def test_first_beat_comes_at_once_and_is_told(stage, make_loop):
    stage.do(Load(make_loop(0, 1)), Play(120))
    asked_s = stage.now_s
    assert stage.of(Started) == [Started(asked_s + START_S)]
    stage.run(0.05)
    assert START_S < 0.1
    assert stage.struck("click") == [(asked_s + START_S, 76)]
    assert stage.of(BeatReport)[0] == BeatReport(asked_s + START_S, -1, 0, -1, 0, 4, 120)


METERS, TEMPI_BPM = (Meter(4, 4), Meter(3, 4), Meter(5, 4), Meter(6, 8), Meter(12, 8)), (40, 97.3, 126, 300)


@pytest.mark.parametrize("pace", spread([(meter, tempo_bpm) for meter in METERS for tempo_bpm in TEMPI_BPM], 3))
def test_beat_n_is_due_exactly_at_the_start_plus_n_beats(stage, make_loop, pace):
    meter, tempo_bpm = pace
    stage.do(Load(make_loop(0, 1, 2, meter=meter)), Play(tempo_bpm))
    start_s = stage.of(Started)[0].time_s
    stage.run(600)
    beats = stage.of(BeatReport)
    assert len(beats) >= 600 * tempo_bpm / 60 - 1
    for number, beat in enumerate(beats):
        assert beat.due_s == pytest.approx(start_s + number * 60 / tempo_bpm, abs=1e-9)


def test_events_are_those_of_the_timeline(stage, make_loop):
    """The flat timeline, worked out in one go, is the reference for what the bars played one by one come to."""
    arrangement = make_loop(0, 1, 2, 3, bass="walking", parts=("click", "bass", "left"), pattern="charleston", seed=5)
    whole = timeline(arrangement, [132] * 3)
    stage.do(Load(arrangement), Play(132, turns=3))
    start_s = stage.of(Started)[0].time_s
    stage.run(60)
    for voice in ("bass", "left"):
        events = [event for event in whole.events if event.part == voice]
        due = whole.seconds(tuple(event.tick for event in events))
        assert [note for _, note in stage.struck(voice)] == [event.note for event in events]
        assert [due_s - start_s for due_s, _ in stage.struck(voice)] == pytest.approx(due, abs=1e-9)
    assert not stage.hanging()


def test_lead_in_and_ending_are_played_once(stage, make_loop):
    """Against the flat timeline: count-in, lead-in with the pickup in it, two passes, ending; the hands' parts too."""
    written = Strike("right", 480, 3360, (72,), goes_on=True), Strike("right", 0, 960, (72,), held=True)
    bars = make_loop(0, 1, 2, 3).bars
    loop = tuple(replace(bar, written=(strike,)) for bar, strike in zip(bars[:2], written))
    arrangement = replace(
        make_loop(0, bass="walking", seed=3, pattern="charleston", count_in_bars=1),
        bars=loop,
        parts=PARTS,
        lead_in=(replace(bars[2], index=-1), replace(bars[3], index=-1)),
        ending=(replace(bars[3], index=-1),),
        pickup_ticks=960,
        pickup=(Strike("right", -960, 480, (67,)), Strike("right", -480, 480, (69,))),
    )
    whole = timeline(arrangement, [132, 132])
    stage.do(Load(arrangement), Play(132, turns=2))
    start_s = stage.of(Started)[0].time_s
    stage.run(60)
    for part in ("bass", "left", "right"):
        events = [event for event in whole.events if event.part == part]
        due = whole.seconds(tuple(event.tick for event in events))
        assert [note for _, note in stage.struck(part)] == [event.note for event in events]
        assert [due_s - start_s for due_s, _ in stage.struck(part)] == pytest.approx(due, abs=1e-9)
    assert [note for _, note in stage.struck("right")] == [67, 69, 72, 72]
    lines = [(beat.turn, beat.position, beat.index) for beat in stage.of(BeatReport) if beat.pulse == 0]
    assert lines == [(-1, 0, -1), (-1, 0, -1), (-1, 1, -1), (0, 0, 0), (0, 1, 1), (1, 0, 0), (1, 1, 1), (-1, 0, -1)]
    assert len(stage.of(Finished)) == 1 and not stage.hanging()


def test_an_ending_slows_down_pulse_by_pulse(stage, make_loop):
    """Against the flat timeline, whose marks have each tempo; v of Friberg and Sundberg 1999 to half the tempo with q = 3."""
    shares = ((110.5 / 120, 99.1 / 120, 84.1 / 120, 0.5), (0.5, 0.5, 0.5, 0.5))
    loop = make_loop(0, 1, bass="walking", parts=("click", "bass", "left"), seed=2)
    ending = tuple(replace(bar, index=-1, shares=slow) for bar, slow in zip(make_loop(2, 3).bars, shares))
    arrangement = replace(loop, ending=ending)
    whole = timeline(arrangement, [120])
    stage.do(Load(arrangement), Play(120, turns=1))
    start_s = stage.of(Started)[0].time_s
    stage.run(60)
    for part in ("click", "bass", "left"):
        events = [event for event in whole.events if event.part == part]
        due = whole.seconds(tuple(event.tick for event in events))
        assert [due_s - start_s for due_s, _ in stage.struck(part)] == pytest.approx(due, abs=1e-9)
    told = [beat.tempo_bpm for beat in stage.of(BeatReport)][-8:]
    assert told == pytest.approx([110.5, 99.1, 84.1, 60, 60, 60, 60, 60]) and not stage.hanging()


def test_from_the_middle_of_the_loop_there_is_no_lead_in(stage, make_loop):
    bars = make_loop(0, 1, 2).bars
    stage.do(Load(replace(make_loop(0, 1), lead_in=bars[2:], count_in_bars=1)), Play(240, turns=1, first_bar=1))
    stage.run(20)
    assert [(beat.turn, beat.position) for beat in stage.of(BeatReport) if beat.pulse == 0] == [(-1, 0), (0, 1)]


def test_everything_is_sent_when_due_and_never_before(make_stage, make_loop):
    for lead_s in (0.0, 0.08):
        stage = make_stage(lead_s)
        stage.do(Load(make_loop(0, 1, bass="walking", parts=("click", "bass", "left"))), Play(200))
        stage.run(20)
        late_s = [sent_s - due_s + lead_s for due_s, sent_s, sound in stage.output.sent if "note" in sound.what]
        # The very first beat comes START_S after Play, which is sooner than a long lead.
        assert min(late_s) >= -1e-9 and max(late_s) <= max(0, lead_s - START_S) + 1e-9
        assert max(late_s[5:]) <= 1e-9


def test_finite_turns_end_with_finished_on_the_bar_line(stage, make_loop):
    stage.do(Load(make_loop(0, 1, bass="roots")), Play(60, turns=2))
    start_s = stage.of(Started)[0].time_s
    stage.run(100)
    assert [report.time_s for report in stage.of(Finished)] == pytest.approx([start_s + (1 + 2 * 2) * 4])
    assert [(beat.turn, beat.position) for beat in stage.of(BeatReport)[::4]] == [
        (-1, 0),
        (0, 0),
        (0, 1),
        (1, 0),
        (1, 1),
    ]
    assert not stage.player.playing and not stage.hanging()
    assert math.isinf(stage.player.gap_s())


def test_no_count_in_and_first_bar(stage, make_loop):
    stage.do(Load(make_loop(4, 5, 6, count_in_bars=0)), Play(120, first_bar=1))
    stage.run(3)
    assert [(beat.turn, beat.position, beat.index) for beat in stage.of(BeatReport)[::4]] == [(0, 1, 5), (0, 2, 6)]


def test_two_bars_of_count_in_click_even_where_the_click_is_off(stage, make_loop):
    stage.do(Load(make_loop(0, count_in_bars=2, click=Click("off"))), Play(120))
    stage.run(10)
    assert [note for _, note in stage.struck("click")] == [76, 77, 76, 77, 77, 77]  # on 1 and 3, then on all four
    assert [beat.position for beat in stage.of(BeatReport)[:8:4]] == [0, 1]


def test_stop_silences_at_once(stage, make_loop):
    stage.do(Load(make_loop(0, 1, parts=("click", "bass", "left"))), Play(120))
    stage.run(2.4)
    assert stage.hanging()
    stage.do(Stop())
    assert not stage.hanging() and stage.output.silenced == 2  # once before Play, once now
    assert stage.of(Finished)[-1].time_s == stage.now_s
    sent = len(stage.output.sent)
    stage.run(10)
    assert len(stage.output.sent) == sent
    stage.do(Stop())
    assert len(stage.of(Finished)) == 1


def test_volume_scales_the_next_note_and_nought_is_no_note(stage, make_loop):
    stage.do(Load(make_loop(0, count_in_bars=0, bass="off")), Play(120))
    stage.run(START_S + 0.1)
    stage.do(SetVolume("click", 0.4))
    stage.run(0.5)
    stage.do(SetVolume("click", 0.0))
    stage.run(0.5)
    velocities = [sound.value for _, _, sound in stage.output.sent if sound.what == "note_on"]
    assert velocities[0] == round(112 * 0.8) and velocities[1] == round(88 * 0.4) and len(velocities) == 2


def test_sample_sounds_two_notes_once_while_stopped_and_while_playing(stage, make_loop):
    stage.do(Sample((41, 51), 0.5))
    stage.run(0.4)
    assert stage.hanging() == {(1, 41), (1, 51)}
    stage.run(0.2)
    assert not stage.hanging()
    stage.do(Load(make_loop(0, parts=("click", "bass", "left"), pattern="whole")), Play(120))
    stage.run(2.3)
    stage.do(Sample((41, 51), 0.2))  # the same notes are sounding already
    stage.run(20)
    stage.do(Stop())
    assert not stage.hanging()


@pytest.mark.parametrize("before_s", [0.5, 0.002, 0.001, 0.0])
def test_a_sample_that_ends_before_a_beat_does_not_bring_it_early(stage, make_loop, before_s):
    stage.do(Load(make_loop(0)), Play(60))
    stage.run(1.2)
    beat_s = 1000 + START_S + 2
    stage.do(Sample((53, 57), beat_s - before_s - stage.now_s))
    stage.run(3)
    early = [(due_s, sent_s) for due_s, sent_s, _ in stage.output.sent if sent_s < due_s - 1e-6]
    assert not early and not {note for _, note in stage.hanging()} & {53, 57}


def test_play_without_bars_is_said(stage):
    stage.do(Play(120))
    assert [notice.kind for notice in stage.of(Notice)] == ["error"]
    assert not stage.player.playing


def test_what_cannot_be_played_is_refused_and_what_plays_goes_on(stage, make_loop):
    stage.do(Load(make_loop(0)), Play(120))
    stage.run(3)
    for message in (Load(make_loop(0, bass="tuba")), SetTempo(0), Play(float("nan"))):
        with pytest.raises((GrooveError, SoundError)):
            stage.do(message)
    beats = len(stage.of(BeatReport))
    stage.run(2)
    assert len(stage.of(BeatReport)) == beats + 4


def test_programs_are_sent_before_the_first_note(stage, make_loop):
    stage.do(Load(make_loop(0)), Play(120))
    stage.run(1)
    whats = [sound.what for _, _, sound in stage.output.sent]
    first = whats.index("note_on")
    assert whats[:first].count("program") == 3
    assert {(sound.channel, sound.note) for _, _, sound in stage.output.sent if sound.what == "program"} == {
        (1, 1),
        (2, 33),
        (3, 12),
    }


def test_after_a_stall_old_notes_are_left_out_and_time_goes_on(stage, make_loop):
    stage.do(Load(make_loop(0, 1, parts=("click", "bass", "left"))), Play(240))
    stage.run(3)
    before = len(stage.struck("click"))
    stage.now_s += 0.9  # short: the beat keeps its place, what is too late is left out
    stage.player.advance()
    assert all(sent_s - due_s <= LATE_S + 1e-9 for due_s, sent_s, sound in stage.output.sent if sound.what == "note_on")
    assert len(stage.struck("click")) - before <= 2
    stage.now_s += 3600  # the laptop slept
    stage.player.advance()
    beats = len(stage.of(BeatReport))
    stage.run(5)
    assert len(stage.of(BeatReport)) - beats < 30
    stage.do(Stop())
    assert not stage.hanging()


def test_another_output_takes_over_in_time(stage, make_loop):
    stage.do(Load(make_loop(0, 1, parts=("click", "bass", "left"))), Play(120))
    start_s = stage.of(Started)[0].time_s
    stage.run(3.2)

    class Frames(RecordingOutput):
        """Counts from nought at perf_counter 990."""

        def heard_s(self, at_s: float) -> float:
            return at_s + 990

        def clock_s(self, heard_s: float) -> float:
            return heard_s - 990

    other = Frames(lambda: stage.now_s - 990, lead_s=0.05)
    stage.player.switch(other, default_voices() | {"click": Voice(10, 0, 37, 37, 1.0)})
    assert not stage.hanging()
    stage.run(3)
    clicks = [due_s + 990 - start_s for due_s, _, sound in other.sent if sound.what == "note_on" and sound.note == 37]
    assert clicks == pytest.approx([3.5, 4, 4.5, 5, 5.5, 6], abs=1e-9)
    assert [beat.due_s - start_s for beat in stage.of(BeatReport)] == pytest.approx(
        [n / 2 for n in range(13)], abs=1e-9
    )


_LOOPS = st.tuples(
    st.integers(0, 5),
    st.integers(1, 5),
    st.sampled_from([Meter(4, 4), Meter(3, 4), Meter(6, 8)]),
    st.sampled_from(["roots", "two-feel", "walking", "off"]),
    st.sampled_from(["four", "whole"]),
    st.booleans(),
    st.integers(0, 2),
)
_COMMANDS = st.one_of(
    st.tuples(st.just("load"), _LOOPS),
    st.builds(Play, st.floats(30, 320), st.integers(0, 3), st.integers(0, 6)),
    st.just(Stop()),
    st.builds(SetTempo, st.floats(30, 320), st.sampled_from(["beat", "bar"])),
    st.builds(SetVolume, st.sampled_from(["click", "bass", "left"]), st.floats(0, 1)),
    st.builds(Sample, st.just((41, 51)), st.floats(0.01, 3)),
)


# The fixtures used here are functions without state.
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(_COMMANDS, st.floats(0, 4)), max_size=12), st.sampled_from([0.0, 0.08]))
def test_every_note_on_has_its_note_off_whatever_is_asked(make_stage, make_loop, script, lead_s):
    stage = make_stage(lead_s)
    for command, seconds in script:
        if isinstance(command, tuple):
            first, count, meter, bass, pattern, demonstrate, count_in_bars = command[1]
            command = Load(
                make_loop(
                    *range(first, first + count),
                    meter=meter,
                    bass=bass,
                    pattern=pattern,
                    parts=("click", "bass", "left") if demonstrate else ("click", "bass"),
                    count_in_bars=count_in_bars,
                )
            )
        stage.do(command)
        stage.run(seconds)
    stage.do(Stop())
    assert not stage.hanging()
    due = [beat.due_s for beat in stage.of(BeatReport)]
    assert due == sorted(due)
