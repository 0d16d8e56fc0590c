"""Today's plan in characters: an item in two lines, with a sign for done."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

from companion.base.text import plural
from companion.tui.draw.words import shorten, signs, whole_words

if TYPE_CHECKING:
    from companion.practice.planning.plan import Plan, PlanItem

DONE, OPEN = "✓", "·"


def plan_head(plan: Plan, width: int) -> str:
    """ "Today, 20 minutes: 2 of 5 done"."""
    if not plan.items:
        return whole_words("There is no song to plan with yet.", width)
    done = sum(item.done for item in plan.items)
    ending = "all done. Enough for today." if done == len(plan.items) else f"{done} of {len(plan.items)} done"
    return whole_words(f"Today, {plural(plan.minutes, 'minute')}: {ending}", width)


def item_text(item: PlanItem, width: int) -> str:
    """What and how long, then why, the second line shortened to the width."""
    sign = DONE if item.done else OPEN
    head = f"{sign} {item.minutes:>2} min  {item.head}"
    why = wrap(" ".join(signs(item.words).split()), max(10, width - 9)) or [""]
    return (
        f"{whole_words(head, width)}\n         {why[0] if len(why) == 1 else shorten(f'{why[0]} …', max(1, width - 9))}"
    )


def due_line(plan: Plan | None) -> str:
    """One line for the list of songs; "" where nothing is left to do."""
    left = sum(not item.done for item in plan.items) if plan else 0
    return f"{plural(left, 'thing')} to practise today: F3 shows {'it' if left == 1 else 'them'}." if left else ""
