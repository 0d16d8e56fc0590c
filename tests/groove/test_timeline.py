import subprocess
import sys
from dataclasses import replace

import pytest
from groove.loops import arrange, placed
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import arrangements

from companion.groove.model import PARTS, Arrangement, Click
from companion.groove.swing import bar_swing, played_ratio
from companion.groove.timeline import bar_events, count_in, timeline

TEMPOS = st.floats(40, 320)


def heard(events, voice):
    return [(event.tick, event.note) for event in events if event.part == voice]


def heard_at(tick, meter, ratio):
    """Where a straight tick may be heard: as it is written, or swung."""
    return {tick, bar_swing((), meter, ratio).tick(tick)}


def test_a_bar_by_hand():
    """Dm7 and G7 share a bar of four: click on every beat, roots, shells four to the bar, each let go before the
    next, on 2 and 4 sooner."""
    arrangement = arrange("Dm7 G7 | Cmaj7", parts=("click", "bass", "left"))
    events = bar_events(arrangement, 0, 0, 120)
    assert heard(events, "click") == [(0, 1), (960, 0), (1920, 0), (2880, 0)]
    assert [(tick, note % 12) for tick, note in heard(events, "bass")] == [(0, 2), (1920, 7)]
    assert heard(events, "left") == [(960 * beat, note) for beat in range(4) for note in (50, 60)]
    assert [event.ticks for event in events if event.part == "left"][::2] == [882, 747, 882, 747]


def test_shells_sound_only_when_they_are_demonstrated():
    assert not heard(bar_events(arrange("C7"), 0, 0, 120), "left")


def test_the_charleston_swings():
    arrangement = arrange("C7", pattern="charleston", parts=("click", "bass", "left"), click=Click("off"), bass="off")
    assert sorted({event.tick for event in bar_events(arrangement, 0, 0, 120)}) == [0, 1600]
    straight = replace(arrangement, feel="straight")
    assert sorted({event.tick for event in bar_events(straight, 0, 0, 120)}) == [0, 1440]
    written = replace(arrangement, bars=arrange("C7", "12/8").bars)
    assert sorted({event.tick for event in bar_events(written, 0, 0, 120)}) == [0, 2400]


def test_a_chord_that_comes_on_an_off_beat_swings_with_it():
    bar = placed("4/4", ("C7", 0, 1440), ("F7", 1440, 2400))
    arrangement = Arrangement(
        (bar,), pattern="whole", parts=("click", "bass", "left"), bass="roots", click=Click("off")
    )
    first, second = sorted({(event.tick, event.tick + event.ticks) for event in bar_events(arrangement, 0, 0, 120)})
    assert first == (0, 1560) and second[0] == 1600


@given(arrangements(), TEMPOS, st.integers(0, 2))
@settings(deadline=None)
def test_events_lie_within_their_bar_and_chord(arrangement, tempo_bpm, turn):
    ratio = played_ratio(arrangement.feel, arrangement.swing_ratio, tempo_bpm)
    for position, bar in enumerate(arrangement.bars):
        events = bar_events(arrangement, turn, position, tempo_bpm)
        assert list(events) == sorted(events, key=lambda event: (event.tick, PARTS.index(event.part), event.note))
        for event in events:
            assert 0 <= event.tick < bar.meter.bar_ticks and event.ticks > 0 and 1 <= event.velocity <= 127
            if event.part == "click":
                assert event.note in (0, 1) and event.tick % bar.meter.pulse_ticks == 0
                continue
            chords = [
                chord
                for chord in bar.chords
                if min(heard_at(chord.tick, bar.meter, ratio)) <= event.tick
                and event.tick + event.ticks <= max(heard_at(chord.tick + chord.ticks, bar.meter, ratio))
            ]
            assert any(chord.chord and (event.part != "left" or event.note in chord.notes) for chord in chords)


@given(arrangements(), TEMPOS, st.integers(1, 2))
@settings(deadline=None)
def test_no_note_is_struck_while_it_sounds(arrangement, tempo_bpm, turns):
    until = {}
    for event in timeline(arrangement, [tempo_bpm] * turns).events:
        voice_note = (event.part, event.note)
        assert until.get(voice_note, 0) <= event.tick
        until[voice_note] = event.tick + event.ticks


@given(arrangements(), TEMPOS)
@settings(deadline=None)
def test_the_same_arrangement_gives_the_same_events(arrangement, tempo_bpm):
    again = replace(arrangement, bars=tuple(replace(bar) for bar in arrangement.bars))
    for position in reversed(range(len(arrangement.bars))):
        assert bar_events(arrangement, 1, position, tempo_bpm) == bar_events(again, 1, position, tempo_bpm)


@given(arrangements(), st.integers(1, 3), TEMPOS)
@settings(deadline=None)
def test_bars_lie_end_to_end(arrangement, turns, tempo_bpm):
    whole = timeline(arrangement, [tempo_bpm] * turns)
    edges = [bar.tick for bar in whole.bars] + [whole.end_tick]
    assert all(after - bar.tick == bar.meter.bar_ticks for bar, after in zip(whole.bars, edges[1:]))
    assert whole.end_tick - whole.music_tick == turns * sum(bar.meter.bar_ticks for bar in arrangement.bars)
    assert whole.music_tick == sum(bar.meter.bar_ticks for bar in whole.bars if bar.turn < 0)
    assert [(bar.turn, bar.position) for bar in whole.bars if bar.turn >= 0] == [
        (turn, position) for turn in range(turns) for position in range(len(arrangement.bars))
    ]


# --- count-in


@pytest.mark.parametrize("bars", [0, 1, 2])
def test_count_in_clicks_every_pulse_of_whole_bars(bars):
    arrangement = arrange("C7 | 6/8 F7", click=Click("off"), count_in_bars=bars)
    counted = count_in(arrangement, 0, 120)
    four, halves = [(0, 1), (960, 0), (1920, 0), (2880, 0)], [(0, 1), (1920, 0)]
    assert [heard(bar, "click") for bar in counted] == [[], [four], [halves, four]][bars]
    from_second = count_in(arrangement, 1, 120)
    assert [heard(bar, "click") for bar in from_second] == [[], [[(0, 1), (1440, 0)]], [[(0, 1)], [(0, 1), (1440, 0)]]][
        bars
    ]


# Two seconds as whole bars, by hand: a bar of n pulses lasts 60 n / tempo seconds. That two bars of four begin with 1 and 3: common practice.
@pytest.mark.parametrize(("meter", "tempo_bpm", "clicks"), [
    ("4/4", 40, ["1 2 3 4"]), ("4/4", 120, ["1 2 3 4"]), ("4/4", 121, ["1 3", "1 2 3 4"]), ("4/4", 240, ["1 3", "1 2 3 4"]),
    ("4/4", 241, ["1 3", "1 2 3 4", "1 2 3 4"]), ("3/4", 90, ["1 2 3"]), ("3/4", 91, ["1", "1 2 3"]), ("3/4", 180, ["1", "1 2 3"]),
    ("5/4", 150, ["1 2 3 4 5"]), ("5/4", 160, ["1 4", "1 2 3 4 5"]), ("6/8", 60, ["1 2"]), ("6/8", 100, ["1", "1 2"]),
    ("12/8", 130, ["1 3", "1 2 3 4"]), ("2/4", 180, ["1", "1 2", "1 2"]),
])  # fmt: skip
def test_by_default_as_many_whole_bars_are_counted_as_two_seconds_need(meter, tempo_bpm, clicks):
    arrangement = arrange("C7 | F7", meter)
    pulse = arrangement.bars[0].meter.pulse_ticks
    counted = count_in(arrangement, 1, tempo_bpm)
    assert [" ".join(str(tick // pulse + 1) for tick, _ in heard(bar, "click")) for bar in counted] == clicks
    seconds = len(counted) * arrangement.bars[0].meter.pulses * 60 / tempo_bpm
    assert seconds >= 2 and (len(counted) == 1 or seconds * (len(counted) - 1) / len(counted) < 2)


def test_a_pickup_lies_in_the_last_beats_of_the_count():
    """A pickup of one beat in three: "1 2" is counted, the tune comes in on 3."""
    whole = timeline(arrange("C6 | F6", "3/4", count_in_bars=1, pickup_ticks=960), [120])
    assert whole.music_tick == 2880
    assert whole.bars[0].turn == -1 and whole.bars[1].tick == 2880


@pytest.mark.parametrize(
    ("asked", "pickup_ticks", "bars"),
    [
        (0, 0, 0),
        (0, 960, 1),
        (1, 3840, 1),
        (1, 3841, 2),
        (2, 960, 2),
        (0, 7680, 2),
    ],
)
def test_a_pickup_gets_the_bars_it_needs(asked, pickup_ticks, bars):
    arrangement = arrange("C7 | F7", count_in_bars=asked, pickup_ticks=pickup_ticks)
    assert len(count_in(arrangement, 0, 120)) == bars
    assert len(count_in(arrangement, 1, 120)) == asked  # inside the loop there is no pickup


# --- seconds


def test_a_change_of_meter_keeps_the_pulse():
    """At 120 pulses a minute a pulse lasts half a second: 4/4 two seconds, 6/8 one, 3/4 one and a half."""
    whole = timeline(arrange("C7 | 6/8 F7 | 3/4 G7 | 3/4 C7", count_in_bars=1), [120] * 2)
    starts = whole.seconds(tuple(bar.tick for bar in whole.bars) + (whole.end_tick,))
    assert starts == pytest.approx([0, 2, 4, 5, 6.5, 8, 10, 11, 12.5, 14])
    assert [(mark.meter.name, mark.quarters_per_minute) for mark in whole.tempo_marks] == [
        ("4/4", 120),
        ("6/8", 180),
        ("3/4", 120),
        ("4/4", 120),
        ("6/8", 180),
        ("3/4", 120),
    ]


@pytest.mark.parametrize("tempo_bpm", [60, 97, 133.5])
def test_seconds_agree_with_a_midi_file_read_by_pretty_midi(tempo_bpm, tmp_path):
    """The outside check of ticks, tempo map and seconds: written with mido, read by pretty_midi (0.2.11).
    A MIDI file's tempo is in whole microseconds a quarter, hence the tolerance."""
    mido, pretty_midi = pytest.importorskip("mido"), pytest.importorskip("pretty_midi")
    whole = timeline(arrange("C7 F7 | 6/8 F7 | 3/4 G7 | 5/4 C7", bass="walking", count_in_bars=1), [tempo_bpm] * 2)
    track = mido.MidiTrack()
    messages = [
        (mark.tick, 0, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(mark.quarters_per_minute)))
        for mark in whole.tempo_marks
    ]
    basses = [event for event in whole.events if event.part == "bass"]
    for event in basses:
        messages.append((event.tick, 2, mido.Message("note_on", note=event.note, velocity=event.velocity)))
        messages.append((event.tick + event.ticks, 1, mido.Message("note_off", note=event.note)))
    now = 0
    for tick, _, message in sorted(messages, key=lambda entry: entry[:2]):
        track.append(message.copy(time=tick - now))
        now = tick
    mido.MidiFile(ticks_per_beat=960, tracks=[track]).save(tmp_path / "line.mid")
    read = pretty_midi.PrettyMIDI(str(tmp_path / "line.mid")).instruments[0].notes
    notes = sorted(read, key=lambda note: note.start)
    assert [note.pitch for note in notes] == [event.note for event in basses]
    assert [note.start for note in notes] == pytest.approx(whole.seconds(tuple(e.tick for e in basses)), abs=1e-4)
    ends = whole.seconds(tuple(event.tick + event.ticks for event in basses))
    assert [note.end for note in notes] == pytest.approx(ends, abs=1e-4)


def test_importing_the_room_loads_nothing_heavy():
    code = (
        "import sys, companion.groove.timeline, companion.groove.check, companion.groove.names\n"
        "heavy = ('textual', 'mido', 'rtmidi', 'numpy', 'sqlite3', 'miniaudio')\n"
        "print([name for name in heavy if name in sys.modules])"
    )
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "[]"
