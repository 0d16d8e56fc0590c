"""`companion shells`: the left hand of a song or of a line of chords, bar by bar."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from typing import Any

from companion.cli import arguments
from companion.cli.printing import plain, print_result
from companion.errors import ExitCode
from companion.reports.shells import shells_text
from companion.session.stand import Stand

NOTES = """\
JSON: {"movement", "cost", "phrases", "chords"}: semitones that both notes travel in a chorus, what it costs, and of that what differs between
equal phrases. A chord: "section", "bar", "beat" from 1, "beats", "symbol", "shell" (null for a rest), "notes", "midi", "fingers", "why",
"repeat", "pinned", "movement" and "cost" of the way to it ("lower", "upper", "guide_line", "same_keys", "low_leap") and
"options", each a shell and its keys.
"""


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = NOTES
    arguments.add_song(parser, chords=True)
    arguments.add_key(parser)
    arguments.add_json(parser)
    arguments.add_hand(parser)


def run(options: argparse.Namespace) -> int:
    """Print the left hand. Raises ShellError where a chord has no legal shell."""
    paths, settings = arguments.paths_and_settings(options)
    stand = arguments.wanted_stand(options, paths, settings)
    print_result(options, lambda: as_json(stand), lambda: shells_text(stand))
    return ExitCode.OK


def as_json(stand: Stand) -> dict[str, Any]:
    """movement in semitones; cost: the objective, of which `phrases` is for phrases that differ; beats counted from 1; N.C. has
    no shell and no notes. cost of a chord: what the way to it is made of."""
    chords = []
    for bar in stand.bars:
        for placed, choice in stand.choices_at(bar.index):
            shell = choice.shell
            chords.append(
                {
                    "section": bar.section,
                    "bar": bar.bar,
                    "beat": plain(placed.beat + 1),
                    "beats": plain(placed.beats),
                    "symbol": placed.symbol,
                    "shell": shell.kind if shell else None,
                    "notes": list(shell.names) if shell else [],
                    "midi": list(shell.midi) if shell else [],
                    "fingers": choice.fingers,
                    "why": choice.why,
                    "repeat": choice.repeat,
                    "pinned": str(choice.slot.pin) if choice.slot.pin else None,
                    "movement": choice.movement,
                    "cost": asdict(choice.bill),
                    "options": [[option.kind, *option.midi] for option in choice.options],
                }
            )
    return {"movement": stand.part.movement, "cost": stand.part.cost, "phrases": stand.part.phrases, "chords": chords}
