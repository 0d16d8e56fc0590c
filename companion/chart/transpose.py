"""A song in another key.

Every section moves by the same interval, and its chords with it, spelled for the key they arrive in. A section's own
key that would need more than six sharps or flats takes its usual spelling (B rather than Cb); the song's key is
spelled as it was asked for. Pins stay: the name of a shell does not depend on the key. Melodies move along, the shorter
way up or down; only a text that is no melody, or that would leave the keyboard, is set aside. A song that was moved before is
moved from where it was written: back there its chords are spelled as they were.
"""

from __future__ import annotations

from dataclasses import replace

from companion.chart.melody import pickup_ticks_of
from companion.chart.melody_text import move_melody
from companion.chart.model import PlacedChord, Section, Song
from companion.errors import SettingsError
from companion.theory.key import Key, move_tone
from companion.theory.pitch import Tone
from companion.theory.symbols import move_chord

_MOST_SIGNS = 6  # sharps or flats in a signature (common practice: Gb or F#, but B rather than Cb)


def transpose(song: Song, key: Key | Tone | str) -> Song:
    """The song with its tonic on that of `key`; the mode stays the song's own: "Eb" puts a minor song in E flat minor.

    Raises SettingsError where a text is not a key.
    """
    if isinstance(key, str):
        try:
            key = Key.parse(key)
        except ValueError as error:
            raise SettingsError(str(error)) from None
    new_key = Key(key.tonic if isinstance(key, Key) else key, song.key.mode)
    if new_key == song.key:
        return song
    if song.written is not None and song.written[2] is song.sections:  # nothing was changed in the other key
        song = replace(song, key=song.written[0], sections=song.written[1], written=None)
    if new_key == song.key:
        return song
    sections = {
        name: _move_section(section, song.key, new_key, pickup_ticks_of(song, name))
        for name, section in song.sections.items()
    }
    return replace(song, key=new_key, sections=sections, written=(song.key, song.sections, sections))


def melody_shift(old: Tone, new: Tone) -> int:
    """Semitones a melody moves with its tonic: the shorter way, so that going back is the same way back."""
    shift = (new.pc - old.pc + 6) % 12 - 6
    return 6 if shift == -6 and old.pc < new.pc else shift


def _move_section(section: Section, old: Key, new: Key, pickup_ticks: int) -> Section:
    key = new if section.key == old else _move_key(section.key, old, new)
    bars = tuple(replace(bar, chords=_move_chords(bar.chords, section.key, key)) for bar in section.bars)
    pickup_chords = _move_chords(section.pickup_chords, section.key, key)
    melody = section.melody and move_melody(
        section.melody, section.meter, section.key, key, melody_shift(old.tonic, new.tonic), pickup_ticks
    )
    return replace(section, bars=bars, key=key, melody=melody, pickup_chords=pickup_chords)


def _move_key(key: Key, old: Key, new: Key) -> Key:
    moved = Key(move_tone(key.tonic, old.tonic, new.tonic), key.mode)
    return moved if abs(moved.fifths) <= _MOST_SIGNS else Key.usual(moved.tonic.pc, moved.mode)


def _move_chords(chords: tuple[PlacedChord, ...], old: Key, new: Key) -> tuple[PlacedChord, ...]:
    return tuple(
        replace(placed, chord=move_chord(placed.chord, old.tonic, new.tonic, new)) if placed.chord else placed
        for placed in chords
    )
