"""A performance as rows: what will be played, what the student wants to see meanwhile, and the ones that are kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

from companion.arranging.beginnings import INTROS
from companion.arranging.endings import ENDINGS
from companion.base.text import plural
from companion.practice.planning.lessons import HAND_WORDS
from companion.session.stand import Stand
from companion.sound.messages import BeatReport
from companion.store.performances import Kept
from companion.tui.draw.beat import beat_rows
from companion.tui.draw.big import big_symbol
from companion.tui.draw.row import Row, cut, sides
from companion.tui.draw.words import notice_role, signs, tempo_words, whole_words

# What is seen while one performs, and its words.
SHOWS = {"nothing": "nothing", "beat": "the beat", "names": "the beat and the chords' names"}
_BEAT_ROWS = (2, 4)  # in windows of 24 rows and of more
_MARK, _NO_MARK = "▸ ", "  "


@dataclass(frozen=True, slots=True)
class PerformanceView:
    """stand: of the whole tune. kept: performances, the latest first; marked: which of them. shows: one of SHOWS. beat: what sounds. notice: what is said for a while."""

    stand: Stand
    kept: Sequence[Kept] = ()
    marked: int = 0
    shows: str = "beat"
    playing: bool = False
    hearing: bool = False
    beat: BeatReport | None = None
    keeping: bool = False
    notice: str = ""


def draw_performance(view: PerformanceView, width: int, height: int) -> list[Row]:
    """The whole picture in at most `height` rows."""
    if width <= 0 or height <= 0:
        return []
    role = notice_role(view.notice)
    foot: list[Row] = [[(f" {line}", role)] for line in wrap(view.notice, max(10, width - 2))[: max(1, height - 2)]]
    room = height - 1 - len(foot)
    body = (_performing if view.playing else _stopped)(view, width, room)[:room]
    return [_title(view, width), *body, *[[] for _ in range(room - len(body))], *foot][:height]


def _title(view: PerformanceView, width: int) -> Row:
    song = view.stand.song
    doing = "▶ performing" if view.playing else "▶ hearing it again" if view.hearing else "■ stopped"
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


def _place(view: PerformanceView, beat: BeatReport) -> str:
    if beat.index < 0:
        return beat.frame or "count-in"
    bar = view.stand.bars[beat.index]
    return f"{bar.section} bar {bar.bar}"


def _stopped(view: PerformanceView, width: int, height: int) -> list[Row]:
    said = [
        f"The whole tune once through{_frame(view.stand)}, {_hands(view.stand)}, recorded and marked when it is over.",
        f"While you play you see {SHOWS[view.shows]}.",
    ]
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


def _frame(stand: Stand) -> str:
    chosen = stand.arranged
    parts = [
        *(["an introduction"] if chosen.intro != INTROS[0] else []),
        *(["an ending"] if chosen.ending != ENDINGS[0] else []),
    ]
    return f", with {' and '.join(parts)}" if parts else ""


def _hands(stand: Stand) -> str:
    return f"by {'both hands' if stand.hands == 'both' else 'the ' + HAND_WORDS[stand.hands]}"
