"""Slides: a short key a semitone before a melody note, by the finger of the note itself where it can slip from a black key to its white neighbour.

Sources. One finger from a black key down to the white one beside it: into D, E, G, A and B from below, into C, D, F, G and A from above (arithmetic of
the keyboard). The blue third and fifth first, then long and accented notes: common practice. A grace keeps its length over tempo and takes it from
the note before: Timmers and others 2002, see groove/ornamented.py.

Units: ticks from anywhere, milliseconds at the target tempo, MIDI numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from companion.hands.left.reason import spoken
from companion.hands.right.prices import is_black
from companion.hands.right.voicing_rules import ABOVE_SHELL, FAR_LEAP, FAR_LEAP_MS, SPAN
from companion.theory.chord import Chord
from companion.theory.degrees import degree_in
from companion.theory.pitch import LETTERS, Pitch, Tone

AGAIN_MS = 100.0  # one key is struck again no sooner; so long sounds the note before, at least (C)
USUAL_MS, MS_LIMITS = 80.0, (40.0, 120.0)  # how long a grace lasts (from memory); longer it would be heard as a note

# What makes one slide dearer than another. All ours, after common practice.
PLAIN = 3  # what costs no more is played where nobody asked for this very one: into blue notes that are long or accented, into others with one finger where they are both
APART = 2  # bars from one of these to the next at least: a slide says something only now and then
_NOT_BLUE, _FROM_ABOVE, _TWO_FINGERS, _WEAK, _SHORT = 3, 1, 1, 2, 2


@dataclass(frozen=True, slots=True)
class Slid:
    """A stroke of the right hand as a slide sees it. keys, fingers: from the lowest, the melody last. until_tick: where the melody note is let go. pulses: that it lasts.
    is_on_beat, is_strong: where in the bar. chord: None for N.C. low: the highest key of the left hand while the grace would sound, None for none."""

    start_tick: int
    until_tick: int
    keys: tuple[int, ...]
    fingers: tuple[int, ...]
    pitch: Pitch
    pulses: float
    is_on_beat: bool
    is_strong: bool
    chord: Chord | None
    low: int | None


@dataclass(frozen=True, slots=True)
class Slide:
    """pitch: of the grace. finger: that takes it, 1 to 5. price: less is better. why: a sentence. from_below: else from above."""

    pitch: Pitch
    finger: int
    price: int
    why: str
    from_below: bool = True


def slides(strokes: Sequence[Slid], tick_ms: float, ms: float = USUAL_MS) -> list[tuple[Slide, ...]]:
    """For each stroke the slides into it, the cheaper one first; () where there is no place for any. strokes: of one chorus, in order. ms: how long a
    grace lasts."""
    found = []
    for number, stroke in enumerate(strokes):
        before = strokes[number - 1] if number else None
        after = strokes[number + 1] if number + 1 < len(strokes) else None
        here = []
        if stroke.is_on_beat and stroke.pulses >= 1:
            here = [
                slide
                for up in (1, -1)
                for slide in [_slide(stroke, up)]
                if slide is not None and _has_place(slide.pitch.midi, before, stroke, after, tick_ms, ms)
            ]
        found.append(tuple(sorted(here, key=lambda slide: slide.price)))
    return found


def one_finger(grace: int, key: int) -> bool:
    """Whether one finger slips from a key to its neighbour: from a black one to a white one."""
    return is_black(grace) and not is_black(key)


def _slide(stroke: Slid, up: int) -> Slide | None:
    """From below (1) or above (-1); None where no finger is free for it."""
    key, finger = stroke.keys[-1], stroke.fingers[-1]
    grace = neighbour(stroke.pitch, -up)
    is_one = one_finger(grace.midi, key)
    if not is_one:
        finger -= up
        if not 1 <= finger <= 5 or finger in stroke.fingers[:-1]:
            return None
    degree = degree_in(stroke.pitch.tone, stroke.chord) if stroke.chord is not None else ""
    is_blue = up > 0 and degree in ("3", "5")
    price = (
        _NOT_BLUE * (not is_blue)
        + _FROM_ABOVE * (up < 0)
        + _TWO_FINGERS * (not is_one)
        + _WEAK * (not stroke.is_strong)
        + _SHORT * (stroke.pulses < 2)
    )
    blue = {"3": "third", "5": "fifth"}[degree] if is_blue else ""
    return Slide(grace, finger, price, _why(stroke, grace, up, is_one, blue), up > 0)


def _why(stroke: Slid, grace: Pitch, up: int, is_one: bool, blue: str) -> str:
    where = "below" if up > 0 else "above"
    how = "one finger slips from black to white" if is_one else "with two fingers"
    of = f", the {blue} of {stroke.chord.symbol}" if blue and stroke.chord is not None else ""
    return f"A slide from {spoken(grace.tone)} just {where} into {spoken(stroke.pitch.plain.tone)}{of}: {how}."


def neighbour(pitch: Pitch, step: int) -> Pitch:
    """A semitone above or below (step 1 or -1), spelled on the letter beside it, as lead sheets write it."""
    letter = LETTERS[(LETTERS.index(pitch.tone.letter) + step) % len(LETTERS)]
    midi = pitch.midi + step
    for alter in (0, -step, step, -2 * step):
        tone = Tone(letter, alter)
        if tone.pc == midi % 12:
            return tone.at_or_above(midi).plain
    raise AssertionError(pitch)


def _has_place(grace: int, before: Slid | None, stroke: Slid, after: Slid | None, tick_ms: float, ms: float) -> bool:
    """Within reach, clear of the left hand, and far enough in time from the strokes around it."""
    if grace - stroke.keys[0] > SPAN or (stroke.low is not None and grace < stroke.low + ABOVE_SHELL):
        return False
    if any(abs(grace - key) < 2 for key in stroke.keys[:-1]):
        return False
    if after is not None and grace in after.keys and (after.start_tick - stroke.start_tick) * tick_ms + ms < AGAIN_MS:
        return False
    if before is None:
        return True
    since_ms = (stroke.start_tick - before.start_tick) * tick_ms - ms
    silent_ms = (stroke.start_tick - before.until_tick) * tick_ms - ms
    if since_ms < AGAIN_MS or (grace in before.keys and silent_ms < AGAIN_MS):
        return False
    return since_ms >= FAR_LEAP_MS or max(abs(grace - key) for key in before.keys) <= FAR_LEAP
