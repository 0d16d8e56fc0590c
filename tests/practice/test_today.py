"""The plan of a day and its ticks."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st
from practice.passes import NOW, SONG, played
from shipped import SONGS as SHIPPED
from strategies import pass_records

from companion.chart.lesson import Lesson, Step
from companion.practice.planning.layers import PERFORMANCE
from companion.practice.planning.plan import ITEM_KINDS, MINUTES, by_hand, plan_from_dict, plan_to_dict, tick
from companion.practice.planning.progress import SectionMemory
from companion.practice.planning.song_view import SongView
from companion.practice.planning.today import plan_today, share_out
from companion.practice.planning.totals import tallies

A, B = range(4), range(4, 8)


def view(*passes, song=SONG, **fields) -> SongView:
    return SongView(song, tuple(passes), tallies(passes), **fields)


def practised() -> SongView:
    """A song in the middle of being learned: B is due, a change slips, the tempo is on its way."""
    passes = [played(day, slips={2: "late"}, tempo_bpm=84.0) for day in (5, 4, 3)] + [played(2, B, tempo_bpm=90.0)]
    memories = (SectionMemory(SONG.id, "B", NOW - timedelta(days=2), 0.8),)
    return view(*passes, memories=memories, working_bpm=88.0, heard=(tuple(range(len(SONG.unroll()))),))


def kinds(plan) -> list[str]:
    return [item.kind for item in plan.items]


# --- plans


@pytest.mark.parametrize("minutes", MINUTES)
def test_the_minutes_are_those_the_student_has(minutes):
    for views in ([practised()], [view(song=song) for song in SHIPPED], [view()]):
        plan = plan_today(minutes, views, NOW)
        assert sum(item.minutes for item in plan.items) == plan.minutes == minutes
        assert all(item.minutes >= 2 and item.words for item in plan.items)
        assert [kind for kind in kinds(plan) if kind != "rest"] == sorted(
            (kind for kind in kinds(plan) if kind != "rest"), key=ITEM_KINDS.index
        )
        assert kinds(plan)[-1] == "last" and not any(item.done for item in plan.items)


def test_ten_minutes():
    assert kinds(plan_today(10, [practised()], NOW)) == ["recall", "step", "last"]


def test_twenty_minutes():
    plan = plan_today(20, [practised()], NOW)
    assert kinds(plan) == ["recall", "change", "step", "climb", "last"]
    recall, change, step, climb, last = plan.items
    assert (recall.loop_name, recall.loop, recall.drill) == ("B", (4, 5, 6, 7), "dark")
    assert recall.words == "Section B from memory: due for 2 days."
    assert (change.loop_name, change.loop, change.tempo_bpm) == ("bars 2 to 3", (1, 2), 53.0)
    assert change.words == "D7 to Gm7: late by 80 ms, 3 of 6. Slowly, until it is a single move."
    assert (
        step.words.startswith("Step 2 of 13: section A, left hand, in free time, 2 clean passes.")
        and step.drill == "free"
    )
    assert (climb.loop_name, climb.words, climb.drill) == (
        "whole form",
        "Up to tempo: 88 now, 120 is the target.",
        "climb",
    )
    assert (last.loop_name, last.tempo_bpm) == ("B", 75.0), "the surest section, a little slower than it goes"


def test_the_first_day_ends_slowly_and_no_slower():
    """Nothing is known of the tempo yet: slow stands for it once, not twice."""
    last = plan_today(20, [SongView(SONG)], NOW).items[-1]
    assert (last.kind, last.tempo_bpm) == ("last", 72.0)


def test_nothing_is_said_to_go_well_that_does_not():
    """One pass in which every bar slipped: a strength of nought is no joy to end with."""
    slipped = view(played(1, slips=dict.fromkeys(range(12), "missing")))
    (last,) = (item for item in plan_today(20, [slipped], NOW).items if item.kind == "last")
    assert "goes well" not in last.words and "slowly" in last.words


def test_forty_minutes_have_a_rest():
    plan = plan_today(40, [practised(), *(view(song=song) for song in SHIPPED)], NOW)
    at = kinds(plan).index("rest")
    played_before = sum(item.minutes for item in plan.items[:at])
    assert 10 <= played_before <= 25 and plan.items[at].minutes == 5
    assert all(item.minutes <= 10 for item in plan.items)
    assert "rest" not in kinds(plan_today(25, [practised()], NOW))


@given(st.integers(-5, 200))
def test_any_number_of_minutes(minutes):
    plan = plan_today(minutes, [practised(), view(song=SHIPPED[0])], NOW)
    assert sum(item.minutes for item in plan.items) == plan.minutes == min(max(minutes, 5), 120)


def test_an_empty_log_begins_with_the_first_song():
    views = [view(song=song) for song in SHIPPED]
    plan = plan_today(20, views, NOW)
    assert {item.song_id for item in plan.items} == {"kettle-on-the-sill"}, (
        "the one its own comment names for a new hand"
    )
    assert kinds(plan) == ["step", "step", "step", "last"]
    assert [item.drill for item in plan.items[:2]] == ["listen", "free"]
    assert plan_today(20, [], NOW).items == ()


def test_a_long_break_goes_on_with_what_was_known():
    old = view(played(60), song=SONG)
    plan = plan_today(10, [old, view(song=SHIPPED[0])], NOW)
    assert {item.song_id for item in plan.items} == {SONG.id}


def test_several_songs_take_turns():
    other = replace(SONG, id="other", title="Other")
    plan = plan_today(40, [view(played(1)), view(played(2, song=other), song=other)], NOW)
    steps = [item.song_id for item in plan.items if item.kind == "step"]
    assert steps[:2] == [SONG.id, "other"], "the one played last comes first"


def test_the_lesson_is_followed():
    lesson = Lesson(
        steps=(
            Step("A", "left", "whole", None, passes=1),
            Step("A", "both", "two", 66.0, passes=3, note="Softly."),
            Step("", "left", "four", 100.0, cues=False),
        )
    )
    song = replace(SONG, lesson=lesson)
    done = played(1, A, kind="free", tempo_bpm=0.0)
    half = played(1, A, tempo_bpm=66.0, pattern="two", hands="both")
    plan = plan_today(20, [view(done, half, song=song)], NOW)
    second, third = [item for item in plan.items if item.kind == "step"]
    assert second.words == "Step 2 of 3: section A, both hands, two to the bar, at 66, 3 clean passes. Softly."
    assert (second.hands, second.pattern, second.tempo_bpm, second.passes) == ("both", "two", 66.0, 2)
    assert (third.drill, third.loop_name) == ("fade", "whole form")
    plan = plan_today(20, [view(done, half, half, half, song=song)], NOW)
    assert [item.words.split(":")[0] for item in plan.items if item.kind == "step"] == ["Step 3 of 3"]


def test_what_is_due_is_due_in_the_students_own_day():
    late_evening = datetime(2026, 3, 20, 23, 30, tzinfo=timezone(timedelta(hours=-8)))  # the 21st in UTC

    def words(hours: float) -> list[str]:
        memory = SectionMemory(SONG.id, "A", late_evening + timedelta(hours=hours), 0.9)
        plan = plan_today(10, [view(played(1), memories=(memory,))], late_evening, late_evening.tzinfo)
        return [item.words for item in plan.items if item.kind == "recall"]

    assert words(0.4) == ["Section A from memory: due today."]
    assert words(0.6) == [], "after midnight is tomorrow"
    assert words(-24) == ["Section A from memory: due since yesterday."]
    never = SectionMemory(SONG.id, "A", NOW, None)
    assert "recall" not in kinds(plan_today(10, [view(played(1), memories=(never,))], NOW))


def test_what_went_from_symbols_is_recalled_from_symbols_until_it_goes_from_memory():
    symbols = SectionMemory(SONG.id, "A", NOW, 0.8, from_symbols=True)
    plan = plan_today(10, [view(played(1), memories=(symbols,))], NOW)
    [item] = [item for item in plan.items if item.kind == "recall"]
    assert (item.words, item.drill) == ("Section A from symbols: due today.", "symbols-only")
    assert "recall" not in ticks(plan, later(2, A, kind="symbols", cues=0.7)), "some notes were shown"
    assert "recall" in ticks(plan, later(2, A, kind="symbols-only", cues=0.6))
    assert "recall" in ticks(plan, later(2, A, kind="dark", cues=0.0)), "less was shown than asked"
    by_heart = SectionMemory(SONG.id, "A", NOW + timedelta(days=9), 0.95)
    plan = plan_today(10, [view(played(1), memories=(symbols, by_heart))], NOW)
    assert "recall" not in kinds(plan)


def test_the_shakiest_memory_comes_first():
    memories = (SectionMemory(SONG.id, "A", NOW, 0.88), SectionMemory(SONG.id, "B", NOW, 0.5))
    plan = plan_today(40, [view(played(1), memories=memories)], NOW)
    assert [item.loop_name for item in plan.items if item.kind == "recall"] == ["B", "A"]


def test_without_a_keyboard_the_bars_that_slipped_are_mended():
    passes = [played(day, slips={6: "wrong"}, told=True) for day in (3, 2, 1)]
    [change] = [item for item in plan_today(20, [view(*passes)], NOW).items if item.kind == "change"]
    assert (change.loop, change.words) == ((5, 6), "B bar 3: slipped 3 of 3. Take it with the bar before it, slowly.")


# --- tempo


def tempo_of(kind: str, plan) -> float:
    return next(item.tempo_bpm for item in plan.items if item.kind == kind)


def test_no_tempo_above_the_target():
    """Faster than the target a year ago, and said so by the student: an item is for the tempo the song has."""
    fast = [played(day, slips={2: "late"}, tempo_bpm=190.0) for day in (9, 8)] + [played(7, tempo_bpm=190.0)]
    fast.append(played(6, told=True, tempo_bpm=240.0))
    memory = SectionMemory(SONG.id, "B", NOW, 0.8)
    plan = plan_today(40, [view(*fast, memories=(memory,))], NOW)
    assert {item.kind for item in plan.items} >= {"recall", "change", "last"}
    assert all(item.tempo_bpm <= SONG.tempo_bpm for item in plan.items)
    assert tempo_of("change", plan) == 0.6 * SONG.tempo_bpm and tempo_of("recall", plan) == SONG.tempo_bpm


def test_slower_than_what_failed():
    """Once at 110, and since then not even at 50."""
    slow = [played(day, slips={2: "late"}, tempo_bpm=50.0) for day in (4, 3, 2)]
    plan = plan_today(20, [view(played(9, tempo_bpm=110.0), *slow)], NOW)
    assert tempo_of("change", plan) == 45.0
    mended = played(1, (1, 2), tempo_bpm=100.0)
    assert tempo_of("change", plan_today(20, [view(*slow, mended)], NOW)) == 60.0, "what went since has not failed"


def test_what_was_said_counts_less_than_what_was_heard():
    slips = [played(day, slips={2: "late"}, tempo_bpm=100.0) for day in (9, 8)]
    heard, said = (plan_today(20, [view(*slips, played(1, told=told, tempo_bpm=100.0))], NOW) for told in (False, True))
    assert (tempo_of("change", heard), tempo_of("change", said)) == (60.0, 54.0)
    assert (tempo_of("climb", heard), tempo_of("climb", said)) == (100.0, 90.0)


@given(st.lists(pass_records(song_id=SONG.id, loop=tuple(range(12))), max_size=12))
def test_whatever_was_played_the_tempo_can_be_played(records):
    plan = plan_today(40, [view(*sorted(records, key=lambda record: record.started_at))], NOW)
    assert all(item.tempo_bpm == 0 or 20 <= item.tempo_bpm <= SONG.tempo_bpm for item in plan.items)


def test_at_the_target_there_is_nothing_to_climb():
    assert "climb" not in kinds(plan_today(40, [view(played(1, tempo_bpm=120.0))], NOW))
    song = replace(SONG, lesson=Lesson(steps=(Step("", "left", "four", 120.0, passes=1),)))
    plan = plan_today(20, [view(played(1, tempo_bpm=120.0), song=song)], NOW)
    assert kinds(plan) == ["last"] and plan.items[0].minutes == 20, "a song that is learned is played"


@given(
    st.integers(1, 12).flatmap(
        lambda n: st.tuples(st.lists(st.sampled_from((1.5, 2.0, 3.0)), min_size=n, max_size=n), st.integers(2 * n, 120))
    )
)
def test_shares_add_up(case):
    weights, minutes = case
    shares = share_out(minutes, weights)
    assert sum(shares) == minutes and min(shares) >= 2
    assert all(a <= b for (v, a), (w, b) in zip(zip(weights, shares), list(zip(weights, shares))[1:]) if v < w)


# --- ticks


def later(minutes: float, *args, **fields):
    """A pass so many minutes after NOW, when the plan was made."""
    return played(-minutes / 1440, *args, **fields)


def ticks(plan, *passes) -> list[str]:
    return [item.kind for item in tick(plan, passes).items if item.done]


def test_items_tick_themselves_off():
    plan = plan_today(20, [practised()], NOW)
    assert ticks(plan) == []
    assert ticks(plan, later(2, B)) == [], "with the page it is no recall"
    recalled = later(2, B, cues=0.0, slips={5: "wrong"})
    assert ticks(plan, recalled) == ["recall"], "tried is done, whether it went or not"
    mended = [later(4 + n, (1, 2), duration_s=60.0) for n in range(3)]
    assert ticks(plan, recalled, *mended) == ["recall", "change"]
    found = [later(8 + n, A, kind="free", tempo_bpm=0.0) for n in range(2)]
    assert ticks(plan, recalled, *mended, *found) == ["recall", "change", "step"]
    climbed = [later(12, kind="climb", duration_s=180.0, slips={1: "late"})]
    assert ticks(plan, recalled, *mended, *found, *climbed) == ["recall", "change", "step", "climb"]
    ended = [later(16, B, duration_s=150.0)]
    done = tick(plan, [recalled, *mended, *found, *climbed, *ended])
    assert all(item.done for item in done.items)
    assert [item.done for item in tick(plan, [recalled]).items][:2] == [True, False]


def test_a_performance_alone_ticks_a_performance():
    plan = plan_today(20, [practised()], NOW)
    whole = tuple(range(8))
    item = replace(plan.items[0], kind="step", layer=PERFORMANCE, drill="play", loop=whole, hands="both", passes=0)
    plan = replace(plan, items=(item,))
    played = [replace(later(n, whole), hands="both", duration_s=600.0) for n in (1, 2)]
    assert not tick(plan, played).items[0].done, "to play it is no performance of it"
    assert tick(plan, played, performed={item.song_id}).items[0].done
    assert not tick(plan, [], performed={"another"}).items[0].done


def test_what_does_not_tick():
    plan = plan_today(20, [practised()], NOW)
    assert ticks(plan, later(-5, B, cues=0.0)) == [], "played before the plan was made"
    assert ticks(plan, later(2, B, cues=0.0, song=replace(SONG, id="other"))) == []
    assert ticks(plan, later(2, (4, 5), cues=0.0)) == [], "half of the section"
    assert "climb" not in ticks(plan, *(later(n, duration_s=600.0) for n in range(1, 5))), "playing along is no climb"


def test_no_pass_ticks_off_two():
    plan = plan_today(20, [practised()], NOW)
    assert len(ticks(plan, later(1, cues=0.0, duration_s=3600.0, kind="fade+climb"))) == 1


def test_no_pass_ticks_off_two_however_often_one_looks():
    """As the app does: after each pass, with the ticks of the look before."""
    song = replace(SONG, lesson=Lesson(steps=tuple(Step("A", "left", "whole", 60.0, passes=2) for _ in range(2))))
    fresh = plan_today(20, [view(song=song)], NOW)
    step = next(item for item in fresh.items if item.kind == "step" and item.loop == tuple(A))
    last = replace(step, kind="last", passes=0, minutes=3)
    plan = fresh = replace(fresh, items=(step, replace(step, words="Again."), last))
    passes = [later(1 + n, A, pattern="whole", duration_s=40.0, song=song) for n in range(8)]
    counts = []
    for number in range(len(passes)):
        plan = tick(plan, passes[: number + 1])
        counts.append(sum(item.done for item in plan.items))
        assert plan == tick(fresh, passes[: number + 1]), "as if looked at but once"
    assert counts == [0, 1, 1, 2, 2, 2, 2, 3], "the last wants three quarters of its three minutes"


def test_what_was_ticked_by_hand_leaves_passes_to_the_others_and_opened_again_counts_anew():
    song = replace(SONG, lesson=Lesson(steps=(Step("A", "left", "whole", 60.0, passes=2),)))
    fresh = plan_today(20, [view(song=song)], NOW)
    step = next(item for item in fresh.items if item.kind == "step" and item.loop == tuple(A))
    passes = [later(10 + n, A, pattern="whole", duration_s=40.0, song=song) for n in range(2)]
    moment = lambda minutes: NOW + timedelta(minutes=minutes)
    ticked = by_hand(step, True, moment(5))
    plan = replace(fresh, items=(ticked, replace(step, words="Again.")))
    assert [item.done for item in tick(plan, passes).items] == [True, True]
    again = by_hand(ticked, False, moment(20))
    plan = replace(fresh, items=(again,))
    assert not tick(plan, passes).items[0].done, "what was played before does not tick it off again"
    more = [later(30 + n, A, pattern="whole", duration_s=40.0, song=song) for n in range(2)]
    assert tick(plan, [*passes, *more]).items[0].done


def test_a_pass_counts_for_the_item_of_just_its_bars():
    plan = plan_today(20, [practised()], NOW)
    assert ticks(plan, later(16, B, duration_s=150.0)) == ["last"]
    whole = later(16, duration_s=300.0, kind="climb")
    assert ticks(plan, whole) == ["climb"], "though it goes over the bars of the step too"


def test_a_step_from_memory_wants_memory():
    song = replace(SONG, lesson=Lesson(steps=(Step("A", "left", "four", 80.0, cues=False, passes=1),)))
    plan = plan_today(20, [view(played(1), song=song)], NOW)
    assert "step" not in ticks(plan, later(2, A, duration_s=5.0))
    assert "step" not in ticks(plan, later(2, A, duration_s=5.0, cues=0.0, tempo_bpm=60.0)), "slower than asked"
    assert "step" in ticks(plan, later(2, A, duration_s=5.0, cues=0.0))


def test_a_tick_stays_and_the_rest_ticks_with_what_follows():
    plan = plan_today(40, [practised()], NOW)
    at = kinds(plan).index("rest")
    ticked = replace(plan, items=tuple(replace(item, done=number == at + 1) for number, item in enumerate(plan.items)))
    done = [item.done for item in tick(ticked, []).items]
    assert done[at] and done[at + 1] and sum(done) == 2


@given(st.lists(pass_records(song_id=SONG.id, loop=tuple(range(12))), max_size=12), st.sampled_from(MINUTES))
def test_more_playing_never_takes_a_tick_away(records, minutes):
    plan = plan_today(minutes, [practised()], datetime(2026, 1, 1, tzinfo=NOW.tzinfo))
    before, after = tick(plan, records[:-1]), tick(plan, records)
    assert all(new.done >= old.done for old, new in zip(before.items, after.items))


def test_a_plan_is_kept_as_json():
    plan = tick(plan_today(40, [practised()], NOW), [later(2, B, cues=0.0)])
    assert plan_from_dict(json.loads(json.dumps(plan_to_dict(plan)))) == plan
    for damaged in (
        None,
        3,
        "x",
        {},
        {"day": "x", "made_at": NOW.isoformat(), "minutes": 3, "items": []},
        {"items": [{}]},
    ):
        assert plan_from_dict(damaged) is None
