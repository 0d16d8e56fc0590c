"""Fading and climb at once: after a pass only one of them gets harder, and what slipped says which of them eases.

Rule of our own (common practice: one difficulty at a time):

- A passed pass moves the one that is further from its goal, so that both arrive together: cues hidden against log
  tempo climbed. On equal terms a cue goes first.
- A failed pass whose slips lie in bars with a cue hidden is forgotten notes: those cues come back and the tempo stays.
- A failed pass whose slips lie in bars fully shown, is a matter of the hand: the tempo goes down.
- A failed pass without a bar being named eases the cues if some went before it, else the tempo.
- A slip gives its bar a cue back in every case.
"""

from __future__ import annotations

from dataclasses import dataclass

from companion.practice.drills import climbing, fading
from companion.practice.drills.climbing import ClimbState
from companion.practice.drills.fading import FadeState


@dataclass(frozen=True, slots=True)
class Both:
    """The two after a pass. moved: "cues", "tempo" or "probe" (two bars at the target, which move nothing). reason: a
    sentence for the screen."""

    fade: FadeState
    climb: ClimbState
    moved: str
    reason: str


def after_both(fade: FadeState, climb: ClimbState, slipped: frozenset[int], share_right: float, day: str = "") -> Both:
    """The drill and the climb after one pass played for both; it is clean where the drill takes it as passed.

    slipped, share_right: see fading.after_pass; day: see climbing.after_pass. Where the pass was a probe only the climb takes note. Raises
    ValueError like fading.after_pass.
    """
    clean = fading.is_passed(fade, slipped, share_right)
    if climbing.next_pass(climb).probe:
        return Both(
            fade, climbing.after_pass(climb, clean, day), "probe", "That was a try at the target; nothing moves."
        )
    if not _is_for_tempo(fade, climb, slipped | fade.peeked, clean):
        return Both(
            fading.after_pass(fade, slipped, share_right), climb, "cues", _reason("cues", clean, climb.finished)
        )
    eased = fading.after_pass(fade, slipped, share_right, may_hide=False)
    return Both(eased, climbing.after_pass(climb, clean, day), "tempo", _reason("tempo", clean, fade.finished))


def _is_for_tempo(fade: FadeState, climb: ClimbState, missed: frozenset[int], clean: bool) -> bool:
    """Whether this pass moves the tempo instead of the cues."""
    if fade.finished or climb.finished:
        return fade.finished
    if clean:
        return 1 - fade.cue_strength > climbing.picture(climb).here
    if not missed:
        # The student named no bar. What became harder last is the likelier reason.
        return not any(fade.hidden)
    return all(fading.level(fade, index) == fading.FULL for index in missed)


def _reason(moved: str, clean: bool, other_finished: bool) -> str:
    if other_finished:
        return {
            "cues": "The target tempo holds, so only cues move.",
            "tempo": "The chart is from memory, so the tempo moves.",
        }[moved]
    return {
        ("cues", True): "The cues have further to go than the tempo, so cues go.",
        ("cues", False): "What slipped had lost cues, so they come back and the tempo stays.",
        ("tempo", True): "The tempo has further to go than the cues, so the tempo moves.",
        ("tempo", False): "What slipped was fully shown, so the tempo was too much.",
    }[moved, clean]
