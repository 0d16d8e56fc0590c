import numpy as np
import pytest

from companion.sound.listening.spectra import BINS_HZ, RATE, WINDOW, frequency_hz, lines, partials_hz, spectrum


# Equal temperament on a' = 440 Hz (ISO 16), to a hundredth, as tables of it print them (common practice).
@pytest.mark.parametrize(
    ("note", "hz"), [(40, 82.41), (48, 130.81), (57, 220.0), (60, 261.63), (64, 329.63), (69, 440.0)]
)
def test_notes_have_the_frequencies_of_the_table(note, hz):
    assert round(frequency_hz(note), 2) == hz


def test_a_stiff_string_has_its_partials_sharp():
    # Fletcher and Rossing 1998, section 2.18: f_k = k f_0 sqrt(1 + B k^2); for B = 0.0004 the tenth is sharp by 1.98 %, 34 cents.
    tenth = partials_hz(100.0, 0.0004)[9]
    assert 1200.0 * np.log2(tenth / 1000.0) == pytest.approx(33.95, abs=0.05)


def test_a_sine_of_amplitude_one_has_a_peak_of_one_where_it_lies():
    at = np.arange(WINDOW) / RATE
    seen = spectrum(np.sin(2 * np.pi * 437.5 * at).astype(np.float32))  # the middle of a bin
    assert seen.max() == pytest.approx(1.0, abs=0.01)
    assert BINS_HZ[seen.argmax()] == pytest.approx(437.5)


def test_lines_drawn_are_the_spectrum_of_sines_that_lie_apart():
    at = np.arange(WINDOW) / RATE
    sines = 0.5 * np.sin(2 * np.pi * 300.0 * at) + 0.2 * np.sin(2 * np.pi * 900.0 * at)
    drawn = lines(np.array([300.0, 900.0]), np.array([0.5, 0.2]))
    assert np.abs(drawn - spectrum(sines.astype(np.float32))).max() < 0.01
