"""What a pass leaves in the log belongs to the hands that played it, and the memory of a section to its key."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, timedelta

import pytest
from practice.passes import NOW, SONG, played

from companion.practice.drills import fading, recall
from companion.session.drill import DrillSettings, new_drill, take_up
from companion.session.memory import entry_of, keep_pass
from companion.session.overview import hands_known, progress_of, todays_plan, views_of
from companion.session.plan_items import set_for_item
from companion.session.stand import Stand
from companion.store.log.practice_log import PracticeLog


@pytest.fixture
def log(paths):
    with PracticeLog.open(paths, zone=UTC) as log:
        yield log


@pytest.fixture
def stand(settings) -> Stand:
    return Stand.put(SONG, settings)


def tell(log, stand, hands: str, days_ago: float = 1.0, **fields) -> None:
    """A pass from memory over the whole form, with its drills one pass on."""
    drill = new_drill(stand, "fade+climb", DrillSettings()).after(frozenset(), 1.0)
    fields = {"hands": hands, "cues": 0.0, "kind": "fade+climb", "key": stand.key.name} | fields
    record = replace(played(days_ago, told=True, **fields), id=f"{hands} {days_ago}")
    keep_pass(log, record, drill, stand, NOW - timedelta(days=days_ago))


def test_a_pass_of_the_right_hand_leaves_the_left_as_it_was(log, stand):
    tell(log, stand, "left", 9)
    before = [state for state in log.states() if state.hands == "left"]
    known, drill = progress_of(log, SONG, NOW), take_up(stand, "fade+climb", DrillSettings(), log)
    assert {state.kind for state in before} == {"fade", "climb", "working_bpm", "recall"}
    tell(log, stand, "right", 1, slips={2: "late"}, tempo_bpm=100.0)
    assert [state for state in log.states() if state.hands == "left"] == before
    assert {state.kind for state in log.states() if state.hands == "right"} >= {"fade", "climb", "working_bpm"}
    assert progress_of(log, SONG, NOW) == known and take_up(stand, "fade+climb", DrillSettings(), log) == drill
    right = progress_of(log, SONG, NOW, "right")
    assert (right.best_bpm, right.hands, right.weak_bars[0].slips) == (None, "right", 1)
    assert not known.weak_bars and known.best_bpm == 80.0
    assert hands_known(log, SONG) == ("left", "right")
    assert take_up(stand.change(hands="right"), "fade+climb", DrillSettings(), log)[0].fade.passes == 1
    assert take_up(stand.change(hands="both"), "fade+climb", DrillSettings(), log)[0].fade.passes == 0


def test_today_knows_each_hand(log, stand):
    tell(log, stand, "left", 30)
    for day in (4, 3, 2):
        tell(log, stand, "right", day, slips={6: "wrong"}, tempo_bpm=100.0)
    assert [(view.hands, len(view.passes)) for view in views_of(log, [SONG], NOW)] == [("left", 1), ("right", 3)]
    plan = todays_plan(log, [SONG], 40, NOW)
    assert {item.hands for item in plan.items if item.kind == "recall"} == {"left"}
    assert {item.hands for item in plan.items if item.kind == "change"} == {"right"}
    steps = [item.words for item in plan.items if item.kind == "step"]
    assert len(steps) == len(set(steps)), "the lesson is one for all hands"


def test_a_section_is_remembered_in_its_key(log, stand):
    tell(log, stand, "left", 3)
    own = log.state(SONG.id, "A", "recall", "left")
    tell(log, stand.with_key("Gb"), "left", 2)
    tell(log, stand.with_key("F#"), "left", 1)
    assert log.state(SONG.id, "A", "recall", "left") == own
    assert {state.key for state in log.states("recall")} == {"", "Gb"}, "one memory, whichever way it is spelled"
    [view] = views_of(log, [SONG], NOW)
    due = {(memory.section, memory.key): memory.due_at for memory in view.memories}
    assert set(due) == {("A", ""), ("B", ""), ("A", "Gb"), ("B", "Gb")}
    assert due["B", ""] == recall.from_json(log.state(SONG.id, "B", "recall", "left")).due_at


def test_a_section_that_is_due_in_another_key_is_planned_in_it(log, stand):
    tell(log, stand.with_key("Gb"), "left", 30)
    plan = todays_plan(log, [SONG], 20, NOW)
    item = next(item for item in plan.items if item.kind == "recall")
    assert item.key == "Gb" and item.words == "Section A in Gb from memory: due for 30 days."
    set_up, kind = set_for_item(stand, item, False)
    assert (set_up.key.name, set_up.loop_name, kind) == ("Gb", "A", "dark")
    assert set_for_item(set_up, replace(item, key="F"), False)[0].key.name == "F"
    for minutes, (key, done) in enumerate((("F", False), ("Gb", True)), 1):  # the song's own key is not what was due
        tell(log, stand.with_key(key), "left", -minutes / 1440, loop=item.loop)
        again = todays_plan(log, [SONG], 20, NOW)
        assert next(other for other in again.items if other.key == "Gb").done == done
    progress = progress_of(log, SONG, NOW)
    assert [words.split(":")[0] for words in progress.in_other_keys] == ["B in Gb", "A in Gb"]
    assert "last" in {item.kind for item in plan.items}


@pytest.mark.parametrize("share", [0.5, 0.6])
def test_the_tempo_of_a_climb_in_the_plan_is_the_one_it_begins_at(log, stand, share):
    """Also where a section alone was played much faster, and where a climb was left on its way."""
    log.add_pass(played(1, loop=range(4), tempo_bpm=118.0))
    settings = DrillSettings(start_share=share)
    for days_ago in (0.9, 0.8):
        plan = todays_plan(log, [SONG], 40, NOW, afresh=True, start_share=share)
        item = next(item for item in plan.items if item.kind == "climb")
        drill = take_up(set_for_item(stand, item, False)[0], "climb", settings, log)[0]
        assert item.tempo_bpm == round(drill.climb.tempo_bpm)
        drill = drill.after(frozenset(), 1.0)
        record = replace(played(days_ago, told=True, kind="climb", tempo_bpm=item.tempo_bpm), id=f"{days_ago}")
        keep_pass(log, record, drill, stand, NOW - timedelta(days=days_ago))


def test_what_is_left_is_one_value(log, stand):
    drill = new_drill(stand, "fade", DrillSettings()).after(frozenset(), 1.0)
    record = played(1, cues=0.0, hands="right")
    entry = entry_of(log, record, drill, stand, NOW)
    assert entry.record == record and log.states() == [] and log.passes() == []
    assert [(state.loop_key, state.kind) for state in entry.states] == [
        ("0-11", "fade"),
        ("A", "recall"),
        ("B", "recall"),
    ]
    assert fading.from_json(entry.states[0].value) == drill.fade


def test_a_damaged_memory_is_learned_anew_and_the_pass_is_kept(log, stand):
    log.put_state(SONG.id, "A", "recall", "damaged", "left")
    tell(log, stand, "left")
    assert log.count() == 1 and recall.from_json(log.state(SONG.id, "A", "recall", "left"))
