"""What is said of a wrong key in free time. Every row: common practice, as a teacher beside the keyboard would say it."""

from __future__ import annotations

import pytest
from desk import put
from practice.takes import SONGS, stand_of
from session_songs import FOUR
from shipped import spread

from companion.practice.drills.free_answers import answer, found_with, spelled
from companion.theory.key import Key
from companion.theory.pitch import Tone
from companion.theory.symbols import parse_chord


@pytest.fixture
def choice(settings):
    """Dm7 as D3 F3, root and third, in a song in F."""
    text = FOUR.replace("F6 | D7 | Gm7 | C7", "Dm7") + '[shells]\n"A.1.1" = "root-third"\n'
    choice = put(text, settings).choices_at(0)[0][1]
    assert choice.shell.names == ("D3", "F3")
    return choice


D, F = 50, 53


@pytest.mark.parametrize(
    ("astray", "down", "words"),
    [
        ([52], [D, 52], "E: the third is F."),
        ([52], [52], "E: the third is F."),
        ([54], [D, 54], "Gb: the third is F."),
        ([49], [49], "Db: the root is D."),
        ([48], [F, 48], "C: the root is D."),
        ([55], [D, 55], "G: the third is F."),
        ([48, 55], [48, 55], "C G: the root is D, the third F."),
        ([38], [38], "D2 is an octave too low: the root is D3."),
        ([65], [D, 65], "F4 is an octave too high: the third is F3."),
        ([62, 65], [62, 65], "The right notes, an octave too high: the shell is D3 F3."),
        ([26, 29], [26, 29], "The right notes, two octaves too low: the shell is D3 F3."),
        ([60], [D, 60], "D C is the root-seventh, a shell too: here it is the root-third, D F."),
        ([44, 45, 46, 47], [44, 45, 46, 47], "Too many keys at once: the shell is D F."),
        ([], [D], ""),
    ],
)
def test_a_key_that_is_not_in_the_shell_is_answered(choice, astray, down, words) -> None:
    assert answer(choice, astray, set(down), Key.parse("F")) == words


def test_a_neighbour_struck_along_is_told_with_the_shell(choice) -> None:
    assert found_with((52,), "Dm7", choice.slot.chord, Key.parse("F")) == "Dm7 is there, with E struck along."


@pytest.mark.parametrize("song", spread(SONGS, 4, 2))
def test_an_answer_takes_one_line_of_eighty_whatever_is_struck(song) -> None:
    stand = stand_of(song, "four")
    asked = set()  # a chord that comes again with the same shell is answered alike
    for bar in stand.bars:
        for placed, choice in stand.choices_at(bar.index):
            if choice.shell is None or (placed.symbol, choice.shell.midi) in asked:
                continue
            asked.add((placed.symbol, choice.shell.midi))
            low, high = choice.shell.midi
            # Each key beside every fourth of the other hand's, and all where one is right or both are off alike.
            off = range(-14, 15)
            hands = [{low + a, high + b} for a in off for b in off if (a + b) % 4 == 0 or a in (0, b) or b == 0]
            for down in (*hands, *(set(option.midi) for option in choice.options)):
                said = answer(choice, down - {low, high}, down, stand.key)
                assert len(said) <= 78 and bool(said) == (down > {low, high} or not down <= {low, high})
            assert len(found_with((low - 1, low + 1, high + 1), placed.symbol, choice.slot.chord, stand.key)) <= 78


@pytest.mark.parametrize(
    ("note", "chord", "key", "name"),
    [
        (68, "E7", "F", "G#"),  # a tone of the chord, as the chord spells it
        (70, "C7", "F", "Bb"),
        (61, "F6", "F", "Db"),  # a key of flats
        (61, "G6", "G", "C#"),
        (66, "C6", "C", "F#"),
        (63, "C6", "C", "Eb"),
        (66, "Eb6", "Gb", "Gb"),  # a note of the key
        (59, "Eb6", "Gb", "Cb"),
    ],
)
def test_a_strange_key_is_spelled_as_the_chord_and_the_key_are(note, chord, key, name) -> None:
    assert spelled(note, parse_chord(chord), Key.parse(key)) == Tone.parse(name)


@pytest.mark.parametrize(
    "key",
    [
        f"{tonic}{mode}"
        for tonic in ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"]
        for mode in ("", "m")
    ],
)
def test_every_key_of_the_piano_has_a_name_in_every_key(key) -> None:
    for note in range(21, 109):
        assert spelled(note, parse_chord("C6"), Key.parse(key)).pc == note % 12
