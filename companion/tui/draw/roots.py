"""Chords in root position as rows: the chord to play and the one after it, its notes with degree and finger, the keys, how it goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from companion.hands.root_position import INVERSION_WORDS, bass_words, left_out_words
from companion.practice.drills.root_position import CYCLE_ORDERS, NAMES, ORDERS, PACE_S, SLIP_S, WAYS, Known
from companion.session.chords.memory import KnownChord
from companion.session.chords.rounds import Item, Setup
from companion.session.chords.shown import Shown
from companion.tui.draw.beat import beat_rows
from companion.tui.draw.big import big_symbol, open_frame
from companion.tui.draw.keyboard import KeyNote, Keys, centred_keyboard
from companion.tui.draw.row import Row, cut, length, sides
from companion.tui.draw.words import shorten, signs, tempo_words, whole_words

WINDOWS = {
    "left": (46, 70),
    "right": (60, 84),
}  # the keys that are seen, whatever the chord: B flat 2 to B flat 4, C4 to C6
LOWEST_SHELL = 40  # E2, seen where shells are played too
_KEYBOARD_ROWS = (9, 13)  # at most, in windows of 24 rows and of more
_BEAT_ROWS, _FEWEST_LARGE = 2, 5  # rows for the beat, and for the chords at least


@dataclass(frozen=True, slots=True)
class RootView:
    """title: of the song. reach: semitones the student's hand spans. heard: whether a keyboard is, or a microphone hears the shells that are asked for. microphone: whether one listens. notice: what is said for a while."""

    title: str
    setup: Setup
    shown: Shown = field(default_factory=Shown)
    reach: int = 12
    heard: bool = False
    microphone: bool = False
    notice: str = ""


def draw_roots(view: RootView, width: int, height: int) -> list[Row]:
    """The whole picture in at most `height` rows."""
    if width <= 0 or height <= 0:
        return []
    beat: list[Row] = []
    if view.shown.beat is not None:
        pulse, pulses = view.shown.beat
        beat = beat_rows(pulses, pulse, width, _BEAT_ROWS)
    head, foot = [_title(view, width), _where(view, width), *beat], [_told(view, width)]
    if view.shown.now is None:
        return [*head, [], *foot][:height]
    if view.shown.lines and not view.shown.playing:
        said = [whole_words(f" {signs(line)}", width) for line in view.shown.lines]
        foot = [*([(line, "strong" if number == 0 else "plain")] for number, line in enumerate(said)), *foot]
    words = _notes(view, width)
    room = height - len(head) - len(foot) - len(words)
    keys = min(_KEYBOARD_ROWS[height > 30], max(0, room - _FEWEST_LARGE))
    rows = [*head, *_chords(view, width, max(0, room - keys)), *words, *_keyboard(view, width, keys), *foot]
    return rows[:height]


def setup_words(setup: Setup) -> str:
    """ "left hand, root position, all notes together"."""
    position = "" if setup.way == NAMES else f", {INVERSION_WORDS[setup.inversion]}"
    return f"{setup.hand} hand{position}, {WAYS[setup.way]}"


def _title(view: RootView, width: int) -> Row:
    setup = view.setup
    time_words = f"tempo {tempo_words(setup.tempo_bpm)} " if setup.in_time else ""
    return sides(
        [(f" {view.title}", "strong")],
        [(f"{'names' if setup.way == NAMES else 'chords in root position'}   {time_words}", "dim")],
        width,
    )


def _where(view: RootView, width: int) -> Row:
    shown, setup = view.shown, view.setup
    if not shown.playing:
        doing = "■ stopped"
    elif shown.counting:
        doing = "▶ count-in"
    else:
        doing = "▶" if setup.in_time else "◇ waits for you"
    row: Row = [(f" {doing}", "strong")]
    if shown.playing and not shown.counting:
        row.append((f"   {shown.number} of {shown.total}", "plain"))
        if shown.once_more:
            row.append(("   the slow ones once more", "strong"))
    order = ORDERS[setup.order]
    if setup.order in CYCLE_ORDERS and setup.quality:
        order += f", {signs(setup.quality)}"
    return cut([*row, (f"   {order}", "dim")], width)


def _chords(view: RootView, width: int, height: int) -> list[Row]:
    """The chord of now, solid, as large as it goes; the one to prepare in an open frame beside it."""
    shown = view.shown
    if height <= 0 or shown.now is None:
        return []
    symbol, after = shown.now.symbol, shown.after.symbol if shown.after is not None else ""
    if not shown.name:
        return [[(" ", "plain")], [(shorten(" Which was it? Strike its shell.", width), "strong")], *[[]] * height][
            :height
        ]
    if height < 5 or width < 40:
        words = f" {signs(symbol)}" + (f"   then {signs(after)}" if after else "")
        return [[(shorten(words, width), "now-big")], *[[] for _ in range(height - 1)]]
    right = width * 2 // 5
    left = width - right
    count = str(shown.beat[0] + 1) if shown.counting and shown.beat is not None else ""
    position = "its shell" if view.setup.way == NAMES else INVERSION_WORDS[shown.now.close.inversion]
    said = " count-in" if count else f" now  {view.setup.hand} hand, {position}"
    here: list[Row] = [[(shorten(said, left).ljust(left), "strong")]]
    here += [[(f" {row}", "now-big")] for row in big_symbol(count or symbol, left - 1, height - 1)]
    coming = _coming(symbol if count else after, right, height)
    return [cut([*a, *b], width) for a, b in zip(here, coming, strict=True)]


def _coming(symbol: str, width: int, height: int) -> list[Row]:
    if not symbol:
        return [[] for _ in range(height)]
    rows = big_symbol(symbol, width - 2, height - 2, light=True)
    return open_frame(" next ", [(row, "next-big") for row in rows], "", width)


def _fingers(item: Item) -> list[str]:
    return item.close.fingers.split("-")


def _notes(view: RootView, width: int) -> list[Row]:
    """Degree, note and finger from the lowest up, and what there is to know of the symbol."""
    item = view.shown.now
    if item is None:
        return []
    close = item.close
    if view.setup.way == NAMES and view.shown.keys:
        return [[(shorten(f"  {_shell_words(view, item).partition(': ')[2]}", width), "strong")]]
    if not view.shown.keys:
        after = "" if view.setup.in_time else "The keys show after a while. "
        return [[(f" Find it. {after}h shows them.", "dim")]]
    row: Row = []
    for number, pitch in enumerate(close.pitches):
        due = view.shown.playing and view.setup.way == "broken" and number == view.shown.step
        name = signs(pitch.tone.name)
        row.append((f" [{name}]" if due else f"  {name} ", "strong"))
    row.append((f"   degrees {' '.join(_degree(degree) for degree in close.degrees)}", "plain"))
    row.append((f"   fingers {close.fingers}", "plain"))
    if close.or_fingers and length(row) + 16 <= width:
        row.append((f" or {close.or_fingers[0]}", "dim"))
    rows = [cut(row, width)]
    if item.shell and view.setup.way == "left":
        rows.append([(shorten(f"  {_shell_words(view, item)}", width), "strong" if view.shown.step else "plain")])
    more = [signs(words) for words in (left_out_words(close), bass_words(close)) if words]
    if close.span > view.reach:
        more.append("wider than your reach: play it broken, never force a stretch")
    if plain := [f"{signs(pitch.tone.name)} is the key {pitch.plain.tone.name}" for pitch in close.pitches
                 if abs(pitch.tone.alter) > 1]:  # fmt: skip
        more.append(", ".join(plain))
    return [*rows, *([[(whole_words(f" {'; '.join(more)}", width), "dim")]] if more else [])]


def _shell_words(view: RootView, item: Item) -> str:
    tones = {pitch.midi % 12: pitch.tone.name for pitch in item.close.pitches}
    bass = item.close.chord.bass
    names = [tones.get(note % 12, bass.name if bass is not None else "") for note in item.shell]
    fingers = f", fingers {item.shell_fingers}" if item.shell_fingers else ""
    return f"then what is left: {' '.join(signs(name) for name in names)}{fingers}"


def _keyboard(view: RootView, width: int, height: int) -> list[Row]:
    """The keys to strike, with degree and finger; without them where they are to be found."""
    item, shown = view.shown.now, view.shown
    if item is None or height < 4:
        return []
    notes: tuple[KeyNote, ...] = ()
    if shown.keys:
        left = (view.setup.way == NAMES or (view.setup.way == "left" and shown.step)) and item.shell
        notes = _shell_notes(item, view.setup.hand) if left else _chord_notes(item, view.setup.hand)
    low, high = WINDOWS[view.setup.hand]
    if view.setup.way in ("left", NAMES) and view.setup.hand == "left":
        low = LOWEST_SHELL
    return centred_keyboard(Keys((low, high), notes, (), shown.down), width, height)


def _chord_notes(item: Item, hand: str) -> tuple[KeyNote, ...]:
    close = item.close
    return tuple(
        KeyNote(pitch.midi, signs(pitch.tone.name), finger, _degree(degree), hand)
        for pitch, finger, degree in zip(close.pitches, _fingers(item), close.degrees, strict=True)
    )


def _shell_notes(item: Item, hand: str) -> tuple[KeyNote, ...]:
    of_pc = {
        pitch.midi % 12: (pitch.tone.name, degree)
        for pitch, degree in zip(item.close.pitches, item.close.degrees, strict=True)
    }
    fingers = item.shell_fingers.split("-") if item.shell_fingers else [""] * len(item.shell)
    notes = []
    for note, finger in zip(item.shell, fingers, strict=True):
        name, degree = of_pc.get(note % 12, ("", "bass"))
        notes.append(KeyNote(note, signs(name), finger, _degree(degree) if name else degree, hand))
    return tuple(notes)


def _degree(degree: str) -> str:
    """ "♭7" of "b7"; a double flat too."""
    return degree.replace("b", "♭").replace("#", "♯")


def _told(view: RootView, width: int) -> Row:
    """What there is to say: of the last key, of anything, or what to do."""
    shown = view.shown
    if view.notice:
        return [(whole_words(f" {signs(view.notice)}", width), "notice" if view.notice.startswith("! ") else "strong")]
    if shown.answer:
        return [(whole_words(f" {signs(shown.answer)}", width), "strong")]
    if shown.now is None:
        return [(" No chord is played in this loop.", "plain")]
    if shown.playing:
        return [(whole_words(f" {_task(view)}", width), "dim")]
    return [(whole_words(f" Space starts: {setup_words(view.setup)}.", width), "plain")]


def _task(view: RootView) -> str:
    if not view.heard:
        word = "x marks a slip." if view.setup.in_time else "enter says you have it, x that it was wrong."
        return f"{_unheard(view)}: {word}"
    return {
        "together": "Strike all its notes together.",
        "broken": "One note after the other, from the lowest up.",
        "shell": "Strike its shell.",
        "left": "Now its shell alone." if view.shown.step else "The whole chord together, then its shell.",
    }[view.setup.way]


def _unheard(view: RootView) -> str:
    """Why nothing hears what is asked for; shells of the left hand a microphone would."""
    if not view.microphone:
        return "No keyboard is heard"
    if view.setup.way != NAMES:
        return "Only shells are heard"
    if view.setup.in_time:
        return "With the click nothing is heard"
    return "The right hand is not heard"


def known_text(chords: Sequence[KnownChord]) -> str:
    """A page of what is known: a line a chord, each hand in a column."""
    if not chords:
        return "No chord is played in this loop."
    wide = max(len(signs(each.symbol)) for each in chords)
    lines = [f"{'':<{wide}}   {'left hand':<32}right hand"]
    for each in chords:
        left, right = (_known_words(each.by_hand.get(hand)) for hand in ("left", "right"))
        lines.append(f"{signs(each.symbol):<{wide}}   {left:<32}{right}".rstrip())
    words = (
        f"Seconds: how long it takes as a rule, from the last five tries; one that was not right at once counts {SLIP_S:g} s. "
        f"A fluent player finds one in {PACE_S:g} s."
    )
    return "\n".join([*lines, "", words])


def _known_words(known: Known | None) -> str:
    if known is None:
        return "new"
    return f"{known.find_s:.1f} s, right at once {known.right} of {known.tries}"
