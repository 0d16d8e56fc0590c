"""The rules by which a straight melody is made to swing, one row a rule with its share and where it is from.

A straight tune is mostly quarters, and eighths that swing change nothing in it: what makes it swing is where its notes are moved
ahead, held back or struck again. Every rule moves or adds one onset by an eighth; pitches and their order stay.
"""

from __future__ import annotations

from dataclasses import dataclass

_PAPERS = (
    "Temperley 1999, Syncopation in rock, Popular Music 18:19-40, and Tan, Lustig & Temperley 2019, Anticipatory syncopation in rock, "
    "Music Perception 36:353-370: what is struck just before a strong beat is heard as belonging on it"
)


@dataclass(frozen=True, slots=True)
class SwingRule:
    """share: of the notes that the rule would fit, how many it takes, 0 to 1. does: to the student, behind a bar. source: of the rule; the shares
    are common practice."""

    name: str
    share: float
    does: str
    source: str


# In the order in which a note is asked; the first that takes it holds.
RULES = (
    SwingRule("push", 0.35, "pushed", f"a note of the coming chord comes an eighth ahead of its strong beat; {_PAPERS}"),
    SwingRule("passing", 0.4, "passing note short", "a passing note becomes the eighth behind a dotted quarter; common practice"),
    SwingRule("late", 0.15, "held back", "a note comes an eighth behind its beat; common practice"),
    SwingRule("split", 0.2, "split", "a long note is an eighth and the rest; common practice"),
    SwingRule("again", 0.3, "struck again", "a long note is struck again on its last off-beat; common practice"),
)  # fmt: skip
SHARES = {rule.name: rule.share for rule in RULES}
DOES = {rule.name: rule.does for rule in RULES}
MOST_A_BAR = 2  # changes of notes in one bar, so that the tune is still known by its rhythm (common practice)
LEAST_CHANGED = 0.5  # of a section's bars; below that more are changed, whatever the shares say
