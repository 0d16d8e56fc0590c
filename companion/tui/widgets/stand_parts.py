"""The parts of the stand. Each draws the View it was given last."""

from __future__ import annotations

from companion.tui.draw.chart import (
    ChartState,
    Line,
    bars_a_line,
    draw_line,
    draw_shells,
    lay_out,
    line_of,
    line_to_come,
    visible,
)
from companion.tui.draw.keyboard import Row, draw_keyboard
from companion.tui.draw.lines import beat_line, state_line, title_line
from companion.tui.draw.now import draw_now, key_marks
from companion.tui.draw.view import View
from companion.tui.draw.words import signs
from companion.tui.widgets.drawing import Drawing


class StandPart(Drawing):
    """A drawing of the View."""

    view: View | None = None

    def show(self, view: View) -> None:
        self.view = view
        self.redraw()

    def picture(self, width: int, height: int) -> list[Row]:
        return [] if self.view is None or not height else self.draw_view(self.view, width, height)

    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        raise NotImplementedError


class TitlePart(StandPart):
    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        return [title_line(view, width)]


class BeatPart(StandPart):
    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        return [beat_line(view, width)]


class StatePart(StandPart):
    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        return [state_line(view, width)]


class NowPart(StandPart):
    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        return draw_now(view, width, height)


class KeyboardPart(StandPart):
    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        hand = view.stand.hand
        coming = view.coming[1].shell
        rings = frozenset(coming.midi) if coming else frozenset()
        rows = draw_keyboard(hand.lowest_root, hand.highest_top, width, height, key_marks(view.now[1]), rings)
        left = (width - sum(len(text) for text, _ in rows[0])) // 2
        return [[(" " * left, "plain"), *row] for row in rows]


class ChartPart(StandPart):
    def draw_view(self, view: View, width: int, height: int) -> list[Row]:
        stand = view.stand
        lines = lay_out(stand.bars, bars_a_line(width))
        with_shells = height >= 2 * min(len(lines), 4)
        here, to_come = line_of(lines, view.here), line_to_come(lines, view.here, stand.next_index)
        shown = visible(len(lines), here, to_come, height // 2 if with_shells else height)
        state = ChartState(view.here, view.sounding, frozenset(stand.loop))
        rows: list[Row] = []
        for number in shown:
            jump = number == to_come < here
            rows.append(draw_line(lines[number], stand.bars, state, width, jump))
            if with_shells:
                rows.append(self._shells(view, lines[number], width))
        return rows

    @staticmethod
    def _shells(view: View, line: Line, width: int) -> Row:
        def words(index: int) -> str:
            shells = (choice.shell for _, choice in view.stand.choices_at(index))
            return "  ".join(signs("-".join(shell.names)) for shell in shells if shell)

        return draw_shells(line, words, width)
