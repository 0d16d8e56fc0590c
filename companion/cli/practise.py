"""`companion practise SONG`: a whole hour line by line without the app, for scripts and for screen readers."""

from __future__ import annotations

import argparse
import os
import sys
import textwrap

from companion.base.files import write_text
from companion.cli import arguments
from companion.cli.lines import commands
from companion.cli.lines.events import LinkEvents
from companion.cli.lines.sitting import Sitting, sit
from companion.cli.lines.telling import NAMES, TELLS, Teller
from companion.errors import ExitCode, SettingsError
from companion.session.overview import open_log
from companion.session.untold import take_back
from companion.sound.link import SoundLink
from companion.store.library import find_song
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import Paths
from companion.store.settings import Settings

_WIDTH = 79
_TYPED = """\
Type a line while it runs; a script may write the same lines to it, and "wait" before the one that is to come later. Bars are those of the
chorus (3 5-6) or of a section (A 3). Where no keyboard is heard the music goes on and passes wait for your word; after three rounds without
a line it stops. Ctrl+C and the end of input leave; what was done is kept. A script whose lines could not all be obeyed
ends with 1."""
_JSON = """\
JSON (--json): an object a line; "told" says of what, "words" it in sentences. Besides these, sound: "output". song: "id", "title", "key",
"meter", "tempo", "loop", "hands", "way". drill: "way", "finished". begins: "tempo" and the first bar. bar: "pass" from 1 and the bar. chart,
look, waits: the bar. pass: "heard", "fact" (ran, slipped, broke off, or none while nobody has said so), "way", "loop", "tempo", "right" (a
share; null where it was not heard), "clean", "slipped" ("section", "bar", "number", "verdict"), "says", "drill", "finished". item: "number",
"minutes", "done", "kind", "song", "head". key: "key". loop: "loop", "bars". tempo: "tempo". volume: "voice", "percent". untold: "count" of passes. shell: "shell",
"notes", "costs". chord: "symbol", "notes", "fingers". help: "line". A bar: "section", "bar" in it, "number" in the chorus, and "chords" as
far as they are shown: "symbol", "shell", "notes". Nothing but words: asks, fault, rest, said, shells, stopped, left."""


def _notes() -> str:
    lines = [(f"{each.name} {each.takes}".strip(), each.does) for each in commands.COMMANDS]
    table = [
        textwrap.fill(does, _WIDTH, initial_indent=f"  {line:<22} ", subsequent_indent=" " * 25) for line, does in lines
    ]
    typed, json = (textwrap.fill(text, _WIDTH) for text in (_TYPED, _JSON))
    return "\n".join([typed, "", "lines:", *table, "", json])


_LEFT = "What was done is kept."


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = _notes()
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("song", nargs="?", metavar="SONG", help=arguments.SONG_HELP)
    parser.add_argument(
        "--today",
        nargs="?",
        type=arguments.whole(1, 99),
        const=0,
        metavar="N",
        help="item N of today's plan instead of a song, begun at once; without N the next one",
    )
    parser.add_argument("--way", metavar="WAY", help="how to practise, such as memory, tempo or free; see way below")
    parser.add_argument("--anew", action="store_true", help="the song as it is written, not as you left it")
    parser.add_argument(
        "--tell", choices=TELLS, default=TELLS[0], help="each bar as it begins, a bar ahead of it, or only passes"
    )
    parser.add_argument("--names", choices=NAMES, default=NAMES[0], help="spoken: B flat seven instead of Bb7")
    parser.add_argument("--json", action="store_true", help="one JSON object a line and nothing else")
    arguments.add_playing(parser)


def run(options: argparse.Namespace) -> int:
    """Practise until the student leaves. Raises SettingsError, SongNotFound, SoundError and the like."""
    if (options.song is None) == (options.today is None):
        raise SettingsError("Expected either a SONG or --today, one of the two; `companion songs` lists the songs.")
    paths, settings = arguments.paths_and_settings(options)
    log, _ = open_log(paths)
    take_back(log)
    teller = Teller(sys.stdout, as_json=options.json, names=options.names, tells=options.tell)
    link = SoundLink(arguments.wanted_sound(settings, options, paths), str(paths.sound_faults))
    with log:
        sitting = _sitting(options, paths, settings, link, log, teller)
        _cautions_once(sitting)
        if options.song is not None:
            sitting.put(find_song(options.song, paths, settings), as_left=not options.anew)
        sit(
            sitting,
            link,
            lambda output: arguments.check_sound(output, options),
            lambda events: _practise(sitting, options, events),
        )
    teller.tell("left", _LEFT)
    is_script = sys.stdin is None or not sys.stdin.isatty()
    return int(sitting.over or (ExitCode.FAULT if sitting.faulty and is_script else ExitCode.OK))


def _sitting(
    options: argparse.Namespace, paths: Paths, settings: Settings, link: SoundLink, log: PracticeLog, teller: Teller
) -> Sitting:
    return Sitting(
        paths,
        settings,
        link,
        log,
        teller,
        obey=commands.obey,
        wants=lambda stand: arguments.as_played(arguments.as_asked(stand, options), options),
    )


def _cautions_once(sitting: Sitting) -> None:
    """As the app shows them at its first start; never twice."""
    if os.path.exists(sitting.paths.cautions_shown):
        return
    sitting.teller.cautions()
    try:
        write_text(sitting.paths.cautions_shown, "The cautions were shown.\n")
    except OSError as error:
        sitting.say(f"{sitting.paths.cautions_shown}: cannot be written ({error.strerror}); they come again.")


def _practise(sitting: Sitting, options: argparse.Namespace, events: LinkEvents) -> None:
    begin(sitting, options)
    if sitting.over is None:
        events.read_lines()
        sitting.run(events)


def begin(sitting: Sitting, options: argparse.Namespace) -> None:
    """What the command line asks for, before anything is typed. Raises SettingsError."""
    if options.today is not None:
        sitting.todays.start(options.today or None)
        if not sitting.is_set:  # it was a rest
            sitting.over = ExitCode.OK
    elif options.way:
        commands.obey(sitting, f"way {options.way}")
    else:
        sitting.teller.way(sitting.conductor)
