"""A song as plain text, for a message to a friend: the chart, and under each chord the two notes of its shell."""

from __future__ import annotations

from collections.abc import Mapping

from companion.base.text import plain
from companion.chart.grid import FEWER_A_LINE
from companion.chart.loops import WHOLE_FORM
from companion.export.faded import cues_of, round_of, round_words
from companion.groove.patterns import pattern_words
from companion.practice.drills.fading import FULL, Cue, cue_text
from companion.session.drill import DrillSettings
from companion.session.stand import Stand

WIDEST = 76  # what a mail shows without breaking lines
NARROWEST = 8  # an empty bar has room for a pencil
NEW_PAGE = "\f"

Cell = tuple[str, str]  # chords, and under them the notes; equally long


def text_of(stand: Stand, round_number: int | None = None, settings: DrillSettings | None = None) -> str:
    """The chart with its shells; with a round of the drill what it shows, and the answers behind a form feed."""
    if round_number is None:
        return _page(stand, {}, "")
    state = round_of(stand, round_number, settings or DrillSettings())
    faded = _page(stand, cues_of(state), f"{round_words(state)}. The answers are on the next page.")
    return f"{faded}{NEW_PAGE}{_page(stand, {}, 'The answers.')}"


def _page(stand: Stand, cues: Mapping[int, Cue], note: str) -> str:
    song = stand.song
    meters = " and ".join(dict.fromkeys(stand.bars[index].meter.name for index in stand.loop))
    form = f"form {' '.join(song.form)}" if stand.loop_name == WHOLE_FORM else stand.loop_name
    lines = [plain(song.title), f"{song.key}, {meters}, {song.feel}, {stand.tempo_bpm:g} beats a minute, {plain(form)}"]
    if note:
        lines += ["", note]
    for name, indices in _stretches(stand):
        lines += ["", plain(name)] + _lines([_cell(stand, index, cues.get(index, FULL)) for index in indices])
    pattern = pattern_words(stand.pattern, stand.bars[stand.loop[0]].meter)
    lines += ["", "Under each chord the left hand's two notes, the lower first; C4 is middle C.", f"Played {pattern}."]
    return "\n".join(lines) + "\n"


def _stretches(stand: Stand) -> list[tuple[str, list[int]]]:
    """The loop's bars by section, each time one comes round; where it is entered in the middle, from which bar on."""
    stretches: list[tuple[str, list[int]]] = []
    for position, index in enumerate(stand.loop):
        bar = stand.bars[index]
        if position == 0 or bar.bar == 1 or index != stand.loop[position - 1] + 1:
            stretches.append((bar.section if bar.bar == 1 else f"{bar.section}, from bar {bar.bar}", []))
        stretches[-1][1].append(index)
    return stretches


def _cell(stand: Stand, index: int, cue: Cue) -> Cell:
    """One bar. Every word of it comes through the drill's own rule, so that a hidden chord cannot leak."""
    above, below = [], []
    for placed, choice in stand.choices_at(index):
        symbol = placed.symbol
        root = f"{placed.chord.root.name}..." if placed.chord else symbol
        notes = " ".join(choice.shell.names) if choice.shell else ""
        seen = cue_text(cue, symbol=plain(symbol), root=root, notes=notes, shell="")
        chord, shell = (*seen, "", "")[:2]
        width = max(len(chord), len(shell))
        above.append(f"{chord:<{width}}")
        below.append(f"{shell:<{width}}")
    return ("  ".join(above), "  ".join(below)) if cue >= Cue.ROOT else ("", "")


def _lines(cells: list[Cell]) -> list[str]:
    for columns in FEWER_A_LINE:
        rows = [cells[start : start + columns] for start in range(0, len(cells), columns)]
        widths = [
            max(NARROWEST, *(len(row[column][0]) for row in rows if column < len(row)))
            for column in range(len(rows[0]))
        ]
        if sum(widths) + 3 * len(widths) + 1 <= WIDEST:
            break
    lines = []
    for row in rows:
        for part in (0, 1):
            line = " | ".join(f"{cell[part]:<{width}}" for cell, width in zip(row, widths, strict=False))
            if part == 0 or any(cell[part].strip() for cell in row):
                lines.append(f"| {line} |")
    return lines
