"""The MIDI file read back by mido and pretty_midi: every event where the groove says, to the tick."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import mido
import pretty_midi
import pytest

from companion.chart.melody import chorus_melody
from companion.export.midi import ascii_text, midi_bytes, midi_file
from companion.export.options import PART_NAMES, ExportError, ExportOptions, read_parts
from companion.export.performance import chorus_tempos, perform
from companion.groove.timeline import timeline
from companion.session.stand import Stand
from companion.sound.messages import default_voices
from companion.theory.key import Key

PLAYED = {"left hand": "left", "bass": "bass", "click": "click"}


def notes_of(track: mido.MidiTrack) -> Counter:
    """(start tick, ticks, channel from 1, note, velocity), each note-on with the next note-off of its note."""
    at, open_notes, notes = 0, {}, Counter()
    for message in track:
        at += message.time
        if message.type == "note_on" and message.velocity:
            assert (message.channel, message.note) not in open_notes, "struck again before it was let go"
            open_notes[message.channel, message.note] = (at, message.velocity)
        elif message.type in ("note_off", "note_on"):
            start, velocity = open_notes.pop((message.channel, message.note))
            notes[start, at - start, message.channel + 1, message.note, velocity] += 1
    assert not open_notes
    return notes


def written(stand, options, settings, path, choruses=2) -> mido.MidiFile:
    path.write_bytes(midi_bytes(stand, replace(options, choruses=choruses), settings))
    return mido.MidiFile(path)


def track_named(file: mido.MidiFile, name: str) -> mido.MidiTrack:
    return next(track for track in file.tracks if track.name == name)


def test_every_event_is_where_the_timeline_says(all_stands, settings, tmp_path) -> None:
    voices = default_voices()
    for stand in all_stands:
        file = written(stand, ExportOptions(), settings, tmp_path / "song.mid")
        line = timeline(stand.change(demonstrate=True).arrangement(), [stand.tempo_bpm] * 2)
        assert file.ticks_per_beat == 960
        for name, voice in PLAYED.items():
            channel = voices[voice].channel
            said = Counter()
            for event in line.events:
                if event.part == voice:
                    note = event.note
                    if voice == "click":
                        note = voices["click"].accent_note if note else voices["click"].note
                    said[event.tick, event.ticks, channel, note, event.velocity] += 1
            assert notes_of(track_named(file, name)) == said, (stand.song.id, name)


def test_pretty_midi_hears_every_note_at_its_second(on_stand, settings, tmp_path) -> None:
    for song_id in ("ferry-at-half-past-six", "sixpence-and-a-quarter", "goose-weather"):
        stand = on_stand(song_id)
        written(stand, ExportOptions(), settings, tmp_path / "song.mid")
        read = pretty_midi.PrettyMIDI(str(tmp_path / "song.mid"))
        line = timeline(stand.change(demonstrate=True).arrangement(), [stand.tempo_bpm] * 2)
        for instrument in read.instruments:
            if instrument.name not in PLAYED:
                continue
            events = [event for event in line.events if event.part == PLAYED[instrument.name]]
            starts = sorted(line.seconds(tuple(event.tick for event in events)))
            assert sorted(note.start for note in instrument.notes) == pytest.approx(starts, abs=1e-3)
            assert instrument.is_drum == (instrument.name == "click")


def test_the_melody_is_on_a_track_of_its_own(all_stands, settings, tmp_path) -> None:
    sung = 0
    for stand in all_stands:
        file = written(stand.change(swing_ratio=1.0), ExportOptions(), settings, tmp_path / "song.mid", choruses=1)
        notes = [note for note in chorus_melody(stand.song) if note.pitch is not None]
        tracks = [track for track in file.tracks if track.name == "melody"]
        assert bool(tracks) == bool(notes)
        if notes:
            sung += 1
            music = perform(stand, ExportOptions(choruses=1)).music_tick
            heard = sorted((start, note) for start, _, _, note, _ in notes_of(tracks[0]).elements())
            assert heard == sorted((music + note.start_tick, note.pitch.midi) for note in notes), stand.song.id
    assert sung or not any(section.melody for stand in all_stands for section in stand.song.sections.values())


def test_a_written_triplet_is_not_bent_in_a_swing_song(on_stand, settings, tmp_path) -> None:
    stand = on_stand("left-sock-blues")
    opening = next(name for name in stand.song.form)
    section = stand.song.sections[opening]
    melody = "| (3cde f2 cd/e/ ed " + "| z8 " * (len(section.bars) - 1)
    sections = {**stand.song.sections, opening: replace(section, melody=melody)}
    stand = Stand.put(replace(stand.song, sections=sections, feel="swing"), settings).change(swing_ratio=2.0)
    file = written(stand, ExportOptions(), settings, tmp_path / "song.mid", choruses=1)
    notes = notes_of(track_named(file, "melody"))
    music = perform(stand, ExportOptions(choruses=1)).music_tick
    onsets = sorted(start - music for start, *_ in notes)
    assert onsets == [0, 320, 640, 960, 1920, 2400, 2640, 2880, 3520]


def test_the_file_is_as_the_standard_wants_it(all_stands, settings, tmp_path) -> None:
    """Standard MIDI Files 1.0 (RP-001): see the module's head."""
    for stand in all_stands:
        file = written(stand, ExportOptions(), settings, tmp_path / "song.mid")
        assert file.type == 1
        ends = set()
        for track in file.tracks:
            assert track[0].type == "track_name" and track[0].time == 0
            assert [message.type for message in track].count("end_of_track") == 1 and track[-1].type == "end_of_track"
            ends.add(sum(message.time for message in track))
        assert len(ends) == 1, "every track lasts as long as the music"
        conductor, *parts = file.tracks
        assert all(message.is_meta for message in conductor)
        for part in parts:
            assert not {message.type for message in part} & {"set_tempo", "time_signature", "lyrics", "marker"}
        (tmp_path / "song.mid").read_bytes().decode("latin-1")


def test_tempo_and_meter_map(on_stand, settings, tmp_path) -> None:
    """A tempo counts quarters, in 6/8 too: 60 dotted quarters a minute are 90 quarters, 666667 microseconds each."""
    rowing = on_stand("rowing-home-the-long-way").with_tempo(60)
    conductor = written(rowing, ExportOptions(), settings, tmp_path / "rowing.mid").tracks[0]
    assert [message.tempo for message in conductor if message.type == "set_tempo"] == [666667]
    (signature,) = {(m.numerator, m.denominator, m.clocks_per_click) for m in conductor if m.type == "time_signature"}
    assert signature == (6, 8, 36)
    sixpence = on_stand("sixpence-and-a-quarter")
    conductor = written(sixpence, ExportOptions(), settings, tmp_path / "six.mid", choruses=1).tracks[0]
    meters = [(m.numerator, m.denominator) for m in conductor if m.type == "time_signature"]
    assert meters[:3] == [(4, 4), (3, 4), (4, 4)]


def test_markers_stand_at_the_sections(on_stand, settings, tmp_path) -> None:
    conductor = written(
        on_stand("ferry-at-half-past-six"), ExportOptions(), settings, tmp_path / "f.mid", choruses=1
    ).tracks[0]
    at, markers = 0, []
    for message in conductor:
        at += message.time
        if message.type == "marker":
            markers.append((at, message.text))
    bar = 3840
    assert markers == [(0, "Count-in")] + [(at * bar, name) for at, name in ((2, "A"), (10, "A"), (18, "B"), (26, "A"))]


def test_keys_and_titles_beyond_ascii_and_seven_signs(on_stand, settings, tmp_path) -> None:
    stand = on_stand("ferry-at-half-past-six").with_key(Key.parse("G#"))
    stand = replace(stand, song=replace(stand.song, title="Café für zwei – B♭ 日"))
    conductor = written(stand, ExportOptions(), settings, tmp_path / "x.mid").tracks[0]
    assert conductor[0].name == "Cafe fur zwei - Bb ?"
    assert next(message.key for message in conductor if message.type == "key_signature") == "Ab"


def test_a_climb_goes_by_equal_ratios(on_stand, settings, tmp_path) -> None:
    assert chorus_tempos(144, ExportOptions(choruses=3, from_tempo_bpm=100)) == pytest.approx((100, 120, 144))
    assert chorus_tempos(90, ExportOptions(choruses=2)) == (90, 90)
    with pytest.raises(ExportError, match="at least 2 choruses"):
        chorus_tempos(144, ExportOptions(choruses=1, from_tempo_bpm=100))
    stand = on_stand("left-sock-blues").with_tempo(144)
    (tmp_path / "climb.mid").write_bytes(midi_bytes(stand, ExportOptions(choruses=3, from_tempo_bpm=100), settings))
    times, tempos = pretty_midi.PrettyMIDI(str(tmp_path / "climb.mid")).get_tempo_changes()
    assert tempos == pytest.approx([100, 120, 144], rel=1e-5)
    # One bar of count-in and twelve of the blues at 100, then twelve at 120: 4 beats of 0.6 s and of 0.5 s.
    assert times == pytest.approx([0, 13 * 4 * 0.6, 13 * 4 * 0.6 + 12 * 4 * 0.5], abs=1e-3)


def test_only_the_parts_asked_for(on_stand, settings, tmp_path) -> None:
    stand = on_stand("left-sock-blues").change(bass="off", count_in_bars=1)
    file = midi_file(stand, perform(stand, ExportOptions(parts=("left", "bass"))), settings)
    names = [track.name for track in file.tracks[1:]]
    assert names == ["left hand", "bass", "click"]  # the click counts in
    bar = 3840
    assert all(start < bar for start, *_ in notes_of(track_named(file, "click")))
    assert read_parts("Bass, left") == ("left", "bass") and read_parts("melody") == read_parts("right") == ("right",)
    with pytest.raises(ExportError, match="left, bass, click, right"):
        read_parts("left,drums")
    assert set(PART_NAMES) == {"left", "bass", "click", "right"}


def test_ascii_text() -> None:
    assert ascii_text("Ärger über Øl ♯♭") == "Arger uber ?l #b"
