"""The song's chart with what is known of each bar below it, in characters: four bars a row, as on a sheet."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from companion.practice.planning.bars import BarProgress
from companion.practice.planning.progress import SongProgress

COSTLY = "»"  # before the chord at which the change ends that costs most
FULL, EMPTY = "█", "·"
_BARS_A_ROW = 4  # common practice on sheets
_STEPS = 5  # of the small bar beside a share
_EDGE = 8  # columns for what a line tells
_NARROWEST = 14  # a cell
_MEMORY, _TEMPO, _SLIPS = "memory", "tempo", "slips"


@dataclass(frozen=True, slots=True)
class ChartRow:
    """Some bars of one section that stand beside each other. figures: what a line tells -> its words, one a bar; what is known
    of none of them is no line."""

    section: str
    bars: tuple[BarProgress, ...]
    figures: dict[str, tuple[str, ...]]


def chart_rows(
    chart: Sequence[BarProgress], across: int = _BARS_A_ROW, full: str = FULL, empty: str = EMPTY
) -> list[ChartRow]:
    """The chart in rows of so many bars, each section beginning a new one."""
    rows = []
    for section in dict.fromkeys(bar.section for bar in chart):
        bars = [bar for bar in chart if bar.section == section]
        for start in range(0, len(bars), across):
            group = tuple(bars[start : start + across])
            figures = {
                _MEMORY: tuple(_share(bar.memory, full, empty) for bar in group),
                _TEMPO: tuple(_share(bar.tempo, full, empty) for bar in group),
                _SLIPS: tuple(_slips(bar) for bar in group),
            }
            rows.append(ChartRow(section, group, {name: words for name, words in figures.items() if any(words)}))
    return rows


def symbols(bar: BarProgress) -> str:
    """The chords of a bar, the costly one behind its sign."""
    return " ".join(
        f"{COSTLY}{symbol}" if number == bar.costly else symbol for number, symbol in enumerate(bar.symbols)
    )


def legend(progress: SongProgress) -> tuple[str, ...]:
    """What the lines and signs below the chart say, and what there is nothing of yet."""
    chart = progress.chart
    target = f"{progress.target_bpm:g}"
    lines = []
    known = [
        words
        for words, any_known in (
            (f"{_MEMORY}: right lately, without any cues", any(bar.memory is not None for bar in chart)),
            (f"{_TEMPO}: right lately, at {target} or faster", any(bar.tempo is not None for bar in chart)),
            (f"{_SLIPS}: of the latest passes", any(bar.slips for bar in chart)),
        )
        if any_known
    ]
    if known:
        lines.append("; ".join(known) + ".")
    unknown = [
        words
        for words, is_known in (
            ("from memory", any(bar.memory is not None for bar in chart)),
            (f"at {target}", any(bar.tempo is not None for bar in chart)),
        )
        if not is_known
    ]
    if unknown:
        lines.append(f"Not played {' or '.join(unknown)} yet.")
    if any(bar.costly is not None for bar in chart):
        lines.append(f"{COSTLY} where the change ends that costs most.")
    return tuple(lines)


def is_told(progress: SongProgress) -> bool:
    """Whether anything is known of any bar."""
    return any(bar.tries or bar.memory is not None or bar.tempo is not None for bar in progress.chart)


def chart_plot(progress: SongProgress, width: int) -> str:
    """The chart in lines of at most `width` columns; "" where nothing is known of any bar."""
    if not is_told(progress):
        return ""
    across = next((n for n in (_BARS_A_ROW, 2) if (width - _EDGE) // n >= _NARROWEST), 1)
    cell = (width - _EDGE) // across
    lines = []
    section = None
    for row in chart_rows(progress.chart, across):
        name = row.section if row.section != section else ""
        section = row.section
        lines.append(_line(name, [f"{bar.bar} {symbols(bar)}" for bar in row.bars], cell, width))
        lines += [_line(f" {name}", words, cell, width) for name, words in row.figures.items()]
    return "\n".join([*lines, *_wrapped(legend(progress), width)])


def _wrapped(sentences: Sequence[str], width: int) -> list[str]:
    indent = "  "
    return [
        line
        for sentence in sentences
        for line in textwrap.wrap(sentence, width, initial_indent=indent, subsequent_indent=indent)
    ]


def _line(name: str, cells: Sequence[str], cell: int, width: int) -> str:
    edge = f"{name if len(name) < _EDGE else name[: _EDGE - 2] + '…':<{_EDGE}}"
    parts = [text if len(text) < cell else text[: cell - 2] + "…" for text in cells]
    return f"{edge}{''.join(f'{part:<{cell}}' for part in parts)}".rstrip()[:width]


def _slips(bar: BarProgress) -> str:
    if not bar.tries:
        return ""
    return f"{bar.slips} of {bar.tries}" if bar.slips else "none"


def _share(share: float | None, full: str, empty: str) -> str:
    """ "████· 80 %"; "" where it is not known."""
    if share is None:
        return ""
    filled = int(_STEPS * share + 1e-9)  # full only where all of it is right
    return f"{full * filled}{empty * (_STEPS - filled)} {100 * share:.0f} %"
