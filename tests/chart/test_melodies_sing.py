"""The songs' melodies against what is known of tunes that are sung, read with nothing of the companion (melody_reader.py).

Steps are a semitone or two, skips three or more; repeated notes are no interval.

- Huron 2006, Sweet Anticipation (MIT Press), chapter 5: small intervals prevail in melodies everywhere, large ones tend to rise, and phrases tend to
  an arch. The arch after Huron 1996, "The Melodic Arch in Western Folksongs", Computing in Musicology 10:3-23: first note, mean of
  those between, last note; of nine shapes up-and-down is the most frequent, nearly 40 % of the phrases of the Essen collection (from memory).
- von Hippel and Huron 2000, "Why Do Skips Precede Reversals?", Music Perception 18(1):59-85; von Hippel 2000, Music Perception 17(3):315-327:
  after a skip a melody mostly turns back, as a skip tends to end far from the middle that it regresses to.
- The figures of the Essen collection itself (Schaffrath; it comes with music21, BSD) are counted here, with the same rules, on the same
  collection as in both papers: 7,246 tunes without the Chinese ones, steps .630, skips turned back .668, arches .386. Counting takes seconds, so
  it is done by `--deep`.
"""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from statistics import mean

import pytest
from chart.melody_reader import Note, Strain, bar_notes, form, signature, strains

PATHS = sorted((Path(__file__).parents[2] / "songs").glob("*.toml"))
SONGS = {path.stem: strains(path) for path in PATHS}
PHRASES = [phrase for song in SONGS.values() for strain in song.values() for phrase in strain.phrases()]


def intervals(pitches: list[int]) -> list[int]:
    """Between notes that follow each other, without repeats."""
    return [after - before for before, after in pairwise(pitches) if after != before]


def pitches_of(phrase: list[Note]) -> list[int]:
    return [note.pitch for note in phrase if note.pitch is not None]


def step_share(lines: list[list[int]]) -> float:
    every = [interval for line in lines for interval in intervals(line)]
    return mean(abs(interval) <= 2 for interval in every)


def turned_back(lines: list[list[int]]) -> float:
    """Of the skips, how many are followed by an interval the other way."""
    pairs = [pair for line in lines for pair in zip(intervals(line), intervals(line)[1:]) if abs(pair[0]) >= 3]
    return mean(skip * after < 0 for skip, after in pairs)


def is_arch(line: list[int]) -> bool:
    return mean(line[1:-1]) > max(line[0], line[-1])


STEPS, TURNED_BACK, ARCHES = 0.630, 0.668, 0.386  # of the Essen collection, see above


@pytest.fixture
def essen() -> tuple[list[list[int]], list[list[int]]]:
    """The tunes of the collection, and its lines of text, which are its phrases."""
    music21 = pytest.importorskip("music21")
    folder = Path(music21.__file__).parent / "corpus" / "essenFolksong"
    modes = {"maj": 0, "mix": -1, "dor": -2, "m": -3, "min": -3, "aeo": -3, "phr": -4, "lyd": 1}
    majors = {
        name: number - 7 for number, name in enumerate(("Cb", "Gb", "Db", "Ab", "Eb", "Bb", *"FCGDAEB", "F#", "C#"))
    }
    tunes, phrases = [], []
    for path in sorted(folder.glob("*.abc")):
        if path.name.startswith("han"):  # the Chinese tunes
            continue
        for tune in re.split(r"(?m)^X:", path.read_text(encoding="latin-1"))[1:]:
            key = re.search(r"(?m)^K:\s*([A-G])([#b]?)\s*([A-Za-z]{0,3})", tune)
            if key is None or (fifths := majors.get(key[1] + key[2])) is None:
                continue
            known = signature(max(-7, min(7, fifths + modes.get(key[3].lower(), 0))))
            body = [
                re.sub(r'"[^"]*"|![^!]*!', "", line)
                for line in tune.splitlines()[1:]
                if not re.match(r"[A-Za-z]:|%", line)
            ]
            lines = [
                [n for bar in line.split("|") for n, _, _ in bar_notes(bar, known) if n is not None] for line in body
            ]
            phrases += [line for line in lines if len(line) >= 4]
            tunes.append([pitch for line in lines for pitch in line])
    return [tune for tune in tunes if len(tune) >= 16], phrases


@pytest.mark.deep
def test_the_reader_finds_in_the_collection_what_was_published(essen):
    tunes, phrases = essen
    assert len(tunes) > 7000
    assert mean(map(is_arch, phrases)) == pytest.approx(0.39, abs=0.015), "Huron 1996: nearly 40 %"
    assert step_share(tunes) == pytest.approx(0.63, abs=0.01)
    assert turned_back(tunes) == pytest.approx(0.67, abs=0.01)
    found = [step_share(tunes), turned_back(tunes), mean(map(is_arch, phrases))]
    assert found == pytest.approx([STEPS, TURNED_BACK, ARCHES], abs=0.0005)


def test_the_melodies_move_by_step_turn_back_after_skips_and_arch_no_less_than_folk_songs_do():
    ours = [pitches_of(phrase) for phrase in PHRASES]
    assert STEPS - 0.02 <= step_share(ours) <= 0.72
    assert turned_back(ours) >= TURNED_BACK - 0.02
    assert mean(map(is_arch, ours)) > max(0.5, ARCHES)


def test_nearly_all_melodies_move_by_step_in_near_two_thirds_of_their_intervals():
    shares = {
        name: step_share([pitches_of(phrase) for strain in song.values() for phrase in strain.phrases()])
        for name, song in SONGS.items()
    }
    assert all(0.55 <= share <= 0.75 for share in shares.values()), shares
    assert sum(0.6 <= share <= 0.73 for share in shares.values()) >= 18, shares


def test_a_melody_has_one_climax_past_the_middle():
    for path in PATHS:
        played = [pitch for name in form(path) for pitch in pitches_of(list(SONGS[path.stem][name].notes))]
        assert played.count(max(played)) == 1, path.stem
        assert played.index(max(played)) > len(played) / 2, path.stem


def test_a_beginners_right_hand_can_play_them():
    for name, song in SONGS.items():
        pitches = [pitch for strain in song.values() for pitch in pitches_of(list(strain.notes))]
        assert max(pitches) - min(pitches) <= 16, (name, "a tenth")
        notes = [note for strain in song.values() for note in strain.notes]
        assert sum(note.length == 1 for note in notes) <= len(notes) * (0.6 if name in COMPOUND else 0.25), name
        leaps = [abs(step) for strain in song.values() for step in intervals(pitches_of(list(strain.notes)))]
        assert max(leaps) <= 12, name


COMPOUND = ("goose-weather", "rowing-home-the-long-way")  # where three eighths are a beat


def leans(strain: Strain, phrase: list[Note]) -> bool:
    """Whether a note that is foreign to the chord sounds where that begins or on a strong beat, and goes by step to one of its tones:
    an appoggiatura, or a suspension where it was there before."""
    half = strain.bar_length // 2 if strain.bar_length % 2 == 0 and strain.bar_length != 6 else strain.bar_length
    strong = {start for start, _ in strain.chords} | set(range(0, strain.bars * strain.bar_length, half))
    for note, after in pairwise(phrase):
        end = note.start + note.length
        if (
            note.pitch is None
            or after.pitch is None
            or after.start != end
            or not 1 <= abs(after.pitch - note.pitch) <= 2
        ):
            continue
        beats = [beat for beat in strong if note.start <= beat < end and strain.chord_at(beat)]
        if any(note.pitch % 12 not in strain.chord_at(beat) for beat in beats) and after.pitch % 12 in strain.chord_at(
            end
        ):
            return True
    return False


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_every_phrase_leans_on_a_note_once_and_now_and_then_one_is_held_over_the_bar(path):
    song = SONGS[path.stem]
    for strain in song.values():
        for number, phrase in enumerate(strain.phrases(), 1):
            assert leans(strain, phrase), f"{strain.name}, phrase {number}"
    over = [
        note
        for strain in song.values()
        for note in strain.notes
        if note.pitch and note.start // strain.bar_length != (note.start + note.length - 1) // strain.bar_length
    ]
    assert over, "no note is held over a bar line"


def test_no_two_songs_have_a_phrase_in_common():
    """Seven intervals and the lengths of their notes, from the first note of a phrase, in different songs."""
    seen: dict[tuple[tuple[int, int], ...], str] = {}
    for name, song in SONGS.items():
        for strain in song.values():
            for phrase in strain.phrases():
                moves = zip(phrase, intervals_with_repeats(pitches_of(phrase)))
                start = tuple((move, note.length) for note, move in moves)[:7]
                assert seen.setdefault(start, name) == name, f"{name} and {seen[start]}"


def intervals_with_repeats(pitches: list[int]) -> list[int]:
    return [after - before for before, after in pairwise(pitches)]


def test_where_phrases_have_equal_chords_but_for_the_last_bar_the_melody_is_equal_too():
    boat = SONGS["paper-boat-on-brown-water"]
    for name, equal in (("A", 3), ("B", 0)):
        notes, length = boat[name].notes, boat[name].bar_length
        first, second = (
            [(note.start - at, note.length, note.pitch) for note in notes if at <= note.start < at + equal * length]
            for at in (0, 4 * length)
        )
        assert first == second
    chords = boat["A"].chords
    assert [tones for _, tones in chords[:3]] == [tones for _, tones in chords[4:7]] and chords[3][1] != chords[7][1]
