"""`companion chords`: the chords of a song, or of a line of chords, in root position or an inversion."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from companion.base.text import plural
from companion.cli import arguments
from companion.cli.printing import print_result
from companion.errors import ExitCode
from companion.hands.root_position import HAND_CHOICES, INVERSION_WORDS, bass_words, left_out_words
from companion.practice.drills.root_position import Known
from companion.session.chords.in_song import SongChord, chords_of
from companion.session.stand import Stand
from companion.store.paths import Paths

if TYPE_CHECKING:
    from companion.store.log.practice_log import PracticeLog

NOTES = """\
JSON: {"hand", "inversion", "chords"}. A chord: "symbol", "root", "inversion", "notes", "midi" and "degrees" from the lowest up, "fingers",
"or_fingers", "left_out", "bass", "shell": the notes that the song's shells leave of it, "times": how often it comes, "find_s": seconds
that it takes to find, null where it was never played, "right": how often at once, of so many "tries".
"""


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = NOTES
    arguments.add_song(parser, chords=True)
    arguments.add_key(parser)
    arguments.add_loop(parser)
    parser.add_argument(
        "--hand", choices=HAND_CHOICES, default="left", help="which hand plays them; left where not given"
    )
    parser.add_argument(
        "--inversion",
        type=arguments.whole(0, 3),
        default=0,
        metavar="N",
        help="0 for root position (as where not given), 1, 2, and 3 for chords of four notes",
    )
    arguments.add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Print each chord once, in the order in which they first come."""
    paths, settings = arguments.paths_and_settings(options)
    stand = arguments.wanted_stand(options, paths, settings)
    found, known = chords_of(stand, options.hand, options.inversion), _known(paths, options.hand)
    about = found, known, options.hand, options.inversion
    print_result(options, lambda: as_json(*about), lambda: as_text(stand, *about))
    return ExitCode.OK


def _known(paths: Paths, hand: str) -> dict[str, Known]:
    """What the practice log knows of chords in a hand."""

    def read(log: PracticeLog) -> dict[str, Known]:
        from companion.session.chords.memory import known_chords

        return known_chords(log, (hand,))

    return arguments.from_log(paths, read, {})


def _known_of(each: SongChord, known: Mapping[str, Known]) -> Known:
    return known.get(f"{each.close.inversion} {each.close.id}", Known())


def as_json(found: tuple[SongChord, ...], known: Mapping[str, Known], hand: str, inversion: int) -> dict[str, Any]:
    """notes and degrees from the lowest up; times: how often the chord comes; shell: the notes that the song's shells leave of it. find_s: seconds
    that it takes to find as a rule, null where it was never played; right: how often it was right at once, of so many tries."""
    return {
        "hand": hand,
        "inversion": inversion,
        "chords": [
            {
                "symbol": each.symbol,
                "root": each.close.chord.root.name,
                "inversion": each.close.inversion,
                "notes": list(each.close.names),
                "midi": list(each.close.midi),
                "degrees": list(each.close.degrees),
                "fingers": each.close.fingers,
                "or_fingers": list(each.close.or_fingers),
                "left_out": list(each.close.left_out),
                "bass": each.close.chord.bass.name if each.close.chord.bass else None,
                "shell": list(each.shell.names) if each.shell else [],
                "times": len(each.places),
                "find_s": _known_of(each, known).find_s if _known_of(each, known).tries else None,
                "right": _known_of(each, known).right,
                "tries": _known_of(each, known).tries,
            }
            for each in found
        ],
    }


def as_text(stand: Stand, found: tuple[SongChord, ...], known: Mapping[str, Known], hand: str, inversion: int) -> str:
    """A head line, then a line a chord with what there is to say of it below."""
    lines = [
        f"{stand.song.title}   {stand.song.key}   {hand} hand, {INVERSION_WORDS[inversion]}",
        f"{plural(len(found), 'chord')}, each as it first comes: notes and degrees from the lowest up, fingers, and the shell that is left of it.",
        "",
    ]
    wide = max((len(each.symbol) for each in found), default=0)
    for each in found:
        close = each.close
        notes = " ".join(f"{name:<4}" for name in close.names)
        degrees = " ".join(f"{degree:<3}" for degree in close.degrees)
        shell = " ".join(each.shell.names) if each.shell else ""
        memory = _known_of(each, known)
        took = f"found in {memory.find_s:.1f} s" if memory.tries else ""
        lines.append(
            f"{each.symbol:<{wide}}  {notes:<19}  {degrees:<15}  {close.fingers:<7}  {shell:<8} {took}".rstrip()
        )
        if close.inversion != inversion:
            lines.append(
                f"{'':<{wide}}  three notes: the {INVERSION_WORDS[inversion]} is {INVERSION_WORDS[close.inversion]} again"
            )
        lines += [f"{'':<{wide}}  {words}" for words in (left_out_words(close), bass_words(close)) if words]
        if close.span > stand.hand.reach:
            lines.append(f"{'':<{wide}}  wider than your reach: play it broken, and never force a stretch")
    return "\n".join(lines)
