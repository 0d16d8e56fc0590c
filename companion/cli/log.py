"""`companion log`: what the practice log holds, for reading, for other programs, and deleting it."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime

from companion.base.text import plural
from companion.cli import arguments
from companion.cli.printing import print_aside
from companion.errors import ExitCode, SettingsError
from companion.practice.facts import SLIPPED, fact_words
from companion.practice.model import PassRecord
from companion.practice.planning.lessons import HAND_WORDS
from companion.session.chords.memory import tries_words
from companion.store.library import find_song
from companion.store.log.export import write_csv, write_everything, write_json
from companion.store.log.practice_log import PracticeLog
from companion.store.paths import Paths
from companion.store.settings import Settings

NOTES = """\
JSON (--json): a list of passes, the earliest first. A pass: "id"; "started_at" in UTC; "duration_s"; "song_id", "title", "key", "loop_name";
"loop": bars of the chorus, from 0; "sections": those wholly within it; "tempo_bpm", "target_bpm", "pattern", "hands"; "kind": how it was practised;
"round" of a drill that hides, else 0; "cues": how much was shown, 0 to 1; "source": heard by a keyboard, or told; "fact": ran, slipped, broke
off, or empty where nobody said; "share_right", 0 to 1; "clean"; "slipped": bars as in loop; "offset_ms" (below zero: early), "spread_ms",
"evenness_ms", all null where it was not heard; "extra": wrong keys; "broken": cut off by a fault, so that it does not count; "by_hand": of both
hands "left" and "right", each with its share, offset and spread, "layer", and "together_ms", left minus right; "heard_by": microphone, empty for a keyboard and where
nothing was heard; "unsure": how many chords it was not sure of, which count for nothing; "chords": each with "index"
(its bar), "section", "bar", "chord" from 0, "symbol", "verdict", "offset_ms", "played" (MIDI notes), and "part" for the melody.
JSON (--all): {"passes", "days", "states"}: passes, sums of the days, and what is kept of drills, climbs and memory.
"""
_SHOWN = 20
_YES = ("y", "yes")


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = NOTES
    parser.add_argument("song", nargs="?", metavar="SONG", help=arguments.SONG_HELP + "; without one, all of them")
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print every pass as JSON and nothing else")
    form.add_argument("--csv", action="store_true", help="print every pass as a table for spreadsheets")
    form.add_argument("--all", action="store_true", help="print everything that is kept, as JSON")
    form.add_argument("--delete", action="store_true", help="forget everything, or everything of SONG; asks first")
    parser.add_argument("--yes", action="store_true", help="with --delete: do not ask")


def run(options: argparse.Namespace) -> int:
    """Print or delete what was asked for. Raises LogError, SettingsError."""
    if options.yes and not options.delete:
        raise SettingsError("--yes goes with --delete only.")
    if options.all and options.song:
        raise SettingsError("--all prints everything; for one song take --json or --csv.")
    paths, settings = arguments.paths_and_settings(options)
    with PracticeLog.open(paths) as log:
        print_aside(log.messages)
        song_id = None if options.song is None else _song_id(options.song, log, paths, settings)
        if options.delete:
            return _delete(log, song_id, options.yes)
        if options.all:
            write_everything(log, sys.stdout)
        elif options.json:
            write_json(log, sys.stdout, song_id)
        elif options.csv:
            if hasattr(sys.stdout, "reconfigure"):
                sys.stdout.reconfigure(newline="")  # a table ends its lines itself (RFC 4180)
            write_csv(log, sys.stdout, song_id)
        else:
            print(as_text(log, song_id))
    return ExitCode.OK


def _song_id(text: str, log: PracticeLog, paths: Paths, settings: Settings) -> str:
    """The song's id. One whose file is gone, or has a fault, is still found by the id it has in the log."""
    if log.count(text):
        return text
    return find_song(text, paths, settings).id


def as_text(log: PracticeLog, song_id: str | None) -> str:
    """The latest passes, a line each, under a line of sums."""
    days, chords = log.day_totals(song_id), tries_words(log) if song_id is None else ""
    if not days:
        return chords or ("Nothing was played yet." if song_id is None else f"{song_id} was not played yet.")
    count, minutes = sum(day.passes for day in days), sum(day.seconds for day in days) / 60
    dates = {day.day for day in days}
    passes = log.passes(song_id, limit=_SHOWN, broken=True)
    lines = [
        f"{plural(count, 'pass', 'passes')}, {plural(round(minutes), 'minute')}"
        f" on {plural(len(dates), 'day')}, {min(dates)} to {max(dates)}. The latest {len(passes)}:",
        "",
    ]
    return "\n".join([*lines, *map(_pass_line, passes), *(("", chords) if chords else ())])


def _pass_line(record: PassRecord) -> str:
    started = datetime.fromisoformat(record.started_at).astimezone()
    tempo = f"{record.tempo_bpm:>5.0f}" if record.tempo_bpm else " free"
    if record.broken:
        how = "cut off, does not count"
    elif record.source == "heard":
        by = ", by microphone" if record.heard_by else ""
        unsure = f", not sure of {record.unsure}" if record.unsure else ""
        how = f"{100 * record.share_right:3.0f} % right{by}{unsure}"
    else:
        slipped = f"{len(record.slipped)} of {plural(len(record.loop), 'bar')} slipped"
        how = slipped if record.fact == SLIPPED and record.slipped else fact_words(record.fact)
    whose = "" if record.hands == "left" else f", {HAND_WORDS[record.hands]}"
    return (
        f"{started:%Y-%m-%d %H:%M}  {record.title[:28]:<28} {record.loop_name[:12]:<12} {tempo}  {record.kind:<10} "
        f"{'clean' if record.clean else '     '}  {how}{whose}"
    )


def _delete(log: PracticeLog, song_id: str | None, is_sure: bool) -> int:
    count = log.count(song_id)
    what = "everything the companion remembers" if song_id is None else f"everything it remembers of {song_id}"
    if not is_sure:
        print(
            f"This deletes {what}: {plural(count, 'pass', 'passes')}, for good. Type yes to delete: ",
            end="",
            flush=True,
        )
        if sys.stdin.readline().strip().casefold() not in _YES:
            print("Nothing was deleted.")
            return ExitCode.OK
    log.delete_all(song_id)
    print(f"Deleted {plural(count, 'pass', 'passes')}.")
    for kept in log.damaged_copies() if song_id is None else ():
        print(f"A damaged log set aside earlier is still there: {kept}")
    return ExitCode.OK
