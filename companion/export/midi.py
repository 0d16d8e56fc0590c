"""A Standard MIDI File, format 1: first the conductor's track with tempo, meter, key and markers, then one named
track a part.

Sources: Standard MIDI Files 1.0 (MIDI Association, RP-001): the tempo map belongs to the first track of format 1, a
track's name stands at time 0, every track ends with "end of track"; a tempo counts quarters. Text is kept to ASCII,
the only code the standard promises to every reader.
"""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from companion.base.text import shown
from companion.export.options import PART_NAMES, ExportOptions
from companion.export.performance import DEFAULT_CHORUSES, key_changes, markers, perform
from companion.groove.model import NoteEvent
from companion.groove.ride import CYMBALS
from companion.groove.timeline import Timeline
from companion.session.sound_settings import sound_config
from companion.session.stand import Stand
from companion.sound.messages import Voice
from companion.theory.key import Key
from companion.theory.meter import TICKS_PER_QUARTER

if TYPE_CHECKING:
    import mido

    from companion.store.settings import Settings

_DRUMS = 10  # the channel of percussion, where a note number names an instrument
_CC_VOLUME = 7
_MOST_SIGNS = 7  # sharps or flats that a key signature can say
_ASCII = {"♭": "b", "♯": "#", "’": "'", "‘": "'", "“": '"', "”": '"', "–": "-", "—": "-", "…": "..."}


def midi_bytes(stand: Stand, options: ExportOptions, settings: Settings) -> bytes:
    """The stand's loop as a MIDI file: one chorus where no number is asked for, or as many as a climb needs."""
    choruses = 1 if options.from_tempo_bpm is None else DEFAULT_CHORUSES
    into = io.BytesIO()
    midi_file(stand, perform(stand, options, choruses), settings).save(file=into)
    return into.getvalue()


def midi_file(stand: Stand, performance: Timeline, settings: Settings) -> mido.MidiFile:
    """The performance, to the tick; one track for every part that has notes."""
    import mido  # 39 ms

    voices = sound_config(settings).voices
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="ascii")
    file.tracks.append(_track(_conductor(stand, performance), performance.end_tick))
    for part, name in PART_NAMES.items():
        events = [event for event in performance.events if event.part == part]
        if events:
            file.tracks.append(_track(_part(name, events, voices[part]), performance.end_tick))
    return file


def _conductor(stand: Stand, performance: Timeline) -> list[tuple[int, mido.MetaMessage]]:
    from mido import MetaMessage, bpm2tempo

    timed = [(0, MetaMessage("track_name", name=ascii_text(stand.song.title)))]
    for change in performance.tempo_marks:
        meter = change.meter
        # The metronome of the standard clicks every so many clocks, 24 to the quarter.
        clocks = max(1, 24 * meter.pulse_ticks // TICKS_PER_QUARTER)
        signature = MetaMessage(
            "time_signature", numerator=meter.beats, denominator=meter.unit, clocks_per_click=clocks
        )
        timed.append((change.tick, signature))
        timed.append((change.tick, MetaMessage("set_tempo", tempo=bpm2tempo(change.quarters_per_minute))))
    for tick, key in key_changes(stand, performance.bars):
        timed.append((tick, MetaMessage("key_signature", key=signed_key(key).name)))
    timed += [(tick, MetaMessage("marker", text=ascii_text(words))) for tick, words in markers(stand, performance.bars)]
    return timed


def _part(name: str, events: Sequence[NoteEvent], voice: Voice) -> list[tuple[int, mido.Message]]:
    from mido import Message, MetaMessage

    channel = voice.channel - 1
    timed: list[tuple[int, mido.Message]] = [(0, MetaMessage("track_name", name=name))]
    if voice.program and voice.channel != _DRUMS:
        timed.append((0, Message("program_change", channel=channel, program=voice.program - 1)))
    timed.append((0, Message("control_change", channel=channel, control=_CC_VOLUME, value=round(voice.volume * 127))))
    for event in events:
        note = event.note
        if event.part == "click" and note not in CYMBALS:
            note = voice.accent_note if note else voice.note
        timed.append((event.tick, Message("note_on", channel=channel, note=note, velocity=event.velocity)))
        timed.append((event.tick + event.ticks, Message("note_off", channel=channel, note=note)))
    return timed


def _track(timed: Sequence[tuple[int, mido.Message]], end_tick: int) -> mido.MidiTrack:
    """Ticks from the start to ticks since the message before; a note ends before the next one starts."""
    from mido import MetaMessage, MidiTrack

    track, at = MidiTrack(), 0
    for tick, message in sorted(timed, key=lambda pair: (pair[0], pair[0] > 0 and pair[1].type != "note_off")):
        track.append(message.copy(time=tick - at))
        at = tick
    track.append(MetaMessage("end_of_track", time=max(0, end_tick - at)))
    return track


def signed_key(key: Key) -> Key:
    """The key itself, or its usual spelling where a signature cannot say it (G# major would need eight sharps)."""
    return key if abs(key.fifths) <= _MOST_SIGNS else Key.usual(key.tonic.pc, key.mode)


def ascii_text(text: str, signs: Mapping[str, str] = _ASCII) -> str:
    """The nearest ASCII: accents are left off, what has no likeness becomes a question mark."""
    plain = "".join(signs.get(sign, sign) for sign in shown(text))
    letters = (sign for sign in unicodedata.normalize("NFKD", plain) if not unicodedata.combining(sign))
    return "".join(letters).encode("ascii", "replace").decode("ascii")
