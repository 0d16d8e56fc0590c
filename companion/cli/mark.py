"""`companion mark SONG TAKE`: mark a take recorded elsewhere, such as on a digital piano's memory stick, or by a telephone beside a piano."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from companion.cli import arguments
from companion.cli.printing import plain, print_result
from companion.errors import ExitCode, TakeError
from companion.practice.marking.apart import by_hand, together_of
from companion.practice.marking.playthrough import Event
from companion.practice.marking.swinging import Swinging
from companion.practice.marking.swinging_take import swing_of_take
from companion.practice.marking.teacher import why_not_clean
from companion.practice.marking.timing import timing_words
from companion.practice.model import ChordMark, PassMarks, StrikeMark
from companion.session.stand import TEMPO_LIMITS, Stand
from companion.session.take_file import read_recording
from companion.session.take_heard import HeardTake, heard_words
from companion.session.take_marks import MarkedTake, fits_better, mark_recording
from companion.session.take_words import take_words
from companion.store.library import read_songs
from companion.store.pianos import read_piano

if TYPE_CHECKING:
    from companion.store.paths import Paths

NOTES = """\
Where the song starts in the take is found by itself, and so are its tempo, its pattern and how often it is played, where they
are not given; a wait, a bar begun again and bars left out are named. A take in another key or octave is marked in it. A tune with an
introduction or an ending is found with them or without; where it slows down, order and hands are marked and not the time. What
lies before the first and after the last stroke was not played and does not count. Of a take with both hands the left one
is marked, unless --hands asks for the right one or both: the melody is then marked by the left hand's own beat. A hand that is not there is
named. The time is measured against the take's own beat; against the click where the file has one
(channel 10, or --click-track); with --tempo against that steady click.

A recording of sound (WAV, FLAC, MP3, OGG; others where ffmpeg is there) is listened to: what was not surely heard is "not sure" and counts for
nothing. It is surest with a piano that was learned before (`companion listen --scale`), named with --piano. Sound is never kept.

JSON: {"song", "key", "semitones", "tempo", "pattern", "click", "start_s", "passes", "chords", "events", "figures", "words",
"ornaments", "says", "swing", "heard"}. key: it was played in; semitones: how far above the chart's. tempo in beats a minute; click: whether a click was the
clock. start_s: where the first bar begins, in seconds from the start of the file. passes: "pass" and "take" from 1, "start_s",
"clean", "why_not_clean" (a sentence where too much was disturbed, else ""), "hands": for "left" and "right" how many were "right" "of"
how many, "offset_ms" and "spread_ms"; "together_ms": left minus right, above zero where the melody comes first, null where that is not
known; "octave": semitones that the melody was played higher; "absent_hand": left or right
where it was asked for and is not in that pass, else "". chords: every chord of every pass in turn: "pass" and "bar" count from 1, the bar within its "section", whose
"occurrence" in the form counts from 1 too; "beat" from 1; "symbol"; "verdict": right, early, late, wrong or missing, of a recording of sound also not sure;
"offset_ms": negative is early, null where the chord did not come; "reason": "" where the verdict says it all; "part": left, or right for a note of the melody; "played": the MIDI
notes taken for it; "strikes": each with "strike" from 1, "due_s", "verdict", "offset_ms", "reason", "played", "missing" and "along",
keys struck with it. events: "kind" (waited, began again, left out) with "pass", "time_s", "section", "occurrence", "bar",
"symbol", "beats", "bars" and "alone": whether the right hand played on meanwhile. figures: of all passes together: how many "chords" were "right" or "missing", "extra" keys, "share_right",
"offset_ms", "spread_ms", "evenness_ms" from strike to strike. ornaments: what is measured of slides and tremolos, "" where none came; says: what a teacher would say. swing: of the melody's eighths, measured and not marked:
"pairs" of them, "ratio" of the first to the second in the middle and its "quartiles", null of fewer than eight pairs; "beat_ms": how far behind the file's click
the notes on the beat lie, and "off_beat_ms" the off-beats behind where they would swing with the band, null without a click; "says".
heard: of a recording of sound: "piano" (its name, null where it was worked out from the recording), "strikes" that were due and how many of them
are "not_sure"; else null.
"""


def configure(parser: argparse.ArgumentParser) -> None:
    """What the command's line takes."""
    from companion.groove.names import PATTERN_NAMES

    parser.epilog = NOTES
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    arguments.add_song(parser)
    parser.add_argument("take", metavar="TAKE", help="a MIDI file, format 0 or 1, or a recording of sound")
    parser.add_argument(
        "--piano", metavar="NAME", help="of a recording: the piano, learned before, that it was played on"
    )
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
    heard = _heard(options, paths, stand)
    recording = heard.recording if heard else read_recording(options.take, options.click_track)
    marked = heard.marked if heard else mark_recording(stand, recording, options.pattern, options.tempo)
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
            | {"swing": swing_json(swing), "heard": _heard_json(options, heard)}
        ),
        lambda: "\n\n".join(
            filter(
                None,
                (
                    take_words(marked) if marked else stand.song.title,
                    swing.sentence,
                    heard_words(heard, options.piano) if heard else "",
                ),
            )
        ),
    )
    return ExitCode.OK


def _heard(options: argparse.Namespace, paths: Paths, stand: Stand) -> HeardTake | None:
    """What is heard in a recording of sound; None for a MIDI file."""
    from companion.session.sound_file import is_sound_file, read_sound

    if not is_sound_file(options.take):
        if options.piano is not None:
            raise TakeError(f"{options.take}: is no recording of sound; expected one with --piano, such as a WAV")
        return None
    from companion.session.take_heard import hear_take
    from companion.sound.listening.piano import from_bytes

    piano = None
    if options.piano is not None:
        path, data = read_piano(paths, options.piano)
        piano = from_bytes(data, str(path))
    return hear_take(stand, read_sound(options.take), piano, options.pattern, options.tempo)


def _heard_json(options: argparse.Namespace, heard: HeardTake | None) -> dict[str, Any] | None:
    if heard is None:
        return None
    return {"piano": options.piano, "strikes": heard.strikes, "not_sure": heard.unsure}


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
    figures = marked.together.figures
    return {
        "song": marked.stand.song.id,
        "key": marked.stand.key.name,
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
            _chord_json(marked, number, chord)
            for number, each in enumerate(marked.passes, 1)
            for chord in _in_order(marked, number, each.marks.chords)
        ],
        "events": [
            _event_json(marked, number, event) for number, each in enumerate(marked.passes, 1) for event in each.events
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
        "ornaments": marked.ornaments,
        "says": list(marked.says),
    }


def _in_order(marked: MarkedTake, number: int, chords: Sequence[ChordMark]) -> list[ChordMark]:
    """The chords of a pass, those that are not sure in their places."""
    unsure = [chord for place, chord in marked.not_sure if place == number - 1]
    return sorted([*chords, *unsure], key=lambda chord: chord.strikes[0].expected.due_s) if unsure else list(chords)


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


def _chord_json(marked: MarkedTake, number: int, mark: ChordMark) -> dict[str, Any]:
    bar = marked.bars[mark.index]
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


def _event_json(marked: MarkedTake, number: int, event: Event) -> dict[str, Any]:
    bar = marked.bars[event.index]
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
