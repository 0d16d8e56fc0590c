"""`companion play SONG`: a song played without the app, one line a bar, for scripts and for screen readers. What is played is remembered."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from dataclasses import replace

from companion.cli import arguments
from companion.cli.lines.events import Events
from companion.cli.lines.sitting import Sitting, sit
from companion.cli.lines.telling import Teller
from companion.errors import ExitCode, SoundError
from companion.session.keys import KEYS, ORDERS
from companion.session.overview import open_log
from companion.session.performance import chosen_choruses
from companion.session.playback import Link
from companion.session.stand import shell_words
from companion.sound.link import SoundLink
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import Paths
from companion.store.settings import Settings
from companion.tui.draw.view import View

SPEECH_WITHIN_S = 20.0  # where names take longer to speak, the first of them are missing
NOTES = """\
A song opens as you left it, in the app or here, and is left as it was played; --anew takes it as it is written. JSON: an object a line, as
`companion practise` tells it.
"""


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = NOTES
    arguments.add_song(parser, chords=True)
    parser.add_argument("--anew", action="store_true", help="the song as it is written, not as you left it")
    parser.add_argument(
        "--choruses",
        type=arguments.whole(0, 10_000),
        metavar="N",
        help="0 plays until ctrl-c; else as often as was chosen for the whole tune, once at first",
    )
    parser.add_argument(
        "--keys",
        choices=list(ORDERS),
        help="go through all twelve keys, --choruses in each; with 0 round and round, one in each",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object a line and nothing else")
    arguments.add_playing(parser)


def run(options: argparse.Namespace) -> int:
    """Play until the choruses are over or Ctrl+C. Raises SoundError where a named port is not there or the sound fails on the way."""
    paths, settings = arguments.paths_and_settings(options)
    song = arguments.wanted_song(options, paths, settings)
    log = PracticeLog.in_memory() if options.song is None else open_log(paths)[0]
    link = SoundLink(arguments.wanted_sound(settings, options, paths), str(paths.sound_faults))
    with log:
        # There is no key to press while it plays, so nobody is missed.
        settings = replace(settings, practice=replace(settings.practice, rounds_alone=0))
        sitting = make_sitting(paths, settings, link, log, options)
        sitting.put(song, as_left=not options.anew)
        sit(
            sitting,
            link,
            lambda output: arguments.check_sound(output, options),
            lambda events: play(sitting, events, options),
        )
    return sitting.over or ExitCode.OK


def make_sitting(
    paths: Paths,
    settings: Settings,
    link: Link,
    log: PracticeLog,
    options: argparse.Namespace,
    clock: Callable[[], float] = time.perf_counter,
) -> Sitting:
    """What plays. A line of chords is no song, so nothing of it is kept."""

    def ended(sitting: Sitting) -> None:
        if sitting.over is None:
            sitting.over = ExitCode.SOUND if sitting.fault else ExitCode.OK

    return Sitting(
        paths,
        settings,
        link,
        log,
        PlayTeller(sys.stdout, sys.stderr, as_json=options.json),
        clock=clock,
        wants=lambda stand: arguments.as_played(arguments.as_asked(stand, options), options),
        ended=ended,
        remembers=options.chords is None,
    )


def play(sitting: Sitting, events: Events, options: argparse.Namespace) -> None:
    """Play to the end, telling each bar as it begins. Raises SoundError where the sound fails on the way."""
    conductor, order = sitting.conductor, options.keys
    sitting.teller.song(conductor.stand, conductor.kind)
    if conductor.stand.calls != "off":
        sitting.calls_news()
        sitting.await_speech(SPEECH_WITHIN_S)
    if order is not None:
        sitting.did(conductor.through_all_keys(order, options.choruses or 1))
        passes = KEYS if options.choruses is None else KEYS * options.choruses
    else:
        passes = chosen_choruses(conductor.stand) if options.choruses is None else options.choruses
    sitting.did(conductor.start(passes=passes))
    if sitting.run(events) == ExitCode.SOUND:
        raise SoundError(sitting.fault)


class PlayTeller(Teller):
    """A line a bar: "chorus 1  A bar 5  Dm7 root-third D3 F3; G7 root-seventh G2 F3"."""

    two_by = "--pattern two"

    def _sounding(self, view: View, index: int, turn: int) -> str:
        bar = view.stand.bars[index]
        chords = (
            " ".join((placed.symbol, *shell_words(choice.shell).split()))
            for placed, choice in view.stand.choices_at(index)
        )
        return f"chorus {turn}  {bar.section} bar {bar.bar}  {'; '.join(chords)}"
