"""The parts of the stand. Each draws the View it was given last."""

from __future__ import annotations

from companion.tui.draw.beat import draw_beat
from companion.tui.draw.chart import (
    ChartState,
    bars_a_line,
    draw_line,
    draw_shells,
    lay_out,
    line_of,
    line_to_come,
    lines_with_shells,
    visible,
)
from companion.tui.draw.cues import lesson_note, shells_of
from companion.tui.draw.drill import brief, draw_question, draw_summary
from companion.tui.draw.lines import state_line, title_line
from companion.tui.draw.need import draw_need, need_of
from companion.tui.draw.now import draw_now
from companion.tui.draw.plan import share_rows
from companion.tui.draw.row import Row
from companion.tui.draw.view import View
from companion.tui.draw.words import whole_sentences, whole_words
from companion.tui.widgets.drawing import Drawing


class StandPart(Drawing):
    """A drawing of the View."""

    view: View | None = None
    in_the_dark = False  # whether it is drawn in silent recall

    def show(self, view: View) -> None:
        """Draw another view."""
        self.view = view
        self.redraw()

    def picture(self, width: int, height: int) -> list[Row]:
        """Nothing while the screen is dark; else see `draw_view`."""
        if self.view is None or not height or (self.view.is_dark and not self.in_the_dark):
            return []
        return self.draw_view(self.view, width, height)

    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        """The rows of this part; see `Drawing.picture`."""
        raise NotImplementedError


class TitlePart(StandPart):
    """What is on the stand."""

    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        """See `StandPart.draw_view`."""
        return [title_line(view, width)]


class BeatPart(StandPart):
    """The beats of the bar."""

    in_the_dark = True

    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        """See `StandPart.draw_view`."""
        return draw_beat(view, width, height)


class StatePart(StandPart):
    """What is set, where the drill stands, or a notice."""

    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        """See `StandPart.draw_view`."""
        return [state_line(view, width)]


class NowPart(StandPart):
    """The chord and shell of now; the question after a pass; its summary."""

    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        """See `StandPart.draw_view`."""
        if view.asking:
            return draw_question(view, width, height)
        if view.tells:
            return draw_summary(view, width, height)
        return draw_now(view, width, height)


class NeedPart(StandPart):
    """What the chosen hands need: the keyboard, or another of `draw.need.NEEDS`."""

    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        """See `StandPart.draw_view`."""
        return draw_need(view, width, height)


class ChartPart(StandPart):
    """The chart, with what fits under it."""

    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        """See `StandPart.draw_view`."""
        stand, state = view.stand, ChartState.of(view)
        lines = lay_out(stand.bars, bars_a_line(width))
        below = brief(view.summary, height - 2, width - 2) if view.playing else []
        note = lesson_note(view)
        # In the place of lines that are not needed yet: while it plays this one and the next are.
        if note and not below and height >= 3:
            below = whole_sentences(f"¶ {note}", width - 2, height - (2 if view.playing else 1))
        fits, whole = len(lines) <= height, height
        height -= len(below)
        with_shells = lines_with_shells(len(lines), height if fits else whole)
        here, to_come = line_of(lines, view.here), line_to_come(lines, view.here, stand.next_index)
        scrolls = len(lines) + with_shells > height
        shown = visible(len(lines), here, to_come, height // 2 if with_shells and scrolls else height)
        rows: list[Row] = []
        for number in shown:
            jump = number == to_come < here
            rows.append(draw_line(lines[number], stand.bars, state, width, jump, view))
            if number < with_shells:
                rows.append(draw_shells(lines[number], stand.bars, lambda index: shells_of(view, index), width))
        rows += [[] for _ in range(height - len(rows))]
        return rows + [[(whole_words(f" {line}", width), "strong")] for line in below]


def stand_parts() -> tuple[StandPart, ...]:
    """All of them from top to bottom, by the names of `draw.plan.PARTS`."""
    return (
        BeatPart(id="beat"),
        NowPart(id="now"),
        NeedPart(id="need"),
        ChartPart(id="chart"),
        TitlePart(id="title"),
        StatePart(id="state"),
    )


def rows_of_parts(view: View, width: int, height: int) -> dict[str, int]:
    """How many rows each of `draw.plan.PARTS` has in a window of that size."""
    need = need_of(view)
    return share_rows(
        height,
        len(lay_out(view.stand.bars, bars_a_line(width))),
        view.tells,
        beat=view.large_beat,
        need=need.draw is not None,
        need_rows=need.rows(view.stand),
    )
