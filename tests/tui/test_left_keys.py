"""Which keys of the left hand are due at a beat, where the rhythm strikes them one by one (what is struck when: README, Left-hand rhythms)."""

import pytest
from desk import put

from companion.sound.messages import BeatReport
from companion.tui.draw.keyboard import FILL, draw_keyboard
from companion.tui.draw.melody import lines_of, written_bars
from companion.tui.draw.need import draw_need, keys_of
from companion.tui.draw.staff import staff_rows
from companion.tui.draw.view import View

SONG = 'title = "T"\nkey = "C"\nmeter = "4/4"\nform = "A"\n[section.A]\nbars = "Cm7 | F7 | Cm7 F7 | C6"\n'


@pytest.fixture
def stand(settings):
    return put(SONG, settings)


def view_of(stand, pattern, pulse, bar=0, **more):
    return View(stand.change(pattern=pattern), playing=True, beat=BeatReport(0.0, 0, bar, bar, pulse, 4, 120.0), **more)


def midi(notes):
    return [note.midi for note in notes]


def shell(stand, bar, chord=0):
    return stand.choices_at(bar)[chord][1].shell.midi


@pytest.mark.parametrize(
    ("pattern", "beats"),
    [
        ("four", ["both"] * 4),
        ("two-feel", ["lower", "lower", "fifth", "fifth"]),
        ("broken", ["lower", "upper", "lower", "upper"]),
        ("stride", ["low", "both", "low", "both"]),
        ("anticipated", ["both"] * 4),
    ],
)
def test_what_is_due_is_what_the_beat_strikes(stand, pattern, beats):
    """Of Cm7: the fifth is G, seven semitones over C; the low root is C2, MIDI 36."""
    lower, upper = shell(stand, 0)
    assert lower == 48
    wanted = {"both": [lower, upper], "lower": [lower], "upper": [upper], "fifth": [55], "low": [36]}
    keys = [keys_of(view_of(stand, pattern, pulse)) for pulse in range(4)]
    assert [midi(each.now) for each in keys] == [wanted[beat] for beat in beats]
    struck = {key for beat in beats for key in wanted[beat]}
    for each in keys:
        assert {*midi(each.now), *midi(each.named)} == struck and not {*midi(each.now)} & {*midi(each.named)}
        assert all(note.name and note.degree and note.finger for note in (*each.now, *each.named))


def test_while_nothing_sounds_the_whole_shell_is_shown_and_in_the_count_in_it_is_next(stand):
    still = keys_of(View(stand.change(pattern="stride")))
    assert midi(still.now) == list(shell(stand, 0)) and not still.named
    counted = BeatReport(0.0, -1, 0, -1, 0, 4, 120.0)
    first = keys_of(View(stand.change(pattern="stride"), playing=True, beat=counted))
    assert midi(first.next) == [36, *shell(stand, 0)] and not first.now and not first.named


def test_of_two_chords_in_a_bar_each_begins_with_its_own_first_key(stand):
    third, fourth = (keys_of(view_of(stand, "broken", pulse, bar=2)) for pulse in (2, 3))
    assert [*midi(third.now), *midi(fourth.now)] == list(shell(stand, 2, 1))


def test_every_beat_draws_the_keyboard_anew_only_where_keys_change(stand):
    for pattern, moves in (("four", False), ("stride", True)):
        one, other = (view_of(stand, pattern, pulse) for pulse in (1, 2))
        assert ("need" in other.changed_parts(one)) == moves


def test_what_is_not_due_has_its_name_but_no_fill(stand):
    """On the second beat the upper key is filled; C has its letter alone."""
    rows = draw_keyboard(keys_of(view_of(stand, "broken", 1)), 80, 9)
    assert [row for row in rows[:7] if any(FILL in part for part, _ in row)]
    assert [role for row in rows[:7] for part, role in row if part.strip() == "C"] == ["white-next"]
    assert sum(role == "lit" for row in rows[:7] for _, role in row) == 1


@pytest.mark.parametrize("pattern", ["two-feel", "broken", "stride"])
def test_written_notes_have_every_key_that_is_struck(stand, pattern):
    """A head for each key of each beat, those due now marked; the low root below the staff too."""
    for pulse in range(2):
        view = view_of(stand, pattern, pulse, need="written")
        rows = draw_need(view, 80, staff_rows(lines_of(view.stand)))
        assert any("▶" in part for row in rows for part, _ in row), "what is held is due still"
    spans = written_bars(view_of(stand, pattern, 0), 2)[0].score.left
    last = draw_need(view_of(stand, pattern, 0, need="written"), 80, staff_rows(lines_of(view.stand)))[-1]
    assert all(span.what is not None for span in spans)
    assert ("█" in "".join(part for part, _ in last)) == (pattern == "stride")


def test_what_is_struck_early_is_written_in_the_bar_before(stand):
    """F7's keys on the last eighth of the bar of Cm7, tied on; its own bar begins with them held."""
    keys = list(shell(stand, 1))
    first, second = written_bars(view_of(stand, "anticipated", 0), 2)
    last, held = first.score.left[-1], second.score.left[0]
    assert last.start == 3.5 and [pitch.midi for pitch in last.what.pitches] == keys and last.what.goes_on
    assert held.start == 0 and [pitch.midi for pitch in held.what.pitches] == keys and held.what.from_before
