"""How a drill stands and what a pass came to, in characters: the line below the keyboard, the climb as a picture, the
summary, and the question after a pass that was not heard."""

from __future__ import annotations

import math
from collections.abc import Sequence
from textwrap import wrap

from companion.base.text import plural
from companion.practice.drills import climbing
from companion.practice.drills.climbing import ClimbPicture
from companion.session.drill import KINDS, Drill
from companion.session.outcome import PassResult
from companion.session.passes import ANSWERS, Told
from companion.session.stand import Stand
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
    row: Row = [] if drill.fade or drill.climb else [(f" {kind_words(drill.kind)}", "plain")]
    if drill.fade is not None:
        words = f" {drill.fade.words}"
        row.append((words if len(words) <= width else shorten(words.replace(" from memory", ""), width), "plain"))
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


def summary_lines(result: PassResult, drill: Drill | None, stand: Stand) -> tuple[str, ...]:
    """A pass in short lines. drill: None in free time. While a drill hides chords none is named: the bars that slipped stand for them."""
    lines = tuple(signs(line) if line.startswith("  ") else line for line in result.lines)
    if drill is None or drill.fade is None or drill.finished:
        return lines
    named = {f"  {change.words}" for change in result.changes} | {"Costliest changes:"}
    kept = [line for line in result.lines if line not in named]
    slipped = result.record.slipped
    if slipped:
        kept.insert(1, f"Slipped: {bar_names(slipped, stand)}.")
    return tuple(kept)


def brief(lines: Sequence[str], most: int) -> list[str]:
    """The summary in at most so many lines, for a glance while the next pass runs: the costliest change beside its words, what
    varies from strike to strike left to the stopped stand."""
    kept: list[str] = []
    for line in lines:
        if kept and kept[-1] == "Costliest changes:":
            kept[-1] = f"Costliest: {line.strip()}"
        elif not line.startswith(("  ", "From strike")):
            kept.append(line)
    return kept[: max(0, most)]


def bar_names(indices: Sequence[int], stand: Stand, most: int = 8) -> str:
    """ "A 3, A 5, B 1"."""
    names = [f"{stand.bars[index].section} {stand.bars[index].bar}" for index in sorted(indices)]
    more = f" and {plural(len(names) - most, 'bar')} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def finished_lines(drill: Drill) -> tuple[str, ...]:
    """A drill that is over, in a sentence, and what one may do next."""
    done = {
        "fade": "From memory: you played the loop twice without a cue.",
        "climb": f"The target tempo holds: {drill.next_pass.tempo_bpm:.0f}.",
        "fade+climb": f"From memory and at {drill.next_pass.tempo_bpm:.0f}: all of it is there.",
        "dark": "That was in the dark. The chart is back.",
    }.get(drill.kind, "")
    return (done, "Next: l takes another section, m another way, F3 shows today's plan.") if done else ()


def draw_summary(view: View, width: int, height: int) -> list[Row]:
    """What was played last, in exactly `height` rows, with the climb beside it where there is one."""
    picture: list[Row] = []
    if view.drill is not None and view.drill.climb is not None and width >= 64:
        picture = climb_picture(climbing.picture(view.drill.climb), width // 3, height - 1)
    left = width - (width // 3 + 1 if picture else 0)
    lines = [
        (part, "plain" if number else "strong")
        for number, line in enumerate(view.summary)
        for part in wrap(
            line.strip(),
            max(8, left - 2),
            initial_indent=" " * (len(line) - len(line.lstrip())),
            subsequent_indent="  ",
        )
    ]
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
