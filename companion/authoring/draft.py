"""A song while it is being written: bars as typed text, whatever is wrong with them, and every change that can be taken back.

Immutable: a change gives a new Draft. Nothing typed is ever lost by a change other than the one that takes it away. Bars
and sections count from 0 here. What is wrong with a page, and the song it makes, is found in draft_song.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from companion.authoring.draft_melody import bar_text, with_bar, with_bars_changed
from companion.chart.bars import SAME_BAR
from companion.chart.grid import BARS_A_LINE
from companion.chart.lesson import Lesson

MOST_UNDOS = 500
CHORDS, MELODY = "chords", "melody"
Spot = tuple[int, int]  # section and bar


@dataclass(frozen=True, slots=True)
class DraftBar:
    """text: as typed. pins: (chord from 1, its symbol, the pin as a file has it), obeyed where the bar has that chord there. note: the
    teacher's. Both travel with the bar."""

    text: str = ""
    pins: tuple[tuple[int, str, str], ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class DraftSection:
    """meter and key: as typed, "" for the song's own. There is always a bar, be it empty. pickup and pickup_chords: as the
    chart file has them, "" for none."""

    name: str
    bars: tuple[DraftBar, ...] = (DraftBar(),)
    meter: str = ""
    key: str = ""
    melody: str = ""
    pickup: str = ""
    pickup_chords: str = ""


@dataclass(frozen=True, slots=True)
class Page:
    """All that is written, as typed. song_id: of the song that is changed, "" for a new one. form: "" for the sections as they
    stand. lesson: what a teacher wrote, but for the notes on bars, which the bars carry."""

    song_id: str = ""
    title: str = ""
    key: str = "C"
    meter: str = "4/4"
    tempo: str = "120"
    feel: str = "swing"
    form: str = ""
    pickup: str = ""
    sections: tuple[DraftSection, ...] = (DraftSection("A"),)
    lesson: Lesson | None = None

    def meter_of(self, section: int) -> str:
        """The meter of a section as typed, the song's where it has none of its own."""
        return self.sections[section].meter or self.meter

    def key_of(self, section: int) -> str:
        """The key of a section as typed, the song's where it has none of its own."""
        return self.sections[section].key or self.key

    @property
    def opening_section(self) -> str:
        """The name of the section that the form begins with."""
        return (self.form.split() or [self.sections[0].name])[0]

    def opens_with_pickup(self, section: int) -> bool:
        """Whether the melody of this section may begin with the song's pickup or its own."""
        own = self.sections[section]
        return bool(own.pickup or (own.name == self.opening_section and self.pickup.strip()))

    def with_section(self, number: int, **fields: Any) -> Page:
        """The page with these fields of a section changed."""
        sections = list(self.sections)
        sections[number] = replace(sections[number], **fields)
        return replace(self, sections=tuple(sections))


@dataclass(frozen=True, slots=True)
class Draft:
    """at: the bar being written. mark: the bar of this section from which on is copied, None while nothing is. clip: what was
    copied. past and future: pages with where one was. line: what is typed, CHORDS or MELODY. typing: whether the last change was typing in this bar, which the
    next sign typed here continues, so that one undo takes back a bar and not a letter."""

    page: Page = Page()
    at: Spot = (0, 0)
    mark: int | None = None
    clip: tuple[DraftBar, ...] = ()
    past: tuple[tuple[Page, Spot], ...] = ()
    future: tuple[tuple[Page, Spot], ...] = ()
    typing: bool = False
    line: str = CHORDS

    # --- where one is

    @property
    def section(self) -> DraftSection:
        """The section being written."""
        return self.page.sections[self.at[0]]

    @property
    def bar(self) -> DraftBar:
        """The bar being written."""
        return self.section.bars[self.at[1]]

    @property
    def text(self) -> str:
        """What is typed into in this bar: its chords or its notes."""
        return self.bar.text if self.line == CHORDS else self.melody_at(*self.at)

    def melody_at(self, section: int, bar: int) -> str:
        """The notes of a bar as typed, "" for a bar of rest."""
        return bar_text(self.page.sections[section].melody, bar, self.page.opens_with_pickup(section))

    def on_line(self, line: str) -> Draft:
        """Typing chords, or notes."""
        return replace(self, line=line, typing=False)

    @property
    def marked(self) -> range:
        """The bars of this section that copying or deleting takes."""
        first, last = sorted((self.at[1] if self.mark is None else self.mark, self.at[1]))
        return range(first, last + 1)

    def go_to(self, section: int, bar: int) -> Draft:
        """To a bar, held within what there is. Leaving the section ends the marking."""
        section = max(0, min(len(self.page.sections) - 1, section))
        at = section, max(0, min(len(self.page.sections[section].bars) - 1, bar))
        return replace(
            self, at=at, mark=self.mark if section == self.at[0] else None, typing=self.typing and at == self.at
        )

    def go(self, step: int) -> Draft:
        """So many bars on or back, through the sections."""
        section, bar = self.at[0], self.at[1] + step
        while bar < 0 and section > 0:
            section -= 1
            bar += len(self.page.sections[section].bars)
        while bar >= len(self.page.sections[section].bars) and section < len(self.page.sections) - 1:
            bar -= len(self.page.sections[section].bars)
            section += 1
        return self.go_to(section, bar)

    def go_line(self, step: int) -> Draft:
        """To the line of bars above (-1) or below (1), in the same column."""
        section, bar = self.at
        column, line = bar % BARS_A_LINE, bar // BARS_A_LINE + step
        if line < 0:
            if section == 0:
                return self
            section -= 1
            line = (len(self.page.sections[section].bars) - 1) // BARS_A_LINE
        elif line * BARS_A_LINE >= len(self.section.bars):
            if section == len(self.page.sections) - 1:
                return self
            section, line = section + 1, 0
        return self.go_to(section, line * BARS_A_LINE + column)

    # --- typing

    def type(self, text: str) -> Draft:
        """Add signs to the bar; a barline or the end of a line goes on to the next bar."""
        first, *more = text.replace("||", "|").replace("\r\n", "\n").replace("\n", "|").replace("\t", " ").split("|")
        draft = self._typed(self.text + first) if first else self
        for cell in more:
            draft = draft.next_bar()
            draft = draft._typed(draft.text + cell) if cell else draft
        return draft

    def back(self) -> Draft:
        """Take the last sign away; in an empty bar go to the bar before, and let go of an empty one at the section's end."""
        if self.text:
            return self._typed(self.text[:-1])
        section, bar = self.at
        if bar == 0:
            return self.go(-1)
        if bar < len(self.section.bars) - 1 or self.line == MELODY:
            return self.go_to(section, bar - 1)
        page = self.page.with_section(section, bars=self.section.bars[:-1])
        return self._change(page, (section, bar - 1))

    def clear_bar(self) -> Draft:
        """Empty the bar; take an empty one away. Notes alone never take a bar with them."""
        return self._typed("") if self.text or self.line == MELODY else self.delete()

    def next_bar(self) -> Draft:
        """To the next bar, a new one at the section's end; an empty bar at the end stays the last. Notes go on into the next section."""
        section, bar = self.at
        if bar + 1 < len(self.section.bars):
            return self.go_to(section, bar + 1)
        if self.line == MELODY:
            return self.go(1)
        if not self.bar.text.strip():
            return self
        page = self.page.with_section(section, bars=(*self.section.bars, DraftBar()))
        return replace(self._change(page, (section, bar + 1)), typing=True)

    def _typed(self, text: str) -> Draft:
        if text == self.text:
            return self
        section, bar = self.at
        if self.line == MELODY:
            melody = with_bar(self.section.melody, bar, text, self.page.opens_with_pickup(section))
            page = self.page.with_section(section, melody=melody)
        else:
            bars = list(self.section.bars)
            bars[bar] = replace(bars[bar], text=text)
            page = self.page.with_section(section, bars=tuple(bars))
        if self.typing:
            return replace(self, page=page, future=())
        return replace(self._change(page, self.at), typing=True, mark=self.mark)

    # --- bars and sections

    def insert(self, bars: Sequence[DraftBar] = (DraftBar(),)) -> Draft:
        """Bars before this one, and to the first of them."""
        return self._splice(self.at[1], 0, bars)

    def delete(self) -> Draft:
        """Take the marked bars away; the last bar of a section takes the section with it, unless it is the only one."""
        if len(self.marked) == len(self.section.bars) and len(self.page.sections) > 1:
            return self.remove_section()
        return self._splice(self.marked.start, len(self.marked), ())

    def start_mark(self) -> Draft:
        """Mark from this bar on."""
        return replace(self, mark=self.at[1], typing=False)

    def copy(self) -> Draft:
        """Remember the marked bars. Where they were repeat signs, what these repeat is copied too."""
        bars = list(self.section.bars[self.marked.start : self.marked.stop])
        before = [bar.text for bar in self.section.bars[: self.marked.start + 1] if bar.text.strip() not in SAME_BAR]
        if bars[0].text.strip() in SAME_BAR and before:
            bars[0] = replace(bars[0], text=before[-1])
        return replace(self, clip=tuple(bars), mark=None)

    def paste(self) -> Draft:
        """The copied bars: over this bar where it is empty, else before it. Then to the bar behind them."""
        if not self.clip:
            return self
        section, bar = self.at
        removed = 0 if self.bar.text.strip() else 1
        at_end = bar + removed == len(self.section.bars)
        draft = self._splice(bar, removed, (*self.clip, DraftBar()) if at_end else self.clip)
        return draft.go_to(section, bar + len(self.clip))

    def _splice(self, first: int, removed: int, added: Sequence[DraftBar]) -> Draft:
        section, bars = self.at[0], list(self.section.bars)
        bars[first : first + removed] = added
        has_pickup = self.page.opens_with_pickup(section)
        melody = with_bars_changed(self.section.melody, first, removed, len(added), has_pickup)
        page = self.page.with_section(section, bars=tuple(bars) or (DraftBar(),), melody=melody)
        return self._change(page, (section, min(first, max(0, len(bars) - 1))))

    def new_section(self, name: str = "") -> Draft:
        """An empty section behind this one, and into it. Empty bars at the end of this one go. name: else the next letter."""
        section = self.at[0]
        kept = _without_empty_end(self.section.bars)
        page = self.page.with_section(section, bars=kept)
        new = DraftSection(name or _free_name(page))
        sections = (*page.sections[: section + 1], new, *page.sections[section + 1 :])
        return self._change(replace(page, sections=sections), (section + 1, 0))

    def remove_section(self) -> Draft:
        """Without this section; the only one is emptied. The form is left as typed: it says what it lacks."""
        section = self.at[0]
        sections = self.page.sections[:section] + self.page.sections[section + 1 :]
        return self._change(replace(self.page, sections=sections or (DraftSection("A"),)), (max(0, section - 1), 0))

    def rename_section(self, name: str) -> Draft:
        """Another name, in the form and the lesson too. Raises ValueError where another section has it."""
        old, number = self.section.name, self.at[0]
        if any(section.name == name for at, section in enumerate(self.page.sections) if at != number):
            raise ValueError(f"There is a section {name} already; each needs a name of its own.")
        page = self.page.with_section(number, name=name)
        form = (
            " ".join(name if word == old else word for word in page.form.split())
            if old in page.form.split()
            else page.form
        )
        return self._change(replace(page, form=form, lesson=_renamed(page.lesson, old, name)), self.at)

    def with_notes(self, cells: Sequence[str]) -> Draft:
        """The notes of this bar and those after it, as far as the section goes; one change, to be taken back at once."""
        section, bar = self.at
        melody, has_pickup = self.section.melody, self.page.opens_with_pickup(section)
        for at, cell in enumerate(cells[: len(self.section.bars) - bar], bar):
            melody = with_bar(melody, at, cell, has_pickup)
        return self._change(self.page.with_section(section, melody=melody), self.at)

    def set_section(self, **fields: str) -> Draft:
        """Another meter, pickup or melody of this section, as typed; "" for the song's meter and pickup, or no melody."""
        return self._change(self.page.with_section(self.at[0], **fields), self.at)

    def set(self, **fields: Any) -> Draft:
        """Another title, key (the chords stay), meter, tempo, feel, form or pickup, as typed."""
        return self._change(replace(self.page, **fields), self.at)

    def with_page(self, page: Page) -> Draft:
        """A page changed as a whole, such as in another key."""
        return self._change(page, self.at)

    def saved_as(self, song_id: str) -> Draft:
        """The same, changing a song of that id from now on, however far one goes back."""
        pages = [
            tuple((replace(page, song_id=song_id), at) for page, at in pages) for pages in (self.past, self.future)
        ]
        return replace(self, page=replace(self.page, song_id=song_id), past=pages[0], future=pages[1], typing=False)

    # --- back and forth

    def undo(self) -> Draft:
        """As it was before the last change."""
        if not self.past:
            return self
        (page, at), now = self.past[-1], (self.page, self.at)
        return replace(self, page=page, at=at, past=self.past[:-1], future=(now, *self.future), typing=False, mark=None)

    def redo(self) -> Draft:
        """The change that was taken back last, made again."""
        if not self.future:
            return self
        (page, at), now = self.future[0], (self.page, self.at)
        return replace(self, page=page, at=at, past=(*self.past, now), future=self.future[1:], typing=False, mark=None)

    def _change(self, page: Page, at: Spot) -> Draft:
        if page == self.page:
            return replace(self, at=at, typing=False, mark=None)
        past = (*self.past[-MOST_UNDOS + 1 :], (self.page, self.at))
        return replace(self, page=page, at=at, past=past, future=(), typing=False, mark=None)


def _without_empty_end(bars: tuple[DraftBar, ...]) -> tuple[DraftBar, ...]:
    """At least one bar stays."""
    while len(bars) > 1 and not bars[-1].text.strip():
        bars = bars[:-1]
    return bars


def _free_name(page: Page) -> str:
    taken = {section.name for section in page.sections}
    letters = [chr(code) for code in range(ord("A"), ord("Z") + 1)]
    return next(name for name in [*letters, *(f"A{number}" for number in range(2, 2000))] if name not in taken)


def _renamed(lesson: Lesson | None, old: str, new: str) -> Lesson | None:
    if lesson is None:
        return None
    notes = {new if name == old else name: text for name, text in lesson.section_notes.items()}
    steps = tuple(replace(step, section=new) if step.section == old else step for step in lesson.steps)
    return replace(lesson, section_notes=notes, steps=steps)
