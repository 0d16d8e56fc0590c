"""A performance as rows: what will be played, what the student wants to see meanwhile, and the ones that are kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

from companion.arranging.beginnings import INTROS
from companion.arranging.endings import ENDINGS
from companion.arranging.model import INTRO, ArrangedBar, ArrangedStroke
from companion.base.text import plural
from companion.practice.planning.lessons import HAND_WORDS
from companion.session.stand import Stand
from companion.sound.messages import BeatReport
from companion.store.performances import Kept
from companion.tui.draw.beat import beat_rows
from companion.tui.draw.big import big_symbol
from companion.tui.draw.keyboard import KeyNote, Keys, centred_keyboard
from companion.tui.draw.row import Row, cut, sides
from companion.tui.draw.words import notice_role, signs, tempo_words, whole_words

# What is seen while one performs, and its words.
SHOWS = {"nothing": "nothing", "beat": "the beat", "names": "the beat and the chords' names"}
_BEAT_ROWS = (2, 4)  # in windows of 24 rows and of more
_MARK, _NO_MARK = "▸ ", "  "


@dataclass(frozen=True, slots=True)
class PerformanceView:
    """stand: of the whole tune. kept: performances, the latest first; marked: which of them. shows: one of SHOWS. beat: what sounds. notice: what is said for a while. looping: the bars of introduction or ending that go round, () for none.
    records: the microphone's sound is being written; listens: the microphone is what can record one."""

    stand: Stand
    kept: Sequence[Kept] = ()
    marked: int = 0
    shows: str = "beat"
    playing: bool = False
    hearing: bool = False
    beat: BeatReport | None = None
    keeping: bool = False
    notice: str = ""
    looping: Sequence[ArrangedBar] = ()
    records: bool = False
    listens: bool = False


def draw_performance(view: PerformanceView, width: int, height: int) -> list[Row]:
    """The whole picture in at most `height` rows."""
    if width <= 0 or height <= 0:
        return []
    role = notice_role(view.notice)
    foot: list[Row] = [[(f" {line}", role)] for line in wrap(view.notice, max(10, width - 2))[: max(1, height - 2)]]
    room = height - 1 - len(foot)
    body = (_looping if view.looping else _performing if view.playing else _stopped)(view, width, room)[:room]
    return [_title(view, width), *body, *[[] for _ in range(room - len(body))], *foot][:height]


def _title(view: PerformanceView, width: int) -> Row:
    song = view.stand.song
    doing = (
        "▶ round and round"
        if view.looping
        else "◉ performing, the microphone records"
        if view.records
        else "▶ performing"
        if view.playing
        else "▶ hearing it again"
        if view.hearing
        else "■ stopped"
    )
    return sides(
        [(f" {doing}   ", "strong"), (song.title, "strong")],
        [(f"{signs(song.key.name)}   tempo {tempo_words(view.stand.tempo_bpm)} ", "dim")],
        width,
    )


def _performing(view: PerformanceView, width: int, height: int) -> list[Row]:
    """Nothing but what the student chose, and what there is to do where all goes wrong: nothing."""
    if view.shows == "nothing" or view.beat is None:
        words = " Play on, whatever happens." if view.beat is not None else " The count-in comes."
        return [[], [(words, "dim")]]
    rows: list[Row] = [[], *beat_rows(view.beat.pulses, view.beat.pulse, width, _BEAT_ROWS[height > 30])]
    rows += [[], cut([(f" {_place(view, view.beat)}", "strong")], width)]
    if view.shows == "names" and view.beat.index >= 0:
        names = "  ".join(placed.symbol for placed in view.stand.bars[view.beat.index].chords)
        room = max(0, min(12, height - len(rows) - 1))
        rows += [[], *([(f" {row}", "now-big")] for row in big_symbol(names, width - 1, room))]
    return rows


def _looping(view: PerformanceView, width: int, height: int) -> list[Row]:
    """The beat, the chords of the bar, and both hands on the keyboard, as on the stand."""
    beat = view.beat
    inside = beat is not None and beat.turn >= 0
    number = beat.position if beat is not None and inside else 0
    bar = view.looping[number]
    rows: list[Row] = [[]]
    if beat is not None:
        rows += beat_rows(beat.pulses, beat.pulse, width, _BEAT_ROWS[height > 30])
    place = f" {bar.stretch if bar.stretch != INTRO else 'introduction'} bar {number + 1} of {len(view.looping)}"
    rows += [[], cut([(place if inside else f"{place}: the count-in", "strong")], width)]
    keys = _frame_keys(view, number, beat.pulse if beat is not None and inside else None)
    rows_of_keys = centred_keyboard(keys, width, min(9, max(4, height - len(rows) - 4)))
    room = max(0, min(9, height - len(rows) - len(rows_of_keys) - 2))
    return [
        *rows,
        [],
        *([(f" {row}", "now-big")] for row in big_symbol(bar.symbol, width - 1, room)),
        [],
        *rows_of_keys,
    ]


def _frame_keys(view: PerformanceView, number: int, pulse: int | None) -> Keys:
    """What is down at a pulse of a bar, None in the count-in, and what comes after it, of the hands that are played."""
    hands = ("left", "right") if view.stand.hands == "both" else (view.stand.hands,)
    every = [
        (at, hand, stroke)
        for at, bar in enumerate(view.looping)
        for hand, strokes in (("left", bar.left), ("right", bar.right))
        if hand in hands
        for stroke in strokes
    ]
    meter = view.looping[number].meter
    here = (number, (pulse or 0) * meter.pulse_ticks)
    now, coming = [], []
    for hand in hands:
        mine = [(at, stroke) for at, whose, stroke in every if whose == hand]
        begun = [each for each in mine if (each[0], each[1].tick) < (here[0], here[1] + meter.pulse_ticks)]
        if pulse is not None and begun and _lasts(view, begun[-1], here):
            now.append((hand, begun[-1][1]))
        after = mine if pulse is None else [each for each in mine if each not in begun]
        coming += [(hand, each[1]) for each in (after or mine)[:1]]
    keys = [key for _, _, stroke in every for key in stroke.keys]
    window = (min(keys), max(keys)) if keys else (view.stand.hand.lowest_root, view.stand.hand.highest_top)
    return Keys(window, _key_notes(now), _key_notes(coming))


def _lasts(view: PerformanceView, struck: tuple[int, ArrangedStroke], here: tuple[int, int]) -> bool:
    """Whether it is still held there. here: bar and tick in it."""
    at, stroke = struck
    passed = sum(bar.meter.bar_ticks for bar in view.looping[at : here[0]]) + here[1]
    return stroke.tick >= passed or stroke.tick + stroke.ticks > passed


def _key_notes(strokes: Sequence[tuple[str, ArrangedStroke]]) -> tuple[KeyNote, ...]:
    return tuple(
        KeyNote(key, signs(name.rstrip("0123456789")), str(finger), "", hand)
        for hand, stroke in strokes
        for key, name, finger in zip(stroke.keys, stroke.names, stroke.fingers, strict=True)
    )


def _place(view: PerformanceView, beat: BeatReport) -> str:
    if beat.index < 0:
        return beat.frame or "count-in"
    bar = view.stand.bars[beat.index]
    return f"{bar.section} bar {bar.bar}"


def _stopped(view: PerformanceView, width: int, height: int) -> list[Row]:
    said = [
        f"{_whole(view.stand)}{_frame(view.stand)}, {_hands(view.stand)}, recorded and marked when it is over.",
        f"While you play you see {SHOWS[view.shows]}.",
    ]
    if view.listens:
        said.append("No keyboard is heard: the microphone can record you. You are asked each time before it does.")
    rows: list[Row] = [[], *([(f" {line}", "plain")] for words in said for line in wrap(words, max(10, width - 2)))]
    if view.keeping:
        rows += [[], [(" What you played is being kept and marked ...", "strong")]]
    if not view.kept:
        return [*rows, [], [(whole_words(" Nothing was performed yet. Space counts in.", width), "strong")]]
    rows += [[], [(f" {plural(len(view.kept), 'performance')} kept, the latest first", "strong")]]
    return [*rows, *_list(view, width, max(0, height - len(rows)))]


def _list(view: PerformanceView, width: int, height: int) -> list[Row]:
    """As many as there is room for around the marked one."""
    texts = [_text(kept, number == view.marked, width) for number, kept in enumerate(view.kept)]
    first = view.marked
    while first > 0 and sum(map(len, texts[first - 1 : view.marked + 1])) <= height:
        first -= 1
    return [row for text in texts[first:] for row in text][:height]


def _text(kept: Kept, marked: bool, width: int) -> list[Row]:
    when = kept.performed_at.strftime("%Y-%m-%d %H:%M")
    words = " ".join(kept.words) or "Nothing is known of it."
    lines = wrap(f"{when}  {words}", max(10, width - 6), subsequent_indent="  ")
    sign = _MARK if marked else _NO_MARK
    return [
        [(f" {sign if number == 0 else _NO_MARK}{line}", "cursor" if marked else "plain")]
        for number, line in enumerate(lines)
    ]


def _whole(stand: Stand) -> str:
    times = stand.arranged.choruses
    return "The whole tune once through" if times == 1 else f"The whole tune, its form {times} times"


def _frame(stand: Stand) -> str:
    chosen = stand.arranged
    parts = [
        *(["an introduction"] if chosen.intro != INTROS[0] else []),
        *(["an ending"] if chosen.ending != ENDINGS[0] else []),
    ]
    return f", with {' and '.join(parts)}" if parts else ""


def _hands(stand: Stand) -> str:
    return f"by {'both hands' if stand.hands == 'both' else 'the ' + HAND_WORDS[stand.hands]}"
