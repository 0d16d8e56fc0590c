"""What the screen may write about a chord. Every name of a chord or note that the stand draws is taken from here, and
here it comes from `fading.cue_text`: a hidden chord cannot leak."""

from __future__ import annotations

from dataclasses import dataclass

from companion.chart.model import NO_CHORD
from companion.hands.left.model import Choice
from companion.practice.drills.fading import Cue, cue_text
from companion.tui.draw.view import View
from companion.tui.draw.words import signs

MORE = "…"  # behind a root whose quality is hidden: "C…" is no C major


def note_words(choice: Choice) -> tuple[str, str]:
    """The names of lower and upper note without octaves, empty where nothing is played."""
    if choice.shell is None:
        return "", ""
    return signs(choice.shell.lower.tone.name), signs(choice.shell.upper.tone.name)


@dataclass(frozen=True, slots=True)
class ShownShell:
    """A chord as its cue lets it be seen. symbol: or only its root, or ""; choice: None where notes and shell are hidden.
    place: "5" of "A"; beats: of the bar."""

    cue: Cue
    symbol: str
    choice: Choice | None
    section: str
    bar: int
    beat: int = 1

    @property
    def cue_words(self) -> str:
        """A hidden bar in a word or two: "bar 5", as a figure alone could be a degree or a beat."""
        return f"bar {self.bar}"

    @property
    def place(self) -> str:
        """The only words about a hidden bar."""
        return f"bar {self.bar} of {self.section}"

    @property
    def keys(self) -> Choice | None:
        """The shell for the keyboard to mark, None where that is hidden."""
        return self.choice if self.cue >= Cue.KEYS else None

    @property
    def sentence(self) -> str:
        """All that may be said in one line: "B♭maj7  B♭2 A3  root-seventh  5-1"."""
        if self.choice is None:
            return self.symbol or self.place
        if self.choice.shell is None:
            return f"{self.symbol}  rest"
        names = " ".join(signs(name) for name in self.choice.shell.names)
        return f"{self.symbol}  {names}  {self.choice.shell.kind}  {self.choice.fingers}"


def shown(view: View, index: int, number: int) -> ShownShell:
    """The number-th chord (from 0) of a bar."""
    placed, choice = view.stand.choices_at(index)[number]
    bar, cue = view.stand.bars[index], view.cue(index)
    texts = cue_text(
        cue,
        symbol=signs(placed.symbol),
        root=signs(placed.chord.root.name) + MORE if placed.chord else NO_CHORD,
        notes=" ".join(note_words(choice)),
        shell=choice.shell.kind if choice.shell else "rest",
    )
    return ShownShell(
        cue,
        symbol=texts[0] if texts else "",
        choice=choice if len(texts) == 3 else None,
        section=bar.section,
        bar=bar.bar,
        beat=int(placed.beat) + 1 if texts else 1,
    )


def shown_now(view: View) -> ShownShell:
    """What may be written about the chord of now."""
    return shown(view, view.here, view.chord_no)


def shown_coming(view: View) -> ShownShell:
    """What may be written about the chord to prepare."""
    return shown(view.of_coming, *view.coming_chord)


def shells_of(view: View, index: int) -> list[str]:
    """The notes of each chord's shell in a bar, as far as its cue lets them be seen: ["B♭2-A3", "E♭3-D4"]; "" for none."""
    chords = (shown(view, index, number) for number in range(len(view.stand.bars[index].chords)))
    return [signs("-".join(each.choice.shell.names)) if each.choice and each.choice.shell else "" for each in chords]


def lesson_note(view: View) -> str:
    """What the teacher says about the bar that is shown large; nothing where that bar's chord is hidden, for a note may name it."""
    lesson, bar = view.stand.song.lesson, view.stand.bars[view.here]
    if lesson is None or view.cue(view.here) < Cue.SYMBOL:
        return ""
    notes = lesson.notes_at(bar.section, bar.bar)
    return f"{bar.section} {bar.bar}: {' '.join(' '.join(notes).split())}" if notes else ""
