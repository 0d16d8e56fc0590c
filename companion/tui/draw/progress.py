"""The progress of a song as text for a page: sections, tempo, minutes, weakest changes and news, in the room there is."""

from __future__ import annotations

from companion.practice.planning.progress import SongProgress
from companion.reports.plots import minutes_plot, section_bars, tempo_plot
from companion.tui.draw.words import shorten, signs

_FEWEST, _MOST = 2, 5  # lines of changes and of news
_PLOT_LEAST, _PLOT_MOST = 6, 14


def progress_text(progress: SongProgress, width: int, height: int) -> str:
    """All of it in `height` lines where it fits, the tempo's plot taking what is left; a small window scrolls."""
    most = _FEWEST if height < 28 else _MOST
    sections = section_bars(progress.sections, width)
    minutes = minutes_plot(progress, width)
    changes = [signs(change.words) for change in progress.changes[:most]]
    changes += [bar.words for bar in progress.weak_bars[: most - len(changes)]]
    blocks = [
        ("Sections", sections),
        ("Minutes a day", minutes),
        ("Costs most", "\n".join(shorten(f"  {line}", width) for line in changes)),
        ("The last seven days", "\n".join(shorten(f"  {signs(line)}", width) for line in progress.news[: most + 1])),
    ]
    used = sum(1 + text.count("\n") + 1 for _, text in blocks if text)
    plot = tempo_plot(progress, width, max(_PLOT_LEAST, min(_PLOT_MOST, height - used - 1)))
    blocks.insert(1, ("Tempo", plot))
    return "\n".join(f"{title}\n{text}" for title, text in blocks if text)
