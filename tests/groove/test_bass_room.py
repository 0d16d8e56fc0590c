"""The bass leaves the left hand its room: no key of the student's lowest, nothing above it. Counted by tests/bass_checker.py, which knows nothing of the
bass's own code. That two players in one octave hide each other, and that a bass keeps under the pianist's left hand: common practice.
"""

import itertools
from dataclasses import replace

import pytest
from bass_checker import counted
from groove.loops import loop
from shipped import SONGS, spread

from companion.arranging.choice import KINDS, ArrangementChoice
from companion.chart.reader import parse_chart
from companion.groove.bass import bass_bar
from companion.groove.model import Strike
from companion.groove.names import PATTERN_NAMES
from companion.groove.timeline import timeline
from companion.session.stand import Stand
from companion.store.paths import find_paths
from companion.store.settings import shipped_settings
from companion.theory.key import Key
from companion.theory.shell_kinds import Pin

STYLES = ("roots", "two-feel", "walking")


def put(song, **hand):
    settings = shipped_settings(find_paths({}))
    return Stand.put(song, replace(settings, hand=replace(settings.hand, **hand)))


def of(stand, style, pattern="four", seed=0):
    """What tests/bass_checker.py counts in two turns of what is on the stand."""
    arranged = stand.change(bass=style, pattern=pattern, demonstrate=True, seed=seed).arrangement()
    arranged = replace(arranged, parts=("bass", "left"), feel="straight", count_in_bars=0, pickup_ticks=0, pickup=())
    return counted(arranged.bars * 2, timeline(arranged, [120.0] * 2).events, style == "walking")


def beside(notes, *bars, style="roots", pattern="four", seed=0):
    """The bass of bars whose chords all have these keys in the left hand."""
    kept = tuple(
        replace(bar, chords=tuple(replace(chord, notes=notes) for chord in bar.chords))
        for bar in loop(" | ".join(bars))
    )
    return [[note.note for note in bass_bar(kept, style, seed, 0, at, None, pattern)] for at in range(len(kept))]


@pytest.mark.parametrize("number", spread([*range(len(SONGS) * 12)], 97))
def test_the_bass_leaves_the_students_key_alone_on_every_song_in_every_key(number):
    song = SONGS[number // 12]
    stand = put(song).with_key(Key.usual(number % 12, song.key.mode))
    for style in STYLES:
        found = of(stand, style, seed=number)
        assert found["onsets"] and found["notes"] >= found["onsets"]
        wrong = {name: found[name] for name in ("own", "same", "above", "low", "high", "leaps") if found[name]}
        assert not wrong, (style, wrong)
        # What was measured as good and stays: all of them, before as well.
        assert found["tones"] == found["strong"] and found["steps"] == found["into"]


@pytest.mark.parametrize("hand", [{"reach": 16, "lowest_root": 36}, {"rest_on_fifth": "always"}, {"lowest_root": 45}])
def test_of_other_hands_too(hand):
    stand = put(SONGS[4], **hand)
    for style in STYLES:
        found = of(stand, style)
        assert not found["own"] + found["same"] + found["above"] + found["low"] + found["high"] + found["leaps"]


@pytest.mark.parametrize("pattern", PATTERN_NAMES)
def test_beside_every_pattern_with_all_that_ends_phrases(pattern):
    stand = put(SONGS[4]).change(arranged=ArrangementChoice(voices=2, ornaments=tuple(KINDS)))
    found = of(stand, "walking", pattern)
    assert not found["own"] + found["same"] + found["above"]


def test_a_pin_moves_the_bass_out_of_its_way():
    song = parse_chart(
        'title = "T"\nkey = "F"\nmeter = "4/4"\ntempo = 100\nform = "A"\n[section.A]\nbars = "Fmaj7 | Bb6"\n'
    )
    low = put(song).with_pins({("A", 1, 1): Pin("root-seventh")})
    assert low.choices_at(0)[0][1].shell.midi[0] == 41
    for style in STYLES:
        assert not of(low, style)["same"] + of(low, style)["above"]


@pytest.mark.parametrize(
    ("root", "notes", "opens"), [("E7", (40, 50), 28), ("F7", (41, 51), 29), ("F#7", (42, 52), 30)]
)
def test_a_phrase_on_e_f_and_f_sharp_opens_an_octave_lower_where_the_hand_is_there(root, notes, opens):
    """MIDI 28 is E1, the double bass's lowest string (from memory)."""
    assert beside(notes, root, root)[0] == [opens]


def test_a_line_that_walks_down_walks():
    """Opens high enough for all of it, and takes the step at the phrase's end too."""
    line = "G7 | F#7 | F7 | E7 | Eb7 | D7 | Db7 | C7 | B7 | Bb7 | A7 | Ab7"
    for style in ("roots", "walking"):
        opening = [bar[0] for bar in beside((55, 60), line, style=style)]
        assert [one - other for one, other in itertools.pairwise(opening)] == [1] * 11


def test_where_the_hand_leaves_no_root_from_e1_up_it_rests():
    assert beside((36, 46), "C7")[0] == []
    assert beside((48, 58), "C7")[0] == [36]
    assert beside((36, 46), "C7", "F7", style="two-feel") == [[31], [29]], "the fifth of C has room"


@pytest.mark.parametrize("style", STYLES)
def test_under_stride_it_stays_from_e1_up_and_below_the_low_root(style):
    """Of low roots C2 to Eb2 it leaves the beat to the hand, and comes in where that goes up to the shell."""
    found = of(put(SONGS[4]), style, "stride")
    assert not found["own"] + found["same"] + found["above"] + found["low"] + found["leaps"]
    assert found["notes"] > found["onsets"] > 0 if style == "walking" else found["onsets"]
    walked = beside((48, 58), "C7", "C7", style="walking", pattern="stride")
    assert len(walked[0]) == 3 and all(28 <= note < 48 for bar in walked for note in bar)


def test_what_the_left_hand_strikes_one_by_one_counts_too():
    """A walk at a phrase's end goes under the shells."""
    (bar,) = loop("A7")
    walk = tuple(Strike("left", 960 * beat, 960, (note,)) for beat, note in enumerate((45, 43, 41, 40)))
    bar = replace(bar, written=walk, pattern_ticks=0)
    for seed in range(40):
        notes = [note.note for note in bass_bar((bar,), "walking", seed, 0, 0)]
        assert all(note < strike.notes[0] for note, strike in zip(notes, walk, strict=True))


@pytest.mark.parametrize("style", STYLES)
def test_a_loop_of_one_chord_leads_to_any_other_key(style):
    """Its bass may lie high where the hand does, and the other's low."""
    (low,) = (replace(bar, chords=(replace(bar.chords[0], notes=(41, 51)),)) for bar in loop("F7"))
    (high,) = (replace(bar, chords=(replace(bar.chords[0], notes=(55, 60)),)) for bar in loop("Db7"))
    for here, then in ((low, high), (high, low)):
        notes = bass_bar((here,), style, 1, 0, 0, (then,))
        assert notes and all(note.note < here.chords[0].notes[0] for note in notes)
