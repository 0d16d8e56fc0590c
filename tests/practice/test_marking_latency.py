import random

import pytest

from companion.practice.marking.latency import measure_latency

CLICKS = [2.0 + 0.6 * number for number in range(20)]


def taps(mean_ms, spread_ms, seed=0, clicks=CLICKS):
    rng = random.Random(seed)
    return [click + rng.gauss(mean_ms, spread_ms) / 1000.0 for click in clicks]


@pytest.mark.parametrize("mean_ms", [-60, -20, 0, 35, 150, 250])
def test_median_and_spread_are_found(mean_ms):
    found = [measure_latency(taps(mean_ms, 12, seed), CLICKS) for seed in range(50)]
    assert not any(latency.refused for latency in found)
    assert sum(latency.offset_ms for latency in found) / 50 == pytest.approx(mean_ms, abs=2)
    assert all(abs(latency.offset_ms - mean_ms) < 15 for latency in found)
    assert sum(latency.spread_ms for latency in found) / 50 == pytest.approx(12, abs=3)
    assert {latency.taps for latency in found} == {16}  # the first four clicks are for finding the beat


def test_by_hand():
    """Sixteen offsets of which the middle two are 20 and 22 ms: numpy.percentile gives quartiles 16 and 26 (linear)."""
    offsets = [8, 10, 12, 14, 16.666666666666668, 17, 18, 20, 22, 23, 24, 25.333333333333332, 28, 30, 32, 34]
    latency = measure_latency([click + ms / 1000.0 for click, ms in zip(CLICKS[4:], offsets)], CLICKS)
    numpy = pytest.importorskip("numpy")
    low, middle, high = numpy.percentile(offsets, [25, 50, 75])
    assert latency.offset_ms == pytest.approx(middle) == pytest.approx(21)
    assert latency.spread_ms == pytest.approx(
        (high - low) / 1.349
    )  # 1.349 standard deviations between a normal distribution's quartiles
    assert latency.words == f"Latency 21 ms, spread {latency.spread_ms:.0f} ms, from 16 taps."


def test_a_few_stray_taps_do_no_harm():
    steady = taps(30, 8)
    steady[7] += 0.2
    steady[11] -= 0.25
    latency = measure_latency([*steady, 5.27, 9.99], CLICKS)
    assert not latency.refused and latency.offset_ms == pytest.approx(30, abs=6) and latency.spread_ms < 20


@pytest.mark.parametrize(
    ("played", "clicks", "words"),
    [
        ([], CLICKS, "Only 0 taps"),
        (taps(0, 5)[:9], CLICKS, "Only 5 taps"),
        ([], [], "no click"),
        ([1.0], [1.0], "no click"),
        (taps(0, 120), CLICKS, "too scattered"),
        (taps(300, 10), CLICKS, "too scattered"),  # half a beat: which click was meant cannot be told
    ],
)
def test_what_cannot_be_trusted_is_refused_with_a_sentence(played, clicks, words):
    latency = measure_latency(played, clicks)
    assert words in latency.refused and latency.words == latency.refused and latency.refused.endswith((".", "nly."))
