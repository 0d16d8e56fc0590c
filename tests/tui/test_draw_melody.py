"""The right hand on the stand: what is due now and next, and how much a drill lets be seen of it."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest
from desk import put
from tui.conftest import beat

from companion.practice.drills.fading import Cue
from companion.practice.drills.free_time import Target
from companion.tui.draw.melody import due, key_window
from companion.tui.draw.need import STRIP, WRITTEN, draw_need, keys_of, needs_of
from companion.tui.draw.view import View

TUNE = """
title = "Both"
key = "F"
meter = "4/4"
tempo = 120
form = "A B"
[section.A]
bars = "F6 | D7 | Gm7 | C7"
melody = "a2 c'2 a2 fg | ^f6 z2 | d2 g2 b4 | e8"
[section.B]
bars = "F6 | F6"
melody = "z4 c'4 | f8"
"""


def view_of(settings, hands="both", level=Cue.KEYS, **fields):
    """level: of every bar, in a drill that hides."""
    stand = put(TUNE, settings, pattern="four").with_hands(hands)
    hiding = SimpleNamespace(
        next_pass=SimpleNamespace(hands="", pattern=""),
        fade=True,
        climb=None,
        finished=False,
        is_dark=False,
        loop=stand.loop,
        cue=lambda index: level,
    )
    return View(stand, drill=hiding if level < Cue.KEYS else None, **fields)


def names(notes):
    return [note.note.pitch.name for note in notes]


@pytest.mark.parametrize(
    ("index", "pulse", "now", "coming"),
    [
        (0, 0, ["A5"], ["C6"]),
        (0, 3, ["F5"], ["G5"]),
        (1, 0, ["F#5"], ["D5"]),
        (1, 2, ["F#5"], ["D5"]),  # held
        (1, 3, [], ["D5"]),  # a rest
        (
            3,
            0,
            ["E5"],
            ["C6"],
        ),  # the next bar begins with a rest of two beats: nothing to prepare in its first note but C
        (5, 0, ["F5"], ["A5"]),
    ],
)
def test_the_note_of_now_and_the_one_after_it(settings, index, pulse, now, coming) -> None:
    view = view_of(settings, playing=True, beat=beat(index, pulse))
    got_now, got_coming = due(view)
    assert names(got_now) == now
    assert names(got_coming) == coming


def test_in_the_count_in_all_is_yet_to_come_and_stopped_it_is_the_marked_bar(settings) -> None:
    counting = view_of(settings, playing=True, beat=beat(-1, 2, turn=-1))
    assert (names(due(counting)[0]), names(due(counting)[1])) == ([], ["A5"])
    assert names(due(view_of(settings, cursor=2))[0]) == ["D5"]


def test_where_a_note_is_waited_for_it_is_the_one_of_now(settings) -> None:
    waiting = view_of(settings, playing=True, waiting=Target(0, 0, (72,), (72,)))
    assert names(due(waiting)[0]) == ["C6"] and names(due(waiting)[1]) == ["A5"]


def test_each_hand_has_its_keys_and_only_its_own(settings) -> None:
    for hands, wanted in (("left", {"left"}), ("right", {"right"}), ("both", {"left", "right"})):
        keys = keys_of(view_of(settings, hands, playing=True, beat=beat(0, 0)))
        assert {note.hand for note in (*keys.now, *keys.next)} == wanted
        assert all(keys.window[0] <= note.midi <= keys.window[1] for note in keys.now)


def test_the_window_stands_still_where_the_whole_song_fits(settings) -> None:
    windows = {key_window(view_of(settings, cursor=bar)) for bar in range(6)}
    assert len(windows) == 1


def test_a_window_that_moves_does_so_between_phrases_only(settings) -> None:
    """The tune two octaves up: left and right together are more than the keys that fit."""
    wide = put(TUNE.replace("c'", "c'''").replace("e8", "e'''8"), settings).with_hands("both")
    windows = [key_window(View(wide, cursor=bar)) for bar in range(4)]
    assert windows[0] == windows[1] != windows[2] == windows[3], "bars 3 and 4 are another phrase"


@pytest.mark.parametrize("need", [STRIP, WRITTEN])
@pytest.mark.parametrize(
    ("level", "struck"), [(Cue.KEYS, 6), (Cue.NAMES, 6), (Cue.SYMBOL, 1), (Cue.ROOT, 1), (Cue.BAR, 0), (Cue.PLACE, 0)]
)
def test_the_melody_is_hidden_as_far_as_its_bar_is(settings, need, level, struck) -> None:
    """Fading of the right hand: keyboard, names, the first note of each phrase, nothing. Bars 1 and 2 hold six notes, one opens a phrase."""
    view = view_of(settings, "right", level, playing=True, beat=beat(0, 0), need=need)
    rows = ["".join(text for text, _ in row) for row in draw_need(view, 80, 10)]
    text = "\n".join(rows)
    if need == STRIP:
        assert sum(character.isdigit() for character in rows[2]) == struck
    else:
        heads = text.count("██") + text.count("()") + text.count("▀▀") + text.count("╰╯")
        assert heads == struck
    assert bool(keys_of(view).now) == (level == Cue.KEYS)
    assert ("F6" in text) == (level >= Cue.SYMBOL) and ("F…" in text) == (level == Cue.ROOT)


def test_shells_are_hidden_with_their_bar_on_the_staff_too(settings) -> None:
    for level, seen in ((Cue.NAMES, True), (Cue.SYMBOL, False)):
        view = view_of(settings, "left", level, playing=True, beat=beat(0, 0), need=WRITTEN)
        text = "\n".join("".join(text for text, _ in row) for row in draw_need(view, 80, 12))
        assert ("██" in text or "▄▄" in text) == seen


def test_a_low_window_shows_names_instead_of_staves(settings) -> None:
    view = view_of(settings, "both", playing=True, beat=beat(0, 0), need=WRITTEN)
    rows = draw_need(view, 80, 6)
    assert len(rows) <= 6 and "A5" in "".join(text for row in rows for text, _ in row)


def test_the_strip_is_there_for_who_plays_the_melody(settings) -> None:
    offered = {hands: [need.name for need in needs_of(view_of(settings, hands).stand)] for hands in ("left", "both")}
    assert STRIP not in offered["left"] and STRIP in offered["both"] and WRITTEN in offered["left"]


def test_a_beat_redraws_what_shows_the_melody_and_not_the_shells_alone(settings) -> None:
    for hands, redrawn in (("left", False), ("both", True)):
        before = view_of(settings, hands, playing=True, beat=beat(0, 0))
        after = replace(before, beat=beat(0, 1))
        assert ("need" in after.changed_parts(before)) == redrawn
