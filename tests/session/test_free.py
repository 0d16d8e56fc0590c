"""Free time with simulated key presses: the companion waits on each shell, and the round is logged."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import timedelta

import pytest
from desk import put
from free_keys import BEGAN, Keys
from session_songs import EIGHT, FOUR

from companion.errors import LogError
from companion.session.free import LONGEST_WAIT_S
from companion.session.minutes import Minutes
from companion.sound.messages import Notice, PedalIn


@pytest.fixture
def stand(settings):
    return put(FOUR, settings)


def test_it_goes_round_the_loop_shell_by_shell(stand, log) -> None:
    keys = Keys(stand, log)
    seen = []
    for _ in range(8):
        seen.append(keys.free.target.index)
        assert keys.free.target.notes == stand.choices_at(seen[-1])[0][1].shell.midi
        keys.find()
    assert seen == [0, 1, 2, 3] * 2 and len(log.passes()) == 2


def test_the_round_is_logged_with_the_hesitation_of_each_change(stand, log) -> None:
    keys = Keys(stand.change(hands="both"), log)
    for after_s in (2.0, 1.0, 3.5, 0.5):
        keys.find(after_s)
    (record,) = log.passes()
    assert [chord["hesitation_ms"] for chord in record.chords] == [2000, 1000, 3500, 500]
    assert [chord["symbol"] for chord in record.chords] == ["F6", "D7", "Gm7", "C7"]
    assert (record.kind, record.source, record.cues, record.tempo_bpm, record.hands) == (
        "free",
        "heard",
        1.0,
        0.0,
        "both",
    )
    assert (record.share_right, record.clean, record.slipped, record.loop) == (1.0, True, (), (0, 1, 2, 3))
    assert record.duration_s == 7.0 and record.started_at == (BEGAN + timedelta(seconds=100)).isoformat(
        timespec="milliseconds"
    )
    assert record.sections == ("A",) and record.offset_ms is None
    assert json.loads(json.dumps(asdict(record), allow_nan=False))
    assert keys.free.result.lines == (
        "4 of 4 shells found at once.",
        "Longest waits:",
        "  D7 to Gm7: 3.5 s",
        "  F6 to D7: 1.0 s",
        "  Gm7 to C7: 0.5 s",
    )


def test_other_keys_do_not_go_on_and_are_remembered(stand, log) -> None:
    keys = Keys(stand, log)
    keys.find()
    low, high = keys.free.target.notes
    keys.wait(1.0)
    keys.down(low + 1, high)
    assert keys.free.target.index == 1
    keys.up(low + 1)
    keys.down(low)
    assert keys.free.target.index == 2 and keys.found[-1].extra == (low + 1,)
    keys.up(low, high)
    keys.find()
    keys.find()
    (record,) = log.passes()
    assert (record.share_right, record.clean, record.slipped) == (0.75, False, (1,))
    assert [chord["verdict"] for chord in record.chords] == ["right", "wrong", "right", "right"]
    assert keys.free.result.lines[0] == "3 of 4 shells found at once."


def shells(stand):
    return [stand.choices_at(index)[0][1].shell for index in range(4)]


def test_a_wrong_key_is_answered_at_once_and_the_answer_goes_with_the_shell(stand, log) -> None:
    keys = Keys(stand, log)
    root, third = shells(stand)[0].midi
    keys.down(root, third - 1)
    assert keys.free.answer.endswith(f" is {shells(stand)[0].upper.tone.name}.") and keys.free.shown["down"] == {
        root,
        third - 1,
    }
    said = keys.free.answer
    keys.up(third - 1)
    assert keys.free.answer == said, "it is read while the finger is on its way"
    keys.down(third)
    assert keys.free.answer == "" and keys.free.target.index == 1
    assert keys.free.signs[0, 0].verdict == "wrong"


def test_a_melody_on_top_is_left_alone(stand, log) -> None:
    """Also while a wrong key of the left hand is being answered."""
    keys = Keys(stand, log)
    for note in (72, 76, 79):
        keys.down(note)
        assert keys.free.answer == ""
    root, third = keys.free.target.notes
    keys.down(root - 1)
    said = keys.free.answer
    keys.up(72)
    keys.down(74)
    assert said and keys.free.answer == said
    keys.up(root - 1)
    keys.down(root, third)
    assert keys.found[0].extra == (root - 1,)


def test_the_shell_found_may_be_struck_again_as_a_pattern_has_it(stand, log) -> None:
    """Four to the bar: three repeats of each shell before the next."""
    keys = Keys(stand, log)
    for _ in range(4):
        notes = keys.free.target.notes
        keys.find()
        for _ in range(3):
            keys.wait(0.5)
            keys.down(*notes)
            keys.up(*notes)
    (record,) = log.passes()
    assert record.clean and not record.slipped
    assert keys.free.answer == "That is the shell before: F6 is next."


def test_a_key_of_the_shell_before_within_the_next_is_a_wrong_one(stand, log) -> None:
    keys = Keys(stand, log)
    first, second = shells(stand)[:2]
    keys.find()
    stray = next(note for note in first.midi if note not in second.midi)
    keys.down(stray, second.midi[0])
    assert "is the shell before" not in keys.free.answer and keys.free.answer
    keys.up(stray)
    keys.down(second.midi[1])
    assert keys.found[-1].extra == (stray,)


def test_a_neighbour_struck_along_is_told(stand, log) -> None:
    keys = Keys(stand, log)
    low, high = keys.free.target.notes
    keys.down(low, low + 1, high)
    assert keys.free.answer.startswith("F6 is there, with ") and keys.found[0].along == (low + 1,)


def test_keys_struck_with_the_shell_a_moment_later_are_of_its_stroke(stand, log) -> None:
    """A fist comes key by key: what follows the shell is no wrong key for the next one."""
    keys = Keys(stand, log)
    keys.wait(1.0)
    low, high = keys.free.target.notes
    keys.down(low, high)
    keys.wait(0.02)
    keys.down(low + 1, 96)
    assert keys.free.answer.startswith("F6 is there, with ") and keys.found[0].along == (low + 1,)
    assert keys.free.signs[keys.found[0].target.index, 0].verdict == "wrong"
    keys.up(low, low + 1, high, 96)
    keys.find()
    assert keys.found[1].extra == () and keys.free.answer == ""
    keys.wait(0.2)
    keys.down(low + 1)
    assert len(keys.found) == 2 and keys.free.answer and "is there" not in keys.free.answer


def test_a_stop_in_the_middle_sums_up_and_is_no_pass(stand, log) -> None:
    minutes = Minutes()
    keys = Keys(stand, log, minutes=minutes)
    assert keys.free.stop(keys.now_s) is None
    keys.find(2.0)
    stray = keys.free.target.notes[0] + 1
    keys.down(stray)
    keys.up(stray)
    keys.find(3.0)
    summary = keys.free.stop(keys.now_s)
    assert summary.lines == (
        "Stopped at Gm7: 2 of 4 shells, 1 of them found at once.",
        "Longest waits:",
        "  F6 to D7: 3.0 s",
    )
    assert summary.record.slipped == (1,) and not log.passes()


def test_a_stop_at_the_beginning_of_another_round_sums_up_the_last(stand, log) -> None:
    keys = Keys(stand, log)
    for _ in range(4):
        keys.find()
    assert keys.free.stop(keys.now_s).record == log.passes()[0]


def test_a_common_tone_may_stay_down(settings, log) -> None:
    """F6 as root and fifth, D7 as root and seventh: C stays."""
    pins = '[shells]\n"A.1.1" = "root-fifth"\n"A.2.1" = "root-seventh"\n'
    stand = put(FOUR.replace("F6 | D7 | Gm7 | C7", "F6 | D7") + pins, settings)
    (low, high), (low_next, high_next) = (stand.choices_at(index)[0][1].shell.midi for index in (0, 1))
    common = {low, high} & {low_next, high_next}
    assert len(common) == 1
    keys = Keys(stand, log)
    keys.wait(1.0)
    keys.down(low, high)
    keys.up(*({low, high} - common))
    keys.wait(1.0)
    keys.down(*({low_next, high_next} - common))
    assert len(log.passes()) == 1 and log.passes()[0].clean


def test_the_same_shell_again_is_struck_again_even_from_one_round_to_the_next(settings, log) -> None:
    stand = put(FOUR.replace("F6 | D7 | Gm7 | C7", "F6"), settings)
    keys = Keys(stand, log)
    notes = keys.free.target.notes
    keys.down(*notes)
    assert len(log.passes()) == 1
    keys.down(71)  # the shell is still held
    assert len(log.passes()) == 1
    keys.up(*notes)
    keys.down(*notes)
    assert len(log.passes()) == 2


def test_a_shell_held_into_the_next_round_keeps_its_common_tone(settings, log) -> None:
    pins = '[shells]\n"A.1.1" = "root-seventh"\n"A.2.1" = "root-fifth"\n'
    stand = put(FOUR.replace("F6 | D7 | Gm7 | C7", "D7 | F6") + pins, settings)
    keys = Keys(stand, log)
    keys.find()
    keys.wait(1.0)
    last = keys.free.target.notes
    keys.down(*last)
    first = keys.free.target.notes
    assert len(set(first) & set(last)) == 1 and not keys.found
    keys.up(*set(last) - set(first))
    keys.down(*set(first) - set(last))
    assert keys.found[-1].target.notes == first


def test_a_lost_keyboard_holds_no_keys(stand, log) -> None:
    keys = Keys(stand, log)
    low, high = keys.free.target.notes
    keys.down(low)
    keys.free.hear(Notice("lost", "The keyboard went away."))
    keys.free.hear(Notice("back", "The keyboard is back."))
    keys.down(high)
    assert keys.free.target.index == 0
    keys.down(low)
    assert keys.free.target.index == 1


def test_the_pedal_and_other_reports_are_no_keys(stand, log) -> None:
    keys = Keys(stand, log)
    low, high = keys.free.target.notes
    keys.free.hear(PedalIn(100.5, True, "keys"))
    keys.down(low)
    keys.up(low)
    keys.down(high)
    assert keys.free.target.index == 0


def test_n_c_is_passed_over_and_a_loop_without_chords_waits_for_nothing(settings, log) -> None:
    keys = Keys(put(FOUR.replace("D7", "N.C."), settings), log)
    for _ in range(3):
        keys.find()
    assert [chord["index"] for chord in log.passes()[0].chords] == [0, 2, 3]
    keys = Keys(put(FOUR.replace("F6 | D7 | Gm7 | C7", "N.C."), settings), log)
    assert keys.free.target is None and not keys.found
    keys.down(60)
    keys.up(60)
    assert len(log.passes()) == 1


def test_time_away_from_the_keyboard_is_not_practice(stand, log) -> None:
    minutes = Minutes()
    keys = Keys(stand, log, minutes=minutes)
    for after_s in (3600.0, 1.0, 7200.0, 1.0):
        keys.find(after_s)
    (record,) = log.passes()
    assert record.duration_s == 2 * LONGEST_WAIT_S + 2 and not minutes.rest_is_due
    assert record.chords[2]["hesitation_ms"] == 7_200_000


def test_free_time_counts_towards_a_rest(stand, log) -> None:
    minutes = Minutes()
    keys = Keys(stand, log, minutes=minutes)
    for _ in range(100):
        keys.find(15.0)
    assert minutes.rest_is_due
    keys.wait(1000.0)
    for _ in range(4):
        keys.find()
    assert not minutes.rest_is_due


def test_two_chords_in_a_bar_are_two_shells(settings, log) -> None:
    stand = put(EIGHT, settings).with_loop((6, 7), "these")
    keys = Keys(stand, log)
    for _ in range(3):
        keys.find()
    (record,) = log.passes()
    assert [(chord["index"], chord["chord"], chord["symbol"]) for chord in record.chords] == [
        (6, 0, "Gm7"),
        (6, 1, "C7"),
        (7, 0, "F6"),
    ]


def test_a_log_that_cannot_be_written_is_said_and_the_next_round_begins(stand) -> None:
    class FullDisk:
        def add_pass(self, record) -> None:
            raise LogError("The disk is full.")

    keys = Keys(stand, FullDisk())
    for _ in range(4):
        keys.find()
    assert keys.free.say == "The disk is full." and keys.free.target.index == 0 and keys.free.result.record.clean
