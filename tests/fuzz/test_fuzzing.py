"""The fuzzing itself finds what it is for."""

from __future__ import annotations

import signal

import pytest
from fuzz.fuzzing import _ended_after, _Endless, any_text, fuzz, inputs

from companion.errors import ChordError


def raising(error: Exception):
    def read(text: str) -> None:
        if "e" in text:
            raise error

    return read


@pytest.mark.parametrize(
    ("error", "words"), [(KeyError("x"), "x"), (ChordError("a\x1b[2J"), "cannot be shown")]
)  # fmt: skip
def test_a_fault_is_found(error, words):
    with pytest.raises((AssertionError, KeyError), match=words):
        fuzz("faulty", raising(error), inputs(any_text()), 100, fixed=True)


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="there is no timer of the processor's time")
def test_what_does_not_end_is_ended():
    with pytest.raises(_Endless), _ended_after(0.05):
        while True:
            pass


def test_a_reader_without_fault_passes():
    tally = fuzz("fine", raising(ChordError("expected no e")), inputs(any_text()), 100, fixed=True)
    assert tally.inputs >= 100 and 0 < tally.good < tally.inputs and len(tally.seen) > 90
