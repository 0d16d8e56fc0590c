"""`companion mark SONG TAKE.mid`: mark a take recorded elsewhere, such as on a digital piano's memory stick."""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass
from typing import Any

from companion.cli import arguments
from companion.errors import ExitCode, TakeError
from companion.hands.hand import pitch_name
from companion.practice.marking.marks import figures_of, timing_words
from companion.practice.marking.summary import heard_chords, pass_lines, slip_words, weakest_changes
from companion.practice.marking.take import Take, find_take, left_hand, mark_take
from companion.practice.model import ChordMark, PassMarks, WrongNote
from companion.session.passes import shell_options
from companion.session.stand import TEMPO_LIMITS, Stand
from companion.session.take_file import read_take
from companion.store.paths import find_paths
from companion.store.settings import load_settings

CHANGES_SHOWN = 5

NOTES = """\
The start of the song in the take is found by itself, and so are the tempo, the pattern and the number of passes where
they are not given. A pass after the first counts if at least half of it was played. Of a take with both hands only
what lies in the left hand's range counts. The time is measured against the take's own beat; with --tempo, against
that steady click, from the start that fits best.

JSON: {"song", "tempo", "pattern", "start_s", "chords", "figures", "words"}. tempo in beats a minute; start_s: where
the first bar begins, in seconds from the start of the file. chords: every chord of every pass in turn: "pass" and
"bar" count from 1, the bar within its "section", whose "occurrence" in the form counts from 1 too; "beat" from 1;
"symbol"; "verdict": right, early, late, wrong or missing; "offset_ms": negative is early, null where the chord did
not come; "played": the MIDI notes taken for it. figures: of all passes together.
"""


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    from companion.groove.names import PATTERN_NAMES

    parser.epilog = NOTES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("song", metavar="SONG", help=arguments.SONG_HELP)
    parser.add_argument("take", metavar="TAKE.mid", help="a MIDI file, format 0 or 1")
    parser.add_argument(
        "--tempo", type=arguments.number(*TEMPO_LIMITS), metavar="BPM", help="the click it was played to"
    )
    parser.add_argument("--loop", metavar="BARS", help="a section's name, or bars of the chorus such as 5-8")
    parser.add_argument("--pattern", choices=list(PATTERN_NAMES), help="the left hand's rhythm")
    parser.add_argument("--key", type=arguments.key, metavar="KEY", help="the key it was played in, such as Eb or F#m")
    parser.add_argument("--json", action="store_true", help="print JSON and nothing else")
    arguments.add_hand(parser)


def run(options: argparse.Namespace) -> int:
    """Print the marks of the take. Raises TakeError."""
    paths = find_paths()
    settings = arguments.with_hand(load_settings(paths), options)
    stand = arguments.wanted_stand(options, paths, settings)
    marked = mark_file(stand, options.take, options.pattern, options.tempo)
    print(json.dumps(as_json(stand, marked), ensure_ascii=False, indent=1) if options.json else as_text(stand, marked))
    return ExitCode.OK


@dataclass(frozen=True, slots=True)
class Marked:
    """A take and the marks of its passes; together: all of them end to end."""

    take: Take
    passes: tuple[PassMarks, ...]

    @property
    def together(self) -> PassMarks:
        """The marks of all passes as one."""
        chords = tuple(chord for marks in self.passes for chord in marks.chords)
        extra = tuple(press for marks in self.passes for press in marks.extra)
        return PassMarks(chords, extra, figures_of(chords, len(extra)))

    @property
    def beat_s(self) -> float:
        """Seconds of one beat at the tempo of the take."""
        return 60.0 / self.take.tempo_bpm


def mark_file(stand: Stand, path: str, pattern: str | None = None, tempo_bpm: float | None = None) -> Marked:
    """Mark a MIDI file against the loop on the stand. Raises TakeError where it cannot be read or the loop is not in
    it."""
    from companion.groove.names import PATTERN_NAMES

    arrangement = stand.arrangement()
    patterns = [pattern] if pattern else sorted(PATTERN_NAMES, key=lambda name: name != stand.pattern)
    presses = read_take(path)
    take = find_take(left_hand(presses, arrangement), arrangement, patterns, stand.tempo_bpm, tempo_bpm)
    if take is None:
        at = f" at tempo {tempo_bpm:g}" if tempo_bpm else ""
        raise TakeError(
            f"{path}: {stand.song.title} ({stand.loop_name}, in {stand.key}{at}) is not to be heard in it; expected "
            "its shells, as `companion shells` lists them"
        )
    return Marked(take, mark_take(take, presses, shell_options(stand)))


# --- what is printed


def as_json(stand: Stand, marked: Marked) -> dict[str, Any]:
    """As NOTES says."""
    together, take = marked.together, marked.take
    figures = together.figures
    return {
        "song": stand.song.id,
        "tempo": round(take.tempo_bpm, 2),
        "pattern": take.arrangement.pattern,
        "start_s": round(take.start_s, 3),
        "chords": [
            _chord_json(stand, number, chord) for number, marks in enumerate(marked.passes, 1) for chord in marks.chords
        ],
        "figures": {
            "passes": len(marked.passes),
            "chords": figures.chords,
            "right": figures.right,
            "missing": figures.missing,
            "extra": figures.extra,
            "share_right": round(figures.share_right, 4),
            "offset_ms": _tenth(figures.offset_ms),
            "spread_ms": _tenth(figures.spread_ms),
            "evenness_ms": _tenth(figures.evenness_ms),
        },
        "words": timing_words(figures, marked.beat_s),
    }


def _chord_json(stand: Stand, number: int, mark: ChordMark) -> dict[str, Any]:
    bar = stand.bars[mark.index]
    placed = bar.chords[mark.chord]
    beat = placed.beat + 1
    return {
        "bar": bar.bar,
        "beat": int(beat) if beat.denominator == 1 else float(beat),
        "symbol": placed.symbol,
        "verdict": mark.verdict,
        "offset_ms": _tenth(mark.offset_ms),
        "played": list(_played(mark)),
        "section": bar.section,
        "occurrence": bar.occurrence,
        "pass": number,
    }


def _tenth(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


def _played(mark: ChordMark) -> tuple[int, ...]:
    """The notes the verdict rests on: those of the first strike with that verdict, else of the first strike that came
    at all."""
    came = [strike for strike in mark.strikes if strike.played]
    return next((strike.played for strike in came if strike.verdict == mark.verdict), came[0].played if came else ())


def as_text(stand: Stand, marked: Marked) -> str:
    """A head, each pass in short, the chords that were not right, and the changes that cost most."""
    take = marked.take
    lines = [
        f"{stand.song.title}, {stand.key}, {stand.loop_name}",
        f"Found from {take.start_s:.2f} s on, tempo {take.tempo_bpm:.1f}, pattern {take.arrangement.pattern}, "
        f"{len(marked.passes)} {'pass' if len(marked.passes) == 1 else 'passes'}.",
    ]
    symbols = {
        (index, number): placed.symbol for index in stand.loop for number, placed in enumerate(stand.bars[index].chords)
    }
    for number, marks in enumerate(marked.passes, 1):
        lines += ["", f"Pass {number}", *pass_lines(marks, marked.beat_s)]
        lines += [_slip_line(stand, chord) for chord in marks.chords if not chord.is_right]
    changes = weakest_changes([heard_chords(marks.chords, symbols) for marks in marked.passes], CHANGES_SHOWN)
    if changes:
        lines += ["", "Costliest changes:", *(f"  {change.words}" for change in changes)]
    return "\n".join(lines)


def _slip_line(stand: Stand, mark: ChordMark) -> str:
    bar = stand.bars[mark.index]
    wrong = next((strike.wrong for strike in mark.strikes if strike.wrong), ())
    words = slip_words(mark.verdict, mark.offset_ms)
    if mark.verdict == "wrong" and wrong:
        words = "; ".join(_wrong_words(note) for note in wrong)
    return f"  {bar.section} bar {bar.bar:<3} {bar.chords[mark.chord].symbol:<10} {words}"


_KIND_WORDS = {
    "other shell": "from another shell",
    "neighbour": "a neighbour",
    "wrong octave": "the wrong octave",
    "other": "",
}


def _wrong_words(wrong: WrongNote) -> str:
    kind = _KIND_WORDS[wrong.kind]
    return f"{pitch_name(wrong.note)} instead of {pitch_name(wrong.instead_of)}" + (f", {kind}" if kind else "")
