"""The progress of a song as text for a page: sections, tempo, minutes, weakest changes and news, in the room there is."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from companion.practice.planning.lessons import HAND_WORDS
from companion.practice.planning.progress import SongProgress
from companion.reports.chart import chart_plot
from companion.reports.plots import minutes_plot, section_bars, tempo_plot
from companion.reports.report import NAMES_HEAD
from companion.tui.draw.words import shorten, signs, whole_words

_FEWEST, _MOST = 2, 5  # lines of changes and of news
_PLOT_LEAST, _PLOT_MOST = 6, 14


def progress_pages(pages: Sequence[SongProgress], width: int, height: int, names: Sequence[str] = ()) -> str:
    """What is known of a song, a page for each pair of hands that played it, one below the other. names: sentences on the drill of names."""
    if names:
        lines = textwrap.wrap(signs(" ".join(names)), width, initial_indent="  ", subsequent_indent="  ")
        above = progress_pages(pages, width, height - len(lines) - 1)
        return "\n".join([above, NAMES_HEAD, *lines])
    if len(pages) == 1:
        return progress_text(pages[0], width, height)
    names = [HAND_WORDS[page.hands] for page in pages]
    heads = [name.upper() for name in names]
    heads[0] += f"   ({' and '.join(names[1:])}: further down)"
    return "\n\n".join(f"{head}\n{progress_text(page, width, height - 1)}" for head, page in zip(heads, pages))


def progress_text(progress: SongProgress, width: int, height: int) -> str:
    """All of it in `height` lines where it fits, the tempo's plot taking what is left; a small window scrolls."""
    most = _FEWEST if height < 28 else _MOST
    sections = section_bars(progress.sections, width)
    minutes = minutes_plot(progress, width)
    changes = [signs(change.words) for change in progress.changes[:most]]
    changes += [bar.words for bar in progress.weak_bars[: most - len(changes)]]
    blocks = [
        ("Bar by bar", signs(chart_plot(progress, width))),
        ("Sections", sections),
        ("Does the left hand run by itself", "\n".join(f"  {line}" for line in progress.by_itself)),
        ("From symbols", shorten(f"  {signs('   '.join(progress.from_symbols))}", width)),
        ("From memory in other keys", shorten(f"  {signs('   '.join(progress.in_other_keys))}", width)),
        ("Minutes a day", minutes),
        ("Costs most", "\n".join(whole_words(f"  {line}", width) for line in changes)),
        (
            "The last seven days",
            "\n".join(whole_words(f"  {signs(line)}", width) for line in progress.news[: most + 1]),
        ),
    ]
    used = sum(1 + text.count("\n") + 1 for _, text in blocks if text.strip())
    plot = tempo_plot(progress, width, max(_PLOT_LEAST, min(_PLOT_MOST, height - used - 1)))
    blocks.insert(3, ("Tempo", plot))
    return "\n".join(f"{title}\n{text}" for title, text in blocks if text.strip())
