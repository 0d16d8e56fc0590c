"""A performance in the app: nothing of it is lost under a page that lies over it, nor where the app is left in its middle."""

from __future__ import annotations

import time
from dataclasses import replace
from types import SimpleNamespace

import mido
from session_songs import SUNG
from store.passes import PASS
from tui.conftest import RecordingLink, beat, drawn, make_paths, put_ferry, screen_text, until

from companion.groove.check import MOST_COUNT_IN_BARS
from companion.practice.planning.layers import PERFORMANCE
from companion.session.overview import keep_plan, layers_known
from companion.sound.listening.messages import EndRecord, MicrophoneOff, MicrophoneReady, Record, RecordFailed
from companion.sound.messages import Finished, Keyboards, Load, NoteIn, Play, Started
from companion.store.performances import folder_of
from companion.store.settings import load_settings
from companion.tui.app import CompanionApp
from companion.tui.microphone import RECORDS, SIGN

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


async def test_a_performance_ticks_what_today_wanted_and_one_key_goes_on(tmp_path, log):
    """Only to its end: one that is broken off is kept, and leaves the item open."""
    paths = make_paths(tmp_path / "student", songs=(SUNG,))
    (song_path,) = paths.songs.glob("*.toml")
    link = RecordingLink()
    app = CompanionApp(paths, load_settings(paths), link, log=log)
    log.add_pass(replace(PASS, song_id=song_path.stem, hands="left"))
    async with app.run_test(size=SIZE) as pilot:
        link.report(Keyboards(("Piano",), ("Piano",)))
        await pilot.press("f3")
        await until(pilot, lambda: app.place == "today" and app.screen.plan is not None)
        whole = tuple(range(8))
        item = replace(
            app.screen.plan.items[0], kind="step", drill="play", loop=whole, loop_name="whole form", hands="both",
            tempo_bpm=100.0, passes=0, layer=PERFORMANCE, words="Step 9: a performance.",
        )  # fmt: skip
        after = replace(item, layer="", hands="left", words="Then this.")
        keep_plan(log, replace(app.plan, items=(item, after)))
        app.screen.read_plan(None)
        await pilot.press("enter")
        await until(pilot, lambda: app.place == "performance")
        for is_whole in (False, True):
            await pilot.press("space")
            await pilot.pause()
            arrangement = link.told_of(Load)[-1].arrangement
            bars = (*arrangement.lead_in, *arrangement.bars, *arrangement.ending)
            pulses = (MOST_COUNT_IN_BARS + len(bars)) * 4
            began_s = time.perf_counter() - pulses
            link.report(Started(began_s, link.told_of(Play)[-1].number))
            for number in range(pulses if is_whole else pulses // 2):
                link.report(beat(0, number % 4, due_s=began_s + number))
            strike(link, 50, began_s + 5)
            link.report(Finished(began_s + pulses))
            kept = "2 performances kept" if is_whole else "1 performance kept"
            await until(pilot, lambda kept=kept: kept in screen_text(app))
            if not is_whole:
                assert not app.todays_item.done
        await until(pilot, lambda: app.todays_item.done)
        assert [each.done for each in app.plan.items] == [True, False]
        assert "Done. e goes on: " in app.notice and "e today's next" in screen_text(app)
        assert PERFORMANCE in layers_known(app.practice_log, app.stand_screen.stand.original).met
        await pilot.press("e")
        await until(pilot, lambda: app.place == "stand" and "Then this." in app.notice)


async def test_introduction_and_ending_stand_among_the_loops_and_go_round_by_themselves(tmp_path, log):
    paths = make_paths(tmp_path / "student", songs=(SUNG,))
    link = RecordingLink()
    app = CompanionApp(paths, load_settings(paths), link, log=log)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press(*"eight", "enter")
        await pilot.pause()
        await pilot.press("o", "z", "a", "escape", "o", "l")
        await pilot.pause()
        assert "introduction   4 bars" in screen_text(app)
        await pilot.press("up", "up", "enter")  # the last but one
        await pilot.pause()
        assert app.place == "performance" and "introduction bar 1 of 4: the count-in" in screen_text(app)
        assert link.told_of(Play)[-1].turns == 0
        link.report(Started(0.0, link.told_of(Play)[-1].number))
        link.report(replace(beat(1, turn=0), position=1))
        await pilot.pause()
        shown = screen_text(app)
        assert "introduction bar 2 of 4" in shown and "▶ round and round" in shown
        stroke = app.screen.performing.looping[1].right[0]
        assert any(name.rstrip("0123456789").replace("b", "♭").replace("#", "♯") in shown for name in stroke.names)
        await pilot.press("space")
        await pilot.pause()
        assert "■ stopped" in screen_text(app) and not app.screen.playing
        await pilot.press("n")
        await pilot.pause()
        assert "ending bar 1 of" in screen_text(app)
        await pilot.press("i")
        await pilot.pause()
        assert "introduction bar 1 of 4" in screen_text(app), "from the one to the other"
        await pilot.press("i", "escape")
        await pilot.pause()
        assert app.place == "stand"


async def test_the_microphone_records_only_after_a_yes_to_each_and_a_sign_stands_while_it_does(started, monkeypatch):
    app, link = started
    asked: list[object] = []

    def words() -> str:
        return " ".join(screen_text(app).replace("│", "").split())

    async with app.run_test(size=SIZE) as pilot:
        await put_ferry(pilot)
        await pilot.press("o", "g", "space")
        await pilot.pause()
        assert "No MIDI keyboard is heard (F5) and no microphone is on (F12) to record you." in words()
        microphone = app.listening.microphone
        monkeypatch.setattr(microphone, "_link", SimpleNamespace(send=asked.append, stop=list, close=list))
        microphone.wanted = True
        microphone.hear(MicrophoneReady(0.2))
        for key in ("n", "escape"):
            await pilot.press("space")
            await pilot.pause()
            assert "Record this performance with the microphone?" in words()
            said = words()
            assert "nothing is sent" in said and str(app.paths.performances) in said.replace(" ", "")
            await pilot.press(key)
            await pilot.pause()
            assert not asked and not link.told_of(Play) and "Nothing is recorded." in words()
        await pilot.press("space", "y")
        await pilot.pause()
        (record,) = asked
        assert isinstance(record, Record) and record.path.startswith(str(app.screen._folder))
        assert RECORDS.strip() in drawn(app, "foot") and "the microphone records" in words()
        link.report(Started(time.perf_counter(), link.told_of(Play)[-1].number))
        await pilot.press("space")
        await pilot.pause()
        assert asked[-1] == EndRecord(keep=True)
        link.report(RecordFailed("The disk is full."))
        await pilot.pause()
        assert "The disk is full." in words() and SIGN.strip() in drawn(app, "foot") and not app.screen.playing
        await pilot.press("space", "y")
        await pilot.pause()
        link.report(MicrophoneOff("It went away."))
        await pilot.pause()
        assert not app.navigation.performance.playing and not list(app.paths.performances.rglob("*.wav"))
