"""How much a song asks of the left hand: changes a minute and shells, counted by hand, and the order made of them."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import pytest
from shipped import SONGS

from companion.chart.reader import parse_chart
from companion.hands.hand import Hand
from companion.practice.planning.difficulty import (
    bits_a_minute,
    changes_a_minute,
    different_shells,
    difficulty_words,
)
from companion.practice.planning.song_view import SongView
from companion.practice.planning.today import first_song
from companion.session.stand import Stand
from companion.store.library import find_song, in_order, list_songs, start_here
from companion.store.paths import find_paths
from companion.store.settings import load_settings


def song(bars: str, meter: str = "4/4", tempo: float = 60, form: str = "A"):
    return parse_chart(
        f'title = "A Tune"\nkey = "C"\nmeter = "{meter}"\ntempo = {tempo}\nfeel = "swing"\nform = "{form}"\n'
        f'[section.A]\nbars = "{bars}"\n'
    )


@pytest.mark.parametrize(
    ("bars", "meter", "tempo", "changes"),
    [
        # A chorus of 16 beats at 60 lasts 16 s: so many changes in it, times 60/16.
        ("Dm7 | G7 | Cmaj7 | A7", "4/4", 60, Fraction(4 * 60, 16)),
        ("Dm7 | G7 | Cmaj7 | Cmaj7", "4/4", 60, Fraction(3 * 60, 16)),  # held on
        ("Dm7 | G7 | Cmaj7 | Dm7", "4/4", 60, Fraction(3 * 60, 16)),  # the last leads into the same chord
        ("Dm7 | N.C. | Dm7 | G7", "4/4", 60, Fraction(2 * 60, 16)),  # after the rest the same
        ("Dm7 | N.C. | G7 | N.C.", "4/4", 60, Fraction(2 * 60, 16)),
        ("Dm7 G7 | Em7 A7", "4/4", 120, Fraction(4 * 120, 8)),
        ("Em7:1 A7:1 Dm7:1 G7:1 | C6", "4/4", 60, Fraction(5 * 60, 8)),
        ("D6 | Em7 A7", "6/8", 56, Fraction(3 * 56, 4)),  # a bar of 6/8 has two pulses
        ("Am7:3 D7:2", "5/4", 120, Fraction(2 * 120, 5)),
        ("C6 | %", "4/4", 60, Fraction(0)),
        ("N.C. | %", "4/4", 60, Fraction(0)),
    ],
)
def test_changes_a_minute_as_counted_by_hand(bars, meter, tempo, changes):
    assert changes_a_minute(song(bars, meter, tempo)) == changes


@pytest.mark.parametrize("each", SONGS, ids=lambda each: each.id)
def test_the_figures_are_those_of_what_is_played(each):
    """Counted again from the stand, chord by chord, and in time as it goes by."""
    stand = Stand.put(each, load_settings(find_paths()))
    played = [(placed.chord, choice.shell) for bar in stand.bars for placed, choice in stand.choices_at(bar.index)]
    assert different_shells(each, stand.hand) == len({shell.names for _, shell in played if shell})
    sounding, changes = [chord for chord, _ in played if chord][-1], 0
    for chord, _ in played:
        if chord is not None:
            changes += chord != sounding
            sounding = chord
    seconds = sum(bar.meter.seconds_per_tick(each.tempo_bpm) * bar.meter.bar_ticks for bar in stand.bars)
    assert float(changes_a_minute(each)) == pytest.approx(60 * changes / seconds)


def test_both_figures_hold_in_every_key_but_for_the_hands_room():
    blues = next(each for each in SONGS if each.id == "porridge-and-brass")
    stand = Stand.put(blues, load_settings(find_paths()))
    for pc in range(12):
        moved = stand.with_key(stand.song.key.usual(pc)).song
        assert changes_a_minute(moved) == changes_a_minute(blues)
        assert different_shells(moved, Hand()) == 3


def test_a_song_the_hand_cannot_play_comes_last():
    narrow = Hand(lowest_root=40, highest_root=41, highest_top=44)
    assert different_shells(song("Dm7 | G7"), narrow) == 0
    assert bits_a_minute(30.0, 0) == math.inf
    assert difficulty_words(30.0, 0) == "30 changes a minute"


def test_the_order_follows_the_published_law():
    # Hick 1952, Hyman 1953: the time for one of n likely answers grows with log2(n + 1): 1, 3 and 7 shells are 1, 2 and 3 bits.
    assert [bits_a_minute(10.0, shells) for shells in (1, 3, 7)] == [10.0, 20.0, 30.0]
    assert bits_a_minute(0.0, 1) == 0


def test_in_words():
    assert difficulty_words(23.7, 8) == "24 changes a minute, 8 shells"
    assert difficulty_words(1.2, 1) == "1 change a minute, 1 shell"


def test_the_list_begins_where_todays_plan_begins(tmp_path):
    paths = find_paths({"COMPANION_HOME": str(tmp_path)})
    settings = load_settings(paths)
    entries = list_songs(paths, settings)
    bits = [bits_a_minute(entry.changes, entry.shells) for entry in entries]
    assert bits == sorted(bits) and all(entry.shells for entry in entries)
    views = [SongView(find_song(entry.id, paths, settings)) for entry in entries]
    assert first_song(views, settings.hand).song.id == start_here(entries).id == entries[0].id
    assert [entry.title for entry in in_order(entries, "title")] == sorted(entry.title for entry in entries)
    assert start_here([]) is None


def test_a_song_of_ones_own_is_counted_too_and_another_hand_counts_anew(tmp_path):
    paths = find_paths({"COMPANION_HOME": str(tmp_path)})
    settings = load_settings(paths)
    paths.songs.mkdir(parents=True)
    text = 'title = "Mine"\nkey = "C"\nmeter = "4/4"\ntempo = 60\nfeel = "swing"\nform = "A"\n[section.A]\n'
    (paths.songs / "mine.toml").write_text(text + 'bars = "Dm7 | G7 | Dm7 | G7"\n', encoding="utf-8")
    mine = next(entry for entry in list_songs(paths, settings) if entry.own)
    assert (mine.changes, mine.shells, mine.lesson) == (15.0, 2, False)
    assert start_here([mine, *list_songs(paths, settings)]) != mine, "a lesson leads a new student"
    narrow = replace(settings, hand=Hand(lowest_root=40, highest_root=41, highest_top=44))
    assert next(entry for entry in list_songs(paths, narrow) if entry.own).shells == 0
