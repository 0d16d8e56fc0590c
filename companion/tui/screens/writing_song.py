"""The song being written as a whole: its title, key, meter, tempo and form, and what can be done with a section."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from companion.authoring.draft import Draft, Page
from companion.authoring.draft_song import moved
from companion.chart.fields import LONGEST_NAME, LONGEST_TITLE
from companion.chart.model import FEELS
from companion.chart.pins import SECTION_NAME
from companion.chart.values import FASTEST_BPM, SLOWEST_BPM
from companion.theory.key import Key
from companion.theory.meter import Meter
from companion.tui.draw.words import signs
from companion.tui.screens.ask import AskScreen
from companion.tui.screens.pick import Item, PickScreen


def key_fault(text: str) -> str:
    try:
        Key.parse(text)
    except ValueError as error:
        return _sentence(error)
    return ""


def meter_fault(text: str) -> str:
    try:
        Meter.parse(text)
    except ValueError as error:
        return _sentence(error)
    return ""


def _sentence(error: ValueError) -> str:
    words = str(error)
    return words[:1].upper() + words[1:] + "."


def tempo_fault(text: str) -> str:
    try:
        fits = SLOWEST_BPM <= float(text) <= FASTEST_BPM
    except ValueError:
        fits = False
    return "" if fits else f"Expected a number from {SLOWEST_BPM} to {FASTEST_BPM}, such as 126."


def title_fault(text: str) -> str:
    return "" if len(text) <= LONGEST_TITLE else f"Expected at most {LONGEST_TITLE} signs."


def name_fault(text: str) -> str:
    if SECTION_NAME.fullmatch(text) and len(text) <= LONGEST_NAME:
        return ""
    return f"Expected a letter, then letters, digits, ', - or _, at most {LONGEST_NAME} signs."


def form_fault(page: Page, text: str) -> str:
    """Every name must be a section's; an empty form is the sections as they stand."""
    names = [section.name for section in page.sections]
    unknown = next((word for word in text.split() if word not in names), None)
    return f"There is no section {unknown}; there are {', '.join(names)}." if unknown else ""


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


class WritingSong:
    """Mixed into the writing screen."""

    draft: Draft

    def action_song_menu(self) -> None:
        page, section = self.draft.page, self.draft.section
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
            Item(f"section {section.name}: hear it", self.hear_section),
            Item(f"section {section.name}: take it away", lambda: self.change(Draft.remove_section)),
        ]
        if section.melody.strip():
            items.append(Item(f"section {section.name}: leave its melody out", lambda: self._set_section(melody="")))
        if not self.is_saved:
            items.append(Item("throw away what is not saved", self._ask_throw_away))

        def taken(item: Item | None) -> None:
            if item is not None:
                item.value()

        self.app.push_screen(PickScreen("The song", items), taken)

    def _ask_text(
        self, title: str, text: str, hint: str, fault: Callable[[str], str], take: Callable[[str], None]
    ) -> None:
        def typed(answer: str | None) -> None:
            if answer is not None:
                take(answer)

        self.app.push_screen(AskScreen(title, text, hint, fault), typed)

    def _ask(self, each: _Field, then: Callable[[], None] = lambda: None) -> None:
        def take(text: str) -> None:
            self.change(lambda draft: draft.set(**{each.field: text}))
            then()

        title = each.words[:1].upper() + each.words[1:]
        self._ask_text(title, getattr(self.draft.page, each.field), each.hint, each.fault, take)

    def ask_title(self, then: Callable[[], None]) -> None:
        """A title, which saving needs."""

        def fault(text: str) -> str:
            return title_fault(text) if text else "A song needs a title to be saved."

        self._ask(_Field("title", "title", "The song's name.", fault), then)

    def _ask_form(self) -> None:
        names = " ".join(section.name for section in self.draft.page.sections)
        hint = f"The sections in playing order, such as A A B A. There are {names}. Empty: as they stand."

        def take(text: str) -> None:
            self.change(lambda draft: draft.set(form=" ".join(text.split())))

        self._ask_text("Form", self.draft.page.form, hint, lambda text: form_fault(self.draft.page, text), take)

    def _next_feel(self) -> None:
        feel = (
            FEELS[(FEELS.index(self.draft.page.feel) + 1) % len(FEELS)] if self.draft.page.feel in FEELS else FEELS[0]
        )
        self.change(lambda draft: draft.set(feel=feel))

    def _ask_new_key(self) -> None:
        def take(text: str) -> None:
            self.change(lambda draft: draft.with_page(moved(draft.page, Key.parse(text))))

        hint = "Such as Bb or F#. Every chord and melody moves along; what is not understood stays as it is."
        self._ask_text("Move to which key?", self.draft.page.key, hint, key_fault, take)

    def _ask_name(self) -> None:
        def take(text: str) -> None:
            try:
                self.change(lambda draft: draft.rename_section(text))
            except ValueError as error:
                self.companion.say(str(error))

        self._ask_text("Name of the section", self.draft.section.name, "Such as A, B or Intro.", name_fault, take)

    def _ask_section_meter(self) -> None:
        def take(text: str) -> None:
            self._set_section(meter="" if text == self.draft.page.meter else text)

        def fault(text: str) -> str:
            return meter_fault(text) if text else ""

        hint = "Such as 3/4; empty for the song's own."
        self._ask_text(f"Meter of section {self.draft.section.name}", self.draft.section.meter, hint, fault, take)

    def _set_section(self, **fields: str) -> None:
        self.change(lambda draft: draft.set_section(**fields))

    def _ask_throw_away(self) -> None:
        def taken(item: Item | None) -> None:
            if item is not None and item.value:
                self.throw_away()

        items = [Item("no, keep it", False), Item("yes, throw it away", True)]
        self.app.push_screen(PickScreen("Throw away what is not saved?", items), taken)
