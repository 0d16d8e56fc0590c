"""The song being written as a whole: its title, key, meter, tempo and form, and what can be done with a section."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from companion.authoring.draft import Draft
from companion.authoring.draft_melody import pickup_text, with_pickup
from companion.authoring.draft_song import moved
from companion.authoring.field_faults import form_fault, key_fault, meter_fault, name_fault, tempo_fault, title_fault
from companion.chart.model import FEELS
from companion.theory.key import Key
from companion.tui.draw.words import signs
from companion.tui.screens.pick import Item

if TYPE_CHECKING:
    from companion.tui.companion_app import Companion


@dataclass(frozen=True, slots=True)
class _Field:
    """field: of the Page. words: for the list. hint: below the line. fault: of a text, "" where it is right."""

    field: str
    words: str
    hint: str
    fault: Callable[[str], str]


_FIELDS = (
    _Field("title", "title", "The song's name.", title_fault),
    _Field("tempo", "tempo", "The target, in beats a minute.", tempo_fault),
    _Field("meter", "meter", "Such as 4/4, 3/4, 5/4 or 6/8. The bars stay as typed and are checked anew.", meter_fault),
    _Field("key", "key as written", "Such as Bb, F#m or G minor. The chords stay as they are.", key_fault),
    _Field("pickup", "pickup", "Beats before the first bar, such as 1 or 1.5; empty for none.", lambda text: ""),
)


_SECTION_FIELDS = (
    _Field(
        "pickup",
        "a pickup each time it comes",
        "Beats before its first bar, such as 1 or 1.5; empty for none, or for the song's own.",
        lambda text: "",
    ),
    _Field(
        "pickup_chords", "chords in the pickup", "Such as C7, or D7:2 G7:1; empty for none of its own.", lambda text: ""
    ),
)


class SongInWriting(Protocol):
    """What the menu asks of whoever holds the song."""

    @property
    def draft(self) -> Draft:
        """What is written so far."""

    @property
    def is_saved(self) -> bool:
        """Whether the page is what the song's file holds."""

    def change(self, make: Callable[[Draft], Draft]) -> None:
        """Change the draft."""

    def hear_section(self) -> None:
        """Let the section of the cursor be heard."""

    def play_in(self) -> None:
        """Take down a melody that is played from the cursor on."""

    def throw_away(self) -> None:
        """Leave without the draft."""


class SongMenu:
    """song: read and changed by what is chosen."""

    def __init__(self, companion: Companion, song: SongInWriting) -> None:
        self._companion, self._song = companion, song

    def show(self) -> None:
        """Everything that can be done with the song and the section one is in."""
        page, section = self._song.draft.page, self._song.draft.section
        items = [
            Item(f"form: {page.form or 'the sections as they stand'}", self._ask_form),
            *(
                Item(f"{each.words}: {signs(getattr(page, each.field)) or '-'}", lambda each=each: self._ask(each))
                for each in _FIELDS
            ),
            Item(f"feel: {page.feel}", self._next_feel),
            Item("move all to another key", self._ask_new_key),
            Item(f"section {section.name}: another name", self._ask_name),
            Item(f"section {section.name}: its own meter, now {section.meter or page.meter}", self._ask_section_meter),
            *(
                Item(
                    f"section {section.name}: {each.words}, now {signs(getattr(section, each.field)) or '-'}",
                    lambda each=each: self._ask_of_section(each),
                )
                for each in _SECTION_FIELDS
            ),
            Item(f"section {section.name}: hear it", self._song.hear_section),
            Item(f"section {section.name}: play its melody in from here, with the click", self._song.play_in),
            Item(f"section {section.name}: take it away", lambda: self._song.change(Draft.remove_section)),
        ]
        if page.opens_with_pickup(self._song.draft.at[0]):
            items.insert(-1, Item(f"section {section.name}: notes of its pickup", self._ask_pickup_notes))
        if section.melody.strip():
            items.append(Item(f"section {section.name}: leave its melody out", lambda: self._set_section(melody="")))
        if not self._song.is_saved:
            items.append(Item("throw away what is not saved", self._ask_throw_away))

        def taken(item: Item | None) -> None:
            if item is not None:
                item.value()

        self._companion.open("pick", "The song", items, taken=taken)

    def _ask_text(
        self, title: str, text: str, hint: str, fault: Callable[[str], str], take: Callable[[str], None]
    ) -> None:
        def typed(answer: str | None) -> None:
            if answer is not None:
                take(answer)

        self._companion.open("ask", title, text, hint, fault, taken=typed)

    def _ask(self, each: _Field, then: Callable[[], None] = lambda: None) -> None:
        def take(text: str) -> None:
            self._song.change(lambda draft: draft.set(**{each.field: text}))
            then()

        title = each.words[:1].upper() + each.words[1:]
        self._ask_text(title, getattr(self._song.draft.page, each.field), each.hint, each.fault, take)

    def ask_title(self, then: Callable[[], None]) -> None:
        """A title, which saving needs."""

        def fault(text: str) -> str:
            return title_fault(text) if text else "A song needs a title to be saved."

        self._ask(_Field("title", "title", "The song's name.", fault), then)

    def _ask_form(self) -> None:
        names = " ".join(section.name for section in self._song.draft.page.sections)
        hint = f"The sections in playing order, such as A A B A. There are {names}. Empty: as they stand."

        def take(text: str) -> None:
            self._song.change(lambda draft: draft.set(form=" ".join(text.split())))

        self._ask_text(
            "Form", self._song.draft.page.form, hint, lambda text: form_fault(self._song.draft.page, text), take
        )

    def _next_feel(self) -> None:
        feel = (
            FEELS[(FEELS.index(self._song.draft.page.feel) + 1) % len(FEELS)]
            if self._song.draft.page.feel in FEELS
            else FEELS[0]
        )
        self._song.change(lambda draft: draft.set(feel=feel))

    def _ask_new_key(self) -> None:
        def take(text: str) -> None:
            self._song.change(lambda draft: draft.with_page(moved(draft.page, Key.parse(text))))

        hint = "Such as Bb or F#. Every chord and melody moves along; what is not understood stays as it is."
        self._ask_text("Move to which key?", self._song.draft.page.key, hint, key_fault, take)

    def _ask_name(self) -> None:
        def take(text: str) -> None:
            try:
                self._song.change(lambda draft: draft.rename_section(text))
            except ValueError as error:
                self._companion.say(str(error))

        self._ask_text("Name of the section", self._song.draft.section.name, "Such as A, B or Intro.", name_fault, take)

    def _ask_section_meter(self) -> None:
        def take(text: str) -> None:
            self._set_section(meter="" if text == self._song.draft.page.meter else text)

        def fault(text: str) -> str:
            return meter_fault(text) if text else ""

        hint = "Such as 3/4; empty for the song's own."
        self._ask_text(
            f"Meter of section {self._song.draft.section.name}", self._song.draft.section.meter, hint, fault, take
        )

    def _ask_of_section(self, each: _Field) -> None:
        section = self._song.draft.section
        title = f"Section {section.name}: {each.words}"

        def take(text: str) -> None:
            self._set_section(**{each.field: " ".join(text.split())})

        self._ask_text(title, getattr(section, each.field), each.hint, each.fault, take)

    def _ask_pickup_notes(self) -> None:
        section = self._song.draft.section

        def take(text: str) -> None:
            self._set_section(melody=with_pickup(section.melody, text))

        hint = "Such as G2, or GA for two eighths, before the first bar; empty for none."
        title = f"Section {section.name}: notes of its pickup"

        def fault(text: str) -> str:
            return "The pickup is notes alone; a barline would begin the first bar." if "|" in text else ""

        self._ask_text(title, pickup_text(section.melody, has_pickup=True), hint, fault, take)

    def _set_section(self, **fields: str) -> None:
        self._song.change(lambda draft: draft.set_section(**fields))

    def _ask_throw_away(self) -> None:
        def taken(item: Item | None) -> None:
            if item is not None and item.value:
                self._song.throw_away()

        items = [Item("no, keep it", False), Item("yes, throw it away", True)]
        self._companion.open("pick", "Throw away what is not saved?", items, taken=taken)
