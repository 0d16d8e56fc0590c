"""How late a microphone hears is found by the strikes that are surely right, and taken off all of them."""

from __future__ import annotations

import pytest

from companion.sound.listening.lateness import ENOUGH, FIRST, Lateness
from companion.sound.listening.verdicts import MISSING, RIGHT, Due, Verdict


def heard(lateness: Lateness, number: int, late_s: float, kind: str = RIGHT) -> Verdict:
    (asked,) = lateness.ask((Due(number, 10.0 + number, (41, 51)),), afresh=False)
    return lateness.free(Verdict(asked, kind, (), None if kind == MISSING else 10.0 + number + late_s, 0.9))


def test_it_is_found_by_the_first_strikes_and_stays():
    lateness = Lateness()
    first = [heard(lateness, number, 0.080 + 0.01 * (number % 3 - 1)) for number in range(FIRST)]
    assert [verdict.onset_s for verdict in first[:-1]] == [10.0 + number for number in range(FIRST - 1)]
    assert lateness.late_s == pytest.approx(0.080, abs=0.006) and not lateness.is_settled
    for number in range(FIRST, ENOUGH):
        heard(lateness, number, 0.080)
    assert lateness.is_settled
    dragged = [heard(lateness, ENOUGH + number, 0.150) for number in range(40)]
    assert lateness.late_s == pytest.approx(0.080, abs=0.001)
    assert dragged[-1].onset_s - dragged[-1].due.time_s == pytest.approx(0.070, abs=0.001)


def test_strikes_are_listened_for_as_late_as_they_are_heard_and_told_as_they_were_due():
    lateness = Lateness(0.06)
    (asked,) = lateness.ask((Due(1, 10.0, (41, 51)),), afresh=True)
    assert asked.time_s == 10.06
    told = lateness.free(Verdict(asked, RIGHT, (), 10.07, 0.9))
    assert told.due.time_s == 10.0 and told.onset_s == pytest.approx(10.01)


def test_wrong_and_missing_strikes_say_nothing_of_it():
    lateness = Lateness()
    for number in range(ENOUGH):
        assert heard(lateness, number, 0.0, MISSING).onset_s is None
    assert lateness.late_s is None
