"""A song that was learnt while an older companion chose its shells: asked once whether to keep those."""

from __future__ import annotations

import sqlite3

import pytest
from store.older_log import write_older_log

from companion.hands.left.former import former_shells
from companion.practice.slots import slots_of
from companion.session.stand import Stand
from companion.store.log.practice_log import PracticeLog
from companion.store.pins import load_pins, save_pins
from companion.theory.shell_kinds import Pin
from companion.tui.screens.pick import PickScreen
from companion.tui.screens.stand import StandScreen

SIZE = (80, 24)
SONG = "lanterns-on-the-slipway"


@pytest.fixture
def student(kit, tmp_path):
    paths = kit.make_paths(tmp_path / "student", songs=(kit.FERRY, kit.WALTZ))
    write_older_log(paths, "former shells", SONG)
    return paths


async def to_stand(pilot, title="lant") -> None:
    await pilot.press(*title, "enter")
    await pilot.pause()


def shells(stand: Stand) -> list[tuple[int, int] | None]:
    return [choice.shell and choice.shell.midi for choice in stand.part.choices]


def of_then(stand: Stand) -> list[tuple[int, int] | None]:
    """As they were the first time that each place came: a pin stands for all times."""
    slots = slots_of(stand.original, stand.original.unroll())
    first: dict[object, tuple[int, int]] = {}
    for slot, shell in zip(slots, former_shells(slots, stand.hand), strict=True):
        first.setdefault(slot.place, shell.midi)
    return [first[slot.place] for slot in slots]


async def test_the_shells_of_then_are_kept_as_pins_and_it_is_asked_once(kit, student):
    app, _ = kit.make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await to_stand(pilot)
        assert isinstance(app.screen, PickScreen)
        text = "\n".join("".join(each.text for each in strip) for strip in app.screen._compositor.render_strips())
        assert "shells of this song changed since you learned it" in text
        assert "keep the shells I learned" in text and "take the new shells" in text
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, StandScreen)
        stand = app.screen.stand
        assert shells(stand) == of_then(stand)
        assert stand.part.choices[0].shell.kind == "root-fifth"
        assert stand.part.choices[0].why == "Pinned: root and fifth, where Bb6 rests. As I learned it."
        assert load_pins(student, SONG) == stand.own_pins
    app, _ = kit.make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await to_stand(pilot)
        assert isinstance(app.screen, StandScreen) and shells(app.screen.stand) == of_then(app.screen.stand)
    with PracticeLog.open(student) as log:
        assert log.states("former_shells") == [] and log.count() == 1


async def test_the_new_shells_may_be_taken_and_that_is_not_asked_again(kit, student):
    app, _ = kit.make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await to_stand(pilot)
        await pilot.press("down", "enter")
        await pilot.pause()
        assert isinstance(app.screen, StandScreen)
        assert app.screen.stand.own_pins == {} and shells(app.screen.stand) != of_then(app.screen.stand)
        await pilot.press("escape")
        await to_stand(pilot, "coat")  # a song that was never practised asks nothing
        assert isinstance(app.screen, StandScreen)
    app, _ = kit.make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await to_stand(pilot)
        assert isinstance(app.screen, StandScreen) and app.screen.stand.own_pins == {}


async def test_without_an_answer_it_waits_for_another_day(kit, student):
    for _ in range(2):
        app, _ = kit.make_app(student)
        async with app.run_test(size=SIZE) as pilot:
            await to_stand(pilot)
            assert isinstance(app.screen, PickScreen)
            await pilot.press("escape")
            await pilot.pause()
            assert isinstance(app.screen, StandScreen) and app.screen.stand.own_pins == {}


async def test_the_students_own_pins_stay(kit, student):
    own = {("B", 1, 1): Pin("root-seventh")}
    save_pins(student, SONG, own)
    app, _ = kit.make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await to_stand(pilot)
        await pilot.press("enter")
        await pilot.pause()
        pins = load_pins(student, SONG)
        assert pins.items() >= own.items() and len(pins) > 1


async def test_who_played_another_hand_only_is_not_asked(kit, tmp_path):
    paths = kit.make_paths(tmp_path / "other", songs=(kit.FERRY,))
    write_older_log(paths, "former shells", SONG, hands="right")
    app, _ = kit.make_app(paths)
    async with app.run_test(size=SIZE) as pilot:
        await to_stand(pilot)
        assert isinstance(app.screen, StandScreen)


async def test_where_the_log_cannot_be_written_the_answer_holds_for_the_evening(kit, student):
    PracticeLog.open(student).close()  # brought up to date
    holder = sqlite3.connect(student.log, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    try:
        app, _ = kit.make_app(student)
        async with app.run_test(size=SIZE) as pilot:
            await to_stand(pilot)
            await pilot.press("enter")
            await pilot.pause()
            assert isinstance(app.screen, StandScreen) and shells(app.screen.stand) == of_then(app.screen.stand)
            await pilot.press("escape")
            app.navigation._left.clear()  # as if its file had changed: it is read and put anew
            await to_stand(pilot)
            assert isinstance(app.screen, StandScreen)
    finally:
        holder.execute("ROLLBACK")
        holder.close()


async def test_pins_that_cannot_be_saved_are_said_and_asked_again(kit, student, monkeypatch):
    student.pins.mkdir(parents=True)  # a folder is in the way
    app, _ = kit.make_app(student)
    async with app.run_test(size=SIZE) as pilot:
        await to_stand(pilot)
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("escape")
        assert shells(app.navigation.stand_screen.stand) == of_then(app.navigation.stand_screen.stand)
    with PracticeLog.open(student) as log:
        assert [state.song_id for state in log.states("former_shells")] == [SONG]
