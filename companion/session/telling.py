"""The student tells how a pass goes while it sounds: what is understood, in words."""

from __future__ import annotations

from companion.base.text import plural
from companion.session.practice import Practice
from companion.sound.messages import BeatReport

HEARD_BY_ITSELF = "Your keyboard is heard, so slips are found without your word."


NOTHING_SOUNDS = "Nothing is played and nothing waits: slips are told while it sounds."
CHANGED = "The loop was changed: slips are told from the next bar line on."


def tell_slip(practice: Practice, beat: BeatReport | None, now_s: float) -> str:
    """The bar that sounds slipped. beat: the last that was heard. Gives a sentence."""
    if beat is None or beat.turn < 0:
        return NOTHING_SOUNDS
    if practice.keyboard:
        return HEARD_BY_ITSELF
    loop = practice.planned.loop
    if loop[beat.position : beat.position + 1] != (beat.index,):
        return CHANGED  # that bar is of the loop before, whose pass does not count
    bar = practice.planned.bars[practice.waiting.slip(beat, loop, now_s)]
    practice.keep_waiting()
    return f"{bar.section} {bar.bar} slipped."


def answer_words(told: int, *, at_its_end: bool, broke_off: bool) -> str:
    """What was understood of a word that came while it sounds. told: passes that waited. at_its_end: the pass that sounds was in its last
    bar."""
    if broke_off:
        return "This pass broke off."
    if told or at_its_end:
        return f"{plural(told + at_its_end, 'pass', 'passes')} told of: ran, but for the bars that you told."
    return "No pass waits for your word yet."
