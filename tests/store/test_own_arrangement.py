"""The table [arrangement] of the student's own file of a song."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.arranging.choice import ArrangementChoice
from companion.errors import SettingsError
from companion.store.own_arrangement import load_arrangement, save_arrangement
from companion.store.own_song import own_path

SONG = "two-spoons"


def test_what_is_kept_is_read_again_and_nothing_leaves_nothing(paths):
    assert load_arrangement(paths, SONG) == ArrangementChoice()
    chosen = ArrangementChoice(3, True, "vamp", "tag", 7, {("A", 3, 2): ("3", "b7"), ("B", 1, 1): ()}, 0.5, 2.0)
    bars = {("A", 8, "fill"): 2, ("A", 8, "walk"): 0, ("A", 10, "walk"): 1}
    chosen = replace(
        chosen, ornaments=("fill", "walk"), bars=bars, slides={("A", 3, 2): "below", ("A", 4, 1): "no"}, choruses=2
    )
    save_arrangement(paths, SONG, chosen)
    assert load_arrangement(paths, SONG) == chosen
    assert '"A.8" = "fill 2, no walk"' in own_path(paths, SONG).read_text(encoding="utf-8")
    save_arrangement(paths, SONG, ArrangementChoice())
    assert not own_path(paths, SONG).exists()


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("voices = 5", "expected a whole number from 1 to 4"),
        ('intro = "long"', 'expected one of "none", "vamp"'),
        ("slows_to = 1.5", "expected a number from 0.2 to 0.95"),
        ('curve = "late"', "expected a number from 0.5 to 5"),
        ('ornaments = "fill trill"', "expected some of slide, tremolo, fill, walk in quotes"),
        ('[arrangement.bars]\n"A.8" = "fill 4"', 'expected such as "fill"'),
        ('[arrangement.bars]\n"A.8" = "walk 3"', 'expected such as "fill"'),
        ('[arrangement.bars]\n"A" = "fill"', "expected a bar such as"),
        ('[arrangement.slides]\n"A.1.1" = "up"', 'expected one of "below", "above", "no"'),
        ('[arrangement.slides]\n"A.1" = "no"', "expected a note such as"),
        ('tensions = "a few"', "expected true or false"),
        ('[arrangement.notes]\n"A.1" = "3"', "expected a note such as"),
        ('[arrangement.notes]\n"A.1.1" = "third"', "expected degrees of the chord"),
        ('[arrangement.notes]\n"A.1.1" = ""', "expected degrees of the chord"),
    ],
)
def test_faults_are_named_with_their_line(paths, line, expected):
    paths.own.mkdir(parents=True, exist_ok=True)
    own_path(paths, SONG).write_text(f"[arrangement]\n{line}\n", encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        load_arrangement(paths, SONG)
    assert expected in str(caught.value) and f"{SONG}.toml:" in str(caught.value)
