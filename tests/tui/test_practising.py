"""Practising in the app: marks, hidden cues, the student's word, looks, the log, Today, keyboards, free time."""

import time
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from store.passes import PASS
from textual.widgets import OptionList, Static
from told_passes import reports, right
from tui.conftest import RecordingLink, drawn, make_paths, screen_text

from companion.session.drill import KINDS
from companion.session.passes import ANSWERS
from companion.session.practice import KEYBOARD_GONE
from companion.sound.messages import (
    BeatReport,
    Configure,
    Finished,
    KeyboardGone,
    Keyboards,
    Load,
    NoteIn,
    Notice,
    Outputs,
    Play,
    SetTempo,
    Started,
    Stop,
)
from companion.store.log.practice_log import PracticeLog
from companion.store.settings import load_settings, save_setting
from companion.tui.actions import BY_ID
from companion.tui.app import CompanionApp
from companion.tui.screens.keyboards import TAP_BARS, TAP_BPM, KeyboardsScreen
from companion.tui.screens.pick import PickScreen
from companion.tui.screens.read import ReadScreen
from companion.tui.screens.stand import StandScreen
from companion.tui.screens.today import TodayScreen

SIZE = (80, 24)
# Names of sections and song that hold no name of a note, for looking whether one leaks.
MILL = """
title = "Slow Mill"
key = "Bb"
meter = "4/4"
tempo = 120
feel = "straight"
form = "One Two"

[section.One]
bars = \"\"\"
Bb6 | G7 | Cm7 F7 | Bb6 |
\"\"\"

[section.Two]
bars = \"\"\"
Ebmaj7 | Am7b5 | Dm7 G7 | Cm7 F7 |
\"\"\"

[lesson]
note = "Quietly."

[lesson.notes]
"One.2" = "Now G7: only one finger moves."

[[lesson.step]]
section = "One"
tempo = 60
passes = 1
"""
KINDS_ORDER = list(KINDS)


@pytest.fixture
def log():
    return PracticeLog.in_memory()


@pytest.fixture
def started(kit, tmp_path, log):
    paths = kit.make_paths(tmp_path / "student", songs=(MILL, kit.FERRY))
    link = kit.RecordingLink()
    return CompanionApp(paths, load_settings(paths), link, log=log), link


async def put_mill(pilot):
    await pilot.pause()
    await pilot.press(*"mill", "enter")
    await pilot.pause()
    assert isinstance(pilot.app.screen, StandScreen)


async def choose(pilot, kind):
    """Through the list of ways, as a student does."""
    await pilot.press("m")
    assert isinstance(pilot.app.screen, PickScreen)
    here, there = KINDS_ORDER.index(pilot.app.conductor.kind), KINDS_ORDER.index(kind)
    await pilot.press(*["down" if there > here else "up"] * abs(there - here), "enter")
    await pilot.pause()


async def play_pass(pilot, link, hand=right, start_s=None, turn=0, tempo_bpm=None, finish=True):
    """One pass as the sound process reports it. All is past, so that nothing waits. Gives its end."""
    arrangement = link.told_of(Load)[-1].arrangement
    tempo_bpm = tempo_bpm or link.told_of(Play)[-1].tempo_bpm
    start_s = time.perf_counter() - 500.0 if start_s is None else start_s
    if turn == 0:
        link.report(Started(start_s))
    bars, end_s = reports(arrangement, hand, start_s, tempo_bpm, turn)
    for bar in bars:
        for report in bar:
            link.report(report)
        await pilot.pause()
    if finish:
        await pilot.pause(0.05)
    return end_s


async def test_marks_come_while_playing_and_the_pass_is_in_the_log(started, log):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("space")

        def hand(strike):
            if strike.group.index == 1:
                return [(0.0, strike.notes[0]), (0.0, strike.notes[1] + 1)]  # G7 with a neighbour
            if strike.group.index == 4:
                return []
            return [
                (0.12 if strike.group.index == 3 else -0.12 if strike.group.index == 5 else 0.0, note)
                for note in strike.notes
            ]

        await play_pass(pilot, link, hand)
        row = drawn(app, "chart")
        for words in ("B♭6 •", "G7 ×", "B♭6 >", "E♭maj7 _", "Am7♭5 <", "F7 •"):
            assert words in row, row
        assert "of 11 chords right" in row, "the summary lies below the chart while the next pass runs"
        assert drawn(app, "now").splitlines()[0].startswith("─ now"), "and covers nothing that is played"
        (record,) = log.passes()
        assert record.kind == "play" and record.source == "heard" and record.slipped == (1, 3, 4, 5)
        await pilot.press("space")
        assert "what was played" in drawn(app, "now") and "Costliest" in drawn(app, "now"), "it stays when stopped"
        await pilot.press("right")
        assert "what was played" not in drawn(app, "now"), "until a key"
        await choose(pilot, "fade")
        await pilot.press("space")
        await play_pass(pilot, link)
        assert log.passes()[-1].kind == "fade" and "F7 •" in drawn(app, "chart"), "another way starts afresh"


async def test_the_next_round_hides_cues_and_only_those_that_hold(started, log):
    app, link = started
    app.key_heard = True
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "fade")
        assert "round 1: 0 of 8 bars from memory" in drawn(app, "state")
        await pilot.press("space")
        end_s = await play_pass(pilot, link)
        fade = app.screen.view.drill.fade
        assert fade.round == 2 and min(fade.levels) == 4
        weak = fade.levels.index(4)
        for turn in range(1, 5):
            slip = (lambda strike: [] if strike.group.index == weak else right(strike)) if turn == 4 else right
            before = app.screen.view.drill.fade.levels
            end_s = await play_pass(pilot, link, slip, end_s, turn)
        after = app.screen.view.drill.fade.levels
        assert after[weak] == before[weak] + 1, "what slipped gets its last cue back"
        assert all(new <= old for at, (new, old) in enumerate(zip(after, before, strict=True)) if at != weak)
        assert len(log.passes()) == 5 and log.passes()[-1].round == 5
        assert log.state("slow-mill", "0-7", "fade", "left") is not None
        assert not link.told_of(Stop) and len(link.told_of(Play)) == 1, "round and round without a gap"


def with_levels(stand_screen, level):
    """The drill with every bar at one cue."""
    from dataclasses import replace

    practice = stand_screen.conductor.practice
    drill = practice.drill
    practice.drill = replace(drill, fade=replace(drill.fade, levels=(level,) * len(drill.fade.levels)))
    stand_screen.show()


NAMES = ["B♭", "E♭", "G7", "Cm", "F7", "Dm", "Am", "maj", "m7", "root-", "seventh", "Bb", "Eb", "7♭5"]


@pytest.mark.parametrize("size", [SIZE, (120, 40), (50, 20), (40, 7)])
async def test_with_nothing_left_to_see_no_chord_or_note_is_on_the_screen(kit, started, size):
    app, link = started
    async with app.run_test(size=size) as pilot:
        await put_mill(pilot)
        app.say("ready")
        assert any(name in screen_text(app) for name in NAMES)
        await choose(pilot, "fade")
        with_levels(app.screen, 0)
        app.say("ready")
        await pilot.press("space")
        link.report(Started(0.0))
        for index in (-1, 0, 1, 2, 3, 6, 7):
            link.report(kit.beat(index, 2, turn=-1 if index < 0 else 0))
            await pilot.pause()
            text = screen_text(app)
            assert not [name for name in NAMES if name in text], text
            assert not any(f" {letter} " in text for letter in "ACDEFG"), text
        for key in ("w", "x"):
            await pilot.press(key)
            assert isinstance(app.screen, StandScreen), "no list or reason gives it away"
        await pilot.press("space", "left", "right")
        assert not [name for name in NAMES if name in screen_text(app)]


@pytest.mark.parametrize(
    ("level", "seen", "hidden"),
    [
        (5, ["G7", "root-", "with 5"], []),
        (4, ["G7", "root-"], []),
        (3, ["G7"], ["root-", "with 5"]),
        (2, ["│▶G "], ["G7", "root-"]),
        (1, ["│▶·  ·"], ["G7", "root-"]),
        (0, ["│▶2 ", "bar 2 of One"], ["G7", "·", "root-"]),
    ],
)
async def test_each_cue_shows_what_it_should_and_no_more(kit, started, level, seen, hidden):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "fade")
        with_levels(app.screen, level)
        app.unsay()
        await pilot.press("space")
        link.report(Started(0.0))
        link.report(kit.beat(1, 0))
        await pilot.pause()
        picture = "\n".join(drawn(app, part) for part in ("chart", "now"))
        assert all(words in picture for words in seen), picture
        assert not any(words in picture for words in hidden), picture
        keys = drawn(app, "keyboard")
        assert ("root" in keys) == (level == 5), "the keyboard's marks are the strongest cue"
        assert ("Now G7" in drawn(app, "chart")) == (level >= 3), "a teacher's note may name the chord"


async def test_a_look_shows_the_bar_for_a_moment_and_counts(kit, started, monkeypatch):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "fade")
        await pilot.press("h")
        assert "Nothing is hidden" in drawn(app, "state")
        with_levels(app.screen, 0)
        monkeypatch.setattr("companion.tui.screens.stand.PEEK_S", 0.5)
        await pilot.press("space")
        link.report(Started(0.0))
        link.report(kit.beat(1, 0))
        await pilot.pause()
        await pilot.press("h")
        assert "G7" in drawn(app, "chart") and "Cm7" not in drawn(app, "chart")
        assert app.conductor.practice.drill.fade.peeked == {1}
        await pilot.pause(0.6)
        assert "G7" not in drawn(app, "chart")


async def test_in_the_dark_nothing_but_the_beat_until_the_end(kit, started, log):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "dark")
        app.unsay()
        await pilot.press("space")
        link.report(Started(0.0))
        link.report(kit.beat(2, 1))
        await pilot.pause()
        assert screen_text(app).split() == ["1", "[2]", "3", "4"]
        await pilot.press("space", "space")
        await play_pass(pilot, link)
        link.report(Finished(0.0))
        await pilot.pause()
        assert "B♭6 •" in drawn(app, "chart") and "dark" in drawn(app, "now")
        assert log.passes()[-1].kind == "dark" and log.passes()[-1].cues == 0
        assert app.screen.view.drill.finished and "Next:" in drawn(app, "now")


async def test_without_a_keyboard_one_key_says_how_it_went(started, log):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "climb")
        await pilot.press("space")
        first = link.told_of(Play)[-1]
        assert first.turns == 1 and first.tempo_bpm == pytest.approx(72)
        await play_pass(pilot, link, None)
        link.report(Finished(0.0))
        await pilot.pause()
        assert all(answer.words in drawn(app, "now") for answer in ANSWERS)
        await pilot.press("1")
        await pilot.pause()
        assert link.told_of(Play)[-1].tempo_bpm > 72, "clean: the next pass is faster"
        assert log.passes()[-1].answer == ANSWERS[0].words
        await play_pass(pilot, link, None)
        link.report(Finished(0.0))
        await pilot.pause()
        await pilot.press("right", "space", "right", "space", "right", "space", "space")
        assert app.screen.view.slips == {1, 2} and "One 2, One 3" in drawn(app, "now")
        assert drawn(app, "chart").count("×") == 2
        await pilot.press("enter")
        await pilot.pause()
        record = log.passes()[-1]
        assert record.slipped == (1, 2) and record.source == "told" and not record.clean
        assert link.told_of(Play)[-1].tempo_bpm < 76, "and falls after a bad one"
        assert "◆" in drawn(app, "state") and "•×" in drawn(app, "state") and "120" in drawn(app, "state")


async def test_the_climb_changes_the_tempo_for_the_next_bar_line(started):
    app, link = started
    app.key_heard = True
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("S", "S")
        link.told.clear()
        await choose(pilot, "climb")
        assert app.screen.view.drill.climb.target_bpm == 120, "a tempo slowed down to practise is no target"
        await pilot.press("space")
        await play_pass(pilot, link)
        (change,) = link.told_of(SetTempo)
        assert change.at == "bar" and change.tempo_bpm == pytest.approx(72 * 1.06)
        await pilot.press("f")
        assert len(link.told_of(SetTempo)) == 1 and "climb sets the tempo" in drawn(app, "state")


async def test_tempo_keys_in_a_heard_pass_wait_for_the_bar_line(started, log):
    app, link = started
    app.key_heard = True
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("space")
        await play_pass(pilot, link, finish=False)
        await pilot.press("F", "F", "s")
        assert [(change.tempo_bpm, change.at) for change in link.told_of(SetTempo)] == [
            (125, "bar"),
            (130, "bar"),
            (129, "bar"),
        ]


async def test_going_back_to_a_song_forgets_nothing(started, log):
    """The question after a pass with the bars marked so far, the hands, and the way through all keys."""
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "fade")
        app.conductor.hands = app.conductor.practice._hands = "right"
        await pilot.press("space")
        await play_pass(pilot, link, None)
        link.report(Finished(0.0))
        await pilot.pause()
        await pilot.press("space", "escape")
        await pilot.pause()
        assert not isinstance(app.screen, StandScreen)
        await pilot.press("escape", "escape")
        await pilot.pause()
        assert isinstance(app.screen, StandScreen) and app.screen.view.asking and app.screen.view.slips == {0}
        assert "how did that pass go" in drawn(app, "now") and "Slipped: One 1" in drawn(app, "now")
        await pilot.press("enter")
        await pilot.pause()
        (record,) = log.passes()
        assert record.slipped == (0,) and record.hands == "right" and app.screen.view.playing
        await choose(pilot, "play")
        await pilot.press("K", "enter")
        await pilot.pause()
        coming = app.screen.view.next_stand
        assert coming is not None
        await pilot.press("escape")
        await pilot.pause()
        await pilot.press("escape")
        await pilot.pause()
        assert app.screen.view.next_stand is coming and "next key" in drawn(app, "beat")


async def test_a_song_chosen_again_is_as_it_was_left(started):
    """By enter in the list too, at once and after another song."""
    app, _ = started
    (app.paths.songs / "quick-mill.toml").write_text(MILL.replace("Slow", "Quick"), encoding="utf-8")
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press(*"slow", "enter")
        await choose(pilot, "fade")
        await pilot.press("S", "right")
        left = app.screen.view
        for titles in (["slow"], ["quick", "slow"]):
            for title in titles:
                await pilot.press("escape")
                await pilot.pause()
                app.screen.query_one("#find").value = ""
                await pilot.press(*title, "enter")
                await pilot.pause()
                assert isinstance(app.screen, StandScreen)
            assert app.screen.stand is left.stand and app.screen.view.drill == left.drill is not None
            assert app.screen.view.cursor == left.cursor


async def test_a_summary_stays_for_its_own_time(started, monkeypatch):
    """The timer of the pass before does not take the next one's away."""
    monkeypatch.setattr("companion.tui.screens.stand_news.SUMMARY_S", 0.6)
    app, link = started
    app.key_heard = True
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("space")
        end_s = await play_pass(pilot, link)
        await pilot.pause(0.4)
        await play_pass(pilot, link, right, end_s, 1)
        await pilot.pause(0.3)
        assert app.screen.view.summary, "the first timer would have been over by now"
        await pilot.pause(0.8)
        assert not app.screen.view.summary


async def test_a_notice_never_hides_what_a_key_has_changed(started):
    app, _ = started
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        for key, words in (("p", "two to the bar"), ("c", "2 and 4"), ("b", "two-feel"), ("d", "shells heard")):
            app.say("Something to say.")
            await pilot.press(key)
            assert words in drawn(app, "state")


async def test_a_drill_is_taken_up_where_it_was_left(kit, tmp_path, log):
    paths = kit.make_paths(tmp_path / "student", songs=(MILL,))
    for visit in range(2):
        link = kit.RecordingLink()
        app = CompanionApp(paths, load_settings(paths), link, log=log)
        async with app.run_test(size=SIZE) as pilot:
            await put_mill(pilot)
            await choose(pilot, "fade")
            assert f"round {visit + 1}:" in drawn(app, "state")
            await pilot.press("space")
            await play_pass(pilot, link)


async def test_free_time_waits_for_the_shell_and_needs_a_keyboard(started, log):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await choose(pilot, "free")
        assert isinstance(app.screen, ReadScreen) and "keyboard" in screen_text(app)
        await pilot.press("escape")
        link.report(Keyboards(("Piano",), ("Piano",)))
        await pilot.pause()
        await choose(pilot, "free")
        plays = len(link.told_of(Play))
        await pilot.press("space")
        stand = app.screen
        assert stand.view.waiting.index == 0 and "waits for you" in drawn(app, "beat")
        now_s = time.perf_counter()
        for _ in range(11):
            target = stand.view.waiting
            link.report(NoteIn(now_s, 30, 64, "Piano"))
            await pilot.pause()
            assert stand.view.waiting == target, "a wrong key moves nothing"
            for note in target.notes:
                link.report(NoteIn(now_s + 1.0, note, 64, "Piano"))
            for note in (30, *target.notes):
                link.report(NoteIn(now_s + 1.1, note, 0, "Piano"))
            now_s += 2.0
            await pilot.pause()
        assert log.passes()[-1].kind == "free" and stand.view.waiting.index == 0, "round again"
        await pilot.press("space")
        assert "Longest waits" in drawn(app, "now") and not stand.view.playing
        assert len(link.told_of(Play)) == plays, "no click"


async def test_today_starts_an_item_and_the_log_ticks_it_off(started, log):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.press("f3")
        await pilot.pause()
        await pilot.pause()
        assert isinstance(app.screen, TodayScreen)
        first = app.screen.marked
        assert first.song_id == "slow-mill" and "Step 1" in first.words, "the song with a lesson is begun with"
        await pilot.press("enter")
        await pilot.pause()
        await pilot.pause()
        stand = app.screen
        assert isinstance(stand, StandScreen) and stand.stand.loop == first.loop and stand.view.playing
        assert link.told_of(Play)[-1].tempo_bpm == 60 and link.told_of(Play)[-1].turns == 1, "it will ask how it went"
        await play_pass(pilot, link, None, start_s=time.perf_counter())
        link.report(Finished(0.0))
        await pilot.pause()
        assert stand.view.asking
        await pilot.press("2")
        await pilot.pause()
        await pilot.press("f3")
        await pilot.pause()
        await pilot.pause()
        assert app.screen.plan.items[0].done and "1 of" in str(app.screen.query_one("#today-title", Static).content)
        await pilot.press("right")
        await pilot.pause()
        assert app.screen.plan.minutes == 40
        await pilot.press("escape", "escape")
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "to practise today: F3" in screen_text(app), "the list of songs says what is left"


async def test_the_list_of_songs_counts_the_plan_that_f3_opens(tmp_path):
    """For the minutes of the settings, and for others once they were chosen."""
    paths = make_paths(tmp_path / "student", songs=(MILL,))
    save_setting(paths, "practice.minutes", 40)
    with PracticeLog.open(paths) as log:
        log.add_pass(replace(PASS, song_id="slow-mill", loop=(0, 1), started_at=datetime.now(UTC).isoformat()))
    app = CompanionApp(paths, load_settings(paths), RecordingLink())
    async with app.run_test(size=SIZE) as pilot:
        for step in (None, "left", None):
            await pilot.pause()
            await app.workers.wait_for_complete()
            await pilot.pause()
            counted = str(app.screen.query_one("#songs-title", Static).content)
            await pilot.press("f3")
            await pilot.pause()
            await pilot.pause()
            left = sum(not item.done for item in app.screen.plan.items)
            assert f"  {left} things to practise today" in counted
            if step:
                await pilot.press(step)
            await pilot.pause()
            minutes = app.screen.plan.minutes
            await pilot.press("escape")
        assert minutes == 20, "chosen in between, and kept"


async def test_progress_and_lesson_are_pages(started, log):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("space")
        await play_pass(pilot, link, lambda strike: [] if strike.group.index == 1 else right(strike))
        await pilot.press("f4")
        assert "Stop first" in drawn(app, "state")
        await pilot.press("space", "f4")
        await pilot.pause()
        text = screen_text(app)
        assert "Sections" in text and "One" in text and "missing" in text
        await pilot.press("escape", "i")
        await pilot.pause()
        assert "Quietly." in screen_text(app) and "1. section One" in screen_text(app)


async def test_tapping_with_the_click_measures_and_keeps_what_midi_says(kit, started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("f5", "t")
        assert isinstance(app.screen, KeyboardsScreen)
        assert link.told_of(Play)[-1] == Play(TAP_BPM, turns=1)
        for number in range(4 * TAP_BARS):
            due_s = 10.0 + number * 60 / TAP_BPM
            link.report(BeatReport(due_s, 0, number // 4, number // 4, number % 4, 4, TAP_BPM))
            link.report(NoteIn(due_s + 0.034 + 0.002 * (number % 3), 60, 64, "Piano"))
        link.report(Finished(40.0))
        await pilot.pause()
        assert "36 ms" in screen_text(app) and app.settings.practice.latency_ms == 36
        assert load_settings(app.paths).practice.latency_ms == 36
        await pilot.press("t")
        for number in range(4 * TAP_BARS):
            link.report(BeatReport(time.perf_counter(), 0, number // 4, number // 4, number % 4, 4, TAP_BPM))
            await pilot.press("space")
            await pilot.pause(0.03)
        link.report(Finished(40.0))
        await pilot.pause()
        assert app.settings.practice.latency_ms == 36, "the space bar is not the piano"


async def test_keyboards_are_chosen(started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        link.report(Keyboards(("Small", "Grand"), ("Small", "Grand")))
        await pilot.press("f5")
        await pilot.pause()
        assert app.screen.query_one("#keyboards-list", OptionList).option_count == 2 + 3
        await pilot.press("enter")
        assert link.told_of(Configure)[-1].config.midi_in == ("Grand",)
        assert load_settings(app.paths).sound.midi_in == ("Grand",)
        link.report(Keyboards(("Small", "Grand"), ("Grand",)))
        await pilot.pause()
        assert "not heard Small" in screen_text(app)
        await pilot.press("a")
        assert link.told_of(Configure)[-1].config.midi_in == ()
        await pilot.press("escape")
        assert isinstance(app.screen, StandScreen)


async def test_where_no_keyboard_can_be_heard_the_reason_is_said(started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("f5")
        await pilot.pause()
        assert "Plug one in" in screen_text(app)
        link.report(Keyboards((), (), "no MIDI library for this Python is installed"))
        await pilot.pause()
        text = " ".join(screen_text(app).split())
        assert "No keyboard can be heard: no MIDI library for this Python is installed." in text
        assert "Plug one in" not in text


async def test_a_keyboard_that_goes_in_the_middle_of_a_pass_breaks_it_off(started, log):
    """The whole way: what the sound process tells, the sentence on the screen, the log; the music plays on."""
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        await pilot.press("space")
        end_s = await play_pass(pilot, link)
        arrangement, tempo_bpm = link.told_of(Load)[-1].arrangement, link.told_of(Play)[-1].tempo_bpm
        bars, _ = reports(arrangement, right, end_s, tempo_bpm, 1)
        for report in [report for bar in bars[:2] for report in bar]:
            link.report(report)
        port = next(report.port for report in bars[0] if isinstance(report, NoteIn))
        link.report(Notice("lost", f"The keyboard “{port}” went away. It will be heard again when it is back."))
        link.report(KeyboardGone(port))
        await pilot.pause()
        assert KEYBOARD_GONE in drawn(app, "state")
        whole, every = app.practice_log.passes(), app.practice_log.passes(broken=True)
        assert [record.broken for record in every] == [False, True] and len(whole) == 1
        assert app.screen.view.playing


async def test_where_it_sounds_is_chosen(started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        link.report(Keyboards(("Small",), ("Small",)))
        link.report(Outputs(("Synth", "Grand")))
        await pilot.press("f5")
        await pilot.pause()
        assert "✓ sounds    by itself" in screen_text(app)
        await pilot.press("down", "down", "down", "enter")
        config = link.told_of(Configure)[-1].config
        assert (config.mode, config.midi_out) == ("midi", "Synth")
        kept = load_settings(app.paths).sound
        assert (kept.mode, kept.midi_out) == ("midi", "Synth")
        assert "✓ sounds    Synth" in screen_text(app)
        link.report(Outputs(("Grand",)))
        await pilot.pause()
        assert "✓ sounds    Synth, which is not there now" in screen_text(app)
        await pilot.press("up", "up", "enter")
        config = link.told_of(Configure)[-1].config
        assert (config.mode, config.midi_out) == ("auto", "")
        await pilot.press("down", "down", "down", "enter")
        assert load_settings(app.paths).sound.mode == "silent"


async def test_a_log_that_cannot_be_had_is_said_and_practice_goes_on(kit, tmp_path):
    paths = kit.make_paths(tmp_path / "student", songs=(MILL,))
    paths.log.mkdir()
    app, link = kit.make_app(paths)
    async with app.run_test(size=SIZE) as pilot:
        await pilot.pause()
        await pilot.pause()
        assert "practice log" in screen_text(app)
        if isinstance(app.screen, ReadScreen):
            await pilot.press("escape")
        await put_mill(pilot)
        await pilot.press("space")
        await play_pass(pilot, link)
        assert app.practice_log.path is None and len(app.practice_log.passes()) == 1


async def test_a_rest_is_offered_once(started):
    app, link = started
    async with app.run_test(size=SIZE) as pilot:
        await put_mill(pilot)
        app.minutes._played_s = 25 * 60.0
        await pilot.press("space")
        await play_pass(pilot, link)
        assert "25 minutes" in drawn(app, "state"), "one line while it plays"
        await pilot.press("space")
        await pilot.pause()
        assert isinstance(app.screen, ReadScreen) and "five minutes" in screen_text(app)
        await pilot.press("space")
        assert isinstance(app.screen, StandScreen) and not app.minutes.rest_is_due


def test_the_keys_for_the_answers_say_the_answers():
    for answer in ANSWERS:
        action = BY_ID[f"answer-{answer.key}"]
        assert action.keys == (answer.key,) and action.words.lower().endswith(answer.words.lower())
