"""How a drill stands and what a pass came to, in characters: the line below the keyboard, the climb as a picture, the
summary, and the question after a pass that was not heard."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from textwrap import wrap

from companion.base.text import plural
from companion.practice.drills import climbing
from companion.practice.drills.climbing import ClimbPicture
from companion.practice.marking.worst import bars_around
from companion.practice.model import VERDICTS
from companion.session.drill import KINDS, NEXT_KINDS, Drill
from companion.session.outcome import PassResult
from companion.session.passes import ANSWERS, Told
from companion.session.stand import Stand
from companion.tui.draw.chart import VERDICT_SIGNS
from companion.tui.draw.keyboard import Row
from companion.tui.draw.lines import cut
from companion.tui.draw.view import View
from companion.tui.draw.words import shorten, signs

HERE, CLEAN, SLIPPED, TRIED = "◆", "•", "×", "○"
_LATEST = 8  # passes behind the climb's line
_LEAST_TRACK = 10


def kind_words(kind: str) -> str:
    """ "From memory"."""
    return KINDS[kind][:1].upper() + KINDS[kind][1:]


def drill_row(drill: Drill, width: int) -> Row:
    """Where the drill stands, in one row: how far the chart is gone, and where on the climb the tempo is."""
    if drill.finished:
        return [(shorten(f" {kind_words(drill.kind)}: done.", width), "strong")]
    if drill.is_dark:
        return [(shorten(" In the dark: the screen stays empty until the pass is over.", width), "plain")]
    if drill.is_one_pass:
        return [(shorten(" Symbols alone: one pass, and nothing else is shown.", width), "plain")]
    row: Row = [] if drill.fade or drill.climb else [(f" {kind_words(drill.kind)}", "plain")]
    if drill.fade is not None:
        words = f" {drill.fade.words}"
        row.append(
            (words if len(words) <= width else shorten(words.replace(f" {drill.fade.goal_words}", ""), width), "plain")
        )
    if drill.climb is not None:
        left = width - sum(len(text) for text, _ in row)
        row += (
            [("  ", "plain"), *climb_row(climbing.picture(drill.climb), left - 3)]
            if row
            else climb_row(climbing.picture(drill.climb), left)
        )
    return cut(row, width)


def climb_row(climb: ClimbPicture, width: int) -> Row:
    """The climb lying down: " 76 ━━━━◆┄┄┄┄ 126  ••×•". Behind it the latest passes, clean or not; words only where
    something else than a plain pass comes."""
    start, target = f" {min(climb.start_bpm, climb.next_bpm):.0f} ", f" {climb.target_bpm:.0f}"
    words = "" if " on the way to " in climb.words else f"  {climb.words}"
    latest = "  " + "".join(_dot(played) for played in climb.played[-_LATEST:]) if climb.played else ""
    room = width - len(start + target)
    for extra in (latest + words, words, latest, ""):
        if room - len(extra) >= _LEAST_TRACK:
            break
    size = min(40, room - len(extra))
    if size < 3:
        return [(shorten(f" {climb.next_bpm:.0f} of {climb.target_bpm:.0f}", max(0, width)), "strong")]
    place = round(min(1.0, max(0.0, climb.here)) * (size - 1))
    return [
        (start, "dim"),
        ("━" * place, "plain"),
        (HERE, "cursor"),
        ("┄" * (size - 1 - place), "dim"),
        (target, "strong"),
        (extra, "plain"),
    ]


def _dot(played: climbing.ClimbResult) -> str:
    return TRIED if played.phase == "probe" else CLEAN if played.clean else SLIPPED


def climb_picture(climb: ClimbPicture, width: int, height: int) -> list[Row]:
    """The climb standing: a column a pass, as high as its tempo; the target as a line above, the next pass as a diamond."""
    if width < 16 or height < 3:
        return []
    label = max(len(f"{climb.target_bpm:.0f}"), len(f"{climb.start_bpm:.0f}")) + 1
    columns = width - label - 2
    played = climb.played[-(columns - 1) :]
    tempos = [climb.start_bpm, climb.target_bpm, climb.next_bpm, *(each.tempo_bpm for each in played)]
    low, high = math.log(min(tempos)), math.log(max(tempos))

    def row_of(tempo_bpm: float) -> int:
        return 0 if high <= low else round((high - math.log(tempo_bpm)) / (high - low) * (height - 1))

    grid = [[(" ", "plain")] * columns for _ in range(height)]
    grid[row_of(climb.target_bpm)] = [("┄", "dim")] * columns
    for column, each in enumerate(played):
        grid[row_of(each.tempo_bpm)][column] = (_dot(each), "right" if each.clean else "slip")
    grid[row_of(climb.next_bpm)][len(played)] = (HERE, "cursor")
    labels = {row_of(climb.start_bpm): f"{climb.start_bpm:.0f}", row_of(climb.target_bpm): f"{climb.target_bpm:.0f}"}
    return [[(labels.get(y, "").rjust(label) + " ", "dim"), *cells] for y, cells in enumerate(grid)]


# --- after a pass


def summary_lines(
    result: PassResult, drill: Drill | None, stand: Stand, key: str = "", came_from: str = ""
) -> tuple[str, ...]:
    """A pass in short lines, what matters most first: how it went, what a teacher would say, the bars that slipped, the key for these.

    drill: None in free time. While a drill hides chords none is named: bars stand for them. key: that practises one change by itself, or goes
    back to came_from, the name of the loop before.
    """
    hides = drill is not None and drill.hides_symbols
    named = {f"  {change.words}" for change in result.changes} | {"Costliest changes:"} if hides else set()
    rest = [signs(line) if line.startswith("  ") else line for line in result.lines if line not in named]
    says = result.advice.says_by_bars if hides else result.advice.says
    slipped = _slipped_bars(result, stand)
    place = result.advice.alone
    offer = f"{key}: back to {came_from}." if came_from else ""
    if place is not None and bars_around(stand.loop, place[0]):
        what = _into(place, stand) if hides else change_words(place, stand)
        offer = f"{key}: {what} by itself, with the bar before it."
    return (*rest[:1], *map(signs, says), *filter(None, (slipped, offer if key else "")), *rest[1:])


def _slipped_bars(result: PassResult, stand: Stand) -> str:
    """ "Slipped: A 3 ×, A 5 >.", each with the sign of its worst chord; a bar with keys too many alone has a plus."""
    worst: dict[int, str] = {}
    for row in result.record.chords:
        worst[row["index"]] = max(worst.get(row["index"], "right"), row["verdict"], key=VERDICTS.index)
    told = not result.record.chords
    names = {
        index: "" if told else f" {VERDICT_SIGNS[worst[index]] if worst.get(index, 'right') != 'right' else '+'}"
        for index in result.record.slipped
    }
    return f"Slipped: {bar_names(tuple(names), stand, names)}." if names else ""


def change_words(place: tuple[int, int], stand: Stand) -> str:
    """ "D7 to Gm7 (A 3)": the change to a chord of the loop, from the one before it."""
    order = [(index, number) for index in stand.loop for number in range(len(stand.bars[index].chords))]
    before, after = (
        stand.bars[index].chords[number].symbol for index, number in (order[order.index(place) - 1], place)
    )
    return signs(f"{before} to {after} ({bar_names((place[0],), stand)})")


def _into(place: tuple[int, int], stand: Stand) -> str:
    return f"the change {'in' if place[1] else 'into'} {bar_names((place[0],), stand)}"


def brief(lines: Sequence[str], most: int, width: int) -> list[str]:
    """The summary in at most so many lines of so many columns, for a glance while the next pass runs: the costliest change beside its words,
    what varies from strike to strike left to the stopped stand. A sentence is broken between words; where there is no room for it, what is
    to be done about it is left to the stopped stand too."""
    wanted: list[str] = []
    for line in lines:
        if wanted and wanted[-1] == "Costliest changes:":
            wanted[-1] = f"Costliest: {line.strip()}"
        elif not line.startswith(("  ", "From strike")):
            wanted.append(line)
    kept: list[str] = []
    for line in wanted:
        for words in (line, f"{line.partition(': ')[0]}."):
            broken = wrap(words, max(8, width))
            if len(kept) + len(broken) <= most:
                kept += broken
                break
    return kept


def bar_names(indices: Sequence[int], stand: Stand, behind: Mapping[int, str] | None = None, most: int = 8) -> str:
    """ "A 3, A 5, B 1". behind: what stands behind a bar's name."""
    behind = behind or {}
    names = [f"{stand.bars[index].section} {stand.bars[index].bar}{behind.get(index, '')}" for index in sorted(indices)]
    more = f" and {plural(len(names) - most, 'bar')} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def finished_lines(drill: Drill) -> tuple[str, ...]:
    """A drill that is over, in a sentence, and what one may do next."""
    done = {
        "symbols": "From symbols: you played the loop twice with nothing but its chord symbols.",
        "fade": "From memory: you played the loop twice without a cue.",
        "climb": f"The target tempo holds: {drill.next_pass.tempo_bpm:.0f}.",
        "fade+climb": f"From memory and at {drill.next_pass.tempo_bpm:.0f}: all of it is there.",
        "symbols-only": "That was from the symbols alone. The rest is back.",
        "dark": "That was in the dark. The chart is back.",
    }.get(drill.kind, "")
    way = f"m goes on {KINDS[NEXT_KINDS[drill.kind]]}" if drill.kind in NEXT_KINDS else "m another way"
    return (done, f"Next: l takes another section, {way}, F3 shows today's plan.") if done else ()


def draw_summary(view: View, width: int, height: int) -> list[Row]:
    """What was played last, in exactly `height` rows, with the climb beside it where there is one."""
    picture: list[Row] = []
    if view.drill is not None and view.drill.climb is not None and width >= 64:
        picture = climb_picture(climbing.picture(view.drill.climb), width // 3, height - 1)
    left = width - (width // 3 + 1 if picture else 0)
    lines: list[tuple[str, str]] = []
    for number, line in enumerate(view.summary):
        indent = " " * (len(line) - len(line.lstrip()))
        parts = wrap(line.strip(), max(8, left - 2), initial_indent=indent, subsequent_indent=indent + "  ")
        if len(lines) + len(parts) < height:
            lines += [(part, "plain" if number else "strong") for part in parts]
    head = "─ what was played "
    rows: list[Row] = [[(head.ljust(width, "─")[:width], "dim")]]
    for y in range(height - 1):
        text, role = lines[y] if y < len(lines) else ("", "plain")
        rows.append(
            [
                (shorten(f" {text}", left).ljust(width - width // 3 if picture else left), role),
                *(picture[y] if y < len(picture) else []),
            ]
        )
    return rows[:height]


def draw_question(view: View, width: int, height: int) -> list[Row]:
    """The question after a pass that no keyboard was heard in."""
    rows: list[Row] = [[("─ how did that pass go? ".ljust(width, "─")[:width], "dim")]]
    column = max(len(answer.words) for answer in ANSWERS) + 8
    if width >= 2 * column and height < 8:
        pairs: list[tuple[Told, ...]] = [ANSWERS[:2], ANSWERS[2:]]
    else:
        pairs = [(answer,) for answer in ANSWERS]
    for pair in pairs:
        row: Row = []
        for answer in pair:
            row += [(f"  {answer.key} ", "cursor"), (answer.words.ljust(column - 4), "strong")]
        rows.append(row)
    if height > len(rows) + 2:
        rows.append([])
    slips = f"Slipped: {bar_names(tuple(view.slips), view.stand)}." if view.slips else ""
    hint = "space marks the bar as slipped, ← → go to another; then 1 to 4" + (", or enter" if view.slips else "")
    rows += [[(shorten(f"  {slips}", width), "plain")]] if slips else []
    rows.append([(shorten(f"  {hint}", width), "dim")])
    return [*rows, *([] for _ in range(height))][:height]
