"""Where a repeat of an ABC tune begins, and what belongs to its endings.

Source: The abc music standard 2.1, 4.8 "Repeat/bar symbols" and 4.9 "First and second repeats".
"""

from __future__ import annotations

from itertools import groupby

from companion.importing.score import SheetBar

_MOST_ENDING = 64  # bars of two endings that are looked back upon


def end_repeat(bars: list[SheetBar], times: int) -> None:
    """A repeat that is played so many times ends behind the last bar read.

    Behind a last ending that nothing closed, what is longer than the ending before is a strain of its own, which is
    repeated (common practice).
    """
    if begin := _latest_section(bars):
        begin.starts_repeat = True
    bars[-1].times = times
    runs = [(endings, list(run)) for endings, run in groupby(bars[-_MOST_ENDING:], key=lambda bar: bar.endings)]
    if len(runs) > 1 and runs[-1][0] and runs[-2][0]:
        for bar in runs[-1][1][len(runs[-2][1]) :]:
            bar.endings = frozenset()


def _latest_section(bars: list[SheetBar]) -> SheetBar | None:
    """The bar behind the latest double bar line, where a repeat without a sign of its own begins (ABC 2.1, 4.8); None where it
    has one, or where no such line stands behind the repeat before."""
    begin, following = None, bars[-1]
    for bar in reversed(bars[:-1]):
        if following.starts_repeat or bar.times:
            break
        if begin is None and bar.ends_section:
            begin = following
        following = bar
    return None if following.starts_repeat else begin
