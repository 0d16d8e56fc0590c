"""Plots in characters, readable at 80x24 and without colour, for the Progress screen and the report in the terminal.

Dots and lines come from the plotille library (braille signs); the few words at their edges are ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from companion.base.text import plural
from companion.practice.planning.progress import SectionStrength, SongProgress

_EDGE = 6  # columns for the figures to the left of a plot
_NARROWEST, _LOWEST = 20, 4
WEEKS_SHOWN = 8
_BLANK = "\u2800"  # braille without a dot, as the library draws an empty cell
_FULL, _EMPTY = "█", "·"
_AHEAD, _PASSED = "·", "─"  # the line of a target
_EIGHTHS = " ▁▂▃▄▅▆▇█"


def tempo_plot(progress: SongProgress, width: int, height: int) -> str:
    """The fastest clean pass of each day, its line and marks o, and the target as a line: of dots while it is ahead, whole once it is passed; one day as a bar. width, height: of all
    of it in characters; a smaller plot than 20 by 4 is not drawn. "" where no clean pass in time is known."""
    days = [(date.fromisoformat(day.day), day.best_bpm) for day in progress.days if day.best_bpm is not None]
    if not days or width < _NARROWEST or height < _LOWEST:
        return ""
    if len(days) == 1:
        return _one_tempo(progress, *days[0], width)
    import plotille  # 35 ms, needed only here

    last = max(progress.today, days[-1][0])
    first = days[0][0]
    tempi = [bpm for _, bpm in days]
    low, high = _limits([*tempi, progress.target_bpm])
    figure = plotille.Figure()
    figure.width, figure.height = width - _EDGE - 2, height - 2
    figure.with_colors = False
    figure.with_x_axis = figure.with_y_axis = figure.origin = False
    figure.linesep = "\n"
    places = [(day - first).days for day, _ in days]
    # The library rounds to dots, two by four a cell; what lies on the upper limit would be one dot outside.
    across, down = 2 * figure.width, 4 * figure.height
    figure.set_x_limits(0, (last - first).days * across / (across - 1))
    top = low + (high - low) * down / (down - 1)
    figure.set_y_limits(low, top)
    figure.plot(places, tempi)
    figure.scatter(places, tempi, marker="o")
    rows = [row.replace(_BLANK, " ") for row in figure.show().split("\n")[-(height - 2) :]]
    target_row = _row_of(progress.target_bpm, low, top, len(rows))
    line = _PASSED if progress.passed_on else _AHEAD
    rows = [_ruled(row, width - _EDGE - 2, line) if number == target_row else row for number, row in enumerate(rows)]
    labels = {0: high, len(rows) - 1: low, target_row: progress.target_bpm}
    edges = [f"{labels[number]:.0f} │" if number in labels else "│" for number in range(len(rows))]
    lines = [f"{edge:>{_EDGE + 1}}{row}" for edge, row in zip(edges, rows)]
    days_line = f"{'':>{_EDGE}}└{_edge_days(first, last, width - _EDGE - 2)}"
    legend = f"{'':>{_EDGE + 1}}o fastest clean pass of a day   {3 * line} {target_words(progress)}"
    return "\n".join(line.rstrip()[:width] for line in [*lines, days_line, legend])


def _one_tempo(progress: SongProgress, day: date, bpm: float, width: int) -> str:
    """One day is no curve: how much of the way to the target it is, in two lines."""
    room = width - _EDGE - 2
    filled = min(room, max(1, int(room * bpm / progress.target_bpm)))
    words = f"{bpm:.0f} on {day_words(day)}, the fastest clean pass; {target_words(progress)}"
    lines = f"{bpm:>{_EDGE - 1}.0f} │{_FULL * filled}{_EMPTY * (room - filled)}", f"{'':>{_EDGE + 1}}{words}"
    return "\n".join(line[:width] for line in lines)


def target_words(progress: SongProgress) -> str:
    """The target, and since when it is passed."""
    passed = f", passed on {day_words(date.fromisoformat(progress.passed_on))}" if progress.passed_on else ""
    return f"target {progress.target_bpm:g}{passed}"


def day_words(day: date) -> str:
    """ "3 Mar"."""
    return f"{day.day} {day:%b}"


def minutes_plot(progress: SongProgress, width: int) -> str:
    """Minutes a day as a row of bars, today at the right, one column a day from the first day played, in two lines; a sentence
    where that is one day. "" where nothing was played."""
    most_days = min(width - _EDGE - 2, 7 * WEEKS_SHOWN)
    if not progress.days or most_days < 7:
        return ""
    if len(progress.days) == 1:
        return f"  {one_day_words(progress)}"
    shown = days_shown(progress, most_days)
    minutes = {day.day: day.seconds / 60 for day in progress.days}
    values = [minutes.get(day.isoformat(), 0.0) for day in shown]
    if not any(values):  # no empty months either
        return (
            f"  Nothing in the last {len(shown)} days; last on {day_words(date.fromisoformat(progress.days[-1].day))}."
        )
    most = max(values)
    bars = "".join(_EIGHTHS[max(1, round(8 * value / most))] if value else _EMPTY for value in values)
    total = f"{plural(round(sum(values)), 'minute')} in {len(shown)} days, {most:.0f} at most on one."
    if sum(values) and not round(sum(values)):
        total = f"Less than a minute in {len(shown)} days."
    return f"{most:>{_EDGE - 1}.0f} │{bars}\n{'':>{_EDGE + 1}}{total}"


def days_shown(progress: SongProgress, most: int) -> list[date]:
    """The days of a plot: from the first one played to today, the latest `most` of them."""
    first = date.fromisoformat(progress.days[0].day) if progress.days else progress.today
    count = min(most, max(1, (progress.today - first).days + 1))
    return [progress.today - timedelta(days=back) for back in reversed(range(count))]


def one_day_words(progress: SongProgress) -> str:
    """How long was played, where that was on one day."""
    [only] = progress.days
    minutes, day = round(only.seconds / 60), date.fromisoformat(only.day)
    when = "today" if day == progress.today else f"on {day_words(day)}"
    return f"{plural(minutes, 'minute') if minutes else 'Less than a minute'} {when}, the only day so far."


def section_bars(sections: Sequence[SectionStrength], width: int) -> str:
    """A bar a section: what goes right of late, and the chance of recall, with their figures."""
    name_width = max((len(section.section) for section in sections), default=0)
    room = max(10, width - name_width - 38)
    lines = []
    for section in sections:
        strength = section.strength
        filled = 0 if strength is None else round(room * strength)
        hand = "" if section.hand is None else f"hand {100 * section.hand:3.0f} %"
        memory = "" if section.memory is None else f"memory {100 * section.memory:3.0f} %"
        bar = _FULL * filled + _EMPTY * (room - filled)
        lines.append(f"{section.section:<{name_width}} {bar} {section.words:<7} {hand:<11} {memory}".rstrip()[:width])
    return "\n".join(lines)


def _limits(tempi: Sequence[float]) -> tuple[float, float]:
    """Tens that hold all the tempi with a little air."""
    low, high = 10 * ((min(tempi) - 2) // 10), 10 * -(-(max(tempi) + 2) // 10)
    return (low, high) if high > low else (low - 10, high + 10)


def _row_of(bpm: float, low: float, top: float, rows: int) -> int:
    """The row, from the top, in which the library puts a tempo: it rounds to dots, four a row, counted from below."""
    return rows - 1 - round((bpm - low) / ((top - low) / (4 * rows))) // 4


def _ruled(row: str, width: int, line: str) -> str:
    """The row with a line where nothing else stands."""
    return row.ljust(width).replace(" ", line)


def _edge_days(first: date, last: date, width: int) -> str:
    start, end = day_words(first), day_words(last)
    return f"{start}{'─' * max(1, width - len(start) - len(end))}{end}"
