"""A song's chords in root position as a thing to do today: offered before the first step of a song that was not begun, to who never found
some of them, and never before a lesson that was. Pure."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from companion.base.text import plural
from companion.chart.loops import WHOLE_FORM
from companion.chart.model import Song
from companion.hands.root_position import close_chord
from companion.practice.planning.plan import CHORDS, PlanItem


def chord_ids(song: Song) -> dict[str, str]:
    """symbol -> what the chord in root position is remembered by, as in "0 D b3 5 b7"; the same for symbols of the same basic tones."""
    chords = {placed.symbol: placed.chord for bar in song.unroll() for placed in bar.chords if placed.chord is not None}
    return {symbol: f"0 {close_chord(chord).id}" for symbol, chord in chords.items()}


def new_chords(song: Song, known: Collection[str]) -> tuple[int, int]:
    """(how many of a song's chords were never found in root position, how many there are). known: those found, as in `chord_ids`."""
    names = set(chord_ids(song).values())
    return len(names.difference(known)), len(names)


def chords_item(song: Song, known: Collection[str]) -> PlanItem | None:
    """The chords that are new to the student; None where none is. Its minutes are still to be given."""
    new, chords = new_chords(song, known)
    if not new:
        return None
    are = "is" if new == 1 else "are"
    words = f"{new} of {plural(chords, 'chord')} {are} new to you: each whole, from the root up, before its shell."
    loop = tuple(range(len(song.unroll())))
    return PlanItem(CHORDS, 0, words, song.id, song.title, WHOLE_FORM, loop, CHORDS)


def before_their_steps(items: Sequence[PlanItem]) -> list[PlanItem]:
    """The same items, each song's chords right before the first step of its lesson."""
    ordered = [item for item in items if item.kind != CHORDS]
    for chords in (item for item in items if item.kind == CHORDS):
        steps = [at for at, each in enumerate(ordered) if (each.kind, each.song_id) == ("step", chords.song_id)]
        ordered.insert(steps[0] if steps else len(ordered), chords)
    return ordered
