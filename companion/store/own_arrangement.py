"""What goes with a song's melody: the table [arrangement] of the song's own file.

voices: notes in the right hand with the melody, 1 to 4. tensions: whether ninths, elevenths and thirteenths are added. intro, ending: see arranging/beginnings.py and endings.py. slows_to, curve: how an ending slows down: to which share
of the tempo, and the q of its curve. choruses: how often the form is played between them. seed: what is chosen by chance is chosen by it. [arrangement.notes]: what the student wants under a note, by section, bar and number of the note in the bar:
"A.3.2" = "3 b7", degrees of the chord from the lowest, or "alone". ornaments: which kinds are wanted in the whole song, as "fill walk".
[arrangement.bars]: what is wanted in a bar instead: "A.8" = "fill 2, no walk", the second of the fills there and none of the left hand's walks. [arrangement.slides]: how one note is come
to, whatever is wanted in its bar: "A.3.2" = "below", "above" or "no".
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from companion.arranging.beginnings import INTROS
from companion.arranging.choice import (
    ALONE,
    IN_SHELLS,
    KINDS,
    MOST_CHOICES,
    MOST_CHORUSES,
    MOST_VOICES,
    PUT_OFF,
    SLIDE_MS,
    SLIDE_MS_LIMITS,
    SLIDE_WAYS,
    WALK,
    ArrangementChoice,
)
from companion.arranging.endings import CURVE, CURVE_LIMITS, ENDINGS, SLOWS_TO, SLOWS_TO_LIMITS
from companion.base.rules import YES_NO, Rule, number, one_of, whole
from companion.store.own_song import BAR, NOTE, Lines, Rules, read_table, show_bar, show_note, write_table
from companion.store.paths import Paths
from companion.theory.pitch import degree_interval

_TABLE = "arrangement"
_ALONE_WORD = "alone"


def _read_degrees(value: Any) -> tuple[str, ...]:
    if value == _ALONE_WORD:
        return ()
    if not isinstance(value, str) or not value.split():
        raise TypeError
    for degree in value.split():
        degree_interval(degree)  # a ValueError for what is none
    return tuple(value.split())


def _read_kinds(value: Any) -> tuple[str, ...]:
    kinds = value.split() if isinstance(value, str) else []
    if not kinds or any(kind not in KINDS for kind in kinds):
        raise ValueError
    return tuple(kind for kind in KINDS if kind in kinds)


def read_bar_wishes(value: Any) -> dict[str, int]:
    """ "fill 2, no walk" as {"fill": 2, "walk": 0}. Raises ValueError, TypeError."""
    if not isinstance(value, str):
        raise TypeError
    wishes = {}
    for part in value.split(","):
        match = _WISH.fullmatch(part.strip())
        if match is None:
            raise ValueError
        wish = PUT_OFF if match["no"] else int(match["number"] or 1)
        if match["kind"] == WALK and wish > IN_SHELLS:
            raise ValueError
        wishes[match["kind"]] = wish
    return wishes


def show_bar_wishes(wishes: Mapping[str, int]) -> str:
    """As `read_bar_wishes` reads it."""
    words = {PUT_OFF: "no {}", 1: "{}"}
    return ", ".join(words.get(wish, "{} " + str(wish)).format(kind) for kind, wish in wishes.items())


_WISH = re.compile(rf"(?P<no>no )?(?P<kind>{'|'.join(KINDS)})(?(no)|( (?P<number>[1-{MOST_CHOICES}]))?)")
BAR_WISHES = (
    f'such as "fill", "fill 2", "no walk" or "fill 3, no walk": {" or ".join(KINDS)}, choices from 1 to {MOST_CHOICES}'
)
_RULES: Rules = {
    "voices": whole(ALONE, MOST_VOICES),
    "tensions": YES_NO,
    "intro": one_of(*INTROS),
    "ending": one_of(*ENDINGS),
    "slows_to": number(*SLOWS_TO_LIMITS),
    "curve": number(*CURVE_LIMITS),
    "choruses": whole(1, MOST_CHORUSES),
    "slide_ms": number(*SLIDE_MS_LIMITS),
    "seed": whole(0, 2**31),
    "ornaments": Rule(_read_kinds, f'some of {", ".join(KINDS)} in quotes, such as "{" ".join(KINDS)}"'),
    "bars": Lines(BAR, Rule(read_bar_wishes, BAR_WISHES)),
    "slides": Lines(NOTE, one_of(*SLIDE_WAYS)),
    "notes": Lines(NOTE, Rule(_read_degrees, f'degrees of the chord such as "3 b7", or "{_ALONE_WORD}"')),
}


def load_arrangement(paths: Paths, song_id: str) -> ArrangementChoice:
    """What was chosen for a song; the melody alone where nothing was. Raises SettingsError where the file is damaged."""
    values = read_table(paths, song_id, _TABLE, _RULES)
    bars = values.pop("bars", {})
    wishes = {(*place, kind): wish for place, kinds in bars.items() for kind, wish in kinds.items()}
    return ArrangementChoice(**values, bars=wishes)


def save_arrangement(paths: Paths, song_id: str, choice: ArrangementChoice) -> None:
    """Keep what is chosen for a song. Raises SettingsError."""
    notes = {show_note(place): " ".join(degrees) or _ALONE_WORD for place, degrees in sorted(choice.notes.items())}
    bars: dict[str, dict[str, int]] = {}
    for (section, bar, kind), wish in sorted(choice.bars.items()):
        bars.setdefault(show_bar(section, bar), {})[kind] = wish
    values = {
        "voices": choice.voices if choice.voices != ALONE or notes else None,
        "ornaments": " ".join(choice.ornaments) or None,
        "bars": {bar: show_bar_wishes(wishes) for bar, wishes in bars.items()},
        "tensions": choice.tensions or None,
        "intro": None if choice.intro == INTROS[0] else choice.intro,
        "ending": None if choice.ending == ENDINGS[0] else choice.ending,
        "slows_to": None if choice.slows_to == SLOWS_TO else choice.slows_to,
        "curve": None if choice.curve == CURVE else choice.curve,
        "slide_ms": None if choice.slide_ms == SLIDE_MS else choice.slide_ms,
        "choruses": None if choice.choruses == 1 else choice.choruses,
        "seed": choice.seed or None,
        "notes": notes,
        "slides": {show_note(place): way for place, way in sorted(choice.slides.items())},
    }
    write_table(paths, song_id, _TABLE, values)
