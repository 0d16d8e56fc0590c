"""Right notes counted by a reference of transcription research."""

from __future__ import annotations

import pytest


def reference_count(expected, presses, widths_s):
    """How many notes mir_eval.transcription.match_notes pairs (Raffel et al. 2014, "mir_eval: a transparent implementation of common MIR
    metrics"): onsets within widths_s, one for each due note, pitch within 50 cents, offsets ignored."""
    numpy = pytest.importorskip("numpy")
    transcription = pytest.importorskip("mir_eval.transcription")
    tables = []
    for notes in (
        [(strike.due_s, note) for strike in expected for note in strike.notes],
        [(press.time_s, press.note) for press in presses],
    ):
        onsets = numpy.array([onset_s for onset_s, _ in notes])
        tables += [numpy.column_stack([onsets, onsets + 0.1]), 440.0 * 2.0 ** ((numpy.array(notes)[:, 1] - 69) / 12.0)]
    widths = numpy.array([[width_s] for width_s in widths_s])  # broadcast over the presses
    return len(transcription.match_notes(*tables, onset_tolerance=widths, pitch_tolerance=50.0, offset_ratio=None))
