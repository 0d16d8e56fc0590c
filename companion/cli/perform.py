"""`companion perform SONG`: the whole tune once through, recorded and marked; or what was performed before."""

from __future__ import annotations

import argparse
import contextlib
import sys
import time
from pathlib import Path
from typing import Any

from companion.base.text import plural
from companion.cli import arguments
from companion.cli.lines.events import Interrupt, LinkEvents
from companion.cli.lines.sitting import READY_WITHIN_S
from companion.cli.printing import print_result
from companion.errors import ExitCode, LogError, SoundError, TakeError
from companion.session.microphone import Microphone
from companion.session.performed import is_achieved, keep_and_mark, sound_again
from companion.session.performing import NOTHING_PLAYED, Performing
from companion.session.playback import Playback
from companion.session.stand import Stand
from companion.session.take_file import read_recording
from companion.sound.link import SoundLink
from companion.sound.listening.messages import MicrophoneOff, MicrophoneReady
from companion.sound.messages import Keyboards, Notice, Ready
from companion.store.paths import Paths
from companion.store.performances import Kept, folder_of, kept_performances

NO_KEYBOARD = (
    "no MIDI keyboard is heard; a performance is recorded from one (`companion devices` lists what is there), "
    "or by the microphone where you ask for it with --microphone"
)
RECORDING = (
    "◉ The microphone records: the sound of this performance is kept in {folder} until you delete it; nothing is sent."
)
NOTES = """\
Introduction, form and ending as `companion arrange` has them, in the hands that --hands names; ctrl-c breaks off, and what was played is kept.
--list names what was performed before, the latest first; --hear N plays the N-th of these again.
With --microphone it is recorded by the microphone, for an acoustic piano: its sound is kept as a file (WAV) beside the marks, on this computer alone, and marked as `companion mark` would,
with the piano that was learned in the app. It is deleted in the app (`o g`, then `x`), or as any file.

JSON: {"file", "sound", "performed", "words", "marks"} of one performance, {"performances": [...]} of such with --list. sound: what the microphone recorded, null where it was a keyboard;
performed: local time; words: the marks in short; marks: at length.
"""


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = NOTES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    arguments.add_song(parser)
    parser.add_argument("--list", action="store_true", help="what was performed before, the latest first")
    parser.add_argument("--hear", type=arguments.whole(1, 10_000), metavar="N", help="hear one of these again")
    parser.add_argument(
        "--microphone", action="store_true", help="record this one by the microphone; its sound is kept as a file"
    )
    arguments.add_playing(parser)
    arguments.add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Perform, list or hear. Raises SoundError, TakeError, WriteError."""
    paths, settings = arguments.paths_and_settings(options)
    stand = arguments.as_played(arguments.wanted_stand(options, paths, settings), options)
    kept = kept_performances(folder_of(paths, stand.original.id))
    if options.list:
        print_result(
            options, lambda: {"performances": [_as_json(each) for each in kept]}, lambda: _as_text(stand, kept)
        )
        return ExitCode.OK
    if options.hear and options.hear > len(kept):
        raise TakeError(f"--hear {options.hear}: {stand.song.title} was performed {plural(len(kept), 'time')}")
    records = options.microphone and not options.hear
    link = SoundLink(arguments.wanted_sound(settings, options, paths), str(paths.sound_faults))
    with link, contextlib.ExitStack() as opened:
        events = LinkEvents(link)
        opened.enter_context(events.taking_ctrl_c())
        playback = Playback(link)
        performing = Performing(stand, playback, latency_s=settings.practice.latency_ms / 1000.0)
        _await_sound(events, options, needs_keyboard=not options.hear and not records)
        if records:
            microphone = Microphone(paths, lambda: settings, link.send, events.put, str(paths.sound_faults))
            opened.callback(microphone.close)
            playback.microphone = microphone.send
            microphone.start()
            _await_microphone(events)
        if options.hear:
            _hear_again(performing, kept[options.hear - 1])
        else:
            folder = folder_of(paths, stand.original.id) if records else None
            print(_announcement(performing.stand, folder), file=sys.stderr)
            performing.start(folder)
        _listen(performing, events)
        if options.hear:
            return ExitCode.OK
        if fault := performing.take_fault():
            raise SoundError(fault)
    return _kept(options, performing, paths, settings.listening.piano)


def _hear_again(performing: Performing, kept: Kept) -> None:
    if kept.recording is not None:
        performing.hear_sound(*sound_again(kept.recording))
    else:
        performing.hear_again(read_recording(kept.path).presses)


def _await_microphone(events: LinkEvents) -> None:
    """Until it listens."""
    deadline_s = time.monotonic() + READY_WITHIN_S
    while not isinstance(report := events.next(0.1), MicrophoneReady):
        if isinstance(report, MicrophoneOff):
            raise SoundError(report.sentence)
        if isinstance(report, Interrupt):
            raise KeyboardInterrupt
        if time.monotonic() > deadline_s:
            raise SoundError(f"The microphone did not answer within {READY_WITHIN_S:g} seconds.")


def _await_sound(events: LinkEvents, options: argparse.Namespace, *, needs_keyboard: bool) -> None:
    """Until it is known what sounds, and that a keyboard is heard."""
    deadline_s = time.monotonic() + READY_WITHIN_S
    output = keyboards = None
    while output is None or keyboards is None:
        report = events.next(0.1)
        if isinstance(report, Ready):
            output = report.output
        elif isinstance(report, Keyboards):
            keyboards = report
        elif isinstance(report, Interrupt):
            raise KeyboardInterrupt
        elif time.monotonic() > deadline_s:
            raise SoundError(f"The sound process did not answer within {READY_WITHIN_S:g} seconds.")
    arguments.check_sound(output, options)
    if needs_keyboard and not keyboards.heard:
        raise SoundError(NO_KEYBOARD)


def _listen(performing: Performing, events: LinkEvents) -> None:
    """Until it is over; where the sound or the keyboard goes, it is broken off."""
    while performing.playing or performing.hearing:
        wake_s = performing.wake_s
        report = events.next(None if wake_s is None else wake_s - time.perf_counter())
        if isinstance(report, Interrupt):
            performing.stop()
        elif isinstance(report, Notice) and report.kind in ("lost", "error"):
            print(report.sentence, file=sys.stderr)
            performing.stop()
        elif report is not None:
            performing.hear(report)
        performing.tick()


def _kept(options: argparse.Namespace, performing: Performing, paths: Paths, piano: str) -> int:
    performed = performing.performed
    if performed is None or not performed.was_played:
        raise TakeError(NOTHING_PLAYED)
    kept = keep_and_mark(performing.stand, performed, paths, piano)
    if is_achieved(performed, kept):
        _tell_log(performing.stand.original.id, paths)
    print_result(
        options,
        lambda: _as_json(kept),
        lambda: "\n".join([*kept.words, "", kept.at_length, "", f"Kept: {kept.recording or kept.path}"]),
    )
    return ExitCode.OK


def _tell_log(song_id: str, paths: Paths) -> None:
    """The lesson's last step is done; where the log cannot be written that is said, and the performance is kept all the same."""
    from companion.session.memory import performed_entry
    from companion.session.overview import open_log

    try:
        log, _ = open_log(paths)
        log.write(performed_entry(song_id))
        log.close()
        said = log.messages
    except LogError as error:
        said = [str(error)]
    for sentence in said:
        print(sentence, file=sys.stderr)


def _announcement(stand: Stand, folder: Path | None) -> str:
    """folder: in which the microphone's recording is kept, None for none."""
    said = f"{stand.song.title}, {stand.key}, tempo {stand.tempo_bpm:g}: play on, whatever happens. Ctrl-c breaks off."
    return f"{RECORDING.format(folder=folder)}\n{said}" if folder is not None else said


def _as_json(kept: Kept) -> dict[str, Any]:
    return {
        "file": str(kept.path),
        "sound": str(kept.recording) if kept.recording else None,
        "performed": kept.performed_at.isoformat(timespec="seconds"),
        "words": list(kept.words),
        "marks": kept.at_length,
    }


def _as_text(stand: Stand, kept: list[Kept]) -> str:
    if not kept:
        return f"{stand.song.title} was not performed yet."
    rows = (
        f"{number:>3}  {each.performed_at.strftime('%Y-%m-%d %H:%M')}  {' '.join(each.words)}"
        for number, each in enumerate(kept, 1)
    )
    return "\n".join(rows)
