"""The list of songs: one line a song, its facts in columns, narrowed by what is typed."""

from __future__ import annotations

from companion.base.text import plain, shown
from companion.practice.planning.difficulty import difficulty_words
from companion.store.listing import SongEntry
from companion.tui.draw.words import shorten, signs, tempo_words

# (head, columns, least width of the window that shows it), after the title. A wide window gives the form more.
_COLUMNS = (
    ("difficulty", 32, 66),
    ("key", 5, 30),
    ("tempo", 6, 40),
    ("meter", 6, 80),
    ("bars", 5, 86),
    ("feel", 9, 96),
    ("form", 14, 104),
)
_WIDE = 112
START_HERE = "start here"
ORDER_WORDS = {"difficulty": "the easiest first", "title": "by title", "tempo": "the slowest first"}


def matches(entry: SongEntry, text: str) -> bool:
    """Whether every typed word is found in title, id, key, feel or form."""
    forms = (" ".join(entry.form), "".join(entry.form))
    facts = " ".join((entry.title, entry.id, entry.key, entry.meter, entry.feel, *forms)).casefold()
    return all(word in facts for word in text.casefold().split())


def _cells(entry: SongEntry) -> tuple[str, ...]:
    tempo, form = tempo_words(entry.tempo_bpm), form_words(entry.form)
    difficulty = difficulty_words(entry.changes, entry.shells)
    return (difficulty, signs(entry.key), tempo, entry.meter, str(entry.bars), entry.feel, form)


def form_words(form: tuple[str, ...]) -> str:
    """ "AABA", with spaces where a section's name is longer than a letter."""
    return ("" if all(len(name) == 1 for name in form) else " ").join(form)


def _layout(cells: tuple[str, ...], title: str, width: int, mark: str = "") -> str:
    """mark: said behind the title, or where there is no room for it in the place of the last columns."""
    shown = [(cell, columns) for cell, (_, columns, least) in zip(cells, _COLUMNS, strict=True) if width >= least]
    if width > _WIDE:
        shown[-1] = (shown[-1][0], shown[-1][1] + (width - _WIDE) // 3)
    room = max(1, width - sum(columns for _, columns in shown) - 1)
    facts = "".join(shorten(cell, n - 1).ljust(n) for cell, n in shown).rstrip()
    if mark and len(title) + len(mark) + 2 <= room:
        title = f"{title}  {mark}"
    elif mark:
        facts = f"{facts[: max(0, sum(columns for _, columns in shown) - len(mark) - 1)].rstrip()} {mark}"
    return f"{shorten(title, room).ljust(room)} {facts}".rstrip()


def head_row(width: int) -> str:
    """The heads of the columns."""
    return _layout(tuple(head for head, _, _ in _COLUMNS), "title", width)


def song_row(entry: SongEntry, width: int, *, first: bool = False) -> str:
    """One song, or for a file with faults its sentence, marked with a sign. first: a new student may start with it."""
    if entry.fault:
        return shorten(shown(f"! {entry.fault.replace(plain(str(entry.path)), entry.path.name)}"), width)
    return _layout(_cells(entry), entry.title, width, START_HERE if first else "")
