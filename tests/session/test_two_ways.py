"""A phrase straight, then swung, then from memory: on a desk with simulated hands."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from desk import Conducted, Desk, nothing, off, play, right

from companion.chart.lesson import Lesson, Step
from companion.chart.melody import chorus_melody
from companion.chart.reader import parse_chart
from companion.errors import SettingsError
from companion.groove.swung_choice import SwungChoice
from companion.practice.drills.fading import FULL, Cue
from companion.practice.drills.two_ways import STAGES, TwoWays, after_pass
from companion.session.changes import Began
from companion.session.drill import DrillSettings, new_drill
from companion.session.overview import lesson_of_song, todays_plan
from companion.session.plan_items import start_item
from companion.session.practice import Practice
from companion.session.stand import Stand
from companion.session.swung_sheet import ready_to_swing
from companion.sound.messages import Load, Play

NOW = datetime(2026, 1, 5, 18, 0, tzinfo=UTC)
TUNE = """
title = "Both Ways"
key = "C"
meter = "4/4"
tempo = 120
feel = "swing"
form = "A"
[section.A]
bars = "C6 | Dm7 | G7 | C6"
melody = "c2d2e2g2 | f2e2d2c2 | B2c2d2f2 | e6z2"
"""


@pytest.fixture
def stand(settings) -> Stand:
    return ready_to_swing(Stand.put(parse_chart(TUNE, id="both-ways"), settings).change(bass="off"))


def loaded(desk: Desk) -> list[list[tuple[int, ...]]]:
    """The melody's onsets in ticks of each arrangement that was played, one a Play."""
    found, last = [], None
    for _, message in desk.sent:
        if isinstance(message, Load):
            last = message.arrangement
        elif isinstance(message, Play) and last is not None:
            found.append([strike.tick for bar in last.bars for strike in bar.written if not strike.held])
    return found


def begin(stand, log, hands) -> Desk:
    practice = Practice(stand, new_drill(stand, "swing", DrillSettings()), log, keyboard=True)
    desk = Desk(practice, hands)
    desk.send(practice.begin())
    return desk


def test_ready_is_a_right_hand_and_a_version(stand, settings) -> None:
    assert stand.hands == "right" and stand.swung.whole is not None and not stand.laid_back
    own = stand.with_swung(SwungChoice().with_seed(7).with_version(3)).with_hands("both")
    assert ready_to_swing(own) == own
    six = parse_chart(TUNE.replace("4/4", "6/8").replace("c2d2e2g2 | f2e2d2c2 | B2c2d2f2 | e6z2", "c6|c6|c6|c6"))
    with pytest.raises(SettingsError, match="6/8"):
        ready_to_swing(Stand.put(six, settings))


def test_it_is_heard_and_played_both_ways_and_then_from_memory(stand, log) -> None:
    desk = begin(stand, log, lambda moment: right(moment) if not desk.practice.drill.listens else [])
    drill = desk.practice.drill
    assert drill.two_ways.words == "1 of 5: hear it straight" and drill.next_pass.straight and drill.listens
    assert desk.practice.planned.melody == chorus_melody(stand.song)
    desk.run(until=lambda: desk.practice.drill.finished)
    desk.run(10)
    straight = [note.start_tick % 3840 for note in chorus_melody(stand.song) if note.pitch]
    swung = [note.start_tick % 3840 for note in stand.melody if note.pitch]
    assert straight != swung
    # Heard, played straight; heard, played twice swung; from memory.
    assert loaded(desk) == [straight, straight, swung, swung, swung, swung]
    marked = list(log.passes("both-ways"))
    assert [(record.kind, record.hands, record.cues, record.clean) for record in marked] == [
        ("swing", "right", cues, True) for cues in (1.0, 1.0, 1.0, 0.0)
    ]
    assert not desk.sound.playing and desk.practice.drill.cue(0) == FULL


def test_from_memory_nothing_is_shown_and_a_slip_leads_back_to_hearing_it(stand) -> None:
    drill = replace(new_drill(stand, "swing", DrillSettings()), two_ways=TwoWays(4))
    assert drill.is_dark and drill.hides_symbols and drill.is_one_pass
    assert all(drill.cue(index) == Cue.PLACE for index in stand.loop) and drill.cues(stand.loop) == 0.0
    again = drill.after(frozenset({1}), 0.5)
    assert again.two_ways == TwoWays(2) and again.listens and not again.finished
    assert drill.after(frozenset(), 1.0).finished


def test_who_plays_nothing_is_not_led_on(stand, log) -> None:
    desk = begin(stand, log, nothing)
    desk.run(60)
    assert desk.practice.drill.two_ways == TwoWays(1) and not desk.sound.playing
    assert "Nothing was heard" in desk.practice.say


def test_without_a_keyboard_the_student_says_how_it_went(stand, log) -> None:
    practice = Practice(stand, new_drill(stand, "swing", DrillSettings()), log, stops=True)
    desk = Desk(practice, nothing)
    desk.send(practice.begin())
    desk.run(until=lambda: practice.asking)
    assert practice.drill.two_ways == TwoWays(1)
    desk.send(practice.answer())
    desk.run(until=lambda: practice.asking)
    assert practice.drill.two_ways == TwoWays(3)


def test_the_stand_that_is_shown_is_the_one_that_is_played(stand, log, settings) -> None:
    conducted = Conducted(stand, log, settings)
    conductor, desk = conducted.conductor, conducted.desk
    conducted.do(conductor.practise("swing"))
    assert conductor.state.stand.melody == chorus_melody(stand.song) and conductor.state.stand.melody_sounds
    conducted.do(conductor.start())
    desk.run(until=lambda: conductor.practice.drill.two_ways.stage == 2)
    assert len([change for change in conducted.changes if isinstance(change, Began)]) >= 2
    desk.run(until=lambda: conductor.state.stand.melody == stand.melody)
    assert conductor.stand.melody == stand.melody


def test_a_step_of_the_lesson_is_offered_begun_and_ticked_off(log, settings) -> None:
    step = Step("", "right", "four", 90.0, passes=1, swing=True)
    song = replace(parse_chart(TUNE, id="both-ways"), lesson=Lesson(steps=(step,)))
    [item] = [item for item in todays_plan(log, [song], 20, NOW).items if item.kind == "step"]
    assert (item.drill, item.hands, item.loop, item.tempo_bpm) == ("swing", "right", (0, 1, 2, 3), 90.0)
    table = Conducted(Stand.put(song, settings).change(bass="off"), log, settings)
    table.conductor.sources.key_heard = True
    table.desk.hands = lambda moment: right(moment) if not table.conductor.practice.drill.listens else []
    table.do(start_item(table.conductor, item))
    assert table.conductor.stand.swung.whole is not None and table.conductor.state.stand.tempo_bpm == 90
    assert not lesson_of_song(log, song)[0].done
    table.desk.run(until=lambda: not table.conductor.playing and table.conductor.practice.drill.finished)
    assert lesson_of_song(log, song)[0].done
    assert [item.done for item in todays_plan(log, [song], None, NOW).items if item.kind == "step"] == [True]
    assert not lesson_of_song(log, replace(song, lesson=Lesson(steps=(replace(step, tempo_bpm=95.0),))))[0].done
    for damaged in (7, [], {"loop": 3, "tempo_bpm": 90.0}, {"loop": [0], "tempo_bpm": "x"}, {"loop": ["a"]}):
        log.put_state("both-ways", "0-3", "swung", damaged, "right")
        assert not lesson_of_song(log, song)[0].done


def test_stages_end() -> None:
    state = TwoWays()
    for _ in range(sum(stage.passes for stage in STAGES)):
        assert not state.finished
        state = after_pass(state, clean=True)
    assert state.finished and after_pass(state, clean=False) == state
    assert after_pass(TwoWays(1), clean=False) == TwoWays(1)


def test_after_a_pass_the_students_own_swing_is_told(practise, settings) -> None:
    eighths = TUNE.replace("c2d2e2g2 | f2e2d2c2 | B2c2d2f2 | e6z2", "cdef gfed | cdef gabc' | c'bag fedc | BcBA GABd")
    stand = Stand.put(parse_chart(eighths, id="eighths"), settings).with_hands("right")
    desk = play(practise(off(0.018), stand=stand, keyboard=True), 1)
    [said] = [line for line in desk.practice.result.lines if "swing" in line]
    assert said == "Your eighths swing 2.0 to 1; your notes on the beat come 18 ms behind the click."
    left = play(practise(stand=stand.with_hands("left"), keyboard=True), 1)
    assert not any("swing" in line for line in left.practice.result.lines)
