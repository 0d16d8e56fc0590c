"""`companion melody`: the melody of a song bar by bar, with the right hand's fingers and the degrees of the chords."""

from __future__ import annotations

import argparse
import re
from typing import Any

from companion.base.text import figure
from companion.cli import arguments
from companion.cli.printing import plain, print_result
from companion.errors import ExitCode, HandsError, SettingsError
from companion.session.note_places import note_places
from companion.session.right_hand import RightHandNote, right_hand
from companion.session.stand import Stand
from companion.store.own_melody import ROOMS, Fingers, save_fingers, save_room

NOTES = """\
Fingers and room are kept with the song. A note is named by its section, the bar there and its number among those that begin in that bar:
--finger A.3.2=4 has the fourth finger on the second note of bar 3, wherever A comes; A.3.2=free lets the companion choose; bar 0 is the
song's pickup. --room says what gives way where the melody comes closer than three semitones to the left hand: shells takes other shells,
octave puts the melody up an octave; free takes other shells until the left hand knows the song, then the octave.

JSON: {"notes": [{"section", "occurrence", "bar", "beat", "beats", "note", "midi", "finger", "degree"}]}, one chorus as it is played, a note that
is held once. bar: of the section, 0 in the pickup; beat: from 1; beats: its length, both in the meter's unit; degree: of the chord that
sounds where it begins, such as "b7" or "#11", null without one.
"""
_FREE = "free"
_FINGER = re.compile(r"(.+)\.(\d{1,4})\.([1-9]\d{0,3})=([1-5]|free)")


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = NOTES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    arguments.add_song(parser)
    arguments.add_key(parser)
    parser.add_argument("--finger", action="append", default=[], metavar="NOTE=FINGER", help="your own, 1 to 5 or free")
    parser.add_argument("--room", choices=[*ROOMS, _FREE], help="what gives way where the hands come close")
    arguments.add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Keep what is chosen and print the melody as it is played. Raises HandsError where the song has none, SettingsError."""
    paths, settings = arguments.paths_and_settings(options)
    stand = arguments.wanted_stand(options, paths, settings)
    if not stand.has_melody:
        raise HandsError(f"{stand.song.title} has no melody to print: expected one in its chart")
    if options.finger:
        stand = stand.change(own_fingers=_own_fingers(stand, options.finger))
        save_fingers(paths, stand.original.id, stand.own_fingers)
    if options.room:
        stand = stand.with_room_by(None if options.room == _FREE else options.room)
        save_room(paths, stand.original.id, stand.room_by)
    print_result(options, lambda: as_json(stand), lambda: as_text(stand))
    return ExitCode.OK


def _own_fingers(stand: Stand, said: list[str]) -> Fingers:
    """The student's fingers with those of the command line."""
    fingers = dict(stand.own_fingers)
    places = set(note_places(stand.bars, stand.written))
    for text in said:
        match = _FINGER.fullmatch(text.strip())
        if match is None:
            raise SettingsError(f"--finger {text}: expected such as A.3.2=4 or A.3.2=free")
        place = (match[1], int(match[2]), int(match[3]))
        if place not in places:
            raise SettingsError(
                f"--finger {text}: no note of the melody is there; expected a section, a bar of it and a note that begins there"
            )
        if match[4] == _FREE:
            fingers.pop(place, None)
        else:
            fingers[place] = int(match[4])
    return fingers


def as_json(stand: Stand) -> dict[str, Any]:
    """Every note of one chorus, a held one once with its whole length. bar 0: the pickup. beat: from 1, in the meter's unit. degree: null where
    no chord sounds."""
    return {
        "notes": [
            {
                "section": each.section,
                "occurrence": each.occurrence,
                "bar": each.bar,
                "beat": plain(each.beat),
                "beats": plain(each.beats),
                "note": str(each.note.pitch),
                "midi": each.midi,
                "finger": each.finger,
                "degree": each.degree,
            }
            for each in right_hand(stand)
        ]
    }


def as_text(stand: Stand) -> str:
    """A head line, then a line a note under the name of its section."""
    song = stand.song
    lines = [f"{song.title}   {song.key}   {song.meter}   {' '.join(song.form)}"]
    if stand.room is not None and stand.room.said:
        lines.append(stand.room.said)
    place: tuple[str, int] | None = None
    before: RightHandNote | None = None
    for each in right_hand(stand):
        if (each.section, each.occurrence) != place:
            place = (each.section, each.occurrence)
            name = f"{each.section} ({each.occurrence})" if song.form.count(each.section) > 1 else each.section
            lines += ["", name, "bar  beat   note  beats  finger  degree  chord"]
        is_new = before is None or (before.section, before.occurrence, before.bar) != (*place, each.bar)
        symbol = each.chord.symbol if each.chord and (is_new or before is None or before.chord != each.chord) else ""
        where = f"{each.bar:>3}" if is_new else "   "
        row = f"{figure(each.beat):<5}  {each.note.pitch!s:<4}  {figure(each.beats):<5}  {each.finger:<6}  {each.degree or '':<6}"
        lines.append(f"{where}  {row}  {symbol}".rstrip())
        before = each
    return "\n".join(lines)
