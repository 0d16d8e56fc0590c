"""A pass that a microphone hears: what it is asked, and what its verdicts come to."""

from __future__ import annotations

import pytest
from desk import put
from session_songs import FOUR

from companion.session.drill import DrillSettings, new_drill
from companion.session.practice import Practice
from companion.sound.listening.messages import Expect, StrikeHeard
from companion.sound.listening.verdicts import HeardNote, Verdict
from companion.sound.messages import BeatReport, Load
from companion.store.log.patient_log import PatientLog

BPM = 60.0


@pytest.fixture
def log(paths):
    with PatientLog.begin(paths) as log:
        yield log


class Table:
    """One bar, four to the bar, with a microphone; verdict: what it says of a strike, by number from 0."""

    def __init__(self, log, settings, verdict, kind="play", bars=(0,)) -> None:
        self.log = log
        stand = put(FOUR, settings, pattern="four").with_tempo(BPM).with_loop(bars, "bars")
        self.practice = Practice(stand, new_drill(stand, kind, DrillSettings()), log)
        self.practice.microphone = lambda: True
        self._verdict, self.sent, self.said = verdict, [], []
        self._send(self.practice.begin())
        self._bars = bars
        self.closes_s = []  # after each verdict

    def _send(self, messages) -> None:
        self.sent += messages
        self.practice.write()
        self.said.append(self.practice.say)

    def play(self) -> None:
        """A pass and the first beat of the next."""
        for place in range(len(self._bars) + 1):
            turn, position = divmod(place, len(self._bars))
            for pulse in range(4 if not turn else 1):
                due_s = 100.0 + 4 * place + pulse
                beat = BeatReport(due_s, turn, position, self._bars[position], pulse, 4, BPM)
                self._send(self.practice.hear(beat))
                expects = [each for each in self.sent if isinstance(each, Expect)]
                for number, due in enumerate(expects[0].dues):
                    if expects and abs(due.time_s - due_s) < 0.01 and not turn:
                        said = self._verdict(number, due)
                        if said is not None:
                            self._send(self.practice.hear(StrikeHeard(said, due_s + 0.4)))
                            self.closes_s.append(self.practice.closes_s)
            self._send(self.practice.tick(100.0 + 4 * (place + 1) - 0.01))


def right(due, confidence=0.99):
    notes = tuple(HeardNote(note, confidence) for note in due.notes)
    return Verdict(due, "right", notes, due.time_s + 0.01, confidence)


def test_it_is_asked_for_every_strike_of_the_left_hand_once(log, settings):
    table = Table(log, settings, lambda number, due: right(due))
    table.play()
    (asked, again) = [each for each in table.sent if isinstance(each, Expect)]
    assert [due.time_s for due in asked.dues] == [100.0, 101.0, 102.0, 103.0] and asked.afresh
    assert len({due.index for due in (*asked.dues, *again.dues)}) == 8
    assert any(isinstance(each, Load) for each in table.sent)


def test_a_right_pass_is_logged_as_heard_by_a_microphone(log, settings):
    Table(log, settings, lambda number, due: right(due)).play()
    (record,) = log.passes()
    assert (record.source, record.heard_by, record.unsure, record.share_right) == ("heard", "microphone", 0, 1.0)


def test_wrong_and_missing_are_slips(log, settings):
    def verdict(number, due):
        if number == 0:
            return Verdict(
                due, "wrong", (HeardNote(due.notes[0], 0.9), HeardNote(due.notes[1] + 1, 0.9)), due.time_s, 0.9
            )
        return Verdict(due, "missing", (), None, 0.9)

    Table(log, settings, verdict).play()
    (record,) = log.passes()
    assert record.share_right == 0.0 and record.chords[0]["verdict"] == "wrong"


def test_what_is_not_sure_counts_for_nothing(log, settings):
    """The second bar's first strike is not sure, all else is right: three chords of four count, and are right."""
    unsure = Verdict
    table = Table(
        log,
        settings,
        lambda number, due: unsure(due, "not sure", (), due.time_s, 0.4) if number == 4 else right(due),
        bars=(0, 1, 2, 3),
    )
    table.play()
    (record,) = log.passes()
    assert (record.unsure, record.share_right, record.slipped) == (1, 1.0, ())
    assert all(row["verdict"] == "right" for row in record.chords)


def test_what_is_not_told_in_time_is_not_sure(log, settings):
    """The last strike's verdict would come behind the bar line: the chord is judged by the others."""
    Table(log, settings, lambda number, due: right(due) if number < 3 else None).play()
    (record,) = log.passes()
    assert (record.unsure, record.share_right) == (0, 1.0)


def test_a_pass_is_over_once_all_is_told_so_that_the_next_tempo_comes_in_time(log, settings):
    """At 60 a minute the last strike is due a second before the bar line. The sound process hands the next bar over 80 ms ahead (builtin.LEAD_S)."""
    table = Table(log, settings, lambda number, due: right(due), kind="climb")
    table.play()
    assert table.closes_s[:4] == [None, None, None, 100.0]  # None: not before that beat is told


def test_too_much_that_is_not_sure_asks_for_the_word(log, settings):
    table = Table(log, settings, lambda number, due: Verdict(due, "not sure", (), None, 0.0), kind="fade")
    table.play()
    assert log.passes() == [] and len(table.practice.waiting.passes) == 1
    assert any("Not sure of 1 of 1 chord: how did it go?" in said for said in table.said)


def test_who_plays_along_is_not_asked_what_nobody_waits_for(log, settings):
    table = Table(log, settings, lambda number, due: Verdict(due, "not sure", (), None, 0.0))
    table.play()
    assert not table.practice.waiting.passes
    assert any("Not sure of 1 of 1 chord: the pass counts for nothing." in said for said in table.said)


def test_a_chord_weighs_as_much_as_it_is_sure(log, settings):
    def verdict(number, due):
        if number >= 12:  # the fourth chord is wrong, and less sure than the others
            return Verdict(due, "wrong", (HeardNote(due.notes[0] + 1, 0.6),), due.time_s, 0.5)
        return right(due, 1.0)

    Table(log, settings, verdict, bars=(0, 1, 2, 3)).play()
    (record,) = log.passes()
    assert record.share_right == pytest.approx(3 / 3.5)
