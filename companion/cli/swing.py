"""`companion swing SONG`: make a straight melody swing, and keep the version that is chosen."""

from __future__ import annotations

import argparse
import re
from typing import Any

from companion.base.text import plural
from companion.chart.model import Song
from companion.chart.transpose import transpose
from companion.cli import arguments
from companion.cli.printing import print_result
from companion.errors import ExitCode, SettingsError
from companion.groove.swung_choice import STRAIGHT, VERSIONS, SwungChoice
from companion.session.swung_sheet import check_can_swing, rule_words, sheet_text, swung_bars
from companion.store.own_swing import load_swing, save_swing

NOTES = """\
There are three versions to choose from; --seed N gives three others. A version moves notes ahead of their beat or behind it and
splits long ones; pitches and their order stay. It is kept with the song and taken by the app, play, export and mark until another is
chosen; --version straight is the melody as it is written. A bar is named as in the chorus (5) or in its section (A.5), and counts
wherever its section comes. --bar 5=straight puts one back, --bar 5=2 keeps that of version 2, --bar 5=free lets it go with the rest.

JSON: {"song", "key", "feel", "version", "seed", "bars", "changed", "sections"}. version: 1, 2, 3 or "straight". bars, changed: how many
there are with a melody, each section counted once, and how many are otherwise than written. sections: "section" and its "bars": "bar"
from 1, "version", "seed", "kept" (whatever is chosen for the whole), "straight" and "swung" (ABC letters, the signs of the key left out),
"changes" in words.
"""
_BAR = re.compile(r"(?:(?P<section>.+)\.)?(?P<bar>[1-9]\d{0,3})=(?P<what>straight|free|[123])")


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    parser.epilog = NOTES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    arguments.add_song(parser)
    parser.add_argument("--version", choices=[*map(str, VERSIONS), STRAIGHT], help="choose one for the whole song")
    parser.add_argument("--seed", type=arguments.whole(0, 2**31), metavar="N", help="three others to choose from")
    parser.add_argument(
        "--bar", action="append", default=[], metavar="BAR=WHAT", help="straight, 1, 2, 3 or free, for one bar"
    )
    arguments.add_key(parser, "print it in this key, such as Eb or F#m")
    arguments.add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Keep what is chosen and print it. Raises SettingsError."""
    paths, settings = arguments.paths_and_settings(options)
    song = arguments.wanted_song(options, paths, settings)
    check_can_swing(song)
    before = load_swing(paths, song.id)
    choice = _chosen(before, options, song)
    if choice != before:
        save_swing(paths, song.id, choice)
    shown = transpose(song, options.key) if options.key else song
    print_result(options, lambda: as_json(shown, choice), lambda: sheet_text(shown, choice))
    return ExitCode.OK


def _chosen(choice: SwungChoice, options: argparse.Namespace, song: Song) -> SwungChoice:
    if options.seed is not None:
        choice = choice.with_seed(options.seed)
    if options.version:
        choice = choice.with_version(None if options.version == STRAIGHT else int(options.version))
    for text in options.bar:
        section, bar, what = _bar(text, song)
        if what == "free":
            choice = choice.without_bar(section, bar)
        else:
            choice = choice.with_bar(section, bar, None if what == STRAIGHT else int(what))
    return choice


def _bar(text: str, song: Song) -> tuple[str, int, str]:
    """Section, bar of it and what it is to be. Raises SettingsError."""
    match = _BAR.fullmatch(text.strip())
    if match is None:
        raise SettingsError(f"--bar {text}: expected such as 5=straight, A.5=2 or 5=free")
    bar = int(match["bar"])
    if match["section"] is None:
        bars = song.unroll()
        if bar > len(bars):
            raise SettingsError(f"--bar {text}: the chorus has {plural(len(bars), 'bar')}; expected one of them")
        return bars[bar - 1].section, bars[bar - 1].bar, match["what"]
    section = song.sections.get(match["section"])
    if section is None or bar > len(section.bars):
        there = ", ".join(f"{name}.1 to {name}.{len(section.bars)}" for name, section in song.sections.items())
        raise SettingsError(f"--bar {text}: there is no such bar; expected one of {there}")
    return match["section"], bar, match["what"]


def as_json(song: Song, choice: SwungChoice) -> dict[str, Any]:
    """As NOTES says."""
    sections = swung_bars(song, choice)
    rows = [row for section in sections.values() for row in section]
    return {
        "song": song.id,
        "key": song.key.name,
        "feel": song.feel,
        "version": choice.whole.version if choice.whole else STRAIGHT,
        "seed": choice.seed,
        "bars": len(rows),
        "changed": sum(row.is_changed for row in rows),
        "sections": [
            {
                "section": name,
                "bars": [
                    {
                        "bar": row.bar,
                        "version": row.version.version if row.version else STRAIGHT,
                        "seed": row.version.seed if row.version else choice.seed,
                        "kept": row.is_kept,
                        "straight": row.straight,
                        "swung": row.swung,
                        "changes": rule_words(row.rules),
                    }
                    for row in section
                ],
            }
            for name, section in sections.items()
        ],
    }
