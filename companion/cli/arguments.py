"""What several commands read from their command lines."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from companion.base import rules
from companion.base.rules import Rule
from companion.chart.lesson import HANDS
from companion.chart.model import Song
from companion.errors import LogError, SettingsError
from companion.hands.hand import Hand
from companion.session.loops import find_loop
from companion.session.own import keys_learned, own_stand
from companion.session.stand import Stand
from companion.store.library import find_song
from companion.store.paths import Paths
from companion.store.settings import Settings
from companion.theory.key import Key
from companion.theory.pitch import Pitch

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
    if (line is None) == (options.song is None):
        raise SettingsError('Expected either a SONG or --chords "Dm7 G7 | Cmaj7 A7", one of the two.')
    if line is None:
        return find_song(options.song, paths, settings)
    from companion.chart.reader import song_from_line

    return song_from_line(line)


def wanted_stand(options: argparse.Namespace, paths: Paths, settings: Settings) -> Stand:
    """The song that `wanted_song` finds, on a stand, in the key, with the loop and for the hands that are asked for. Raises HandsError."""
    song = wanted_song(options, paths, settings)
    if getattr(options, "chords", None) is None:
        stand = own_stand(song, settings, paths, _keys_learned(paths, song))
    else:
        stand = Stand.put(song, settings)
    if options.key:
        stand = stand.with_key(options.key)
    hands, rest = getattr(options, "hands", None), getattr(options, "rest", None)
    if hands or rest:
        stand = stand.with_hands(hands or stand.hands, None if rest is None else rest == "on")
    loop = getattr(options, "loop", None)
    return find_loop(stand, loop) if loop else stand


def _keys_learned(paths: Paths, song: Song) -> frozenset[int]:
    """In which keys the left hand knows the song. Looking makes no log, and one that cannot be read knows nothing."""
    if not paths.log.exists():
        return frozenset()
    from companion.session.overview import open_log  # sqlite3

    log, _ = open_log(paths)
    with log, contextlib.suppress(LogError):
        return keys_learned(log, song)
    return frozenset()


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
