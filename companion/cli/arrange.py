"""`companion arrange SONG`: the whole tune for both hands, bar by bar, with the reason for each note that is added."""

from __future__ import annotations

import argparse
import re
from dataclasses import replace
from fractions import Fraction
from typing import Any

from companion.arranging.beginnings import INTRO_NAME, INTROS, OWN, own_section
from companion.arranging.choice import ALONE, KINDS, MOST_CHORUSES, SLIDE_MS_LIMITS, SLIDE_WAYS, ArrangementChoice
from companion.arranging.endings import CURVE_LIMITS, ENDING_NAME, ENDINGS, SLOWS_TO_LIMITS
from companion.arranging.model import ArrangedBar, ArrangedStroke
from companion.chart.melody import NotePlace
from companion.cli import arguments
from companion.cli.printing import plain, print_result
from companion.errors import ExitCode, HandsError, SettingsError
from companion.session.arranged import arranged
from companion.session.arranged_text import arranged_text, beat_of
from companion.session.note_places import note_places
from companion.session.stand import Stand
from companion.store.own_arrangement import BAR_WISHES, read_bar_wishes, save_arrangement
from companion.store.own_song import BAR, NOTE

NOTES = """\
What is chosen is kept with the song and taken by the app, play, export and mark; --once only prints it. Where nothing was chosen it is shown
with two voices. A note of the melody is named by its
section, the bar there and its number among those that begin in that bar: --note "A.3.2=3 b7" has the third and the seventh of the chord under
the second note of bar 3, wherever A comes; A.3.2=alone leaves it alone, A.3.2=free lets the companion choose.

An introduction or ending of your own is a section [section.Intro] or [section.Ending] of the chart that the form leaves out: --intro own, --ending own.

--ornaments "slide tremolo" plays a slide in each bar that has place for one, and tremolos on chords of two beats and more (with two voices or more); "fill walk" plays fills where the melody leaves room, and walks the left hand into the next phrase; --ornament says what you want in one bar:
"A.3=slide 2" the second of the slides proposed there (--slide A.3.2=below the one from below into the second note, A.3.2=no none into it), "A.8=fill 2" the second of the three fills there, "A.8=no fill, no walk" neither, "A.8=walk 2" a walk in shells where
the melody agrees, which changes the chart there, A.8=free what is wanted in the whole song. Another --seed makes other fills.

JSON: {"bars": [{"section", "occurrence", "bar", "tempo", "symbol", "left": [{"beat", "beats", "midi": [...], "fingers": [...], "why"}],
"right": [{"beat", "beats", "midi": [...], "melody", "ornament", "fingers": [...], "why"}]}]}. bar: of the section, 0 in the pickup; beat: from 1,
beats: how long it is held, both in the meter's unit (what slides into the
very first note comes before beat 1); midi, fingers: from the lowest; melody: the key that is the melody's, or null;
ornament: null, "slide", "tremolo" or "fill".
"""
FIRST_VOICES = 2  # what is shown of a song that nothing was chosen for: one note under the melody
_FREE, _ALONE, _NO_KIND = "free", "alone", "none"
_VALUES = ("seed", "choruses", "slows_to", "curve", "slide_ms")
_NOTE = re.compile(r"(.+)\.(\d{1,4})\.([1-9]\d{0,3})=(.+)")
_DEGREE = re.compile(r"(bb|b|#)?([1-9]|1[0-3])")


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    from companion.groove.names import PATTERN_NAMES

    parser.epilog = NOTES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    arguments.add_song(parser)
    arguments.add_key(parser)
    arguments.add_voices(parser)
    parser.add_argument(
        "--note", action="append", default=[], metavar="NOTE=DEGREES", help="what you want under a note"
    )
    parser.add_argument("--intro", choices=list(INTROS), help="what comes before the tune")
    parser.add_argument("--ending", choices=list(ENDINGS), help="what comes after it")
    parser.add_argument(
        "--slows-to", type=arguments.number(*SLOWS_TO_LIMITS), metavar="SHARE", help="of the tempo at the very end"
    )
    parser.add_argument(
        "--curve",
        type=arguments.number(*CURVE_LIMITS),
        metavar="Q",
        help="how it slows: 3 late, as runners stop, 2 sooner",
    )
    parser.add_argument(
        "--choruses",
        type=arguments.whole(1, MOST_CHORUSES),
        metavar="N",
        help="how often the form is played, 1 at first",
    )
    parser.add_argument(
        "--seed", type=arguments.whole(0, 2**31), metavar="N", help="what is chosen by chance, 0 at first"
    )
    parser.add_argument("--ornaments", metavar="KINDS", help=f"in the whole song: {' '.join(KINDS)}, or {_NO_KIND}")
    parser.add_argument(
        "--ornament", action="append", default=[], metavar="BAR=WHAT", help='in a bar, such as "A.8=fill 2, no walk"'
    )
    parser.add_argument(
        "--slide",
        action="append",
        default=[],
        metavar="NOTE=WAY",
        help="into one note, such as A.3.2=below, above, no or free",
    )
    parser.add_argument(
        "--slide-ms", type=arguments.number(*SLIDE_MS_LIMITS), metavar="MS", help="how long the grace of a slide lasts"
    )
    parser.add_argument("--pattern", choices=list(PATTERN_NAMES), help="the left hand's rhythm")
    parser.add_argument("--once", action="store_true", help="print it, keep nothing")
    arguments.add_json(parser)


def run(options: argparse.Namespace) -> int:
    """Keep what is chosen and print the tune. Raises HandsError where the song has no melody, SettingsError."""
    paths, settings = arguments.paths_and_settings(options)
    stand = arguments.wanted_stand(options, paths, settings)
    if not stand.has_melody:
        raise HandsError(f"{stand.song.title} has no melody to arrange: expected one in its chart")
    choice = stand.arranged
    if choice.voices == ALONE and options.voices is None:
        choice = replace(choice, voices=FIRST_VOICES)
    choice = replace(choice, intro=options.intro or choice.intro, ending=options.ending or choice.ending)
    for name, kind in ((INTRO_NAME, choice.intro), (ENDING_NAME, choice.ending)):
        if kind == OWN and own_section(stand.song, name) is None:
            raise HandsError(
                f"{stand.song.title} has no {name} of its own: expected a section [section.{name}] that the form leaves out"
            )
    for field in _VALUES:
        if getattr(options, field) is not None:
            choice = replace(choice, **{field: getattr(options, field)})
    if options.note:
        choice = replace(choice, notes=_own_notes(stand, choice, options.note))
    for text in options.slide:
        choice = _with_slide(stand, choice, text)
    choice = with_ornaments(stand, choice, options.ornaments, options.ornament)
    asked = (
        options.voices
        or options.tensions
        or options.note
        or options.ornaments
        or options.ornament
        or options.slide
        or options.intro
        or options.ending
        or any(getattr(options, field) is not None for field in _VALUES)
    )
    if asked and not options.once:
        save_arrangement(paths, stand.original.id, choice)
    stand = stand.change(arranged=choice, pattern=options.pattern or stand.pattern)
    bars = arranged(stand, choice.choruses)
    print_result(options, lambda: as_json(bars), lambda: arranged_text(stand, bars))
    return ExitCode.OK


def _own_notes(stand: Stand, choice: ArrangementChoice, said: list[str]) -> dict[NotePlace, tuple[str, ...]]:
    """The student's notes with those of the command line."""
    notes = dict(choice.notes)
    places = set(note_places(stand.bars, stand.written))
    for text in said:
        match = _NOTE.fullmatch(text.strip())
        degrees = tuple(match[4].split()) if match else ()
        if not match or not (match[4] in (_FREE, _ALONE) or all(map(_DEGREE.fullmatch, degrees))):
            raise SettingsError(f'--note {text}: expected such as "A.3.2=3 b7", A.3.2=alone or A.3.2=free')
        place = (match[1], int(match[2]), int(match[3]))
        if place not in places:
            raise SettingsError(
                f"--note {text}: no note of the melody is there; expected a section, a bar of it and a note that begins there"
            )
        if match[4] == _FREE:
            notes.pop(place, None)
        else:
            notes[place] = () if match[4] == _ALONE else degrees
    return notes


def _with_slide(stand: Stand, choice: ArrangementChoice, text: str) -> ArrangementChoice:
    """With what the command line wants at one note. Raises SettingsError."""
    where, _, way = text.partition("=")
    try:
        place = NOTE.read(where.strip())
    except ValueError:
        place = None
    if place is None or way.strip() not in (*SLIDE_WAYS, _FREE):
        raise SettingsError(f"--slide {text}: expected such as A.3.2=below, A.3.2=above, A.3.2=no or A.3.2={_FREE}")
    if place not in note_places(stand.bars, stand.written):
        raise SettingsError(
            f"--slide {text}: no note of the melody is there; expected a section, a bar of it and a note that begins there"
        )
    return choice.with_slide(place, None if way.strip() == _FREE else way.strip())


def with_ornaments(stand: Stand, choice: ArrangementChoice, kinds: str | None, by_bar: list[str]) -> ArrangementChoice:
    """With what the command line wants in the whole song, and in single bars. Raises SettingsError."""
    if kinds is not None:
        said = [] if kinds == _NO_KIND else kinds.replace(",", " ").split()
        if any(kind not in KINDS for kind in said):
            raise SettingsError(f"--ornaments {kinds}: expected some of {', '.join(KINDS)}, or {_NO_KIND}")
        choice = replace(choice, ornaments=tuple(kind for kind in KINDS if kind in said))
    bars = dict(choice.bars)
    there = {(bar.section, bar.bar) for bar in stand.bars}
    for text in by_bar:
        where, _, what = text.partition("=")
        try:
            place = BAR.read(where.strip())
            wishes = {} if what.strip() == _FREE else read_bar_wishes(what)
        except ValueError:
            raise SettingsError(f"--ornament {text}: expected a bar and {BAR_WISHES}, or A.8={_FREE}") from None
        if place not in there:
            raise SettingsError(f"--ornament {text}: the form has no such bar; expected a section and a bar of it")
        bars = {at: wish for at, wish in bars.items() if at[:2] != place or (wishes and at[2] not in wishes)}
        bars |= {(*place, kind): wish for kind, wish in wishes.items()}
    return replace(choice, bars=bars)


def as_json(bars: tuple[ArrangedBar, ...]) -> dict[str, Any]:
    """See NOTES."""
    right = [list(bar.right) for bar in bars]
    for number in range(1, len(bars)):  # what sounds before the bar line is told there
        early = [stroke for stroke in right[number] if stroke.tick < 0 and bars[number].bar > 0]
        line = bars[number - 1].meter.bar_ticks if bars[number - 1].bar > 0 else 0
        right[number - 1] += [replace(stroke, tick=stroke.tick + line) for stroke in early]
        right[number] = [stroke for stroke in right[number] if stroke not in early]
    return {
        "bars": [
            {
                "section": bar.section,
                "occurrence": bar.occurrence,
                "bar": bar.bar,
                "tempo": round(bar.tempo_bpm, 3),
                "symbol": bar.symbol,
                "left": [_stroke(bar, stroke) for stroke in bar.left],
                "right": [
                    _stroke(bar, stroke) | {"melody": stroke.melody, "ornament": stroke.ornament} for stroke in strokes
                ],
            }
            for bar, strokes in zip(bars, right, strict=True)
        ]
    }


def _stroke(bar: ArrangedBar, stroke: ArrangedStroke) -> dict[str, Any]:
    return {
        "beat": plain(beat_of(bar, stroke)),
        "beats": plain(Fraction(stroke.ticks, bar.meter.beat_ticks)),
        "midi": list(stroke.keys),
        "fingers": list(stroke.fingers),
        "why": stroke.why,
    }
