"""Whether the ride sounds: for who listens or plays along unheard; while a pass is marked only where the student wants it."""

from __future__ import annotations

import pytest
from desk import nothing, right

from companion.groove.model import Click
from companion.session.performing import Performing
from companion.session.playback import Playback
from companion.sound.messages import Load

CYMBALS, WOOD = {51, 44}, {76, 77}  # General MIDI 1, percussion key map: ride and pedal hi-hat; wood blocks


def struck(desk) -> list[tuple[float, int]]:
    """(second, note) of all that keeps the time after the count-in."""
    first_s = desk.lines[0].due_s
    sent = ((due_s, sound) for due_s, _, sound in desk.output.sent)
    return [
        (at, sound.note) for at, sound in sent if (sound.what, sound.voice) == ("note_on", "click") and at >= first_s
    ]


@pytest.mark.parametrize(
    ("kind", "mode", "keyboard", "cymbals"),
    [
        ("play", "ride", False, True),  # unheard: nothing is marked
        ("play", "ride", True, False),
        ("play", "ride-always", True, True),
        ("listen", "ride", True, True),
        ("fade", "ride", True, False),
        ("fade", "ride", False, False),  # the student's word marks it
        ("fade", "ride-always", True, True),
        ("climb", "ride", True, False),
    ],
)
def test_the_ride_rests_while_a_pass_is_marked(practise, kind, mode, keyboard, cymbals) -> None:
    hands = right if keyboard else nothing
    desk = practise(hands, kind, changes={"click": Click(mode)}, keyboard=keyboard)
    desk.send(desk.practice.begin(passes=1))
    desk.run(seconds=30, until=lambda: len(desk.lines) > 4)
    heard = {note for _, note in struck(desk)}
    assert heard and heard <= (CYMBALS if cymbals else WOOD)


def test_from_the_first_key_on_a_pass_is_marked_and_the_click_comes_with_the_next_bar(practise, log) -> None:
    """Nobody knew of a keyboard before."""
    desk = practise(right, "play", changes={"click": Click("ride")})
    desk.send(desk.practice.begin(passes=2))
    desk.run()
    second_s = desk.lines[1].due_s
    assert {note for at, note in struck(desk) if at < second_s - 0.01} == CYMBALS
    assert {note for at, note in struck(desk) if at >= second_s - 0.01} == WOOD
    assert [record.clean for record in log.passes()] == [True, True]


class Told:
    """A sound process that only remembers."""

    def __init__(self) -> None:
        self.sent: list = []

    def send(self, message: object) -> None:
        self.sent.append(message)


@pytest.mark.parametrize(("mode", "then"), [("ride", "every"), ("ride-always", "ride-always")])
def test_a_performance_is_marked_too(practise, mode, then) -> None:
    link = Told()
    Performing(practise().practice.stand.change(click=Click(mode)), Playback(link)).start()  # type: ignore[arg-type]
    (load,) = [message for message in link.sent if isinstance(message, Load)]
    assert load.arrangement.click.mode == then
