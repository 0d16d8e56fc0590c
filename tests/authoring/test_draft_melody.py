"""Notes typed bar by bar: the section's melody is what was typed, a bar of rest where nothing was, and reads as a chart file's does."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.authoring.draft import MELODY, Draft, DraftBar, DraftSection, Page
from companion.authoring.draft_melody import bar_text, pickup_text, with_bar, with_pickup
from companion.authoring.draft_song import melody_faults, song_of
from companion.chart.melody import section_melody

BARS = tuple(DraftBar(text) for text in ("Cmaj7", "Am7", "Dm7 G7", "Cmaj7"))


def draft(**page) -> Draft:
    return Draft(Page(title="T", sections=(DraftSection("A", BARS),), **page), line=MELODY)


def test_notes_are_typed_bar_by_bar_and_become_the_songs_melody() -> None:

    typed = draft().type("c2 e2 g4|z4 a4|").next_bar().type("^f8")
    assert typed.text == "^f8" and typed.page.sections[0].bars == BARS
    notes = section_melody(song_of(typed.page), "A")
    assert [(note.start_tick, note.ticks, note.pitch.name) for note in notes if note.pitch] == [
        (0, 960, "C5"), (960, 960, "E5"), (1920, 1920, "G5"), (5760, 1920, "A5"), (11520, 3840, "F#5"),
    ]  # fmt: skip
    assert typed.undo().melody_at(0, 3) == "" and typed.undo().redo().page == typed.page


def test_a_bar_that_lacks_a_beat_says_so_where_it_is() -> None:
    typed = draft().type("c2 e2 g4|c2")
    assert melody_faults(typed.page) == {(0, 1): "the notes make 1 beat, but a bar of 4/4 has 4"}
    assert not melody_faults(typed.clear_bar().page)


def test_going_back_and_clearing_takes_notes_away_and_never_a_bar() -> None:
    typed = draft().type("c8|d8")
    for _ in range(10):
        typed = typed.back()
    assert typed.page.sections[0].melody == "" and typed.page.sections[0].bars == BARS
    assert typed.clear_bar().page.sections[0].bars == BARS


def test_notes_of_a_pickup_stay_before_the_first_bar() -> None:
    start = draft(pickup="1")
    typed = start.type("c8")
    melody = typed.section.melody
    assert pickup_text(melody, has_pickup=True) == "" and bar_text(melody, 0, has_pickup=True) == "c8"
    with_notes = with_pickup(melody, "g2")
    assert pickup_text(with_notes, has_pickup=True) == "g2" and bar_text(with_notes, 0, has_pickup=True) == "c8"
    page = typed.set_section(melody=with_notes).page
    assert [note.start_tick for note in section_melody(song_of(page), "A") if note.pitch] == [-960, 0]
    assert pickup_text(with_pickup(with_notes, ""), has_pickup=True) == ""


def test_notes_played_in_are_one_change() -> None:
    played = draft().go_to(0, 1).with_notes(["c8", "d8", "e8", "f8", "g8"])
    assert [played.melody_at(0, bar) for bar in range(4)] == ["", "c8", "d8", "e8"]
    assert played.undo().section.melody == ""


@given(
    st.lists(
        st.tuples(st.integers(0, 5), st.sampled_from(["c8", "", "z4 e4", "(3abc d6", "q", "Z2", "c2-"])), max_size=12
    )
)
def test_a_bar_keeps_what_was_put_into_it_whatever_comes_into_others(changes) -> None:
    melody, wanted = "", {}
    for bar, text in changes:
        melody = with_bar(melody, bar, text, has_pickup=False)
        wanted[bar] = "" if text == "Z2" else text
    assert all(bar_text(melody, bar, has_pickup=False) == text for bar, text in wanted.items())


@pytest.mark.parametrize("keys", ["c2 e2 g4", "^f2 _b2 c'4"])
def test_what_is_typed_letter_by_letter_is_what_is_typed_at_once(keys) -> None:
    one_by_one = draft()
    for key in keys:
        one_by_one = one_by_one.type(key)
    assert one_by_one.text.replace(" ", "") == keys.replace(" ", "") and not melody_faults(one_by_one.page)
