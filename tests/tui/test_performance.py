"""A performance in the app: nothing of it is lost under a page that lies over it, nor where the app is left in its middle."""

from __future__ import annotations

import time

import mido
from tui.conftest import beat, put_ferry, screen_text, until

from companion.sound.messages import Finished, Keyboards, NoteIn, Play, Started
from companion.store.performances import folder_of

SIZE = (80, 24)


async def perform(pilot, app, link) -> float:
    """Begin one; the second when the count-in came."""
    await put_ferry(pilot)
    link.report(Keyboards(("Piano",), ("Piano",)))
    await pilot.press("o", "g")
    await pilot.pause()
    assert app.place == "performance"
    await pilot.press("space")
    await pilot.pause()
    began_s = time.perf_counter()
    link.report(Started(began_s, link.told_of(Play)[-1].number))
    link.report(beat(0, due_s=began_s))
    await pilot.pause()
    return began_s


def strike(link, note: int, at_s: float) -> None:
    link.report(NoteIn(at_s, note, 70, "Piano"))
    link.report(NoteIn(at_s + 0.1, note, 0, "Piano"))


def keys_kept(app) -> list[int]:
    (path,) = folder_of(app.paths, app.stand_screen.stand.original.id).glob("*.mid")
    return [message.note for message in mido.MidiFile(path) if message.type == "note_on" and message.velocity]


async def test_a_page_over_it_takes_nothing_out_of_what_is_recorded(started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        began_s = await perform(pilot, app, link)
        strike(link, 50, began_s)
        await pilot.press("f1")
        await pilot.pause()
        strike(link, 52, began_s + 0.2)
        await pilot.pause()
        await pilot.press("escape")
        strike(link, 53, began_s + 0.4)
        link.report(Finished(began_s + 0.6))
        await until(pilot, lambda: "1 performance kept" in screen_text(app))
        assert "broken off" in screen_text(app), "one beat of the tune was heard"
        assert [note for note in keys_kept(app) if note < 70] == [50, 52, 53]


async def test_leaving_in_the_middle_is_asked_and_keeps_what_was_played(started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        began_s = await perform(pilot, app, link)
        strike(link, 50, began_s)
        await pilot.pause()
        await pilot.press("f10")
        await pilot.pause()
        assert "It plays. Leave the companion?" in screen_text(app)
        strike(link, 52, began_s + 0.2)
        await pilot.pause()
        await pilot.press("y")
        await pilot.pause()
    assert [note for note in keys_kept(app) if note < 70] == [50, 52]
