"""`companion` alone, and `companion stand SONG`: the app. The sound process starts before the app takes the terminal."""

from __future__ import annotations

import contextlib
import gc
import signal
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING

from companion.errors import ExitCode, SettingsError
from companion.session.sound_settings import sound_config
from companion.sound.link import SoundLink
from companion.store.exports import started_in
from companion.store.paths import Paths, find_paths
from companion.store.settings import Settings, load_settings, shipped_settings

if TYPE_CHECKING:
    import argparse

    from companion.theory.key import Key


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    from companion.cli import arguments

    parser.add_argument("song", metavar="SONG", help=arguments.SONG_HELP)
    parser.add_argument("--key", type=arguments.key, metavar="KEY", help="move it to this key, such as Eb or F#m")


def settings_or_shipped(paths: Paths) -> tuple[Settings, str]:
    """The student's settings, or what is wrong with them and the shipped ones: practice goes on, the file is left alone."""
    try:
        return load_settings(paths), ""
    except SettingsError as error:
        return shipped_settings(paths), f"{error}\nGoing on with the settings as shipped."


def run(options: argparse.Namespace) -> int:
    """Open the app with that song on the stand."""
    return open_app(options.song, options.key)


def open_app(song_name: str = "", key: Key | None = None) -> int:
    """song_name: of the song to put on the stand, in `key` where one is given."""
    streams = (sys.stdin, sys.stdout, sys.__stderr__)  # Textual draws on stderr
    if not all(stream is not None and stream.isatty() for stream in streams):
        raise SettingsError("The app needs a terminal; without one use `companion play SONG`.")
    with _ctrl_c_ends_it():
        return _open_app(song_name, key)


@contextlib.contextmanager
def _ctrl_c_ends_it() -> Iterator[None]:
    """Until the app has the terminal, and there is something to put in order, Ctrl+C just ends the process; the sound process
    sees it go. A KeyboardInterrupt could come in the middle of an import, and some turn it into another error. Once the app has
    left, the little that remains is not interrupted (tui/terminal.py)."""
    before = signal.signal(signal.SIGINT, signal.SIG_DFL)
    try:
        yield
    finally:
        if signal.getsignal(signal.SIGINT) == signal.SIG_DFL:
            signal.signal(signal.SIGINT, before)


def _open_app(song_name: str, key: Key | None) -> int:
    gc.disable()  # coming up leaves no garbage, and looking for some takes 20 of 335 ms; on again soon after the first paint
    paths = find_paths()
    settings, fault = settings_or_shipped(paths)
    song = None
    if song_name:
        from companion.store.library import find_song

        song = find_song(song_name, paths, settings)
    link = SoundLink(sound_config(settings, kept=str(paths.notes)), str(paths.sound_faults))
    link.start()
    try:
        from companion.tui.app import CompanionApp  # Textual: 170 ms, while the sound process starts

        app = CompanionApp(paths, settings, link, song, fault=fault, key=key, started=started_in())
        app.run()
        if app.parting:
            print(app.parting, file=sys.stderr)
        return int(app.return_code or ExitCode.OK)
    finally:
        gc.freeze()  # all is over: looking through what there was for garbage holds up whoever leaves, a quarter of a second on a busy machine
        link.close()
