"""What the screen of chords in root position shows, drawn without a terminal."""

from __future__ import annotations

from dataclasses import replace

import pytest
from desk import put

from companion.hands.root_position import INVERSION_WORDS
from companion.practice.drills.root_position import NAMES, WAYS
from companion.session.chords.rounds import Setup, items_of
from companion.session.chords.shown import Shown
from companion.tui.draw.roots import RootView, draw_roots, setup_words

ODD = """title = "Odd Ones"
key = "Bb"
meter = "4/4"
tempo = 100
[section.A]
bars = "Cdim7 | Eb13 | Gm7/F | Fmaj7"
"""


@pytest.fixture
def items(settings):
    def make(**setup):
        return items_of(put(ODD, settings), Setup(**setup))

    return make


def text(view: RootView, width: int = 80, height: int = 23) -> str:
    rows = draw_roots(view, width, height)
    assert len(rows) <= height and all(sum(len(part) for part, _ in row) <= width for row in rows)
    return "\n".join("".join(part for part, _ in row) for row in rows)


def shown(item, **fields) -> Shown:
    return Shown(item, number=1, total=4, playing=True, **fields)


def test_notes_degrees_fingers_and_what_is_next(items) -> None:
    dim, thirteenth = items()[:2]
    page = text(RootView("Odd Ones", Setup(), shown(dim, after=thirteenth)))
    assert "left hand, root position" in page and "next" in page
    assert "C   E♭   G♭   B♭♭    degrees 1 ♭3 ♭5 ♭♭7   fingers 5-3-2-1" in page
    assert "B♭♭ is the key A" in page and "◇ waits for you   1 of 4" in page
    labels = next(line for line in reversed(page.splitlines()) if "♭♭7" in line)
    assert labels.split() == ["1", "♭3", "♭5", "♭♭7"]


def test_what_the_symbol_says_besides(items) -> None:
    _, thirteenth, slash, major = items()
    assert "tensions left out: 9, 11 and 13" in text(RootView("", Setup(), shown(thirteenth)))
    assert "over F, which is left to the bass; with F lowest it is the third inversion" in text(
        RootView("", Setup(), shown(slash)), width=100
    )
    assert "never force a stretch" in text(RootView("", Setup(), shown(major), reach=9))
    assert "never force a stretch" not in text(RootView("", Setup(), shown(major)))


@pytest.mark.parametrize("way", WAYS)
def test_what_space_starts_is_said_whole_in_80_columns(items, way) -> None:
    for hand in ("left", "right"):
        for inversion in range(len(INVERSION_WORDS)):
            setup = Setup(way=way, hand=hand, inversion=inversion)
            page = text(RootView("", setup, replace(shown(items(way=way)[0]), playing=False)))
            assert f" Space starts: {setup_words(setup)}." in page


def test_a_known_chord_is_to_be_found(items) -> None:
    page = text(RootView("", Setup(), shown(items()[0], keys=False, down=frozenset({48}))))
    assert "Find it." in page and "fingers" not in page and page.count("▼") == 1
    assert not any(name in page for name in ("E♭", "G♭", "B♭♭"))


def test_the_note_that_is_due_of_a_broken_chord(items) -> None:
    page = text(RootView("", Setup(way="broken"), shown(items(way="broken")[0], step=2), heard=True))
    assert "[G♭]" in page and "[C]" not in page and "from the lowest up" in page


def test_what_is_left_is_drawn_once_it_is_due(items) -> None:
    item = items(way="left")[3]
    setup = Setup(way="left")
    first, then = (text(RootView("", setup, shown(item, step=step), heard=True)) for step in (0, 1))
    assert "then what is left: " in first and "The whole chord together" in first and "Now its shell alone." in then
    degrees = [page.splitlines()[-3].split() for page in (first, then)]
    assert degrees[0] == ["1", "3", "5", "7"]
    assert degrees[1] == [item.close.degrees[item.close.midi.index(note)] for note in item.shell]
    assert item.shell_fingers and f"fingers {item.shell_fingers}" in then


def test_in_time_the_beat_and_the_tempo(items) -> None:
    setup = Setup(in_time=True, tempo_bpm=52.0)
    page = text(RootView("Odd Ones", setup, shown(items()[0], beat=(2, 4))))
    assert "tempo 52" in page and " 3 █" in page and " 2 ▁" in page
    counted = shown(items()[0], counting=True, beat=(0, 4))
    assert "▶ count-in" in text(RootView("", setup, counted))
    assert "┌─ next" in text(RootView("", setup, counted)), "the first chord stands where the next one does"


def test_how_it_went_stands_until_the_next_round(items) -> None:
    lines = ("4 of 4 chords right at once, 1.2 s each as a rule (50 chords a minute).", "Slowest: Eb13 2.0 s.")
    page = text(RootView("", Setup(), Shown(items()[0], lines=lines)))
    assert lines[0] in page and "Slowest: E♭13 2.0 s." in page and "Space starts:" in page


def test_a_warning_and_an_answer_take_turns(items) -> None:
    view = RootView("", Setup(), shown(items()[0], answer="E: the third is Eb."), heard=True)
    assert "E: the third is E♭." in text(view)
    assert "The keyboard is gone" in text(replace(view, notice="! The keyboard is gone."))


@pytest.mark.parametrize("size", [(0, 0), (1, 1), (12, 3), (40, 8), (56, 14), (80, 23), (120, 39), (200, 80)])
@pytest.mark.parametrize("way", ["together", "broken", "left"])
def test_every_size_keeps_within_its_bounds(items, size, way) -> None:
    for hand in ("left", "right"):
        for item in items(way=way, hand=hand):
            text(RootView("Odd Ones", Setup(hand=hand, way=way), shown(item, after=item)), *size)
    text(RootView("", Setup(), Shown()), *size)


@pytest.mark.parametrize(
    ("setup", "said"),
    [
        (Setup(), "Only shells are heard: enter says you have it, x that it was wrong."),
        (Setup(way=NAMES, hand="right"), "The right hand is not heard: enter says you have it, x that it was wrong."),
        (Setup(way=NAMES, in_time=True), "With the click nothing is heard: x marks a slip."),
    ],
)
def test_what_a_microphone_does_not_hear_is_said(items, setup, said) -> None:
    assert said in text(RootView("", setup, shown(items()[0]), microphone=True))
