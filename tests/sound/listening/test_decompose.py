import numpy as np
import pytest

from companion.sound.listening import decompose
from companion.sound.listening.decompose import Decomposer
from companion.sound.listening.piano import general_piano


@pytest.fixture(scope="module")
def decomposer():
    return Decomposer(general_piano(), 36, 76)


def mixture(decomposer, amounts):
    return sum(level * decomposer.templates[:, decomposer.notes.index(note)] for note, level in amounts.items())


def test_a_mixture_of_notes_is_taken_apart_again(decomposer):
    quiet = np.full(len(decomposer.templates), 1e-7, dtype=np.float32)
    amounts = {46: 1.0, 56: 0.6, 63: 0.3}
    attack = decomposer.take_apart(0.0, mixture(decomposer, amounts) + quiet, quiet, quiet, 1.0)
    found = dict(zip(attack.notes, attack.weights))
    assert set(sorted(found, key=found.get)[-3:]) == set(amounts)
    for note, level in amounts.items():
        assert found[note] == pytest.approx(level, rel=0.15)


def test_what_rang_before_is_not_struck_again(decomposer):
    quiet = np.full(len(decomposer.templates), 1e-7, dtype=np.float32)
    before = mixture(decomposer, {46: 1.0, 56: 0.6}) + quiet
    after = 0.8 * before + mixture(decomposer, {51: 0.7})
    attack = decomposer.take_apart(0.0, after, before, quiet, 1.0)
    found = dict(zip(attack.notes, attack.weights))
    assert found[51] == pytest.approx(0.7, rel=0.2)
    assert found[46] + found[56] < 0.2


def divergence(heard, explained):
    """Lee and Seung, NIPS 2000, equation 3, as it stands there, in double precision."""
    return sum(a * np.log(a / b) - a + b for a, b in zip(heard.astype(float), explained.astype(float)))


def test_every_update_comes_nearer(decomposer, monkeypatch):
    # Their theorem 2: under these updates the divergence never grows.
    rng = np.random.default_rng(3)
    heard = (mixture(decomposer, {41: 1.0, 51: 1.0}) * rng.uniform(0.7, 1.3, len(decomposer.templates))).astype(
        np.float32
    )
    quiet = np.full(len(heard), 1e-6, dtype=np.float32)
    apart = []
    for updates in (1, 2, 4, 8, 16, 32):
        monkeypatch.setattr(decompose, "UPDATES", updates)
        apart.append(divergence(heard + 1e-9, decomposer.take_apart(0.0, heard, quiet, quiet, 1.0).explained))
    assert apart == sorted(apart, reverse=True)


def test_a_template_moves_towards_how_a_note_is_heard(decomposer):
    own = Decomposer(general_piano(), 36, 76)
    quiet = np.full(len(own.templates), 1e-7, dtype=np.float32)
    note = own.notes.index(50)
    duller = own.templates[:, note] * np.linspace(1.5, 0.2, len(own.templates)).astype(np.float32)
    duller = duller / duller.sum()
    before = float(np.abs(own.templates[:, note] - duller).sum())
    for _ in range(5):
        own.adapt(own.take_apart(0.0, duller + quiet, quiet, quiet, 1.0), (50,), 0.12)
    assert float(np.abs(own.templates[:, note] - duller).sum()) < 0.7 * before
    assert own.templates[:, note].sum() == pytest.approx(1.0, abs=1e-3)
