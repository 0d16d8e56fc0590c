"""The layers on the stand: which lie on top now, and how one is put there."""

from __future__ import annotations

from dataclasses import replace

from companion.arranging.choice import FILL, PUT_OFF, SLIDE, WALK
from companion.chart.loops import WHOLE_FORM
from companion.errors import CompanionError
from companion.practice.planning.layers import COMPANY, FRAME, MELODY, ORNAMENTS, PERFORMANCE, SWING
from companion.session.stand import Stand
from companion.session.swung_sheet import ready_to_swing


def layers_on(stand: Stand) -> frozenset[str]:
    """What lies on top of the left hand; the frame where the whole form is practised."""
    chosen = stand.arranged
    wanted = [place for place, wish in chosen.bars.items() if wish != PUT_OFF]
    framed = stand.loop_name == WHOLE_FORM and (chosen.intro, chosen.ending) != ("none", "none")
    on = {
        COMPANY: chosen.voices > 1,
        SWING: not stand.swung.is_straight,
        ORNAMENTS: bool(chosen.ornaments or wanted),
        FRAME: framed,
    }
    return frozenset({MELODY, *(layer for layer, is_on in on.items() if is_on)})


def with_layer(stand: Stand, layer: str) -> Stand:
    """With a layer on top, for both hands; what the student chose of it already stays. Raises SettingsError, HandsError."""
    stand = stand.with_hands("both")
    chosen = stand.arranged
    if layer == COMPANY and chosen.voices == 1:
        chosen = replace(chosen, voices=2)
    elif layer == ORNAMENTS and ORNAMENTS not in layers_on(stand):
        chosen = replace(chosen, ornaments=(SLIDE, FILL, WALK))
    elif layer in (FRAME, PERFORMANCE) and (chosen.intro, chosen.ending) == ("none", "none"):
        chosen = replace(chosen, intro="vamp", ending="tag")
    elif layer == SWING:
        return ready_to_swing(stand)
    return stand if chosen == stand.arranged else stand.change(arranged=chosen)


def can_swing(stand: Stand) -> bool:
    """Whether the melody can."""
    try:
        ready_to_swing(stand)
    except CompanionError:
        return False
    return stand.song.feel == "swing"
