"""The cymbals of the built-in sound: bands and decays between those of free General MIDI sounds (printed by tests/bench/drums.py), and their way to the ear."""

from __future__ import annotations

import numpy as np
import pytest

from companion.groove.model import Click
from companion.sound.builtin import BuiltinOutput
from companion.sound.messages import Load, Play, Voice, default_voices
from companion.sound.player import Player
from companion.sound.voices import SAMPLE_RATE, render, render_full

RIDE, HI_HAT = 51, 44  # General MIDI 1, percussion key map


def level_db(samples: np.ndarray, at_s: float) -> float:
    """Of 20 ms, against the first 20."""
    size = SAMPLE_RATE // 50

    def power(start: int) -> float:
        return float(np.mean(samples[start : start + size].astype(float) ** 2))

    return 10 * np.log10(power(round(at_s * SAMPLE_RATE)) / power(0))


def centroid_hz(samples: np.ndarray) -> float:
    power = np.abs(np.fft.rfft(samples.astype(float))) ** 2
    hz = np.fft.rfftfreq(len(samples), 1 / SAMPLE_RATE)
    return float((hz * power).sum() / power.sum())


# (note, second, dB from, to): 5 dB to either side of two General MIDI sounds, measured with FluidSynth.
DECAYS = [
    (RIDE, 0.05, -15, -1), (RIDE, 0.2, -18, -4), (RIDE, 0.8, -29, -15), (RIDE, 1.4, -41, -21),
    (HI_HAT, 0.05, -18, -5), (HI_HAT, 0.1, -35, -18),
]  # fmt: skip


@pytest.mark.parametrize(("note", "at_s", "least", "most"), DECAYS)
def test_cymbals_die_away_as_sampled_ones_do(note, at_s, least, most):
    assert least <= level_db(render("drums", note), at_s) <= most


@pytest.mark.parametrize(("note", "least", "most"), [(RIDE, 6000, 8000), (HI_HAT, 6500, 10000)])
def test_cymbals_are_as_bright_as_sampled_ones(note, least, most):
    """7.0 and 7.1 kHz, 7.3 and 9.5 kHz."""
    assert least <= centroid_hz(render("drums", note)) <= most


@pytest.mark.parametrize("note", [RIDE, HI_HAT])
def test_a_cymbal_begins_at_once_and_ends_softly_in_the_room_as_well(note):
    plain = render("drums", note)
    wide = render_full("drums", note).astype(np.float32) / 32767
    for side in (plain, *wide):
        assert np.abs(side[:48]).max() > 0.02 and abs(side[-1]) < 1e-3 and np.abs(side).max() <= 1
    assert not plain.flags.writeable


def test_on_midi_it_is_general_midis_ride_and_hi_hat_whatever_notes_the_click_has(stage, make_loop):
    stage.player.voices["click"] = Voice(channel=10, note=37, accent_note=56)
    stage.do(Load(make_loop(0, 1, click=Click("ride"), bass="off", count_in_bars=1)), Play(120.0, turns=1))
    stage.run(10)
    struck = [(at, note) for at, note in stage.struck("click")]
    start_s = struck[0][0]
    beats = [(round((at - start_s) / 0.5, 6), note) for at, note in struck]
    assert beats[:4] == [(0, 56), (1, 37), (2, 37), (3, 37)]
    bar = [(0, 51), (1, 44), (1, 51), (1 + 2 / 3, 51), (2, 51), (3, 44), (3, 51), (3 + 2 / 3, 51)]
    wanted = [(first + at, note) for first in (4, 8) for at, note in bar]
    assert [note for _, note in beats[4:]] == [note for _, note in wanted]
    assert [at for at, _ in beats[4:]] == pytest.approx([at for at, _ in wanted], abs=1e-4)
    assert not stage.hanging() and {sound.channel for _, _, sound in stage.output.sent if sound.voice == "click"} == {
        10
    }


def test_the_built_in_sound_strikes_it_on_its_very_frame_and_lets_it_ring(make_loop):
    """The player's bar against cymbals laid by hand: same frames, to the sample."""
    now_s = 500.0
    output = BuiltinOutput(perf=lambda: now_s)
    player = Player(output, default_voices(), clock=lambda: now_s)
    player.handle(Load(make_loop(0, click=Click("ride"), bass="off", count_in_bars=0)))
    player.handle(Play(120, turns=1))
    heard = []
    for _ in range(230):
        player.advance()
        player.prepare()
        now_s += 0.01
        heard.append(output.block(480)[:, 0].copy())
    out = np.concatenate(heard)
    first = int(np.argmax(np.abs(out) > 0))
    ride = render("drums", RIDE)
    # One ride alone until the second beat, where the hi-hat joins: nothing but a gain lies between them.
    alone = out[first : first + SAMPLE_RATE // 2 - 100]
    gain = float(alone @ ride[: len(alone)] / (ride[: len(alone)] @ ride[: len(alone)]))
    assert gain > 0 and np.abs(alone - gain * ride[: len(alone)]).max() < 0.02 * np.abs(alone).max()
    for beats in (1, 1 + 2 / 3, 2, 3, 3 + 2 / 3):
        at = first + round(beats * SAMPLE_RATE / 2)
        assert np.abs(out[at : at + 48]).max() > 2 * np.abs(out[at - 480 : at]).max(), beats
    assert np.abs(out[first + 2 * SAMPLE_RATE :][:960]).max() > 0  # it rings on past the bar's end
