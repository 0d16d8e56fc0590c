"""How a loop of bars is named, in the log, on the screen and on paper. A loop is bars by their indices in the chorus, from 0."""

from __future__ import annotations

from collections.abc import Sequence

WHOLE_FORM = "whole form"


def loop_name(loop: Sequence[int]) -> str:
    """Words for a loop from its first bar to its last: "bar 5", "bars 5 to 8"."""
    first, last = loop[0] + 1, loop[-1] + 1
    return f"bar {first}" if first == last else f"bars {first} to {last}"


def loop_key(loop: Sequence[int]) -> str:
    """How the log names a loop: "0-31", or every bar where they do not follow each other."""
    first, last = loop[0], loop[-1]
    return f"{first}-{last}" if list(loop) == list(range(first, last + 1)) else ",".join(map(str, loop))
