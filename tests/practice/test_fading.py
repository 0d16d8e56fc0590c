"""The fading drill: worked rounds, and what must hold after any pass.

Outside check: the rule of vanishing cues (Glisky, Schacter and Tulving 1986): a hint comes back after a failure, goes
only after success; and landmarks at section beginnings (Chaffin and Imreh 1997).
"""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import LogError
from companion.practice.drills.fading import (
    FULL,
    GOALS,
    WAYS,
    Cue,
    FadeBar,
    after_pass,
    cue_text,
    from_json,
    is_passed,
    level,
    peek,
    section_runs,
    start,
    to_json,
)

NONE = frozenset()


def bars(count=8, strengths=(), section_bars=8, names="AABA"):
    return [
        FadeBar(
            index,
            names[index // section_bars % len(names)],
            index % section_bars + 1,
            strengths[index] if strengths else 0.0,
        )
        for index in range(count)
    ]


@st.composite
def drills(draw):
    """A drill and the passes of someone who slips now and then."""
    count = draw(st.integers(1, 12))
    strengths = draw(st.lists(st.floats(0, 1), min_size=count, max_size=count))
    loop = bars(count, strengths, section_bars=draw(st.integers(1, 5)))
    state = start(
        loop,
        draw(st.sampled_from(WAYS[:3])),
        draw(st.integers(0, 9)),
        draw(st.sampled_from((0.5, 0.85, 1.0))),
        draw(st.sampled_from(tuple(GOALS))),
    )
    one = st.tuples(st.frozensets(st.integers(0, count - 1), max_size=2), st.sampled_from((1.0, 1.0, 0.9, 0.6)))
    return state, draw(st.lists(one, max_size=25))


def played(state, passes):
    for slipped, share in passes:
        state = after_pass(state, slipped, share)
    return state


# --- worked rounds


def test_a_loop_without_slips_by_bars():
    """Eight bars: two set out, then twice as many after every pass without a slip; the section's first bar comes
    last."""
    state = start(bars(strengths=[0.5, 0.9, 0.1, 0.8, 0.2, 0.3, 0.7, 0.4]))
    seen = []
    while not state.finished:
        seen.append("".join(map(str, state.levels)))
        state = after_pass(state, NONE, 1.0)
    # Two set out (a quarter of 8), then four, then the rest; index 0 opens the section.
    assert seen[:4] == ["55555555", "54545555", "53534444", "52423333"]
    assert seen[-2:] == ["00000000"] * 2
    assert state.round == state.passes == 10
    assert state.words == "round 10: 8 of 8 bars from memory"


def test_by_kind_of_cue_one_kind_goes_after_the_other():
    state = start(bars(), "cues")
    seen = []
    while not state.finished:
        seen.append("".join(map(str, state.levels)))
        state = after_pass(state, NONE, 1.0)
    assert seen == ["55555555", "54444444", "43333333", "32222222", "21111111", "10000000", "00000000", "00000000"]


def test_by_sections_the_best_known_goes_first_and_the_next_waits_for_root_letters():
    state = start(bars(4, [0.1, 0.1, 0.6, 0.6], section_bars=2, names="AB"), "sections")
    seen = []
    while not state.finished:
        seen.append("".join(map(str, state.levels)))
        state = after_pass(state, NONE, 1.0)
    assert seen == ["5555", "5554", "5543", "5532", "5521", "5410", "4300", "3200", "2100", "1000", "0000", "0000"]


def test_silent_recall_is_one_dark_pass():
    state = start(bars(), "silent")
    assert state.is_dark and state.cue_strength == 0 and state.at_goal == 8
    state = after_pass(state, frozenset({2}), 0.9)
    assert state.finished and not state.is_dark and state.slips[2] == 1 and set(state.levels) == {0}


def test_a_drill_may_rest_at_the_chord_symbols():
    """What a lead sheet shows (common practice): symbols, no notes. The way there is the same, and it ends there."""
    loop = bars(strengths=[0.5, 0.9, 0.1, 0.8, 0.2, 0.3, 0.7, 0.4])
    state, seen = start(loop, goal=Cue.SYMBOL), []
    while not state.finished:
        seen.append("".join(map(str, state.levels)))
        state = after_pass(state, NONE, 1.0)
    assert seen == ["55555555", "54545555", "53534444", "53433333", "43333333", "33333333", "33333333"]
    assert state.words == "round 7: 8 of 8 bars from symbols" and state.cue_strength == 0.6


def test_a_note_that_came_back_begins_the_two_from_symbols_again():
    """Above a symbol come the notes themselves, which the frame of a hidden bar does not tell."""
    state = start(bars(2), "silent", goal=Cue.SYMBOL)
    assert (state.levels, state.is_dark, state.is_silent) == ((3, 3), False, True)
    assert after_pass(state, NONE, 1.0).finished, "one pass"
    state = played(start(bars(2), "cues", goal=Cue.SYMBOL), [(NONE, 1.0)] * 4)
    assert state.levels == (3, 3) and state.cue_free == 1
    slipped = after_pass(state, frozenset({1}), 0.9)
    assert slipped.finished, "the pass itself was played from symbols"
    slipped = after_pass(replace(state, cue_free=0), frozenset({1}), 0.9)
    assert (slipped.levels, slipped.cue_free) == ((3, 4), 1)
    assert after_pass(slipped, NONE, 1.0).cue_free == 0


def test_by_sections_the_next_waits_for_symbols_where_those_are_the_goal():
    state, seen = start(bars(4, section_bars=2, names="AB"), "sections", goal=Cue.SYMBOL), []
    while not state.finished:
        seen.append("".join(map(str, state.levels)))
        state = after_pass(state, NONE, 1.0)
    assert seen == ["5555", "5455", "4355", "3355", "3354", "3343", "3333", "3333"]


def test_a_slip_gives_that_bar_back_its_last_cue_and_only_that_bar():
    state = played(start(bars(), "cues"), [(NONE, 1.0)] * 3)
    assert state.levels == (3, 2, 2, 2, 2, 2, 2, 2)
    assert after_pass(state, frozenset({4}), 0.9).levels == (3, 1, 1, 1, 3, 1, 1, 1)  # passed: the others go on
    assert after_pass(state, frozenset({4}), 0.5).levels == (3, 2, 2, 2, 3, 2, 2, 2)  # failed: the round again
    assert after_pass(state, frozenset({4}), 0.5).round == state.round


def test_a_look_is_a_slip():
    state = played(start(bars(), "cues"), [(NONE, 1.0)] * 3)
    looked = after_pass(peek(state, 4), NONE, 1.0)
    assert looked.levels[4] == 3 and looked.slips[4] == 1 and looked.peeked == NONE
    assert is_passed(peek(state, 4), NONE, 1.0) and not is_passed(
        peek(peek(state, 4), 5), NONE, 1.0
    )  # 7 and 6 bars of 8


def test_a_look_while_without_cues_does_not_count_as_without_cues():
    state = played(start(bars(32), "cues"), [(NONE, 1.0)] * 7)
    assert state.levels == (0,) * 32 and state.cue_free == 1
    looked = after_pass(peek(state, 4), NONE, 1.0)
    assert not looked.finished and looked.cue_free == 0 and sum(looked.levels) == 1
    assert after_pass(state, NONE, 1.0).finished


def test_twice_without_cues_means_in_a_row():
    state = played(start(bars(), "cues"), [(NONE, 1.0)] * 7)
    assert state.cue_free == 1
    state = played(state, [(frozenset({3}), 0.5), (NONE, 1.0)])
    assert not state.finished and state.cue_free == 1
    assert after_pass(state, NONE, 1.0).finished


def test_a_bar_back_at_its_empty_frame_does_not_begin_the_two_again():
    state = played(start(bars(), "cues"), [(NONE, 1.0)] * 6)
    slipped_once = after_pass(state, frozenset({3}), 0.875)
    assert slipped_once.levels[3] == Cue.BAR and slipped_once.cue_free == 1
    assert after_pass(slipped_once, NONE, 1.0).finished
    # Slipping there again brings the root letter back, and that is a cue.
    looked = after_pass(peek(slipped_once, 3), NONE, 1.0)
    assert looked.levels[3] == Cue.ROOT and not after_pass(looked, NONE, 1.0).finished
    # An empty frame that never went is no playing without cues.
    early = played(start(bars(), "cues"), [(NONE, 1.0)] * 5)
    assert early.levels == (1, 0, 0, 0, 0, 0, 0, 0) and after_pass(early, NONE, 1.0).cue_free == 0


def test_a_failed_pass_without_a_named_bar_takes_back_the_last_round():
    state = played(start(bars()), [(NONE, 1.0)])
    assert state.levels.count(4) == 2
    back = after_pass(state, NONE, 0.5)
    assert back.levels == (5,) * 8 and back.round == state.round
    assert after_pass(state, NONE, 0.5, may_hide=False).levels == state.levels


def test_the_students_share_decides():
    for share, round_after in ((0.6, 2), (0.61, 1)):
        assert after_pass(start(bars(), pass_share=share), NONE, 0.6).round == round_after


def test_equal_bars_go_by_lot_and_the_lot_is_repeatable():
    def first(seed):
        return after_pass(start(bars(32), seed=seed), NONE, 1.0).levels

    assert first(1) == first(1)
    assert len({first(seed) for seed in range(5)}) == 5


def test_the_best_known_bars_lose_cues_first():
    state = after_pass(start(bars(8, [0, 0.1, 0.9, 0.2, 0.8, 0.3, 0.4, 0.5])), NONE, 1.0)
    assert {index for index in range(8) if state.levels[index] == 4} == {2, 4}
    state = after_pass(start(bars(8, [0, 0.1, 0.9, 0.2, 0.8, 0.3, 0.4, 0.5])), frozenset({2}), 0.9)
    assert {index for index in range(8) if state.levels[index] == 4} == {4, 7}


def test_a_form_of_32_bars_needs_few_passes_where_nothing_slips():
    for way, most in (("bars", 10), ("cues", 8), ("sections", 24)):
        state = start(bars(32), way)
        while not state.finished:
            state = after_pass(state, NONE, 1.0)
        assert state.passes <= most, way


def test_a_section_that_comes_round_again_is_a_run_of_its_own():
    assert section_runs(bars(5, section_bars=2, names="AAB")) == [range(2), range(2, 4), range(4, 5)]


# --- what must hold


@given(drills(), st.frozensets(st.integers(0, 11), max_size=4), st.sampled_from((0.0, 0.5, 0.85, 1.0)), st.booleans())
def test_a_hint_rises_after_failure_and_falls_only_after_success(drill, slipped, share, may_hide):
    state = played(*drill)
    slipped &= {bar.index for bar in state.bars}
    after = after_pass(state, slipped, share, may_hide=may_hide)
    if state.finished:
        assert after == state
        return
    passed = share >= state.pass_share
    for bar, before, now in zip(state.bars, state.levels, after.levels, strict=True):
        if after.finished:
            assert now == before <= max(Cue.BAR, state.goal)
        elif bar.index in slipped:
            assert now == min(FULL, before + 1)
        elif not passed or not may_hide:
            assert now == before or (not slipped and may_hide and now == before + 1)  # or no bar was named
        else:
            assert now in (before, before - 1)
            if bar.opens_section and now < before and now > state.goal:
                run = next(run for run in section_runs(state.bars) if state.bars.index(bar) in run)
                assert all(after.levels[position] <= now for position in run)  # the landmark goes last
    if passed and may_hide and not slipped and max(state.levels) > state.goal:
        assert sum(after.levels) < sum(state.levels)  # each passed round hides more
    assert min(after.levels) >= state.goal
    assert 0 <= after.cue_strength <= 1


@given(drills())
def test_a_drill_that_was_put_away_goes_on_as_if_it_had_not_been(drill):
    state, passes = drill
    kept = state
    for slipped, share in passes:
        kept = from_json(to_json(after_pass(kept, slipped, share)))
        if not kept.finished:
            kept = from_json(to_json(peek(kept, kept.bars[0].index)))
        state = after_pass(state, slipped, share)
        state = peek(state, state.bars[0].index)
        assert kept == state


@given(drills())
def test_every_drill_ends_once_nothing_slips(drill):
    state = played(*drill)
    for _ in range(12 + 5 * len(state.bars)):
        state = after_pass(state, NONE, 1.0)
    assert state.finished and all(state.bare) and max(state.levels) <= max(Cue.BAR, state.goal)


@given(st.text(min_size=1), st.text(min_size=1), st.text(min_size=1), st.text(min_size=1))
def test_what_a_cue_lets_the_screen_write(symbol, root, notes, shell):
    texts = [cue_text(cue, symbol=symbol, root=root, notes=notes, shell=shell) for cue in Cue]
    assert texts == [(), (), (root,), (symbol,), (symbol, notes, shell), (symbol, notes, shell)]


def test_cues_are_in_the_order_of_their_strength_and_have_words():
    assert [cue.words for cue in reversed(Cue)] == [
        "keyboard with the notes marked",
        "note names and shell",
        "chord symbol",
        "root letter",
        "empty bar",
        "section and bar number",
    ]
    assert level(start(bars()), 3) is Cue.KEYS


# --- bad input


@pytest.mark.parametrize(
    "call",
    [
        lambda: start([]),
        lambda: start([*bars(2), *bars(1)]),
        lambda: start(bars(), "corners"),
        lambda: start(bars(), pass_share=0),
        lambda: start(bars(), pass_share=1.1),
        lambda: start([FadeBar(0, "A", 0)]),
        lambda: start([FadeBar(0, "A", 1, 1.5)]),
        lambda: level(start(bars()), 8),
        lambda: peek(start(bars()), 8),
        lambda: after_pass(start(bars()), frozenset({8}), 1.0),
        lambda: after_pass(start(bars()), NONE, 1.5),
        lambda: after_pass(start(bars()), NONE, float("nan")),
    ],
)
def test_bad_input_gets_a_sentence(call):
    with pytest.raises(ValueError, match=r"\.$"):
        call()


SAVED = json.loads(to_json(start(bars())))
NEEDED = ("bars", "way", "seed", "pass_share", "levels", "slips", "hidden", "bare")
# As this companion wrote it before it read states by their types.
WRITTEN = (
    '{"bars": [[0, "A", 1, 0], [1, "A", 2, 0.5], [2, "B", 1, 0.5], [3, "B", 2, 0.5]], "way": "bars", "seed": 7, "pass_share": 0.85, '
    '"levels": [5, 3, 5, 4], "slips": [0, 0, 1, 0], "hidden": [false, true, false, true], "bare": [false, false, false, false], '
    '"peeked": [1], "pace": 0.5, "round": 3, "passes": 2, "cue_free": 0, "finished": false}'
)


def test_a_drill_that_was_saved_long_ago_is_read():
    state = start([FadeBar(i, "AB"[i // 2], i % 2 + 1, 0.5 if i else 0) for i in range(4)], "bars", 7)
    state = after_pass(after_pass(state, frozenset(), 1.0), frozenset({2}), 0.9)
    assert from_json(WRITTEN) == peek(state, 1) and state.goal == Cue.PLACE
    assert json.loads(to_json(peek(state, 1))) == json.loads(WRITTEN) | {"goal": 0}


@pytest.mark.parametrize(
    "text",
    ["", "null", "[]", "{", "{}", *(json.dumps({k: v for k, v in SAVED.items() if k != name}) for name in NEEDED)]
    + [json.dumps(SAVED | {name: None}) for name in SAVED]
    + [
        json.dumps(SAVED | change)
        for change in (
            {"levels": [5] * 7},
            {"levels": [6] * 8},
            {"levels": [True] * 8},
            {"bars": []},
            {"bars": SAVED["bars"][:1] * 8},
            {"bars": [[0, "A", 1]] * 8},
            {"peeked": [99]},
            {"pass_share": 0},
            {"pass_share": float("nan")},
            {"pace": float("inf")},
            {"way": ["bars"]},
            {"hidden": [0] * 8},
            {"round": 1.5},
            {"goal": 1},
            {"goal": 3, "levels": [2] * 8},
        )
    ],
)
def test_damaged_drills_are_refused(text):
    with pytest.raises(LogError, match="The saved fading drill is damaged"):
        from_json(text)
