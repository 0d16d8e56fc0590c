"""The climb: exact steps, worked climbs, saving; and simulated players who settle where the papers say.

Outside checks: Levitt 1971 (J. Acoust. Soc. Am. 49:467-477), p^n = 1/2; Kaernbach 1991 (Perception & Psychophysics
49:227-229), step down over step up = p/(1-p).
"""

from __future__ import annotations

import json
import math
import random
from dataclasses import replace
from statistics import mean

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shipped import spread

from companion.errors import LogError
from companion.practice.drills import climbing
from companion.practice.drills.climbing import after_pass, from_json, next_pass, picture, start, to_json

FLOOR = climbing.SMALLEST_STEP
# (rule, its setting, share of clean passes where it settles, source)
SETTLES = (
    ("runs", {"run": 1}, 0.5, "Levitt 1971"),
    ("runs", {"run": 2}, 0.7071, "Levitt 1971"),
    ("runs", {"run": 3}, 0.7937, "Levitt 1971"),
    ("runs", {"run": 4}, 0.8409, "Levitt 1971"),
    ("strict", {"aim": 0.75}, 0.75, "Kaernbach 1991"),
    ("strict", {"aim": 0.8}, 0.8, "Kaernbach 1991"),
    ("strict", {"aim": 0.85}, 0.85, "Kaernbach 1991"),
    ("strict", {"aim": 0.9}, 0.9, "Kaernbach 1991"),
)
STEP_RATIOS = ((0.75, 3), (0.8, 4), (0.9, 9), (0.5, 1))  # Kaernbach 1991: p/(1-p)


def climbed(state, passes):
    for clean in passes:
        state = after_pass(state, clean)
    return state


# --- the two rules


@pytest.mark.parametrize(("rule", "setting", "share", "source"), SETTLES)
def test_where_it_settles_is_told_as_published(rule, setting, share, source):
    assert start(60, 6000, rule, probes=False, **setting).settles_at == pytest.approx(share, abs=1e-4), source


@pytest.mark.parametrize(("rule", "setting", "share", "source"), spread(SETTLES, 3))
def test_a_player_settles_where_the_papers_say(rule, setting, share, source):
    """A player whose chance of a clean pass is logistic in log tempo, 50 % at 120, and does not learn; 40 seeds of
    250 passes, the first 80 left out. Within 0.025: the mean chance at the tempos played, and the mean chance at the
    settled tempo (0.035, six reversals)."""
    slope, middle = 12.0, math.log(120)

    def odds(log_tempo):
        return 1 / (1 + math.exp(slope * (log_tempo - middle)))

    at_tempos, at_settled = [], []
    for seed in range(40):
        chance = random.Random(seed)
        state = start(60, 6000, rule, probes=False, **setting)
        for number in range(250):
            if number >= 80:
                at_tempos.append(odds(state.log_tempo))
            state = after_pass(state, chance.random() < odds(state.log_tempo))
        at_settled.append(odds(math.log(state.settled_bpm)))
    assert mean(at_tempos) == pytest.approx(share, abs=0.025), source
    assert mean(at_settled) == pytest.approx(share, abs=0.035), source


@pytest.mark.parametrize(("aim", "ratio"), STEP_RATIOS)
def test_strict_steps_have_the_published_ratio(aim, ratio):
    state = start(60, 600, "strict", aim=aim)
    assert state.step_down / state.step == pytest.approx(ratio)
    up, down = after_pass(state, True), after_pass(state, False)
    assert up.log_tempo - state.log_tempo == pytest.approx(up.step)
    assert state.log_tempo - down.log_tempo == pytest.approx(ratio * down.step)


@pytest.mark.parametrize("run", [1, 2, 3, 4])
def test_runs_go_up_after_a_run_and_down_after_one(run):
    state = start(100, 600, "runs", run=run)
    assert climbed(state, [True] * (run - 1)).tempo_bpm == pytest.approx(100)
    assert climbed(state, [True] * run).tempo_bpm == pytest.approx(106)
    assert climbed(state, [True] * (run - 1) + [False]).tempo_bpm == pytest.approx(100 / 1.06**0.5)
    # The bad pass ended the run: it is counted from the beginning again.
    assert climbed(state, [True] * (run - 1) + [False] + [True] * (run - 1)).tempo_bpm == pytest.approx(100 / 1.06**0.5)


def test_steps_halve_at_reversals_down_to_the_floor():
    state = start(100, 6000, "runs", run=1)
    steps = []
    for clean in [True, False] * 4:
        before = state
        state = after_pass(state, clean)
        steps.append(abs(state.log_tempo - before.log_tempo))
    first = math.log(1.06)
    assert steps == pytest.approx([first, first / 2, first / 4, FLOOR, FLOOR, FLOOR, FLOOR, FLOOR])
    assert len(state.reversals) == climbing.LATEST_REVERSALS


def test_the_settled_tempo_is_the_geometric_mean_of_the_latest_reversals():
    state = start(100, 6000, "runs", run=1, probes=False)
    assert climbed(state, [True, False, True, False]).settled_bpm is None  # three reversals
    state = climbed(state, [True, False, True, False, True])
    # Reversals at 106, 106/1.06^(1/2), that times 1.06^(1/4), that over 1.01.
    peak, trough, second = 106, 106 / 1.06**0.5, 106 / 1.06**0.25
    assert state.settled_bpm == pytest.approx((peak * trough * second * second / 1.01) ** 0.25)
    assert state.working_bpm == state.settled_bpm


# --- the gentle rule


def test_a_slip_costs_five_percent_and_halves_the_step():
    state = start(100, 6000, probes=False)
    tempos = [state := after_pass(state, clean) for clean in (True, False, False, True)]
    step = math.log(1.06)
    assert [each.step for each in tempos] == pytest.approx([step, step / 2, step / 4, step / 4])
    assert tempos[1].tempo_bpm == pytest.approx(106 / 1.05) and tempos[2].tempo_bpm == pytest.approx(106 / 1.05**2)
    assert climbed(state, [False] * 20).step == climbing.GENTLE_SMALLEST


def test_every_run_of_clean_passes_doubles_the_step():
    state = replace(start(100, 6000, probes=False), step=math.log(1.004))
    steps = [(state := after_pass(state, True)).step / math.log(1.004) for _ in range(4 * climbing.GENTLE_RUN)]
    run = climbing.GENTLE_RUN
    assert steps[: 3 * run] == pytest.approx([1] * (run - 1) + [2] * run + [4] * run + [8])
    assert state.step == pytest.approx(math.log(1.06)), "and no further"
    slipped = climbed(state, [False] + [True] * (run - 1))
    assert slipped.step == pytest.approx(math.log(1.06) / 2), "the run begins anew"


def test_a_new_day_gives_longer_steps_again():
    small = climbed(start(100, 6000, probes=False), [True] + [False] * 8)
    assert after_pass(small, True).step == climbing.GENTLE_SMALLEST
    monday = after_pass(small, True, "2026-11-23")
    assert monday.step == climbing.NEW_DAY_STEP and after_pass(monday, False, "2026-11-23").step < monday.step
    later = after_pass(after_pass(monday, False, "2026-11-23"), True, "2026-11-24")
    assert later.step == climbing.NEW_DAY_STEP
    wide = start(100, 6000, probes=False)
    assert after_pass(wide, True, "2026-11-24").step == wide.step, "a new day makes no step smaller"
    strict = climbed(start(100, 6000, "strict", probes=False), [True, False] * 6)
    assert after_pass(strict, True, "2026-11-24").step == strict.step, "the published rules stay as published"


def test_where_the_gentle_rule_settles_is_exact():
    """Where steps are small beside how the chance of a clean pass falls, the tempo stands still on average where p makes it: the chain
    of step and run is solved by numpy, written anew from the rule's words, and p found by halving."""
    np = pytest.importorskip("numpy")
    top, bottom = math.log(1.06), math.log(1.0025)

    def moves(step, run):
        grown = min(top, 2 * step) if run == 3 else step
        return (grown, (run + 1) % 4), (max(bottom, step / 2), 0)

    states, places = [(top, 0)], {(top, 0): 0}
    for state in states:  # grows while it is read
        for after in moves(*state):
            if (after := (round(after[0], 12), after[1])) not in places:
                places[after] = len(states)
                states.append(after)

    def drift(p):
        matrix, up = np.zeros((len(states), len(states))), np.zeros(len(states))
        for place, state in enumerate(states):
            clean, bad = moves(*state)
            matrix[places[round(clean[0], 12), clean[1]], place] += p
            matrix[places[round(bad[0], 12), bad[1]], place] += 1 - p
            up[place] = p * clean[0] - (1 - p) * math.log(1.05)
        system = np.vstack([matrix - np.eye(len(states)), np.ones(len(states))])
        share = np.linalg.lstsq(system, np.eye(len(states) + 1)[-1], rcond=None)[0]
        return up @ share

    low, high = 0.5, 0.99
    while high - low > 1e-6:
        middle = (low + high) / 2
        low, high = (low, middle) if drift(middle) > 0 else (middle, high)
    assert start(60, 120).settles_at == round(low, 2)


def test_a_climb_goes_on_by_another_rule_from_where_it_stands():
    """As one that an older companion saved does, whose rule was the strict one unless another was set."""
    strict = climbed(start(60, 120, "strict"), [True] * 4 + [False])
    gentle = climbing.by_rule(strict, "gentle")
    assert (gentle.tempo_bpm, gentle.history, gentle.reversals) == (strict.tempo_bpm, strict.history, strict.reversals)
    assert after_pass(gentle, False).tempo_bpm == pytest.approx(strict.tempo_bpm / 1.05)
    assert climbing.by_rule(strict, "strict") is strict
    for rule in climbing.CLIMB_RULES:
        changed = climbing.by_rule(gentle, rule)
        assert from_json(to_json(changed)) == changed and next_pass(changed).tempo_bpm == next_pass(gentle).tempo_bpm


# --- worked climbs


@pytest.mark.parametrize(("rule", "hold"), [("strict", climbing.HOLD_PASSES), ("gentle", climbing.GENTLE_HOLD)])
def test_a_clean_climb_arrives_holds_and_is_over(rule, hold):
    state = start(60, 120, rule)
    tempos = []
    while not state.finished:
        plan = next_pass(state)
        tempos.append(plan.tempo_bpm)
        state = after_pass(state, True)
    whole = [played.tempo_bpm for played in state.history if played.phase != "probe"]
    assert whole[:3] == pytest.approx([60, 63.6, 67.416])
    assert whole[-hold:] == pytest.approx([120] * hold)
    assert state.working_bpm == 120 and next_pass(state).phase == "done" and next_pass(state).tempo_bpm == 120
    assert after_pass(state, False) == state
    assert len(tempos) == 12 + hold  # twelve steps of 6 % are an octave of tempo; so near the target no probe


def test_a_probe_is_two_bars_at_the_target_and_moves_nothing():
    state = climbed(start(60, 600), [True, False] * 6)
    plan = next_pass(state)
    assert plan.probe and plan.tempo_bpm == 600 and plan.bars == climbing.PROBE_BARS
    for clean in (True, False):
        after = after_pass(state, clean)
        assert after.log_tempo == state.log_tempo and after.step == state.step and after.reversals == state.reversals
        assert after.history[-1] == climbing.ClimbResult(600, clean, "probe") and not next_pass(after).probe
    assert not any(p.phase == "probe" for p in climbed(start(60, 600, probes=False), [True, False] * 20).history)


@pytest.mark.parametrize(("rule", "held"), [("strict", 1), ("strict", 2), ("gentle", 0), ("gentle", 1)])
def test_a_bad_pass_at_the_target_goes_on_climbing_from_below(rule, held):
    state = climbed(start(120, 120, rule, probes=False), [True] * held)
    assert next_pass(state).phase == "hold" and state.held == held
    state = after_pass(state, False)
    assert state.held == 0 and state.tempo_bpm < 120 and next_pass(state).phase == "climb"


def test_one_slip_after_two_clean_passes_at_the_target_keeps_the_tempo_and_two_do_not():
    state = climbed(start(120, 120, probes=False), [True] * climbing.GENTLE_SURE + [False])
    assert (state.held, state.tempo_bpm, next_pass(state).phase) == (0, 120, "hold")
    assert climbed(state, [True] * climbing.GENTLE_HOLD).finished
    fallen = after_pass(state, False)
    assert fallen.tempo_bpm == pytest.approx(120 / 1.05) and next_pass(fallen).phase == "climb"


def test_a_stretch_goes_above_the_target_and_comes_back():
    state = start(120, 120, "strict", stretch=True)
    phases = []
    while not state.finished:
        phases.append((next_pass(state).phase, round(next_pass(state).tempo_bpm, 1)))
        state = after_pass(state, True)
    assert phases == [("hold", 120), ("stretch", 127.2), ("stretch", 127.2), ("hold", 120), ("hold", 120)]
    tried = climbed(start(120, 120, stretch=True), [True, False])
    assert next_pass(tried).phase == "hold" and tried.held == 1 and tried.tempo_bpm == pytest.approx(120)


def test_gliding_rises_a_little_every_chorus():
    state = start(100, 110, "gliding")
    assert climbed(state, [True]).tempo_bpm == pytest.approx(101)
    assert climbed(state, [True, False]).tempo_bpm == pytest.approx(101)
    assert climbed(state, [True, False, False]).tempo_bpm == pytest.approx(100)
    assert climbed(state, [True, False, True]).tempo_bpm == pytest.approx(102.01)
    assert climbed(state, [True] * 20).finished and state.settled_bpm is None and state.settles_at is None


def test_the_picture_of_the_climb():
    state = climbed(start(60, 120, probes=False), [True, True, False])
    drawn = picture(state)
    assert [p.tempo_bpm for p in drawn.played] == pytest.approx([60, 63.6, 67.416])
    assert [p.clean for p in drawn.played] == [True, True, False]
    assert drawn.here == pytest.approx(math.log(state.tempo_bpm / 60) / math.log(2))
    assert drawn.words == f"{state.tempo_bpm:.0f} on the way to 120"
    assert picture(start(120, 120)).here == 1 and picture(start(60, 120)).here == 0
    assert picture(start(120, 120)).words == "at the target, 120: clean 0 of 7 times"
    assert picture(start(120, 120, "strict")).words == "at the target, 120: clean 0 of 3 times"


# --- what must hold

rules = st.sampled_from(
    [
        {"rule": "gentle"},
        {"rule": "strict"},
        {"rule": "strict", "aim": 0.5},
        {"rule": "runs"},
        {"rule": "runs", "run": 1},
        {"rule": "gliding"},
    ]
)


days = st.sampled_from(("", "2026-11-25", "2026-11-26"))


@given(
    rules, st.floats(20, 400), st.floats(20, 400), st.booleans(), st.lists(st.tuples(st.booleans(), days), max_size=60)
)
def test_a_climb_stays_in_bounds_and_survives_being_put_away(setting, start_bpm, target_bpm, stretch, passes):
    state = kept = start(start_bpm, target_bpm, stretch=stretch, **setting)
    for clean, day in passes:
        plan = next_pass(state)
        after = after_pass(state, clean, day)
        most = target_bpm * (climbing.STRETCH_RATIO if plan.phase == "stretch" else 1)
        assert state.start_bpm * climbing.SLOWEST_SHARE * (1 - 1e-9) <= plan.tempo_bpm <= most * (1 + 1e-9)
        if plan.phase == "climb":
            assert after.log_tempo >= state.log_tempo if clean else after.log_tempo <= state.log_tempo
        assert after.working_bpm <= target_bpm * (1 + 1e-9)
        if setting["rule"] == "gentle":
            assert after.tempo_bpm >= 0.95 * state.tempo_bpm, "a slip costs 5 % at most"
        kept = after_pass(from_json(to_json(kept)), clean, day)
        assert kept == after and from_json(to_json(after)) == after
        state = after
    picture(state)


# --- bad input


@pytest.mark.parametrize(
    "call",
    [
        lambda: start(60, 120, "stairs"),
        lambda: start(0, 120),
        lambda: start(60, math.inf),
        lambda: start(math.nan, 120),
        lambda: start(60, 120, aim=1),
        lambda: start(60, 120, aim=0.4),
        lambda: start(60, 120, run=0),
    ],
)
def test_bad_input_gets_a_sentence(call):
    with pytest.raises(ValueError, match=r"\.$"):
        call()


SAVED = json.loads(to_json(climbed(start(60, 120), [True, False, True])))
NEEDED = ("start_bpm", "target_bpm", "rule", "aim", "run", "probes", "log_tempo", "step", "history")
# As this companion wrote it before it read states by their types.
WRITTEN = (
    '{"start_bpm": 60, "target_bpm": 120, "rule": "weighted", "aim": 0.85, "run": 3, "probes": true, "log_tempo": 4.060354365816448, '
    '"step": 0.014567227030993956, "clean_run": 0, "heading": 1, "reversals": [4.210882378470052, 4.045787138785454], '
    '"since_probe": 4, "stretches": 0, "held": 0, "finished": false, "history": [[60.0, true, "climb"], [63.6, true, "climb"], '
    '[67.416, false, "climb"], [57.156158161, true, "climb"]]}'
)


def test_a_climb_that_was_saved_long_ago_is_read():
    """Under the names that its rules had then, and without a day."""
    state = climbed(start(60, 120, "strict", stretch=True), [True, True, False, True])
    assert from_json(WRITTEN) == state
    assert json.loads(to_json(state)) == json.loads(WRITTEN) | {"rule": "strict", "day": ""}
    runs = from_json(WRITTEN.replace("weighted", "transformed"))
    assert runs == replace(state, rule="runs")


@pytest.mark.parametrize(
    "text",
    ["", "7", "{}", *(json.dumps({k: v for k, v in SAVED.items() if k != name}) for name in NEEDED)]
    + [json.dumps(SAVED | {name: "x"}) for name in SAVED if name != "day"]
    + [
        json.dumps(SAVED | change)
        for change in (
            {"aim": 1},
            {"start_bpm": 121},
            {"log_tempo": math.nan},
            {"reversals": [math.inf]},
            {"reversals": [4.0] * 7},
            {"history": [[60, 1, "climb"]]},
            {"history": [[60, True, "jump"]]},
            {"heading": 2},
            {"heading": 0},
        )
    ],
)
def test_damaged_climbs_are_refused(text):
    with pytest.raises(LogError, match="The saved climb is damaged"):
        from_json(text)
