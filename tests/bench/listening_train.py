"""Makes the weights by which struck notes are told from others: companion/sound/listening/weights.toml.

    python tests/bench/listening_train.py [apart] [seeds a condition, 2 unless told] [first seed]

Only the pianos of LOOKED_AT (tests/pianos_sampled.py) and seeds below SEEDS_KEPT are used; what was collected is kept under /tmp, by piano, condition and seed. With "apart"
the product's weights stay: each piano in turn is judged by weights made without it, which says how the present thresholds do on a piano never heard; that is how they were set.
Those weights are kept under /tmp too, for `listening.py apart`.
"""

from __future__ import annotations

import hashlib
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

TESTS = Path(__file__).resolve().parents[1]
sys.path[:1] = [str(TESTS), str(TESTS.parent)]

import listening_conditions
import listening_rooms
import listening_takes as takes
from listening_conditions import CONDITIONS, Condition
from pianos_sampled import CACHE, LOOKED_AT, RATE

from companion.errors import SoundError
from companion.sound.listening import attacks, decompose, engine, hearing, scale, spectra
from companion.sound.listening.decompose import FEATURES
from companion.sound.listening.judge import Odds, expanded, probability, strike_figures
from companion.sound.listening.verdicts import Thresholds

WEIGHTS = TESTS.parent / "companion/sound/listening/weights.toml"
BEFORE_S, AFTER_S = 0.025, 0.075  # a key counts as struck at an attack from so long before it to so long after
KEPT_NOTES = 14  # candidates of an attack that teach something
CODE = hashlib.sha1(
    b"".join(
        Path(module.__file__).read_bytes()
        for module in (attacks, decompose, hearing, spectra, listening_conditions, listening_rooms, takes)
    )
).hexdigest()[:8]


def collect(piano: str, condition: Condition, seed: int) -> list[dict]:
    """One dict an attack looked at: all that is needed to teach the regressions."""
    take = takes.make(piano, condition, seed)
    try:
        learned = scale.learn(take.scale)
    except SoundError as error:
        print(f"{piano}, {condition.name}, {seed}: {error}", flush=True)
        return []
    listening = hearing.Hearing(learned, engine.LOWEST_HEARD, engine.HIGHEST_MELODY)
    found: list[dict] = []
    waiting = list(take.strikes)
    for at in range(0, len(take.sound), 800):
        listening.hear(take.sound[at : at + 800], at / RATE)
        while waiting and waiting[0].due.time_s + waiting[0].due.window_s + engine.EDGE_S + 0.05 <= listening.ready_s:
            strike = waiting.pop(0)
            for onset_s, flux in engine.attacks_for(listening, learned, strike.due):
                found.append(_case(listening.take_apart(onset_s, flux), strike, take))
    return found


def _case(attack: decompose.Attack, strike: takes.Strike, take: takes.MadeTake) -> dict:
    left = [key for other in take.strikes for key in other.keys if abs(key[1] - attack.onset_s) < 0.3]
    keys = left + [other.above for other in take.strikes if other.above and abs(other.above[1] - attack.onset_s) < 0.3]
    struck = {note for note, at_s in keys if -BEFORE_S <= at_s - attack.onset_s <= AFTER_S}
    doubtful = {note for note, at_s in keys if -0.09 <= at_s - attack.onset_s < -BEFORE_S} - struck
    onset_s = strike.onset_s
    return {
        "attack": attack,
        "strike": strike,
        "struck": struck,
        "any": any(-BEFORE_S <= at_s - attack.onset_s <= AFTER_S for _, at_s in left),
        "doubtful": doubtful,
        "apart_s": None if onset_s is None else attack.onset_s - onset_s,
    }


def collected(job: tuple[str, Condition, int]) -> dict[str, np.ndarray]:
    """Arrays of one take, kept on disk."""
    piano, condition, seed = job
    kept = CACHE / "train" / f"{CODE}-{piano}-{condition.name.replace(' ', '_').replace(chr(39), '')}-{seed}.npz"
    if not kept.exists():
        kept.parent.mkdir(parents=True, exist_ok=True)
        cases = collect(piano, condition, seed)
        if not cases:
            return {}
        np.savez(kept, **_arrays(cases))
    with np.load(kept) as arrays:
        return dict(arrays)


def _arrays(cases: list[dict]) -> dict[str, np.ndarray]:
    width = len(cases[0]["attack"].notes)
    lowest = cases[0]["attack"].notes[0]
    figures = np.stack([case["attack"].features for case in cases])
    labels = np.zeros((len(cases), width), dtype=np.int8)  # 1 struck, 0 not, -1 left out
    due, also = np.zeros((len(cases), 4), dtype=int), np.zeros((len(cases), 2), dtype=int)
    for place, case in enumerate(cases):
        by_weight = np.argsort(case["attack"].weights)[::-1]
        labels[place, by_weight[KEPT_NOTES:]] = -1
        for note in (*case["struck"], *case["strike"].due.notes):
            labels[place, note - lowest] = 0
        for note in case["struck"]:
            labels[place, note - lowest] = 1
        for note in case["doubtful"]:
            labels[place, note - lowest] = -1 if note not in case["struck"] else 1
        notes = case["strike"].due.notes
        due[place, : len(notes)] = notes
        also[place, : len(case["strike"].due.also)] = case["strike"].due.also
    clean = [case["strike"].slip in ("", "early", "late") for case in cases]
    apart = np.array([np.nan if case["apart_s"] is None else case["apart_s"] for case in cases])
    return {
        "figures": figures.astype(np.float32),
        "labels": labels,
        "due": due,
        "also": also,
        "clean": np.array(clean),
        "apart_s": apart,
        "any": np.array([case["any"] for case in cases]),
        "doubtful": np.array([bool(case["doubtful"]) for case in cases]),
        "flux": np.array([case["attack"].flux for case in cases]),
        "energy_rise": np.array([case["attack"].energy_rise for case in cases]),
        "misfit": np.array([case["attack"].misfit for case in cases]),
        "number": np.array([case["strike"].due.index for case in cases]),
        "onset_s": np.array([case["attack"].onset_s for case in cases]),
    }


def fitted(figures: np.ndarray, labels: np.ndarray, weights: np.ndarray | None = None, hold: float = 3.0) -> Odds:
    """Logistic regression by Newton's method; hold: how strongly weights are kept small."""
    mean, scale_ = figures.mean(axis=0), figures.std(axis=0) + 1e-6
    rows = expanded((figures - mean) / scale_).astype(np.float32)
    wanted = labels.astype(np.float32)
    each = np.ones(len(rows), np.float32) if weights is None else weights.astype(np.float32)
    holds = np.full(rows.shape[1], hold)
    holds[0] = 1e-6

    def cost(beta: np.ndarray) -> tuple[float, np.ndarray]:
        margin = (rows @ beta.astype(np.float32)).astype(np.float64)
        return float(
            (each * (np.logaddexp(0.0, margin) - wanted * margin)).sum() + 0.5 * (holds * beta**2).sum()
        ), margin

    beta = np.zeros(rows.shape[1])
    now, margin = cost(beta)
    for _ in range(15):
        chance = 1.0 / (1.0 + np.exp(-np.clip(margin, -30, 30)))
        slope = rows.T @ (each * (wanted - chance)).astype(np.float32) - holds * beta
        bend = (rows * (each * np.maximum(chance * (1.0 - chance), 1e-5)).astype(np.float32)[:, None]).T @ rows
        step, share = np.linalg.solve(bend + np.diag(holds), slope), 1.0
        while (then := cost(beta + share * step))[0] > now and share > 1e-3:
            share /= 2.0
        beta = beta + share * step
        done, (now, margin) = now - then[0] < 1e-4 * now, then
        if done:
            break
    return Odds(mean, scale_, beta)


Taken = tuple[str, Condition, dict[str, np.ndarray]]
NOT_STRUCK = 0.5  # of the notes that were not struck so many are looked at, and weigh as all


def models(taken: list[Taken]) -> tuple[Odds, Odds, Odds]:
    """Of a note, of the strike that was due, of any strike."""
    rng = np.random.default_rng(0)
    figures, labels = (
        np.concatenate([arrays[key][arrays["labels"] >= 0] for _, _, arrays in taken]) for key in ("figures", "labels")
    )
    kept = (labels > 0) | (rng.random(len(labels)) < NOT_STRUCK)
    figures, labels = figures[kept].astype(np.float64), labels[kept] > 0
    note = fitted(figures, labels, np.where(labels, 1.0, 1.0 / NOT_STRUCK))
    rows = np.concatenate([strike_rows(arrays, note) for _, _, arrays in taken])
    together = {
        key: np.concatenate([arrays[key] for _, _, arrays in taken]) for key in ("clean", "apart_s", "any", "doubtful")
    }
    here = np.abs(together["apart_s"]) <= 0.025
    near = (np.abs(together["apart_s"]) <= 0.1) & ~here & together["clean"]
    right = here & together["clean"]
    sure = ~together["doubtful"]
    print(f"{len(labels)} notes, {labels.sum()} struck; {len(rows)} attacks", flush=True)
    return note, fitted(rows[~near], right[~near]), fitted(rows[sure], together["any"][sure])


def judged(arrays: dict[str, np.ndarray], note: Odds, strike: Odds, struck: Odds) -> Counter:
    """What the thresholds make of the strikes of a take; early and late ones count as clean."""
    limits, counts = Thresholds(), Counter()
    rows = strike_rows(arrays, note)
    right, any_struck = strike.log_odds(rows), struck.log_odds(rows)
    for number in np.unique(arrays["number"]):
        of = np.flatnonzero(arrays["number"] == number)
        best = of[np.argmax(right[of])]
        if right[best] >= limits.right and probability(rows[best, 0]) >= limits.each:
            said = "right"
        elif right[best] > limits.wrong or (rows[of, 0].max() >= 0 and any_struck[of].max() >= limits.missing):
            said = "not sure"
        else:
            said = "not sure" if limits.missing <= any_struck[of].max() < 0 else "against"
        counts["clean" if arrays["clean"][of[0]] else "slip", said] += 1
    return counts


def told(counts: Counter) -> str:
    clean, slip = (
        {said: counts[kind, said] for said in ("right", "against", "not sure")} for kind in ("clean", "slip")
    )
    n, m = sum(clean.values()) or 1, sum(slip.values()) or 1
    return (
        f"{n:5} clean: right {clean['right'] / n:6.1%}, false {clean['against'] / n:6.2%}; "
        f"{m:4} slips of notes: caught {slip['against'] / m:6.1%}, passed {slip['right'] / m:6.2%}"
    )


def apart(taken: list[Taken]) -> None:
    supported, others = Counter(), Counter()
    for piano in LOOKED_AT:
        without = models([each for each in taken if each[0] != piano])
        _write(without, apart_path(piano))
        own = Counter()
        for name, condition, arrays in taken:
            if name == piano:
                counts = judged(arrays, *without)
                own += counts if condition.supported else Counter()
                supported += counts if condition.supported else Counter()
                others += Counter() if condition.supported else counts
        print(f"{piano:14} {told(own)}", flush=True)
    print(f"{'supported':14} {told(supported)}\n{'others':14} {told(others)}")


def strike_rows(arrays: dict[str, np.ndarray], note_odds: Odds) -> np.ndarray:
    """strike_figures of every attack of a take."""
    rows = []
    for place in range(len(arrays["flux"])):
        features = arrays["figures"][place].astype(np.float64)
        attack = decompose.Attack(
            0.0,
            tuple(range(engine.LOWEST_HEARD, engine.LOWEST_HEARD + len(features))),
            features,
            features[:, 0].astype(np.float32),
            features[:, 0].astype(np.float32),
            features[:, 0].astype(np.float32),
            float(arrays["flux"][place]),
            float(arrays["energy_rise"][place]),
            float(arrays["misfit"][place]),
        )
        due, also = (tuple(int(note) for note in arrays[key][place] if note) for key in ("due", "also"))
        rows.append(strike_figures(attack, note_odds.log_odds(features), due, also))
    return np.stack(rows)


def main() -> None:
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    count, first = (numbers + [2, 0][len(numbers) :])[:2]
    jobs = [
        (piano, condition, seed)
        for seed in range(first, first + count)
        for condition in CONDITIONS
        for piano in LOOKED_AT
        if not condition.other_piano
    ]
    assert all(seed < takes.SEEDS_KEPT for _, _, seed in jobs)
    with ProcessPoolExecutor(2) as pool:
        taken = [(job[0], job[1], arrays) for job, arrays in zip(jobs, pool.map(collected, jobs)) if arrays]
    if "apart" in sys.argv:
        apart(taken)
        return
    _write(models(taken), WEIGHTS)


def apart_path(piano: str) -> Path:
    """Of the weights made without a piano."""
    return CACHE / "train" / f"apart-{piano}.toml"


def _write(made: tuple[Odds, Odds, Odds], path: Path) -> None:
    """made: of `models`."""
    lines = ["# Made by tests/bench/listening_train.py; judge.py says how they are used."]
    for name, odds in zip(("note", "strike", "struck"), made):
        lines += ["", f"[{name}]"]
        lines += [f"# {', '.join(FEATURES)}"] if name == "note" else []
        for key in ("mean", "scale", "weights"):
            values = ", ".join(f"{value:.4g}" for value in getattr(odds, key))
            lines.append(f"{key} = [{values}]")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
