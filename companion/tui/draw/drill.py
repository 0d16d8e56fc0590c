"""How a drill stands and what a pass came to: one sentence, the climb as a picture, the summary, and the question after a pass that was
not heard."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from textwrap import wrap

from companion.base.text import plural
from companion.practice.drills import climbing
from companion.practice.drills.climbing import ClimbPicture
from companion.practice.marking.worst import bars_around
from companion.practice.model import VERDICTS
from companion.practice.planning.by_itself import UNDER
from companion.session.drill import KINDS, NEXT_KINDS, Drill
from companion.session.outcome import PassResult
from companion.session.stand import Stand
from companion.tui.draw.big import big_symbol
from companion.tui.draw.chart import VERDICT_SIGNS
from companion.tui.draw.row import Row
from companion.tui.draw.view import View
from companion.tui.draw.words import signs, whole_words

HERE, CLEAN, SLIPPED, TRIED = "◆", "•", "×", "○"


def kind_words(kind: str) -> str:
    """ "From memory"."""
    return KINDS[kind][:1].upper() + KINDS[kind][1:]


def drill_sentence(drill: Drill) -> str:
    """Where the drill stands, in one sentence: how much of the chart is known, and where on the climb the tempo is."""
    if drill.finished:
        return f"{kind_words(drill.kind)}: done."
    if drill.is_dark:
        return "In the dark: the screen stays empty until the pass is over."
    if drill.is_one_pass:
        return "Symbols alone: one pass, and nothing else is shown."
    if drill.two_ways is not None:
        return f"{drill.two_ways.words[:1].upper()}{drill.two_ways.words[1:]}."
    if drill.lining_up is not None:
        return f"Hands together: {drill.lining_up.words}."
    known = drill.fade.words if drill.fade is not None else kind_words(drill.kind)
    climbs = climbing.picture(drill.climb).words if drill.climb is not None else ""
    if not climbs:
        return f"{known[:1].upper()}{known[1:]}."
    return f"{known[:1].upper()}{known[1:]}{'; tempo' if drill.fade is not None else ':'} {climbs}."


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
    to be done about it is left to the stopped stand too. Of both hands one line tells."""
    wanted: list[str] = []
    for line in _both_hands_first(lines):
        if wanted and wanted[-1] == "Costliest changes:":
            wanted[-1] = f"Costliest: {line.strip()}"
        elif not line.startswith(("  ", "From strike")):
            wanted.append(line)
    kept: list[str] = []
    for line in wanted:
        for words in (line, f"{line.partition('. ')[0]}.", f"{line.partition(': ')[0]}."):
            broken = wrap(words, max(8, width))
            if len(kept) + len(broken) <= most:
                kept += broken
                break
    return kept


def _both_hands_first(lines: Sequence[str]) -> Sequence[str]:
    """With what both hands came to in one line before the others: "Left 14 of 16, right 40 of 41; together. The left hand runs by itself."."""
    told = {line.partition(": ")[0]: line.partition(": ")[2] for line in lines}
    if not {"Left hand", "Right hand"} <= told.keys():
        return lines
    left, right = (" ".join(told[hand].split()[:3]) for hand in ("Left hand", "Right hand"))
    hands = told.get("Hands", "").partition(",")[0].rstrip(".")
    loss = next((line.rpartition(": it ")[2] for line in lines if line.startswith(UNDER)), "")
    head = f"Left {left}, right {right}{f'; {hands}' if hands else ''}.{f' The left hand {loss}' if loss else ''}"
    return (head, *(line for line in lines if line.partition(": ")[0] not in ("Left hand", "Right hand", "Hands")))


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


_FIGURE = re.compile(r"(\d+ of \d+) ")
_FIGURE_ROWS = 7


def draw_summary(view: View, width: int, height: int) -> list[Row]:
    """What was played last, in exactly `height` rows: what it came to in large figures, the words below, the climb beside them where there
    is one."""
    picture: list[Row] = []
    if view.drill is not None and view.drill.climb is not None and width >= 64:
        picture = climb_picture(climbing.picture(view.drill.climb), width // 3, height - 1)
    left = width - (width // 3 + 1 if picture else 0)
    lines = _figure(view.summary, left, height)
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
                (f" {text}"[:left].ljust(width - width // 3 if picture else left), role),
                *(picture[y] if y < len(picture) else []),
            ]
        )
    return rows[:height]


def _figure(summary: Sequence[str], width: int, height: int) -> list[tuple[str, str]]:
    """ "39 of 41" of the first line that has such, large, for it is looked at from where one plays."""
    found = next((match[1] for line in summary if (match := _FIGURE.search(line))), "")
    rows = min(_FIGURE_ROWS, height - 9)
    if not found or rows < 4:
        return []
    return [(row, "now-big") for row in big_symbol(found, width - 2, rows)] + [("", "plain")]


def draw_question(view: View, width: int, height: int) -> list[Row]:
    """How what was played went, while nothing sounds: what is known of it, and the keys for the facts."""
    rows: list[Row] = [[("─ how did that go? ".ljust(width, "─")[:width], "dim")]]
    ran = f"it ran, but for {bar_names(tuple(view.slips), view.stand)}" if view.slips else "it ran"
    if view.waits > 1:
        ran = f"{view.waits} passes: {ran}{' in the last' if view.slips else ''}"
    facts = (ran, "the last one broke off" if view.waits > 1 else "it broke off", "this bar slipped; ← → go to another")
    for key, words in zip(view.word_keys, facts, strict=True):
        rows.append([(f"  {key:<6} ", "cursor"), (whole_words(words, max(0, width - 9)), "strong")])
    return [*rows, *([] for _ in range(height))][:height]
