import numpy as np
from strings_made import played

from companion.sound.listening.attacks import Flux, peaks

RATE = 16_000


def heard(sound, from_s, until_s, block=1000):
    flux = Flux(0.0)
    for at in range(0, len(sound), block):
        flux.hear(sound[at : at + block])
    return flux.rises(from_s, until_s)


def test_attacks_are_found_to_some_milliseconds():
    times = [0.5, 0.9113, 1.3301, 1.77, 2.2042]
    sound = played([(at_s, note, 0.35) for at_s, note in zip(times, (41, 46, 53, 58, 48))], 2.8)
    for at_s in times:
        found = peaks(*heard(sound, at_s - 0.1, at_s + 0.1), 1)
        assert abs(found[0][0] - at_s) < 0.010


def test_a_partial_that_trembles_is_no_attack():
    # What the maximum filter is for: Boeck and Widmer, DAFx 2013. Half a semitone to either side, six times a second.
    at = np.arange(2 * RATE) / RATE
    phase = np.cumsum(440.0 * 2.0 ** (0.5 * np.sin(2 * np.pi * 6.0 * at) / 12.0)) / RATE
    noise = np.random.default_rng(1).normal(0, 1e-4, len(at))
    trembling = (0.1 * np.sin(2 * np.pi * phase) + noise).astype(np.float32)
    struck = played([(1.0, 57, 0.5)], 2.0)
    assert heard(trembling, 0.5, 1.8)[1].max() < 0.3 * heard(struck, 0.9, 1.1)[1].max()


def test_how_sound_is_cut_into_blocks_changes_nothing():
    sound = played([(0.5, 43, 0.4), (1.0, 50, 0.4)], 1.5)
    whole, small = heard(sound, 0.4, 1.3, len(sound)), heard(sound, 0.4, 1.3, 37)
    assert whole[0] == small[0]
    assert np.allclose(whole[1], small[1], atol=1e-5)
