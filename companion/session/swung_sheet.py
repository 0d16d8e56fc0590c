"""A song's melody in the version chosen, written out with the straight one above it, bar by bar: for the command and the app alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from companion.base.text import plural
from companion.chart.grid import FEWER_A_LINE
from companion.chart.melody import pickup_ticks_of, section_melody
from companion.chart.melody_text import melody_cells
from companion.chart.model import Song
from companion.errors import SettingsError
from companion.groove.model import hand_parts
from companion.groove.swung_choice import STRAIGHT, VERSIONS, BarVersion, SwungChoice
from companion.groove.swung_rules import DOES
from companion.groove.swung_song import can_swing, swung_section
from companion.session.stand import Stand


@dataclass(frozen=True, slots=True)
class SwungBar:
    """bar: of its section, from 1. straight, swung: as text in ABC's notation. version: that it has now, None for straight; is_kept: whether it
    keeps that whatever is chosen for the whole. rules: by which its notes were changed, in order."""

    section: str
    bar: int
    straight: str
    swung: str
    version: BarVersion | None
    is_kept: bool
    rules: tuple[str, ...]

    @property
    def is_changed(self) -> bool:
        """Whether anything else is written in it."""
        return self.straight != self.swung


def check_can_swing(song: Song) -> None:
    """Raises SettingsError, one sentence, for a song that no version of can be made."""
    if not any(song.sections[name].melody for name in song.form):
        raise SettingsError(f"{song.title} has no melody, so there is nothing to swing; expected a melody in its chart")
    if not can_swing(song):
        raise SettingsError(
            f"{song.title} is in {song.meter}, where the eighths swing as they are written; expected a song in quarters, "
            "such as 4/4 or 3/4"
        )


def ready_to_swing(stand: Stand) -> Stand:
    """Set for a hand that plays the melody, in the version chosen, the first where none was. Raises SettingsError where none can be made."""
    check_can_swing(stand.original)
    if stand.swung.is_straight:
        stand = stand.with_swung(stand.swung.with_version(VERSIONS[0]))
    return stand if "right" in hand_parts(stand.hands) else stand.with_hands("right")


def swung_bars(song: Song, choice: SwungChoice) -> dict[str, list[SwungBar]]:
    """Section -> its bars, of every section with a melody, each once."""
    return {name: _section(song, name, choice) for name in dict.fromkeys(song.form) if section_melody(song, name)}


def _section(song: Song, name: str, choice: SwungChoice) -> list[SwungBar]:
    section = song.sections[name]
    about = section.meter, section.key, len(section.bars), pickup_ticks_of(song, name)
    made = swung_section(song, name, choice)
    _, straight = melody_cells(made.written, *about)
    _, swung = melody_cells(made.played, *about) if made.changes else ("", straight)
    changes = sorted(made.changes.values(), key=lambda change: change.note)
    return [
        SwungBar(
            name,
            bar,
            before,
            after,
            choice.bars.get((name, bar), choice.whole),
            (name, bar) in choice.bars,
            tuple(change.rule for change in changes if change.bar == bar),
        )
        for bar, (before, after) in enumerate(zip(straight, swung, strict=True), 1)
    ]


def version_words(version: BarVersion | None) -> str:
    """ "straight", "version 2", "version 2 of seed 7"."""
    if version is None:
        return STRAIGHT
    return f"version {version.version}" + (f" of seed {version.seed}" if version.seed else "")


def sheet_text(song: Song, choice: SwungChoice, width: int = 80) -> str:
    """The whole, in lines no wider than asked where a bar is not. Of a straight melody one line is enough."""
    sections = swung_bars(song, choice)
    changed = any(row.is_changed for rows in sections.values() for row in rows)
    words = version_words(choice.whole)
    lines = [f"{song.title}   {song.key}   {song.meter}", f"{words[0].upper()}{words[1:]}: {_changed_words(sections)}."]
    if changed:
        lines.append("Above as it is written, below as it is played; * marks a bar that changes.")
    lines.append("Letters as in ABC: signs of the key left out, 2 is a quarter, z a rest.")
    if song.feel == STRAIGHT and changed:
        lines.append("The song is straight, so its eighths stay even.")
    for name, rows in sections.items():
        lines += ["", name, *_rows(rows, width)]
    return "\n".join(lines)


def changed_words(song: Song, choice: SwungChoice) -> str:
    """ "13 of 24 bars change", each section counted once."""
    return _changed_words(swung_bars(song, choice))


def _changed_words(sections: Mapping[str, Sequence[SwungBar]]) -> str:
    rows = [row for section in sections.values() for row in section]
    changed = sum(row.is_changed for row in rows)
    return f"{changed} of {plural(len(rows), 'bar')} change" if changed else "as it is written"


def _rows(rows: Sequence[SwungBar], width: int) -> list[str]:
    is_swung = any(row.is_changed for row in rows)
    cells = [(_head(row), row.straight, *([row.swung] if is_swung else [])) for row in rows]
    lines: list[str] = []
    for columns in FEWER_A_LINE:
        wide = [
            max(len(text) for cell in cells[at::columns] for text in cell) for at in range(min(columns, len(cells)))
        ]
        if sum(wide) + 3 * len(wide) <= width or columns == 1:
            lines = []
            for start in range(0, len(cells), columns):
                for number, texts in enumerate(zip(*cells[start : start + columns], strict=True)):
                    bar_line = "   " if number == 0 else " | "
                    lines.append("".join(f"{text:<{size}}{bar_line}" for text, size in zip(texts, wide)).rstrip())
                lines.append("")
            return lines[:-1]
    return lines


def _head(row: SwungBar) -> str:
    kept = f" {version_words(row.version)}, kept" if row.is_kept else ""
    return f"{row.bar}{'*' if row.is_changed else ''}{kept}"


def rule_words(rules: Sequence[str]) -> list[str]:
    """What is done to the notes of a bar, to the student."""
    return [DOES[rule] for rule in rules]
