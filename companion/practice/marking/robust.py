"""Statistics that a few slips do not bend, and tests that ask whether a difference is there at all.

Sources: Theil 1950, "A rank-invariant method of linear and polynomial regression analysis", Proc. KNAW 53; Sen 1968, "Estimates of
the regression coefficient based on Kendall's tau", JASA 63:1379-1389: the median of the slopes through all pairs. Pitman 1937,
"Significance tests which may be applied to samples from any populations", J. R. Stat. Soc. Suppl. 4: permutation tests, here by their
normal limit where there are many values (the mean and the variance over all permutations are known exactly), by drawing
permutations where there are few. Winsor's clipping (Tukey 1962, Ann. Math. Stat. 33:1-67) keeps single values from deciding.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from itertools import combinations
from math import erfc, sqrt
from statistics import fmean, median

Point = tuple[float, float]

MOST_PAIRS = 20_000
FEW_PAIRS = 500  # sooner made and sorted than counted once more
FEW = 12
DRAWS = 999


def theil_sen(points: Sequence[Point]) -> float:
    """The median slope through all pairs; of very many points through evenly spread ones. 0.0 where there is none."""
    step = 1
    while (len(points) // step) * (len(points) // step - 1) // 2 > MOST_PAIRS:
        step += 1
    slopes = [(b_y - a_y) / (b - a) for (a, a_y), (b, b_y) in combinations(points[::step], 2) if b != a]
    return median(slopes) if slopes else 0.0


def spread(values: Sequence[float]) -> float:
    """1.4826 times the median absolute deviation: a standard deviation that slips do not widen. 0.0 of nothing."""
    if not values:
        return 0.0
    middle = median(values)
    return 1.4826 * median(abs(value - middle) for value in values)


def clipped(values: Sequence[float], widths: float = 3.0) -> list[float]:
    """Each no further from the median than so many spreads."""
    middle, reach = median(values), widths * spread(values)
    return [min(middle + reach, max(middle - reach, value)) for value in values] if reach else list(values)


# Of few values (Croux & Rousseeuw 1992, "Time-efficient algorithms for two highly robust estimators of scale", COMPSTAT 1; from memory).
_QN_FEW = {2: 0.399, 3: 0.994, 4: 0.512, 5: 0.844, 6: 0.611, 7: 0.857, 8: 0.669, 9: 0.872}


def qn(values: Sequence[float]) -> float:
    """A standard deviation from the first quartile of the differences of all pairs, which slips hardly move and which is as sure as the usual
    one from 82 % of the values (Rousseeuw & Croux 1993, "Alternatives to the median absolute deviation", JASA 88:1273-1283). 0.0 of
    fewer than two."""
    count = len(values)
    if count < 2:
        return 0.0
    half = count // 2 + 1
    apart = nth_difference(values, half * (half - 1) // 2)
    return 2.2219 * apart * _QN_FEW.get(count, count / (count + (1.4 if count % 2 else 3.8)))


def nth_difference(values: Sequence[float], number: int) -> float:
    """The number-th smallest, from 1, of the differences of all pairs of two or more values. Most pairs are counted, not made: of a
    long take there are millions."""
    values = sorted(values)
    low, high = 0.0, values[-1] - values[0]
    below = _pairs_within(values, low)
    if below >= number:
        return low
    within = len(values) * (len(values) - 1) // 2
    while within - below > FEW_PAIRS and low < (middle := (low + high) / 2) < high:
        pairs = _pairs_within(values, middle)
        if pairs >= number:
            high, within = middle, pairs
        else:
            low, below = middle, pairs
    return sorted(_differences(values, low, high))[number - below - 1]


def _pairs_within(values: Sequence[float], apart: float) -> int:
    """How many pairs of values, in rising order, lie no further apart."""
    pairs = first = 0
    for place, value in enumerate(values):
        while value - values[first] > apart:
            first += 1
        pairs += place - first
    return pairs


def _differences(values: Sequence[float], low: float, high: float) -> Iterator[float]:
    """The differences of all pairs of values, in rising order, above low and no higher than high."""
    first = 0
    for place, value in enumerate(values):
        while value - values[first] > high:
            first += 1
        for other in values[first:place]:
            if (difference := value - other) <= low:
                break
            yield difference


def chance_of_difference(one: Sequence[float], other: Sequence[float], seed: int = 0) -> float:
    """How likely means as far apart as these are if it did not matter which values are whose: two-sided permutation test. 1.0
    where either is empty."""
    if not one or not other:
        return 1.0
    values = clipped([*one, *other])
    count, total = len(one), len(values)
    middle = fmean(values)
    found = abs(fmean(values[:count]) - middle)
    if min(count, total - count) < FEW:
        rng = random.Random(seed)
        hits = sum(abs(fmean(rng.sample(values, count)) - middle) >= found - 1e-12 for _ in range(DRAWS))
        return (hits + 1) / (DRAWS + 1)
    variance = sum((value - middle) ** 2 for value in values) / (total - 1) * (total - count) / (total * count)
    return _two_sided(found, variance)


def chance_of_shift(values: Sequence[float], seed: int = 0) -> float:
    """How likely a mean as far from 0 as this is if each value could as well have the other sign: two-sided permutation
    test. 1.0 of nothing."""
    if not values:
        return 1.0
    values = clipped(values)
    found = abs(fmean(values))
    if len(values) < FEW:
        rng = random.Random(seed)
        hits = sum(
            abs(fmean(value if rng.random() < 0.5 else -value for value in values)) >= found - 1e-12
            for _ in range(DRAWS)
        )
        return (hits + 1) / (DRAWS + 1)
    return _two_sided(found, sum(value * value for value in values) / len(values) ** 2)


def chance_of_trend(values: Sequence[float], block: int = 1, seed: int = 0) -> float:
    """How likely a trend over the order of the values as strong as this is if they came in any order, `block` values in a row
    staying together (what follows the value before it would else look like a trend): two-sided permutation test."""
    blocks = [fmean(values[first : first + block]) for first in range(0, len(values) - block + 1, block)]
    if len(blocks) < 3:
        return 1.0
    middle = (len(blocks) - 1) / 2.0

    def slope(order: Sequence[float]) -> float:
        return abs(sum((place - middle) * value for place, value in enumerate(order)))

    found = slope(blocks) - 1e-12
    rng = random.Random(seed)
    hits = 0
    for _ in range(DRAWS):
        rng.shuffle(blocks)
        hits += slope(blocks) >= found
    return (hits + 1) / (DRAWS + 1)


def chance_of_slope(points: Sequence[Point]) -> float:
    """How likely a slope of the second over the first as steep as this is if they came in any order: two-sided permutation test by its normal
    limit. 1.0 where there is none."""
    first, second = [x for x, _ in points], [y for _, y in points]
    x_mean, y_mean = fmean(first or [0.0]), fmean(second or [0.0])
    found = abs(sum((x - x_mean) * (y - y_mean) for x, y in points))
    x_squares, y_squares = sum((x - x_mean) ** 2 for x in first), sum((y - y_mean) ** 2 for y in second)
    return _two_sided(found, x_squares * y_squares / (len(points) - 1)) if x_squares * y_squares > 0.0 else 1.0


def chance_of_so_many(hits: int, tries: int, share: float) -> float:
    """How likely at least so many of the tries are if each is one with that share: the binomial tail, exact."""
    chance, term = 0.0, (1.0 - share) ** tries
    for count in range(tries + 1):
        if count >= hits:
            chance += term
        if share < 1.0:
            term *= (tries - count) / (count + 1) * share / (1.0 - share)
    return min(1.0, chance)


def _two_sided(found: float, variance: float) -> float:
    return erfc(found / sqrt(2.0 * variance)) if variance > 0.0 else float(found <= 0.0)
