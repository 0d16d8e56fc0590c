"""Which bars are a phrase that comes again, and what is said of it."""

import pytest
from hands.lines import bars_of, sounded

from companion.hands.hand import Hand
from companion.hands.left.phrases import Phrase, find_phrases
from companion.hands.left.solver import solve


@pytest.mark.parametrize(
    ("bars", "phrases"),
    [
        ("abcdabcd", [(4, (0, 4))]),
        ("abcabc", []),  # three bars are no phrase
        ("abcdefghabcdefgh", [(8, (0, 8))]),
        ("abcdXabcdYZabcd", [(4, (0, 5, 11))]),
        ("abcdefXYabcdefUVpqrsabcdefUV", [(6, (0, 8, 20))]),  # first and second endings
        ("abcdefXabcdefgY", [(6, (0, 7))]),
        ("abababababab", [(4, (0, 4, 8))]),  # a vamp of two bars: four make a phrase
        ("aaaaaaaa", [(4, (0, 4))]),
        ("abcdabcdaabcd", [(4, (0, 4, 9))]),  # the bridge begins as the phrase does
        (
            "abcdXYZUVWTabcdXYZUVWTabcd",
            [(4, (0, 11, 22)), (7, (4, 15))],
        ),  # most often first, so that none is left alone
        ("pqrsabcdpqrsXabcd", [(4, (0, 8)), (4, (4, 13))]),
        ("", []),
        ("abc", []),
    ],
)
def test_phrases_of_a_chorus(bars, phrases):
    assert find_phrases(bars) == [Phrase(length, starts) for length, starts in phrases]


def repeats(text: str) -> list[str]:
    return [choice.repeat for choice in solve(bars_of(text), Hand()).choices if choice.repeat]


def test_a_phrase_that_comes_again_is_said_to_be_as_before():
    phrase = "Cmaj7 | A7 | Dm7 | G7"
    assert repeats(f"{phrase} | {phrase} | Fmaj7 | Fm6") in (["as before"], ["as before, only the last bar differs"])


def test_only_the_last_bar_differs_where_it_leads_elsewhere():
    """Found among all turns of eight chords: the phrase's last chord goes another way, its inner shells do not."""
    said = set()
    for after in ("Ab7", "Bmaj7", "Ebm7", "F#7", "Bbm7", "E7", "Dbmaj7"):
        phrase = "Em7 | A7 | Dm7 | D7"
        text = f"{phrase} | {after} | {phrase} | Gm7 | C7"
        part = solve(bars_of(text), Hand())
        shells = sounded(part)
        if shells[1:3] == shells[6:8] and shells[3] != shells[8] and shells[0] == shells[5]:
            said.add(part.choices[5].repeat)
    assert said <= {"as before, only the last bar differs"}


def test_without_bars_there_are_no_phrases():
    from dataclasses import replace

    slots = [replace(slot, bar=None) for slot in bars_of("C | F | G7 | C | C | F | G7 | C")]
    assert not any(choice.repeat for choice in solve(slots, Hand()).choices)
