from dataclasses import replace

import numpy as np
import pytest

from companion.sound.listening.echo import NOISE_S, RESPONSE, Echo, measure, measuring_noise
from companion.sound.listening.spectra import RATE
from companion.sound.voices import render


def answer(seed=3):
    """A loudspeaker in a room: a delay, and a tail that dies away."""
    rng = np.random.default_rng(seed)
    taps = rng.normal(0, 1, 2400) * np.exp(-np.arange(2400) / 300.0) * 0.05
    taps[0] += 0.5
    return np.concatenate([np.zeros(200), taps])


def through(sound, taps):
    size = 1 << (len(sound) + len(taps)).bit_length()
    return np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(taps, size), size)[: len(sound)].astype(np.float32)


def clicks(seconds):
    """Click and bass, as the companion plays them."""
    sound = np.zeros(int(seconds * RATE), dtype=np.float32)
    for beat in range(int(seconds / 0.5)):
        for one in (render("click", int(beat % 4 == 0), RATE), 0.6 * render("bass", 36 + beat % 5, RATE)):
            start = beat * RATE // 2
            length = min(len(one), len(sound) - start)
            sound[start : start + length] += one[:length]
    return 0.3 * sound


@pytest.fixture(scope="module")
def response():
    noise = measuring_noise()
    room = np.random.default_rng(9).normal(0, 1e-4, len(noise) + RESPONSE)
    return measure(noise, through(np.pad(noise, (0, RESPONSE)), answer()) + room.astype(np.float32))


def residual_db(response, heard, played, from_s=2.0):
    echo = Echo(response)
    left = [echo.clean(heard[at : at + 800], played[at : at + 800]) for at in range(0, len(heard), 800)]
    left, first = np.concatenate(left), int(from_s * RATE)
    return 10 * np.log10(np.square(left[first:]).mean() / np.square(heard[first:]).mean()), echo


def test_what_is_measured_is_how_the_room_answers(response):
    due = np.pad(answer(), (0, RESPONSE - len(answer())))
    assert len(measuring_noise()) == int(NOISE_S * RATE)
    assert np.square(response.taps - due).sum() < 0.01 * np.square(due).sum()
    assert response.is_good


def test_the_own_sound_is_taken_out(response):
    played = clicks(5.0)
    left_db, _ = residual_db(response, through(played, answer()), played)
    assert left_db < -20.0


def test_a_clock_that_runs_60_millionths_slower_is_followed(response):
    played = clicks(14.0)
    at = np.arange(len(played)) * (1.0 - 60e-6)
    late = np.interp(at, np.arange(len(played)), played).astype(np.float32)
    left_db, echo = residual_db(response, through(late, answer()), played, from_s=10.0)
    assert echo.delay == pytest.approx(60e-6 * 13.0 * RATE, abs=4.0)
    assert left_db < -10.0


@pytest.mark.parametrize("late", [-200, 320])
def test_a_device_that_was_begun_anew_is_found_again(response, late):
    """It comes back by 20 ms later, or 12 ms earlier, than when it was measured."""
    played = clicks(10.0)
    heard = np.roll(np.pad(through(played, np.pad(answer(), (250, 0))), (0, 400)), late)[: len(played)]
    there = replace(response, taps=np.roll(response.taps, 250))
    left_db, echo = residual_db(there, heard, played, from_s=5.0)
    assert echo.delay == pytest.approx(late, abs=1.0) and left_db < -15.0


def test_what_the_piano_plays_stays(response):
    played = clicks(4.0)
    piano = (0.1 * np.sin(2 * np.pi * 220.0 * np.arange(len(played)) / RATE)).astype(np.float32)
    echo = Echo(response)
    heard = through(played, answer()) + piano
    left = np.concatenate([echo.clean(heard[at : at + 800], played[at : at + 800]) for at in range(0, len(heard), 800)])
    assert np.square(left - piano).mean() < 0.02 * np.square(piano).mean()


def test_headphones_are_advised_where_noise_drowns_the_measure():
    noise = measuring_noise()
    loud = np.random.default_rng(4).normal(0, 0.2, len(noise) + RESPONSE).astype(np.float32)
    assert not measure(noise, through(np.pad(noise, (0, RESPONSE)), 0.2 * answer()) + loud).is_good
