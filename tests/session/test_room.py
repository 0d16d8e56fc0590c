"""Melody and shells keep apart: by other shells, or by an octave."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from both_hands_checker import cannot_be_taken, too_close
from desk import Conducted
from tunes_made import abc, make

from companion.chart.reader import parse_chart
from companion.groove.swung_choice import BarVersion, SwungChoice
from companion.importing import import_file
from companion.practice.drills.recall import new_card
from companion.session.changes import Said
from companion.session.own import KeptRoom, keys_learned, own_stand
from companion.session.right_hand import right_hand
from companion.session.stand import Stand
from companion.store.library import find_song, list_songs
from companion.store.log.entry import Entry, SavedState
from companion.store.own_melody import OwnMelody, load_melody, save_room
from companion.theory.key import Key
from companion.theory.shell_kinds import Pin

# In E flat the tune of this one begins on B flat 3.
LOW_SONG, LOW_KEY = "half-a-word-before", "Eb"
LOW_PC = Key.parse(LOW_KEY).tonic.pc


def shells_of(stand) -> list:
    return [choice.shell and choice.shell.midi for choice in stand.part.choices]


@pytest.fixture
def low(paths, settings):
    return find_song(LOW_SONG, paths, settings)


def test_every_song_stands_in_every_key_and_nothing_collides(paths, settings, deep):
    """Whatever the left hand has learned. Of a song every third key, another third for the next one; all with `--deep`."""
    made_by = set()
    for number, entry in enumerate(list_songs(paths, settings)):
        new = Stand.put(find_song(entry.id, paths, settings), settings)
        learned = replace(new, left_learned=frozenset(range(12)))
        for pc in range(12) if deep else range(number % 3, 12, 3):
            stand = new.with_key(Key.usual(pc, new.key.mode))
            assert len(stand.part.choices) == len(new.part.choices)
            assert all((choice.shell is None) == (choice.slot.chord is None) for choice in stand.part.choices)
            assert too_close(stand) == [], (entry.id, stand.key)
            if pc % 4 == 1:  # all twelve were looked at once
                assert cannot_be_taken(stand, right_hand(stand)) == [], (entry.id, stand.key)
            made_by.add(stand.room.made_by)
            if stand.room.made_by is not None:
                stand = learned.with_key(stand.key)
                assert too_close(stand) == [] and stand.room.made_by == "octave", (entry.id, stand.key)
    assert made_by == {None, "shells", "octave"}


def test_a_hand_that_has_not_learned_the_song_takes_other_shells(low, settings):
    stand = Stand.put(low, settings).with_key(LOW_KEY)
    assert stand.melody == stand.written
    assert stand.room.moved and stand.room.octaves == 0
    free = Stand.put(low, settings, left_learned=frozenset({LOW_PC})).with_key(LOW_KEY)
    assert shells_of(stand) != shells_of(free)
    assert stand.part.cost >= free.part.cost  # without the melody it would be no better
    whys = [choice.why for choice in stand.part.choices if "melody" in choice.why]
    assert whys and all(why.endswith("A higher shell would come too close to the melody.") for why in whys)
    assert not any("melody" in choice.why for choice in free.part.choices)
    assert stand.room.said == f"{stand.room.moved} chords take another shell: the melody lies low in this key."


def test_a_hand_that_has_learned_it_keeps_its_shells_and_the_melody_goes_up(low, settings):
    stand = Stand.put(low, settings, left_learned=frozenset({LOW_PC})).with_key(LOW_KEY)
    raised = [note.pitch.midi - 12 for note in stand.melody if note.pitch]
    assert raised == [note.pitch.midi for note in stand.written if note.pitch]  # for the whole song
    assert [note.start_tick for note in stand.melody] == [note.start_tick for note in stand.written]
    assert stand.room.said == "The melody is played an octave higher in this key, clear of the left hand."
    assert too_close(stand) == []


def test_that_the_melody_went_up_is_no_news_to_the_left_hand_alone(low, settings):
    stand = Stand.put(low, settings, left_learned=frozenset({LOW_PC})).with_key(LOW_KEY)
    assert stand.room_said == "" and Stand.put(low, settings).with_key(LOW_KEY).room_said, "another shell is"
    for hears in (stand.with_hands("both"), stand.with_hands("left", True), stand.with_room_by("octave")):
        assert hears.room_said == stand.room.said


def test_the_student_decides(low, settings):
    learned = frozenset({LOW_PC})
    moved = Stand.put(low, settings, room_by="shells", left_learned=learned).with_key(LOW_KEY)
    assert moved.room.made_by == "shells"
    raised = Stand.put(low, settings, room_by="octave").with_key(LOW_KEY)
    assert raised.room.made_by == "octave"
    assert raised.with_room_by(None).room.made_by == "shells"
    assert too_close(moved) == too_close(raised) == []


def test_where_there_is_room_nothing_is_done(low, settings):
    stand = Stand.put(low, settings, room_by="octave")
    assert stand.melody is stand.written and stand.room.made_by is None and stand.room.said == ""


def song_with(melody: str, bars: str = "Fmaj7 | D7 | Gm7 | C7"):
    return parse_chart(
        f'title = "Low"\nkey = "F"\nmeter = "4/4"\ntempo = 100\nfeel = "swing"\nform = "A"\n'
        f'[section.A]\nbars = "{bars}"\nmelody = "{melody}"\n',
        id="low",
    )


def test_a_pinned_shell_stays_and_the_melody_goes_up(settings):
    song = song_with("A,8 | A,8 | A,8 | A,8")
    stand = Stand.put(song, settings)
    assert stand.room.made_by == "shells" and too_close(stand) == []
    pinned = stand.with_pin(3, 0, Pin("root-seventh"))
    assert pinned.choices_at(3)[0][1].shell.kind == "root-seventh"
    assert pinned.room.made_by == "octave" and too_close(pinned) == []
    assert pinned.with_pin(3, 0, None).room.made_by == "shells"


def test_where_no_shell_is_low_enough_the_melody_goes_as_far_up_as_it_must(settings):
    for melody, octaves in (("A,,8 | A,8 | A,8 | G,8", 2), ("F,,,8 | A,8 | A,8 | G,8", 3)):
        stand = Stand.put(song_with(melody), settings)
        assert (stand.room.octaves, too_close(stand)) == (octaves, [])
    assert "3 octaves higher" in stand.room.said


def test_a_melody_too_wide_for_every_keyboard_ends_where_keys_end(settings):
    stand = Stand.put(song_with("F,,,,8 | A,8 | A,8 | g''''8"), settings)
    assert max(note.pitch.midi for note in stand.melody if note.pitch) <= 127


def test_only_what_sounds_together_counts(settings):
    """The low note lies under a bar without a chord."""
    stand = Stand.put(song_with("C,8 | A8 | A8 | G8", "N.C. | D7 | Gm7 | C7"), settings)
    assert stand.room.made_by is None


# --- what is kept


def remember(log, song_id: str, hands: str, key: str = "") -> None:
    now = datetime(2026, 3, 1, tzinfo=UTC)
    saved = SavedState(song_id, "A", "recall", new_card(song_id, "A", now).to_json(), hands, key)
    log.write(Entry(None, (saved,)))


def test_what_the_left_hand_played_from_memory_it_has_learned(log, low):
    assert keys_learned(log, low) == frozenset()
    remember(log, low.id, "right", "Eb")
    assert keys_learned(log, low) == frozenset()
    remember(log, low.id, "left")
    remember(log, low.id, "both", "Eb")
    assert keys_learned(log, low) == {low.key.tonic.pc, LOW_PC}


def test_shells_taken_for_the_melody_stay_once_they_are_learned(low, paths, settings, log):
    first = own_stand(low, settings, paths, keys_learned(log, low)).with_key(LOW_KEY)
    assert first.room.made_by == "shells"
    assert KeptRoom(paths).keep(first) == ""  # as soon as it is practised
    remember(log, low.id, "left", "Eb")
    later = own_stand(low, settings, paths, keys_learned(log, low)).with_key(LOW_KEY)
    assert shells_of(later) == shells_of(first) and later.melody == first.melody


def test_shells_learned_before_stay_too(low, paths, settings, log):
    remember(log, low.id, "left", "Eb")
    stand = own_stand(low, settings, paths, keys_learned(log, low)).with_key(LOW_KEY)
    assert stand.room.made_by == "octave"
    assert KeptRoom(paths).keep(stand) == "" and load_melody(paths, low.id) == OwnMelody()


def test_the_choice_is_kept_in_the_songs_own_file(low, paths, settings):
    save_room(paths, low.id, "octave")
    assert own_stand(low, settings, paths).with_key(LOW_KEY).room.made_by == "octave"
    assert KeptRoom(paths).keep(own_stand(low, settings, paths).with_key(LOW_KEY)) == ""
    assert load_melody(paths, low.id) == OwnMelody("octave")
    save_room(paths, low.id, None)
    assert load_melody(paths, low.id) == OwnMelody()


def test_what_cannot_be_kept_is_said_once_and_stops_nothing(low, paths, settings):
    stand = own_stand(low, settings, paths).with_key(LOW_KEY)
    paths.own.parent.mkdir(parents=True, exist_ok=True)
    paths.own.write_text("a file where the folder should be")
    kept = KeptRoom(paths)
    assert "what you keep of this song cannot be read" in kept.keep(stand)
    assert kept.keep(stand) == ""


def test_playing_keeps_it_and_says_what_was_done(log, low, paths, settings):
    conductor = Conducted(own_stand(low, settings, paths), log, settings, keep=KeptRoom(paths).keep).conductor
    said = [
        change.sentence for change in conductor.change_stand(lambda s: s.with_key(LOW_KEY)) if isinstance(change, Said)
    ]
    assert any("another shell" in sentence for sentence in said)
    assert not any(isinstance(change, Said) for change in conductor.change_stand(lambda s: s.change(pattern="two")))
    assert load_melody(paths, low.id) == OwnMelody()  # looking at it is no practising
    conductor.start()
    assert [tone.name for tone in load_melody(paths, low.id).other_shells] == ["Eb"]


def test_a_key_that_comes_while_it_is_played_is_kept_too(log, low, paths, settings):
    table = Conducted(
        own_stand(low, settings, paths).with_loop((0,), "bar 1"), log, settings, keep=KeptRoom(paths).keep
    )
    table.do(table.conductor.through_all_keys("half-steps"))
    table.do(table.conductor.start())
    table.desk.run(until=lambda: table.desk.turns > 8)
    table.do(table.conductor.stop())
    assert {tone.pc for tone in load_melody(paths, low.id).other_shells} == {3, 4, 5}
    assert any(isinstance(change, Said) and "another shell" in change.sentence for change in table.changes)


def test_a_key_that_is_chosen_while_it_is_played_is_kept_too(log, low, paths, settings):
    conductor = Conducted(own_stand(low, settings, paths), log, settings, keep=KeptRoom(paths).keep).conductor
    conductor.start()
    conductor.change_stand(lambda stand: stand.with_key(LOW_KEY))
    assert [tone.name for tone in load_melody(paths, low.id).other_shells] == ["Eb"]


@pytest.mark.parametrize(
    ("song", "key", "version", "octaves"),
    [("five-steps-to-the-bakery", "Em", 2, 1), ("half-a-word-before", "Eb", 1, 0)],
)
def test_a_swung_version_moves_no_shell(paths, settings, song, key, version, octaves):
    """Where it comes too close, as pushed notes may, that version goes up."""
    stand = Stand.put(find_song(song, paths, settings), settings).with_key(key)
    swung = stand.with_swung(SwungChoice(BarVersion(version, 0)))
    assert swung.melody != stand.melody and shells_of(swung) == shells_of(stand)
    assert (swung.room.octaves, too_close(swung)) == (octaves, [])


@pytest.mark.parametrize("seed", [5003, 5013, 5021])
def test_nothing_collides_in_songs_from_elsewhere(seed, settings, tmp_path):
    """Tunes made at random, in ABC; sixty of them in five keys were looked at once."""
    path = tmp_path / "tune.abc"
    path.write_text(abc(make(seed)), encoding="utf-8")
    stand = Stand.put(import_file(path).song, settings)
    for pc in (0, 5, 8):
        moved = stand.with_key(Key.usual(pc, stand.key.mode))
        assert too_close(moved) == []
        notes = right_hand(moved)
        assert len(notes) == len({note.note.start_tick for note in notes}) > 0
        assert all(1 <= note.finger <= 5 for note in notes)
