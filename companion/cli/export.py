"""`companion export SONG TARGET`: a sheet, a MIDI file, a practice track or a text, by the target's ending."""

from __future__ import annotations

import argparse
from pathlib import Path

from companion.cli import arguments
from companion.cli.printing import print_result
from companion.errors import ExitCode
from companion.export.formats import FORMATS, export, format_of
from companion.export.options import MOST_CHORUSES, PART_NAMES, ExportError, ExportOptions, parts_beside, read_parts
from companion.session.stand import TEMPO_LIMITS

NOTES = (
    "what comes out, by the target's ending:\n"
    + "".join(f"  {kind.ending:<10} {kind.words}\n" for kind in FORMATS)
    + f"""
A sheet shows each shell once, for as long as its chord; with --pattern the rhythm is written out. A track plays 3
choruses and a MIDI file 1 where --choruses does not say; parts: {", ".join(PART_NAMES)}. With --hands a sheet holds
what these hands play, and a track or MIDI file leaves it out for you to play, with --hands both click and bass alone;
with --rest off the other hand is left out too. A file with both hands in it: --parts left,right.

JSON: {{"files"}}: the paths of what was written.
"""
)


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    from companion.export.sizes import SIZES
    from companion.groove.names import BASS_STYLES, CLICK_MODES, PATTERN_NAMES

    parser.epilog = NOTES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    arguments.add_song(parser)
    parser.add_argument("target", metavar="TARGET", help="the file to write; its ending says what comes out")
    arguments.add_json(parser)
    parser.add_argument("--force", action="store_true", help="replace a file that is there")
    arguments.add_key(parser)
    parser.add_argument("--tempo", type=arguments.number(*TEMPO_LIMITS), metavar="BPM", help="beats a minute")
    arguments.add_loop(parser)
    parser.add_argument("--pattern", choices=list(PATTERN_NAMES), help="the left hand's rhythm")
    parser.add_argument(
        "--round",
        type=arguments.whole(1, 1000),
        metavar="N",
        help="a sheet as round N of the drill from memory shows it, with the answers",
    )
    arguments.add_hands(parser)
    parser.add_argument(
        "--fingers", action="store_true", help="fingers for the melody on a sheet, as --hands both has them"
    )
    parser.add_argument(
        "--size", choices=list(SIZES), help="how large a sheet is printed: to read from the bench, or in the hand"
    )
    sound = parser.add_argument_group("for MIDI files and tracks")
    sound.add_argument("--choruses", type=arguments.whole(1, MOST_CHORUSES), metavar="N")
    sound.add_argument("--parts", metavar="PARTS", help=f"some of {','.join(PART_NAMES)}")
    sound.add_argument(
        "--from-tempo",
        type=arguments.number(*TEMPO_LIMITS),
        metavar="BPM",
        help="begin here and climb chorus by chorus",
    )
    sound.add_argument(
        "--calls", action="store_true", help="on a track: each chord's name a beat ahead, up to 80 beats a minute"
    )
    sound.add_argument("--bass", choices=list(BASS_STYLES))
    sound.add_argument("--click", choices=list(CLICK_MODES))
    sound.add_argument("--laid-back", action="store_true", help="a melody that swings a little behind the beat")
    sound.add_argument(
        "--count-in", type=arguments.whole(0, 2), metavar="BARS", help="0, 1 or 2 bars, else as in the settings"
    )
    arguments.add_hand(parser)


def run(options: argparse.Namespace) -> int:
    """Write the file or files and print their paths. Raises ExportError, WriteError and what reading the song raises."""
    target = format_of(Path(options.target))
    unheard = [
        name for name in ("bass", "click", "count_in", "laid_back") if getattr(options, name) not in (None, False)
    ]
    if unheard and not target.plays:
        raise ExportError(f"--{unheard[0].replace('_', '-')} is for MIDI files and tracks, not for {target.ending}")
    if options.parts and (options.hands or options.rest):
        raise ExportError("--parts and --hands both say what sounds: expected one of them")
    paths, settings = arguments.paths_and_settings(options)
    stand = arguments.with_playing(arguments.wanted_stand(options, paths, settings), options)
    parts = read_parts(options.parts) if options.parts else None
    if target.plays and (options.hands or options.rest):
        parts = parts_beside(stand.hands, rest=options.rest != "off")
    wanted = ExportOptions(
        parts=parts,
        hands=options.hands,
        fingers=options.fingers,
        choruses=options.choruses,
        calls=paths.speech if options.calls else None,
        from_tempo_bpm=options.from_tempo,
        written_pattern=options.pattern is not None,
        round=options.round,
        force=options.force,
        size=options.size,
    )
    written = [str(path) for path in export(stand, options.target, wanted, settings)]
    print_result(options, lambda: {"files": written}, lambda: "\n".join(written))
    return ExitCode.OK
