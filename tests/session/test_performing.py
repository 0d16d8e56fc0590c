"""A whole tune performed by simulated hands: recorded, kept as a Standard MIDI File, marked, heard again as it was played."""

from __future__ import annotations

import re
from dataclasses import replace

import mido
import pytest
from desk import put
from performed import AT, BEGAN_S, Evening
from session_songs import SUNG_FOUR

from companion.arranging.choice import ArrangementChoice
from companion.arranging.model import FORM
from companion.groove.check import validate
from companion.groove.timeline import timeline
from companion.session.arranged import arranged, ending_bars, intro_bars
from companion.session.frame_loops import ENDING, INTRODUCTION
from companion.session.performance import performance
from companion.session.performed import NOT_FOUND, keep_and_mark
from companion.session.performing import LATE_S, RINGS_S
from companion.session.recorded import TEMPO_BPM, recorded_arrangement
from companion.session.take_file import read_recording
from companion.sound.messages import BeatReport, Finished, KeyboardGone, Load, NoteIn, PedalIn, Play, Started
from companion.store.paths import find_paths
from companion.store.performances import folder_of, forget_performance, kept_performances

LONGER = SUNG_FOUR.replace('"A"', '"A A A"')


@pytest.fixture
def paths(tmp_path):
    return find_paths({"COMPANION_HOME": str(tmp_path)})


@pytest.fixture
def stand(settings):
    arranged = ArrangementChoice(intro="dominant", ending="tag")
    return put(LONGER, settings).change(hands="both", arranged=arranged)


def struck(path):
    """(second, key, velocity) by mido's own reckoning of tempo."""
    at, found = 0.0, []
    for message in mido.MidiFile(path):
        at += message.time
        if message.type == "note_on" and message.channel == 0 and message.velocity:
            found.append((at, message.note, message.velocity))
    return found


def test_the_file_has_every_key_when_and_as_loud_as_it_was_struck(stand, paths):
    evening = Evening(stand)
    evening.play("left", "right", jitter_s=0.01)
    performed = evening.performing.performed
    assert performed.whole and not evening.performing.playing
    path = keep_and_mark(stand, performed, paths).path
    played = [(time_s, key, velocity) for time_s, key, velocity in performed.keys if velocity]
    written, by_key = struck(path), lambda each: (each[1], each[0])
    assert [each[1:] for each in sorted(written, key=by_key)] == [each[1:] for each in sorted(played, key=by_key)]
    # A tick is 1/960 quarter (Standard MIDI Files 1.0): half of one at 60 a minute is half a millisecond.
    for (here, *_), (there, *_) in zip(sorted(written, key=by_key), sorted(played, key=by_key), strict=True):
        assert here == pytest.approx(there, abs=0.0006)
    assert path.parent == folder_of(paths, stand.original.id) and path.name == "2026-01-05 18.00.30.mid"


def test_the_click_is_on_its_channel_at_every_pulse_and_only_where_one_was_heard(stand, paths):
    evening = Evening(stand)
    evening.play("left")
    path = keep_and_mark(stand, evening.performing.performed, paths).path
    clicks = read_recording(path).clicks_s
    assert clicks == pytest.approx([due_s - BEGAN_S for due_s, _ in evening.pulses()], abs=0.0006)
    silent = stand.change(click=stand.click.__class__("off"), bass="off")
    evening = Evening(silent)
    evening.play("left")
    path = keep_and_mark(silent, evening.performing.performed, paths).path
    assert read_recording(path).clicks_s == ()


def test_what_is_right_is_marked_right_and_what_is_not_is_told(stand, paths):
    stand = stand.change(arranged=ArrangementChoice())
    evening = Evening(stand)
    evening.play("left", "right", jitter_s=0.012)
    kept = keep_and_mark(stand, evening.performing.performed, paths)
    words, at_length = kept.words, kept.at_length
    assert words[0].startswith("Both hands, F, tempo 120, ") and words[0].endswith("to the end.")
    left, right = (part.split() for part in words[1].rstrip(".").replace("Left hand ", "").split(", right hand "))
    assert left[0] == left[2] and right[0] == right[2], words
    evening = Evening(stand)
    evening.play("left", jitter_s=0.012)
    kept = keep_and_mark(stand, evening.performing.performed, paths)
    words, at_length = kept.words, kept.at_length
    assert words[1].startswith("Left hand 12 of 12 right") and "The right hand is missing" in at_length


def test_the_form_is_performed_as_often_as_was_chosen(stand, paths):
    stand = stand.change(arranged=ArrangementChoice(intro="vamp", ending="tag", choruses=2))
    evening = Evening(stand)
    evening.play("left", "right")
    assert evening.link.sent[-1].turns == 2 and evening.performing.performed.whole
    said = keep_and_mark(stand, evening.performing.performed, paths).words
    once = sum(len(bar.left) for bar in (*intro_bars(stand), *ending_bars(stand)))
    chords = int(re.search(r"left hand (\d+) of (\1) right", said[1], re.IGNORECASE)[1])
    assert chords == once + 2 * sum(len(groove.left) for groove in arranged(stand) if groove.stretch == FORM)


def test_played_along_so_many_times_it_is_the_whole_tune_and_its_passes_are_marked_alone(practise, stand, log):
    """As `companion play` plays it: the last pass asks for what leads into the ending, the others for what leads back."""
    stand = stand.change(arranged=ArrangementChoice(ending="held", choruses=2, ornaments=("walk",)))
    desk = practise(stand=stand, keyboard=True)
    desk.send(desk.practice.begin(passes=2))
    desk.run()
    heard = [report.frame for report in desk.reports if isinstance(report, BeatReport) and report.pulse == 0]
    assert heard.count("ending") == len(ending_bars(stand)) and heard.count("") == 1 + 2 * len(stand.bars)
    assert [(record.share_right, record.extra) for record in log.passes()] == [(1.0, 0)] * 2
    whole = performance(stand, 2)
    assert whole.last != whole.bars


def test_what_is_another_tune_is_kept_all_the_same(stand, paths):
    evening = Evening(stand)
    evening.play()
    performing = evening.performing
    performing.start()
    evening.hear(BEGAN_S + 1, Started(BEGAN_S + 1))
    for number in range(12):
        evening.hear(BEGAN_S + 2 + number, NoteIn(BEGAN_S + 2 + number, 100 + number % 2, 60, "keys"))
    performing.stop()
    kept = keep_and_mark(stand, performing.performed, paths)
    path, words, at_length = kept.path, kept.words, kept.at_length
    assert not performing.performed.whole and "broken off" in words[0]
    assert words[1] == at_length == NOT_FOUND and len(struck(path)) == 12


def test_keys_and_pedal_come_without_the_latency_and_what_was_held_before_is_none(stand):
    evening = Evening(stand, latency_s=0.1)
    evening.hear(BEGAN_S - 1, NoteIn(BEGAN_S - 1, 60, 60, "keys"))
    evening.play("left", late_s=0.1)
    evening_keys = [(time_s, key) for time_s, key, velocity in evening.performing.performed.keys if velocity]
    due = [(start, key) for start, _, key in evening.due("left")]
    assert [key for _, key in sorted(evening_keys)] == [key for _, key in sorted(due)]
    assert min(time_s for time_s, _ in evening_keys) == pytest.approx(min(start for start, _ in due))


def test_a_held_key_is_waited_for_and_a_pulled_cable_lets_it_go(stand):
    evening = Evening(stand)
    evening.play("left", until_s=3.0)
    performing = evening.performing
    evening.hear(BEGAN_S + 3, NoteIn(BEGAN_S + 3, 60, 60, "keys"))
    evening.hear(BEGAN_S + 3.1, PedalIn(BEGAN_S + 3.1, True, "keys"))
    evening.hear(BEGAN_S + 4, KeyboardGone("keys"))
    assert (performing.performed, performing.playing) == (None, True)
    evening.hear(BEGAN_S + 5, NoteIn(BEGAN_S + 5, 62, 60, "keys"))
    evening.hear(BEGAN_S + 6, Finished(BEGAN_S + 6))
    for rings_s in (LATE_S, RINGS_S):
        assert performing.playing and performing.wake_s == BEGAN_S + 6 + rings_s
        evening.now_s = performing.wake_s
        performing.tick()
    assert not performing.playing and not performing.performed.whole, "the sound process failed on the way"
    keys = [key for key in performing.performed.keys if key[1] in (60, 62)]
    assert [key[1:] for key in keys] == [(60, 60), (60, 0), (62, 60), (62, 0)]
    assert [key[0] for key in keys] == pytest.approx([3, 4, 5, 6 + RINGS_S])
    assert performing.performed.pedals == ((pytest.approx(3.1), True),)


def test_it_is_heard_again_as_it_was_played(stand, paths):
    evening = Evening(stand)
    evening.play("left", "right", jitter_s=0.02)
    path = keep_and_mark(stand, evening.performing.performed, paths).path
    presses = read_recording(path).presses
    again = recorded_arrangement(presses)
    validate(again)
    heard = timeline(again, [TEMPO_BPM])
    starts = heard.seconds(event.tick for event in heard.events)
    ends = heard.seconds(event.tick + event.ticks for event in heard.events)
    found = sorted((start, event.note, event.velocity) for start, event in zip(starts, heard.events, strict=True))
    first_s = presses[0].time_s
    asked = sorted((press.time_s - first_s, press.note, press.velocity) for press in presses)
    assert [each[1:] for each in found] == [each[1:] for each in asked]
    assert [each[0] for each in found] == pytest.approx([each[0] for each in asked], abs=0.0005)
    by_key = {(round(start, 2), event.note): end for start, end, event in zip(starts, ends, heard.events, strict=True)}
    longest = max(presses, key=lambda press: press.held_s or 0.0)
    assert longest.held_s > 1.0  # over a bar line of the recording's own
    end_s = by_key[round(longest.time_s - first_s, 2), longest.note]
    assert end_s == pytest.approx(longest.time_s - first_s + longest.held_s, abs=0.02)


def test_they_are_listed_the_latest_first_and_can_be_thrown_away(stand, paths):
    evening = Evening(stand)
    evening.play("left")
    performed = evening.performing.performed
    kept = keep_and_mark(stand, performed, paths)
    folder = folder_of(paths, stand.original.id)
    (folder / "2026-01-06 09.00.00.mid").write_bytes(b"MThd, broken")
    (folder / "no performance.mid").write_bytes(kept.path.read_bytes())
    listed = kept_performances(folder)
    assert [kept.path.name for kept in listed] == ["2026-01-06 09.00.00.mid", kept.path.name]
    assert listed[0].words == () and (listed[1].words, listed[1].at_length) == (kept.words, kept.at_length)
    assert listed[1].performed_at.replace(tzinfo=None) == AT.replace(tzinfo=None)
    forget_performance(listed[0])
    assert [each.path for each in kept_performances(folder)] == [kept.path]
    assert kept_performances(folder / "nowhere") == []


def test_the_introduction_goes_round_and_round_by_itself_and_nothing_is_recorded(stand, paths):
    evening = Evening(stand)
    performing = evening.performing
    for name, bars, whole in (
        (INTRODUCTION, intro_bars(stand), performance(performing.stand).lead_in),
        (ENDING, ending_bars(stand), performance(performing.stand).ending),
    ):
        assert performing.loop(name) and performing.looping == bars and not performing.playing
        load, play = (next(m for m in reversed(evening.link.sent) if isinstance(m, kind)) for kind in (Load, Play))
        validate(load.arrangement)
        assert play.turns == 0 and not load.arrangement.lead_in and not load.arrangement.ending
        assert [bar.written for bar in load.arrangement.bars] == [bar.written for bar in whole], "as in the whole tune"
        sounding = timeline(replace(load.arrangement, parts=("left", "right"), count_in_bars=0), [100.0])
        told = [key for bar in bars for stroke in (*bar.left, *bar.right) for key in stroke.keys]
        assert sorted(event.note for event in sounding.events) == sorted(told), "and nothing beside it"
        performing.hear(Started(BEGAN_S, play.number))
        performing.hear(NoteIn(BEGAN_S + 1, 60, 80, "Piano"))
        beat = BeatReport(BEGAN_S + 1, 0, 1, 1, 0, 4, 100.0)
        performing.hear(beat)
        assert performing.beat == beat
        performing.stop()
        assert not performing.looping and performing.performed is None and performing.wake_s is None
    assert not kept_performances(folder_of(paths, stand.original.id))
    alone = Evening(stand.change(arranged=ArrangementChoice())).performing
    assert not alone.loop(INTRODUCTION) and not alone.looping
