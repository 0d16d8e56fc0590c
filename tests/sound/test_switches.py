"""Foot switches and pedals as they are sent. Numbers: MIDI 1.0, table of controllers."""

import pytest

from companion.sound.messages import PedalIn, SwitchIn
from companion.sound.switches import Switches


def presses(messages, step_s=0.2):
    """At which places of the row something was pressed."""
    switches = Switches()
    heard = [switches.hear(message, number * step_s, "p") for number, message in enumerate(messages)]
    return [number for number, report in enumerate(heard) if isinstance(report, SwitchIn)]


@pytest.mark.parametrize(
    ("values", "pressed"),
    [
        ([127, 0, 127, 0], [0, 2]),
        ([127, 127, 127], [0, 1, 2]),  # one that tells no release
        ([10, 40, 63, 64, 90, 127, 80, 65, 20, 66], [3, 9]),  # a pedal on its way down, up and down
        ([0, 63], []),
    ],
)
def test_a_press_is_told_once(values, pressed):
    assert presses([(0xB0, 80, value) for value in values]) == pressed


def test_a_contact_that_bounces_is_one_press():
    assert presses([(0xB0, 80, value) for value in (127, 0, 127, 0)], step_s=0.01) == [0]


def test_programs_are_told_as_they_are_listed():
    switches = Switches()
    assert switches.hear((0xC3, 0), 1.0, "p") == SwitchIn(1.0, "program", 1, "p")
    assert switches.hear((0xC3, 0), 2.0, "p") == SwitchIn(2.0, "program", 1, "p")


@pytest.mark.parametrize("number", [0, 6, 32, 38, 98, 99, 100, 101, 120, 121, 123, 127])
def test_what_nobody_presses_is_not_told(number):
    assert not presses([(0xB0, number, 127)])


def test_a_half_pedal_is_told_when_it_changes():
    switches = Switches()
    told = [switches.hear((0xB0, 64, value), 0.0, "p") for value in (0, 30, 64, 100, 127, 70, 40)]
    assert [report.down for report in told if isinstance(report, PedalIn)] == [False, True, False]
