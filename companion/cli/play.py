"""`companion play SONG`: the stand without the app, one line a bar, for scripts and for screen readers."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from typing import TextIO

from companion.cli import arguments
from companion.errors import ExitCode, SoundError
from companion.groove.calls import MOST_BPM, words_called
from companion.practice.planning.lessons import HAND_WORDS
from companion.session import led
from companion.session.called import NEEDS_BUILTIN, Caller, too_fast
from companion.session.changes import Change, Ended, NextKey, Said, Sounded
from companion.session.conductor import Conductor
from companion.session.keys import KEYS, ORDERS, key_said
from companion.session.playback import Playback
from companion.session.sound_settings import sound_config
from companion.session.stand import Stand, shell_words
from companion.sound.link import SoundLink
from companion.sound.messages import BeatReport, Notice, Ready
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import Paths, find_paths
from companion.store.settings import Settings, load_settings

READY_WITHIN_S = 15.0
SPEECH_WITHIN_S = 20.0  # where names take longer to speak, the first of them are missing
POLL_S = 0.02  # how often reports are read; the sound process keeps the time


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.add_argument("song", nargs="?", metavar="SONG", help=arguments.SONG_HELP)
    parser.add_argument("--chords", metavar="LINE", help='a line of bars instead of a song: "Dm7 G7 | Cmaj7 A7"')
    parser.add_argument(
        "--choruses", type=arguments.whole(0, 10_000), default=1, metavar="N", help="0 plays until ctrl-c"
    )
    parser.add_argument(
        "--keys",
        choices=list(ORDERS),
        help="go through all twelve keys, --choruses in each; with 0 round and round, one in each",
    )
    arguments.add_playing(parser)


def run(options: argparse.Namespace) -> int:
    """Play until the choruses are over or Ctrl+C. Raises SoundError where a named port is not there."""
    paths = find_paths()
    settings = arguments.with_hand(load_settings(paths), options)
    stand = arguments.as_played(arguments.wanted_stand(options, paths, settings), options)
    config = sound_config(settings, mode=options.sound or "", midi_out=options.midi_out, trace=options.trace)
    link = SoundLink(config, str(paths.sound_faults))
    link.start()
    try:
        ready = wait_ready(link)
        if options.midi_out and ready.output != "midi":
            raise SoundError(ready.sentence)
        caller = _caller(link, stand, ready, paths)
        return _play(link, stand, options.choruses, options.keys, ready, settings, sys.stdout, caller.want)
    except KeyboardInterrupt:
        print("Stopped.")
        return 130  # common practice of shells: 128 and the signal's number
    finally:
        link.close()


def _caller(link: SoundLink, stand: Stand, ready: Ready, paths: Paths) -> Caller:
    """Has the names that will be called spoken before the music begins; what hinders it is said."""
    caller = Caller(paths.speech, link.send, lambda sentence: print(sentence, file=sys.stderr, flush=True))
    if (words := words_called(stand.arrangement())) and ready.output != "builtin":
        print(NEEDS_BUILTIN, file=sys.stderr, flush=True)
    elif words and stand.tempo_bpm > MOST_BPM:
        print(too_fast(stand.tempo_bpm), file=sys.stderr, flush=True)
    elif words:
        caller.want(words)
        caller.wait(SPEECH_WITHIN_S)
    return caller


def _play(
    link: SoundLink,
    stand: Stand,
    choruses: int,
    order: str | None,
    ready: Ready,
    settings: Settings,
    out: TextIO,
    speak: Callable[[tuple[str, ...]], None] = lambda words: None,
) -> int:
    """Play to the end, telling each bar as it starts. order: of the keys to go through. Raises SoundError where the sound fails on the
    way."""
    fault = ""
    print(_head(stand), file=out, flush=True)
    print(ready.sentence, file=out, flush=True)
    with PracticeLog.in_memory() as log:  # what a command plays is not practised
        conductor = Conductor(Playback(link, speak=speak), lambda: log, lambda: settings, clock=time.perf_counter)
        conductor.put(stand)
        if order is not None:
            conductor.through_all_keys(order, choruses or 1)
        conductor.start(passes=choruses * (KEYS if order is not None else 1))
        while True:
            for report in link.poll():
                if isinstance(report, Notice) and report.kind == "error":
                    fault = report.sentence  # what plays goes on, or its end follows
                elif isinstance(report, Notice):
                    print(report.sentence, file=sys.stderr, flush=True)
                elif isinstance(report, BeatReport) and fault:  # it goes on
                    print(fault, file=sys.stderr, flush=True)
                    fault = ""
                if _tell(conductor, led.hear(conductor, report, settings), out):
                    if fault:
                        raise SoundError(fault)
                    return ExitCode.OK
            if _tell(conductor, conductor.tick(time.perf_counter()), out):
                return ExitCode.OK
            wake_s = conductor.wake_s
            time.sleep(POLL_S if wake_s is None else max(0.0, min(POLL_S, wake_s - time.perf_counter())))


def _tell(conductor: Conductor, changes: list[Change], out: TextIO) -> bool:
    """Print each bar as it begins, and the next key where one comes. Whether it is all over."""
    for change in changes:
        if isinstance(change, Sounded) and change.beat.pulse == 0:
            print(_line(conductor.stand, change.beat), file=out, flush=True)
        elif isinstance(change, NextKey) and conductor.state.beat is not None:
            print(f"next key: {key_said(change.stand.key)}", file=out, flush=True)
        elif isinstance(change, Said):
            print(change.sentence, file=sys.stderr, flush=True)
    return any(isinstance(change, Ended) for change in changes)


def wait_ready(link: SoundLink) -> Ready:
    """What sounds. Raises SoundError where the sound process does not come up."""
    deadline = time.monotonic() + READY_WITHIN_S
    while time.monotonic() < deadline:
        for report in link.poll():
            if isinstance(report, Ready):
                return report
            if isinstance(report, Notice) and report.kind == "error":
                if link.is_off:
                    raise SoundError(report.sentence)
                print(report.sentence, file=sys.stderr, flush=True)  # another process comes up
        time.sleep(POLL_S)
    raise SoundError(f"The sound process did not answer within {READY_WITHIN_S:g} seconds.")


def _head(stand: Stand) -> str:
    whose = "" if stand.hands == "left" else f", {HAND_WORDS[stand.hands]}"
    return f"{stand.song.title}, {stand.key}, {stand.song.meter}, tempo {stand.tempo_bpm:g}, {stand.loop_name}{whose}"


def _line(stand: Stand, report: BeatReport) -> str:
    """ "chorus 1  A bar 5  Dm7 root-third D3 F3; G7 root-seventh G2 F3", or the count-in."""
    if report.turn < 0:
        return "count-in"
    bar = stand.bars[report.index]
    chords = "; ".join(
        f"{placed.symbol} {' '.join(shell_words(choice.shell).split())}"
        for placed, choice in stand.choices_at(report.index)
    )
    return f"chorus {report.turn + 1}  {bar.section} bar {bar.bar}  {chords}"
