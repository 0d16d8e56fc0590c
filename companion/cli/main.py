"""The command line: one table of commands, each in a module that is imported when it is called. Nothing is imported
before it is needed: the sound process comes through here too.

`companion` alone opens the app. Faults of the student's input are one line each on stderr and a non-zero exit code; with --json they are told as
JSON too, so that a program always finds what it can read.
"""

from __future__ import annotations

import sys

from companion import __version__

TYPE_CHECKING = False  # typing's own takes 5 ms, in which Ctrl+C could not be answered yet
if TYPE_CHECKING:
    import argparse
    from typing import NoReturn

# command -> (module, one line of help)
COMMANDS = {
    "stand": ("companion.cli.app", "open the app with a song on the stand"),
    "songs": ("companion.cli.songs", "list the songs there are"),
    "check": ("companion.cli.check", "check chart files and name every fault"),
    "import": ("companion.cli.import_", "take in lead sheets from other programs: MusicXML or ABC"),
    "shells": ("companion.cli.shells", "work out the left hand of a song or of a line of chords"),
    "chords": ("companion.cli.chords", "show a song's chords in root position, with degrees and fingers"),
    "melody": ("companion.cli.melody", "print a song's melody with fingers and degrees"),
    "swing": ("companion.cli.swing", "make a song's melody swing: three versions, any bar put back"),
    "arrange": ("companion.cli.arrange", "a whole tune for both hands, bar by bar, with reasons"),
    "play": ("companion.cli.play", "play a song without the app, one line a bar"),
    "practise": ("companion.cli.practise", "practise a song without the app, line by line: also for screen readers"),
    "perform": ("companion.cli.perform", "the whole tune once through, recorded, marked and kept"),
    "export": ("companion.cli.export", "write a sheet, a MIDI file, a practice track or a text"),
    "mark": ("companion.cli.mark", "mark a take recorded elsewhere, from its MIDI file or its sound"),
    "listen": ("companion.cli.listen", "try the microphone, or learn an acoustic piano from a recording of its scale"),
    "today": ("companion.cli.today", "what to practise in the minutes you have"),
    "log": ("companion.cli.log", "show, export or delete what the practice log holds"),
    "report": ("companion.cli.report", "what was practised of a song and where it stands, for your teacher"),
    "send": ("companion.cli.send", "write a song with lesson, pins and report into one file, for your teacher or back"),
    "receive": ("companion.cli.receive", "take in a song that `companion send` wrote, with all that came along"),
    "devices": ("companion.cli.devices", "list MIDI ports and the audio device, and what will be used"),
    "where": ("companion.cli.where", "print every path in use"),
}
IN_LINES = ("play", "practise")  # these tell JSON an object a line


def main(arguments: list[str] | None = None) -> int:
    """Run a command and return its exit code."""
    arguments = sys.argv[1:] if arguments is None else arguments
    if arguments == ["--version"]:
        print(f"companion {__version__}")
        return 0
    try:
        import contextlib

        from companion.cli.printing import EscapingStream

        _fit_streams()
        with (
            contextlib.redirect_stdout(EscapingStream(sys.stdout)),
            contextlib.redirect_stderr(EscapingStream(sys.stderr)),
        ):
            return _run(arguments)
    except KeyboardInterrupt:
        return 130  # common practice of shells: 128 and the signal's number


def _run(arguments: list[str]) -> int:
    from companion.errors import CompanionError, ExitCode

    try:
        if not arguments:
            from companion.cli.app import open_app

            return open_app()
        return _run_command(arguments)
    except CompanionError as error:
        _tell_fault(arguments, str(error))
        return int(error.exit_code)
    except OSError as error:
        if _is_reader_gone(error):
            sys.stderr.close()
            return int(ExitCode.OK)
        # A folder that may not be looked into, say: the system's word is all there is to tell.
        _tell_fault(arguments, f"{error.filename or 'This computer'}: {error.strerror or error}")
        return int(ExitCode.FAULT)


def _tell_fault(arguments: list[str], words: str) -> None:
    print(words, file=sys.stderr)
    _tell_a_program(arguments, words)


def _tell_a_program(arguments: list[str], words: str) -> None:
    """What is at fault, where JSON is asked for."""
    if "--json" in arguments:
        from companion.cli.printing import print_json

        print_json({"told": "fault", "words": words} if arguments[0] in IN_LINES else {"fault": words}, in_a_line=True)


def _is_reader_gone(error: OSError) -> bool:
    """Whether the program that read our output has ended, as `head` does. Windows calls that an invalid argument of
    no file's."""
    import errno

    is_windows_word = sys.platform == "win32" and error.errno == errno.EINVAL and error.filename is None
    return is_windows_word or isinstance(error, BrokenPipeError)


def _run_command(arguments: list[str]) -> int:
    import importlib

    options = _parser(arguments).parse_args(arguments)
    return int(importlib.import_module(COMMANDS[options.command][0]).run(options))


def _fit_streams() -> None:
    """Let every sign of ours be printed. What goes into a file or another program is UTF-8, on Windows too (as of
    Python 3.15 everywhere, PEP 686; JSON is nothing else, RFC 8259); a terminal without a sign, such as ♭, shows one
    that it has. Streams that are not there at all (pythonw.exe has none) swallow what is printed."""
    import codecs
    import io
    import os

    is_chosen = bool(os.environ.get("PYTHONIOENCODING"))  # by the student
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8", newline="\n"))
        elif isinstance(stream, io.TextIOWrapper) and codecs.lookup(stream.encoding).name != "utf-8":
            stream.reconfigure(errors="replace", encoding=None if is_chosen or stream.isatty() else "utf-8")


def _parser(arguments: list[str]) -> argparse.ArgumentParser:
    """Only the wanted command's module is imported, so that help answers at once."""
    import argparse
    import importlib

    class Parser(argparse.ArgumentParser):
        def error(self, message: str) -> NoReturn:
            _tell_a_program(arguments, message)
            super().error(message)

    parser = Parser(
        prog="companion",
        description="A practice companion for students of jazz piano. Without a command it opens the app.",
    )
    vars(parser)["color"] = False  # which Python 3.14 has; the words of a help page are enough
    parser.add_argument("--version", action="version", version=f"companion {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, (module, words) in COMMANDS.items():
        command = commands.add_parser(name, help=words, description=words[0].upper() + words[1:] + ".")
        vars(command)["color"] = False
        if name == arguments[0]:
            importlib.import_module(module).configure(command)
    return parser
