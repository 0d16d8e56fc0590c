"""`companion mark SONG TAKE.mid`: mark a take recorded elsewhere, such as on a digital piano's memory stick."""

from __future__ import annotations

import argparse
from collections import Counter
from typing import Any

from companion.chart.loops import loop_name
from companion.cli import arguments
from companion.cli.printing import plain, print_result
from companion.errors import ExitCode, TakeError
from companion.hands.hand import pitch_name
from companion.practice.marking.apart import by_hand, together_of
from companion.practice.marking.playthrough import Event, Pass
from companion.practice.marking.summary import (
    beats_words,
    heard_chords,
    pass_lines,
    reason_words,
    slip_words,
    weakest_changes,
)
from companion.practice.marking.swinging import Swinging
from companion.practice.marking.swinging_take import swing_of_take
from companion.practice.marking.teacher import why_not_clean
from companion.practice.marking.timing import timing_words
from companion.practice.model import ChordMark, PassMarks, StrikeMark, WrongNote
from companion.session.stand import TEMPO_LIMITS, Stand
from companion.session.take_file import read_recording
from companion.session.take_marks import MarkedTake, chart_words, fits_better, mark_recording
from companion.store.library import read_songs

CHANGES_SHOWN = 5
EXTRA_BARS_SHOWN = 6

NOTES = """\
Where the song starts in the take is found by itself, and so are its tempo, its pattern and how often it is played, where they
are not given; a wait, a bar begun again and bars left out are named. A take in another key or octave is marked in it. What
lies before the first and after the last stroke was not played and does not count. Of a take with both hands the left one
is marked, unless --hands asks for the right one or both: the melody is then marked by the left hand's own beat. A hand that is not there is
named. The time is measured against the take's own beat; against the click where the file has one
(channel 10, or --click-track); with --tempo against that steady click.

JSON: {"song", "key", "semitones", "tempo", "pattern", "click", "start_s", "passes", "chords", "events", "figures", "words",
"says", "swing"}. key: it was played in; semitones: how far above the chart's. tempo in beats a minute; click: whether a click was the
clock. start_s: where the first bar begins, in seconds from the start of the file. passes: "pass" and "take" from 1, "start_s",
"clean", "why_not_clean" (a sentence where too much was disturbed, else ""), "hands": for "left" and "right" how many were "right" "of"
how many, "offset_ms" and "spread_ms"; "together_ms": left minus right, above zero where the melody comes first, null where that is not
known; "octave": semitones that the melody was played higher; "absent_hand": left or right
where it was asked for and is not in that pass, else "". chords: every chord of every pass in turn: "pass" and "bar" count from 1, the bar within its "section", whose
"occurrence" in the form counts from 1 too; "beat" from 1; "symbol"; "verdict": right, early, late, wrong or missing;
"offset_ms": negative is early, null where the chord did not come; "reason": "" where the verdict says it all; "part": left, or right for a note of the melody; "played": the MIDI
notes taken for it; "strikes": each with "strike" from 1, "due_s", "verdict", "offset_ms", "reason", "played", "missing" and "along",
keys struck with it. events: "kind" (waited, began again, left out) with "pass", "time_s", "section", "occurrence", "bar",
"symbol", "beats", "bars" and "alone": whether the right hand played on meanwhile. figures: of all passes together: how many "chords" were "right" or "missing", "extra" keys, "share_right",
"offset_ms", "spread_ms", "evenness_ms" from strike to strike. says: what a teacher would say. swing: of the melody's eighths, measured and not marked:
"pairs" of them, "ratio" of the first to the second in the middle and its "quartiles", null of fewer than eight pairs; "beat_ms": how far behind the file's click
the notes on the beat lie, and "off_beat_ms" the off-beats behind where they would swing with the band, null without a click; "says".
"""


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    from companion.groove.names import PATTERN_NAMES

    parser.epilog = NOTES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    arguments.add_song(parser)
    parser.add_argument("take", metavar="TAKE.mid", help="a MIDI file, format 0 or 1")
    parser.add_argument(
        "--tempo", type=arguments.number(*TEMPO_LIMITS), metavar="BPM", help="the click it was played to"
    )
    arguments.add_loop(parser)
    parser.add_argument("--pattern", choices=list(PATTERN_NAMES), help="the left hand's rhythm")
    arguments.add_hands(parser, rest=False)
    arguments.add_key(parser, "the key it was played in, such as Eb or F#m")
    parser.add_argument(
        "--click-track", type=arguments.whole(1, 99), metavar="N", help="the file's track with the click"
    )
    arguments.add_json(parser)
    arguments.add_hand(parser)


def run(options: argparse.Namespace) -> int:
    """Print the marks of the take. Raises TakeError."""
    paths, settings = arguments.paths_and_settings(options)
    stand = arguments.wanted_stand(options, paths, settings)
    recording = read_recording(options.take, options.click_track)
    marked = mark_recording(stand, recording, options.pattern, options.tempo)
    swing = swing_of_take((marked.stand if marked else stand).arrangement(), recording.presses, recording.clicks_s)
    alone = (
        marked is None and stand.hands == "right" and bool(swing.sentence)
    )  # the melody, and no shells to know the song by
    likeness = marked.take.likeness if marked else 0.0
    other = (
        None
        if alone
        else fits_better(lambda: read_songs(paths, settings), settings, recording, likeness, stand.song.id)
    )
    if other:
        raise TakeError(
            f"{options.take}: is not {stand.song.title} but {other.title}; mark it with: companion mark {other.id} TAKE"
        )
    if (marked is None and not alone) or (marked and marked.absent == stand.hands):
        raise _not_heard(stand, options.take, options.tempo, marked.absent if marked else "")
    print_result(
        options,
        lambda: (
            (as_json(marked) if marked else {"song": stand.song.id, "key": stand.key.name})
            | {"swing": swing_json(swing)}
        ),
        lambda: "\n\n".join(filter(None, (as_text(marked) if marked else stand.song.title, swing.sentence))),
    )
    return ExitCode.OK


def _not_heard(stand: Stand, path: str, tempo_bpm: float | None, absent: str) -> TakeError:
    if absent:
        there = "right" if absent == "left" else "left"
        return TakeError(
            f"{path}: of {stand.song.title} the {there} hand alone is to be heard in it; expected the {absent} one. Mark it with: "
            f"companion mark {stand.song.id} TAKE --hands {there}"
        )
    at = f" at tempo {tempo_bpm:g}" if tempo_bpm else ""
    return TakeError(
        f"{path}: {stand.song.title} ({stand.loop_name}, in {stand.key}{at}) is not to be heard in it; expected "
        "its shells, as `companion shells` lists them"
    )


# --- what is printed


def swing_json(swing: Swinging) -> dict[str, Any]:
    """As NOTES says."""
    quartiles = [round(ratio, 3) for ratio in swing.quartiles] if swing.quartiles else None
    return {
        "pairs": len(swing.ratios),
        "ratio": quartiles[1] if quartiles else None,
        "quartiles": quartiles,
        "beat_ms": _tenth(swing.beat_ms) if swing.clocked else None,
        "off_beat_ms": _tenth(swing.off_beat_ms) if swing.clocked else None,
        "says": swing.sentence,
    }


def as_json(marked: MarkedTake) -> dict[str, Any]:
    """As NOTES says."""
    figures, stand = marked.together.figures, marked.stand
    return {
        "song": stand.song.id,
        "key": stand.key.name,
        "semitones": marked.semitones,
        "tempo": round(marked.tempo_bpm, 2),
        "pattern": marked.take.arrangement.pattern,
        "click": marked.has_click,
        "start_s": round(marked.passes[0].start_s, 3),
        "passes": [
            {
                "pass": number,
                "take": each.take,
                "start_s": round(each.start_s, 3),
                "clean": not each.marks.is_disturbed and not each.marks.slipped_bars(),
                "why_not_clean": why_not_clean(each.marks),
                "hands": _hands_json(each.marks) | {"absent_hand": each.absent},
            }
            for number, each in enumerate(marked.passes, 1)
        ],
        "chords": [
            _chord_json(stand, number, chord)
            for number, each in enumerate(marked.passes, 1)
            for chord in each.marks.chords
        ],
        "events": [
            _event_json(stand, number, event) for number, each in enumerate(marked.passes, 1) for event in each.events
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
        "says": list(marked.says),
    }


def _hands_json(marks: PassMarks) -> dict[str, Any]:
    """Each hand by itself, and how they lay against each other."""
    hands: dict[str, Any] = {
        part: {
            "right": own.figures.right,
            "of": own.figures.chords,
            "offset_ms": _tenth(own.figures.offset_ms),
            "spread_ms": _tenth(own.figures.spread_ms),
        }
        for part, own in by_hand(marks).items()
    }
    together = together_of(marks)
    return hands | {"together_ms": _tenth(together.ms) if together else None, "octave": marks.octave}


def _chord_json(stand: Stand, number: int, mark: ChordMark) -> dict[str, Any]:
    bar = stand.bars[mark.index]
    placed = bar.chords[mark.chord]
    return {
        "bar": bar.bar,
        "beat": plain(placed.beat + 1),
        "symbol": placed.symbol,
        "verdict": mark.verdict,
        "offset_ms": _tenth(mark.offset_ms),
        "played": list(_played(mark)),
        "section": bar.section,
        "occurrence": bar.occurrence,
        "pass": number,
        "reason": mark.reason,
        "part": mark.part,
        "strikes": [_strike_json(strike) for strike in mark.strikes],
    }


def _strike_json(mark: StrikeMark) -> dict[str, Any]:
    return {
        "strike": mark.expected.number + 1,
        "due_s": round(mark.expected.due_s, 3),
        "verdict": mark.verdict,
        "offset_ms": _tenth(mark.offset_ms),
        "reason": mark.reason,
        "played": list(mark.played),
        "missing": list(mark.missing),
        "along": list(mark.along),
    }


def _event_json(stand: Stand, number: int, event: Event) -> dict[str, Any]:
    bar = stand.bars[event.index]
    placed = bar.chords[event.chord]
    return {
        "kind": event.kind,
        "pass": number,
        "time_s": round(event.time_s, 3),
        "section": bar.section,
        "occurrence": bar.occurrence,
        "bar": bar.bar,
        "symbol": placed.symbol,
        "beats": round(event.beats, 2),
        "bars": round(event.bars, 2),
        "alone": event.alone,
    }


def _tenth(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


def _played(mark: ChordMark) -> tuple[int, ...]:
    """The notes the verdict rests on: those of the first strike with that verdict, else of the first strike that came
    at all."""
    came = [strike for strike in mark.strikes if strike.played]
    return next((strike.played for strike in came if strike.verdict == mark.verdict), came[0].played if came else ())


def as_text(marked: MarkedTake) -> str:
    """A head; each pass in short, with what happened in it and the chords that were not right; the changes that cost most; and what
    a teacher would say."""
    stand, take = marked.stand, marked.take
    count = len(marked.passes)
    start_s = round(marked.passes[0].start_s, 2) + 0.0  # the sum takes the sign off a zero
    lines = [
        f"{stand.song.title}, {stand.key}, {stand.loop_name}{_key_words(stand, marked.semitones)}",
        f"Found from {start_s:.2f} s on, tempo {marked.tempo_bpm:.1f}"
        f"{' by the click' if marked.has_click else ''}, pattern {take.arrangement.pattern}, "
        f"{count} {'pass' if count == 1 else 'passes'}.",
    ]
    takes = {each.take for each in marked.passes}
    for number, each in enumerate(marked.passes, 1):
        of_take = f", take {each.take}" if len(takes) > 1 else ""
        lines += [
            "",
            f"Pass {number}{of_take}{_bars_words(each)}",
            *pass_lines(each.marks, marked.beat_s, (), chart_words(stand).places),
            *([f"The {each.absent} hand is missing: nothing of it is to be heard."] if each.absent else []),
        ]
        lines += [f"  {words}" for words in _what_happened(stand, each)]
        lines += [_slip_line(stand, chord) for chord in each.marks.chords if not chord.is_right]
    symbols = {
        (index, number): placed.symbol for index in stand.loop for number, placed in enumerate(stand.bars[index].chords)
    }
    changes = weakest_changes(
        [heard_chords(each.marks.chords, symbols) for each in marked.passes], CHANGES_SHOWN, marked.beat_s
    )
    if changes:
        lines += ["", "Costliest changes:", *(f"  {change.words}" for change in changes)]
    if marked.says:
        lines += ["", "What a teacher would say:", *(f"  {sentence}" for sentence in marked.says)]
    return "\n".join(lines)


_INTERVALS = (
    "", "a semitone", "a whole tone", "a minor third", "a major third", "a fourth", "a tritone", "a fifth", "a minor sixth",
    "a major sixth", "a minor seventh", "a major seventh", "an octave",
)  # fmt: skip


def _key_words(stand: Stand, semitones: int) -> str:
    if not semitones:
        return ""
    interval = _INTERVALS[abs(semitones)] if abs(semitones) <= 12 else f"{abs(semitones) // 12} octaves"
    where = f"in {stand.key}, " if semitones % 12 else ""
    return f"; played {where}{interval} {'higher' if semitones > 0 else 'lower'} than the chart"


def _bars_words(each: Pass) -> str:
    """ ", bars 5 to 12" where it is not the whole form."""
    chords = each.marks.chords
    if each.is_whole:
        return ""
    return f", {loop_name((chords[0].index, chords[-1].index))}"


def _what_happened(stand: Stand, each: Pass) -> list[str]:
    lines = []
    for event in each.events:
        bar = stand.bars[event.index]
        placed = bar.chords[event.chord]
        place = f"{bar.section} bar {bar.bar}"
        if event.kind == "waited":
            lines.append(f"Waited {beats_words(event.beats)} before {placed.symbol} ({place}).")
        elif event.kind == "began again":
            lines.append(f"Began again from {place}.")
        else:
            count = max(1, round(event.bars))
            left_out = "a bar" if count == 1 else f"{count} bars"
            how = "The right hand alone for" if event.alone else "Left out"
            lines.append(f"{how} {left_out} from {place}.")
    unclean = why_not_clean(each.marks)
    lines += [unclean] if unclean else []
    if each.marks.extra:
        bars = Counter(key.index for key in each.marks.extra)
        named = [
            f"{stand.bars[index].section} bar {stand.bars[index].bar} ({count})"
            for index, count in bars.most_common(EXTRA_BARS_SHOWN)
        ]
        lines.append(f"Keys too many: {', '.join(named)}{' ...' if len(bars) > EXTRA_BARS_SHOWN else ''}.")
    return lines


def _slip_line(stand: Stand, mark: ChordMark) -> str:
    bar = stand.bars[mark.index]
    placed = bar.chords[mark.chord]
    strike = next((strike for strike in mark.strikes if strike.verdict == mark.verdict), mark.strikes[0])
    words = slip_words(mark.verdict, mark.offset_ms, strike.expected.beat_s)
    symbol = placed.symbol if mark.part == "left" else f"melody {pitch_name(strike.expected.notes[0])}"
    if mark.reason:
        words = reason_words(mark.reason, words, [pitch_name(note) for note in strike.played])
    elif mark.verdict == "wrong" and strike.wrong:
        words = "; ".join(_wrong_words(note) for note in strike.wrong)
    elif mark.verdict == "missing" and strike.missing and strike.keys:
        words = f"{' '.join(pitch_name(note) for note in strike.missing)} missing"
    slipped = [each.expected.number + 1 for each in mark.strikes if each.verdict != "right"]
    where = f" (strike {', '.join(map(str, slipped))} of {len(mark.strikes)})" if len(mark.strikes) > 1 else ""
    return f"  {bar.section} bar {bar.bar:<3} {symbol:<10} {words}{where}"


_KIND_WORDS = {
    "other shell": "from another shell",
    "neighbour": "a neighbour",
    "wrong octave": "the wrong octave",
    "other": "",
}


def _wrong_words(wrong: WrongNote) -> str:
    kind = _KIND_WORDS[wrong.kind]
    return f"{pitch_name(wrong.note)} instead of {pitch_name(wrong.instead_of)}" + (f", {kind}" if kind else "")
