"""What several commands read from their command lines."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from companion.base import rules
from companion.base.rules import Rule
from companion.base.text import quoted
from companion.chart.lesson import HANDS
from companion.cli.printing import print_aside
from companion.errors import LogError, SettingsError, SoundError
from companion.store.paths import Paths, find_paths
from companion.store.settings import Settings, load_settings
from companion.theory.key import Key
from companion.theory.pitch import Pitch

if TYPE_CHECKING:  # what needs them imports them, so that a command that opens no song begins at once
    from companion.chart.model import Song
    from companion.groove.model import Click
    from companion.hands.hand import Hand
    from companion.session.stand import Stand
    from companion.sound.messages import SoundConfig
    from companion.store.log.practice_log import PracticeLog

T = TypeVar("T")
SONG_HELP = "a song's id, its title, or the path of a chart file"


def whole(low: int, high: int) -> Callable[[str], int]:
    """An argparse type: a whole number in a range."""
    return _typed(int, rules.whole(low, high))


def number(low: float, high: float) -> Callable[[str], float]:
    """An argparse type: a number in a range."""
    return _typed(float, rules.number(low, high))


def _typed(parse: Callable[[str], Any], rule: Rule) -> Callable[[str], Any]:
    def read(text: str) -> Any:
        try:
            return rule.read(parse(text))
        except ValueError:
            raise argparse.ArgumentTypeError(f"{text!r}: expected {rule.expected}") from None

    return read


def pitch(text: str) -> int:
    """An argparse type: "E2" -> 40."""
    try:
        return Pitch.parse(text).midi
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from error


def key(text: str) -> Key:
    """An argparse type: "Bb", "F#m"."""
    try:
        return Key.parse(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from error


def add_hand(parser: argparse.ArgumentParser) -> None:
    """The options that `with_hand` reads."""
    hand = parser.add_argument_group("your hand (else as in the settings)")
    hand.add_argument("--low", type=pitch, metavar="PITCH", help="lowest root, such as E2")
    hand.add_argument("--high-root", type=pitch, metavar="PITCH", help="highest root, such as F3")
    hand.add_argument("--high", type=pitch, metavar="PITCH", help="highest upper note, such as C4")
    hand.add_argument("--reach", type=whole(3, 19), metavar="N", help="widest interval in semitones; 12 is an octave")


def add_hands(parser: argparse.ArgumentParser, *, rest: bool = True) -> None:
    """Which hands the student plays with; `wanted_stand` reads it. rest: whether the companion may play the other one."""
    parser.add_argument("--hands", choices=sorted(HANDS), help="the hands you play with")
    if rest:
        parser.add_argument("--rest", choices=["on", "off"], help="on: the companion plays your other hand's part")
    add_voices(parser)


def paths_and_settings(options: argparse.Namespace) -> tuple[Paths, Settings]:
    """Where things are, and what is set, with the hand that is asked for over it. Raises SettingsError."""
    paths = find_paths()
    settings = load_settings(paths)
    return paths, with_hand(settings, options) if hasattr(options, "reach") else settings


def add_song(parser: argparse.ArgumentParser, *, chords: bool = False) -> None:
    """The song; `wanted_song` reads it. chords: or a line of them instead."""
    parser.add_argument("song", nargs="?" if chords else None, metavar="SONG", help=SONG_HELP)
    if chords:
        parser.add_argument("--chords", metavar="LINE", help='a line of bars instead of a song: "Dm7 G7 | Cmaj7 A7"')


def add_json(parser: argparse.ArgumentParser) -> None:
    """Whether it is told to a program."""
    words = 'print JSON and nothing else; where something is at fault {"fault": a sentence}, said beside it too'
    parser.add_argument("--json", action="store_true", help=words)


def add_key(parser: argparse.ArgumentParser, words: str = "move it to this key, such as Eb or F#m") -> None:
    """The key that is asked for."""
    parser.add_argument("--key", type=key, metavar="KEY", help=words)


def add_loop(parser: argparse.ArgumentParser) -> None:
    """The loop that is asked for."""
    parser.add_argument("--loop", metavar="BARS", help="a section's name, or bars of the chorus such as 5-8")


def add_voices(parser: argparse.ArgumentParser) -> None:
    """What goes with the melody; `as_asked` reads it."""
    parser.add_argument(
        "--voices",
        type=whole(1, 4),
        metavar="N",
        help="notes in the right hand with the melody, 1 for the melody alone",
    )
    parser.add_argument(
        "--tensions", choices=["on", "off"], help="on: ninths, elevenths and thirteenths too, from three voices on"
    )


def add_playing(parser: argparse.ArgumentParser) -> None:
    """How a song is to be played; `as_asked` and `as_played` read it."""
    from companion.groove.names import BASS_STYLES, CLICK_MODES, PATTERN_NAMES
    from companion.session.stand import TEMPO_LIMITS

    add_loop(parser)
    add_key(parser)
    parser.add_argument("--tempo", type=number(*TEMPO_LIMITS), metavar="BPM", help="beats a minute")
    parser.add_argument("--pattern", choices=list(PATTERN_NAMES), help="the left hand's rhythm")
    parser.add_argument("--click", choices=list(CLICK_MODES))
    parser.add_argument("--drop", metavar="N/M", help="the click is silent for the last N bars of every M")
    parser.add_argument("--bass", choices=list(BASS_STYLES))
    parser.add_argument("--laid-back", action="store_true", help="a melody that swings a little behind the beat")
    parser.add_argument("--count-in", type=whole(0, 2), metavar="BARS", help="0, 1 or 2 bars, else as in the settings")
    add_hands(parser)
    parser.add_argument(
        "--calls", choices=["on", "off"], help="on: each chord's name a beat ahead, up to 80 beats a minute"
    )
    parser.add_argument("--shells", choices=["on", "off"], help="on: the shells sound")
    sound = parser.add_argument_group("sound (else as in the settings)")
    sound.add_argument("--sound", choices=["auto", "builtin", "midi", "silent"])
    sound.add_argument("--midi-out", default="", metavar="NAME", help="part of a port's name; asks for MIDI")
    sound.add_argument("--trace", default="", metavar="FILE", help="a CSV file: what, channel, note, due_s, sent_s")
    add_hand(parser)


def wanted_sound(settings: Settings, options: argparse.Namespace, paths: Paths) -> SoundConfig:
    """The settings' sound with what `add_playing` takes over it."""
    from companion.session.sound_settings import sound_config

    return sound_config(
        settings, mode=options.sound or "", midi_out=options.midi_out, trace=options.trace, kept=str(paths.notes)
    )


def check_sound(output: str, options: argparse.Namespace) -> None:
    """output: what sounds. Raises SoundError where the MIDI port that was named is not there."""
    if options.midi_out and output != "midi":
        raise SoundError(
            f"There is no MIDI output with {quoted(options.midi_out)} in its name; `companion devices` lists them."
        )


def with_hand(settings: Settings, options: argparse.Namespace) -> Settings:
    """The settings with the hand asked for. Raises SettingsError where it contradicts itself."""
    wanted = {
        "lowest_root": options.low,
        "highest_root": options.high_root,
        "highest_top": options.high,
        "reach": options.reach,
    }
    hand: Hand = replace(settings.hand, **{name: value for name, value in wanted.items() if value is not None})
    return replace(settings, hand=hand)


def wanted_song(options: argparse.Namespace, paths: Paths, settings: Settings) -> Song:
    """The song named, or the line of chords given instead of one."""
    line = getattr(options, "chords", None)
    if hasattr(options, "chords") and (line is None) == (options.song is None):
        raise SettingsError('Expected either a SONG or --chords "Dm7 G7 | Cmaj7 A7", one of the two.')
    if line is None:
        from companion.store.library import find_song

        return find_song(options.song, paths, settings)
    from companion.chart.reader import song_from_line

    return song_from_line(line)


def wanted_stand(options: argparse.Namespace, paths: Paths, settings: Settings) -> Stand:
    """The song that `wanted_song` finds, on a stand, in the key, with the loop and for the hands that are asked for. Raises HandsError."""
    from companion.session.own import own_stand
    from companion.session.stand import Stand

    song = wanted_song(options, paths, settings)
    if getattr(options, "chords", None) is None:
        stand = own_stand(song, settings, paths, _keys_learned(paths, song))
    else:
        stand = Stand.put(song, settings)
    return as_asked(stand, options)


def as_asked(stand: Stand, options: argparse.Namespace) -> Stand:
    """The stand in the key, with the loop and for the hands that are asked for. Raises HandsError, SettingsError, ShellError."""
    if options.key:
        stand = stand.with_key(options.key)
    hands, rest = getattr(options, "hands", None), getattr(options, "rest", None)
    if hands or rest:
        stand = stand.with_hands(hands or stand.hands, None if rest is None else rest == "on")
    voices, tensions = getattr(options, "voices", None), getattr(options, "tensions", None)
    if voices or tensions:
        own = stand.arranged
        stand = stand.change(
            arranged=replace(
                own, voices=voices or own.voices, tensions=own.tensions if tensions is None else tensions == "on"
            )
        )
    loop = getattr(options, "loop", None)
    if not loop:
        return stand
    from companion.session.loops import find_loop

    return find_loop(stand, loop)


def _keys_learned(paths: Paths, song: Song) -> frozenset[int]:
    """In which keys the left hand knows the song; a log that cannot be read knows nothing."""
    from companion.session.own import keys_learned

    with contextlib.suppress(LogError):
        return from_log(paths, lambda log: keys_learned(log, song), frozenset())
    return frozenset()


def from_log(paths: Paths, read: Callable[[PracticeLog], T], none: T) -> T:
    """What the practice log says. Looking makes no log: none where there is none yet. Raises LogError."""
    if not paths.log.exists():
        return none
    from companion.session.overview import open_log  # sqlite3

    log, messages = open_log(paths)
    with log:
        found = read(log)
    print_aside([*messages, *log.messages])
    return found


def with_playing(stand: Stand, options: argparse.Namespace) -> Stand:
    """The stand as it is to be played: tempo, pattern, click, bass and count-in."""
    if options.tempo:
        stand = stand.with_tempo(options.tempo)
    return stand.change(
        pattern=options.pattern or stand.pattern,
        click=replace(stand.click, mode=options.click or stand.click.mode),
        bass=options.bass or stand.bass,
        laid_back=stand.laid_back or options.laid_back,
        count_in_bars=stand.count_in_bars if options.count_in is None else options.count_in,
    )


def as_played(stand: Stand, options: argparse.Namespace) -> Stand:
    """The stand as it is to be heard while one plays, beside what `as_asked` reads. Raises SettingsError."""
    stand = with_playing(stand, options)
    return stand.change(
        click=_with_drop(stand.click, options.drop) if options.drop else stand.click,
        calls=stand.calls if options.calls is None else "always" if options.calls == "on" else "off",
        demonstrate=stand.demonstrate if options.shells is None else options.shells == "on",
    )


def _with_drop(click: Click, text: str) -> Click:
    bars, _, every = text.partition("/")
    if not (bars.isdecimal() and every.isdecimal() and 0 < int(bars) < int(every) <= 64):
        raise SettingsError(f"--drop {text!r}: expected such as 2/4, the last 2 bars of every 4, at most of 64")
    return replace(click, drop_bars=int(bars), drop_every=int(every))
