"""Today's plan in characters: what and how long in a line, why below it, with a sign for done."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

from companion.base.text import plural
from companion.tui.draw.words import signs, whole_words

if TYPE_CHECKING:
    from companion.practice.planning.plan import Plan, PlanItem

DONE, OPEN = "✓", "·"
_INDENT = " " * 9


def plan_head(plan: Plan, width: int) -> str:
    """ "Today, 20 minutes: 2 of 5 done"."""
    if not plan.items:
        return whole_words("There is no song to plan with yet.", width)
    done = sum(item.done for item in plan.items)
    ending = "all done" if done == len(plan.items) else f"{done} of {len(plan.items)} done"
    return whole_words(f"Today, {plural(plan.minutes, 'minute')}: {ending}", width)


def item_texts(plan: Plan, width: int, rows: int) -> list[str]:
    """The items with what and how long, and why in whole sentences. Where there are too few rows, what is done keeps its first line alone."""
    whole = [_item_text(item, width) for item in plan.items]
    if sum(text.count("\n") + 1 for text in whole) <= rows:
        return whole
    return [text.partition("\n")[0] if item.done else text for item, text in zip(plan.items, whole, strict=True)]


def _item_text(item: PlanItem, width: int) -> str:
    sign = DONE if item.done else OPEN
    head = whole_words(f"{sign} {item.minutes:>2} min  {signs(item.head)}", width)
    why = wrap(" ".join(signs(item.words).split()), max(10, width - len(_INDENT)))
    return "\n".join([head, *(f"{_INDENT}{line}" for line in why)])


def due_line(plan: Plan | None) -> str:
    """One line for the list of songs; "" where nothing is left to do."""
    left = sum(not item.done for item in plan.items) if plan else 0
    return f"{plural(left, 'thing')} to practise today: F3 shows {'it' if left == 1 else 'them'}." if left else ""
