"""Which file comes out: one row an ending."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from companion.base.files import check_target, write_target
from companion.base.text import plural, shown
from companion.export.options import TRACK_PARTS, ExportError, ExportOptions
from companion.groove.calls import call_seconds
from companion.session.drill import drill_settings
from companion.session.stand import Stand

if TYPE_CHECKING:
    import numpy as np

    from companion.export.score import Score
    from companion.groove.timeline import Timeline
    from companion.store.settings import Settings


TRACKS = (".wav", ".flac", ".mp3")


@dataclass(frozen=True, slots=True)
class ExportFormat:
    """ending: of the file's name. words: what it is. plays: whether parts, choruses and tempo apply. fades: whether a
    round of the fading drill can be had. make: the file's contents, of a sheet that takes one file a page those of each. staves: whether
    it has notes on a staff."""

    ending: str
    words: str
    plays: bool
    fades: bool
    make: Callable[[Stand, ExportOptions, Settings], list[bytes]]
    staves: bool = False


def export(stand: Stand, target: str | Path, options: ExportOptions, settings: Settings) -> list[Path]:
    """Write the stand's loop to a file of the kind its ending says, whole or not at all; returns what was written: one
    path, or for pages sheet.svg, sheet-2.svg and so on.

    Raises ExportError: an ending that is not ours, an option that does not fit; WriteError: a place that cannot be written.
    """
    path = Path(target)
    kind = format_of(path)
    if options.round is not None and not kind.fades:
        raise ExportError(f"a round of the drill is for paper: expected a target ending in {_endings(fades=True)}")
    if not kind.plays and (options.parts or options.choruses or options.from_tempo_bpm):
        raise ExportError(
            f"{kind.ending} holds the song once: parts, choruses and a climb are for {_endings(plays=True)}"
        )
    if options.size and not (kind.staves and kind.fades):
        raise ExportError(f"a size is for paper: expected a target ending in {_or(['.svg', '.pdf'])}")
    if options.fingers and not kind.staves:
        raise ExportError(f"fingers stand on a staff: expected a target ending in {_endings(staves=True)}")
    if options.calls and kind.ending not in TRACKS:
        raise ExportError(f"the changes are called on a track: expected a target ending in {_or(list(TRACKS))}")
    check_target(path, options.force)
    pages = kind.make(stand, options, settings)
    paths = [path, *(path.with_stem(f"{path.stem}-{number}") for number in range(2, len(pages) + 1))]
    for page_path in paths:
        check_target(page_path, options.force)
    for page_path, page in zip(paths, pages, strict=True):
        write_target(page_path, page, options.force)
    return paths


def format_of(path: Path) -> ExportFormat:
    """Raises ExportError naming the endings there are."""
    for kind in FORMATS:
        if path.suffix.casefold() == kind.ending:
            return kind
    said = f"{path.suffix!r} is no ending we write" if path.suffix else f"{str(path)!r} has no ending"
    raise ExportError(f"{said}: expected {', '.join(kind.ending for kind in FORMATS)}")


def _endings(*, plays: bool = False, fades: bool = False, staves: bool = False) -> str:
    fitting = [
        kind.ending for kind in FORMATS if (kind.plays and plays) or (kind.fades and fades) or (kind.staves and staves)
    ]
    return _or(fitting)


def _or(endings: list[str]) -> str:
    return f"{', '.join(endings[:-1])} or {endings[-1]}"


def _midi(stand: Stand, options: ExportOptions, settings: Settings) -> list[bytes]:
    from companion.export.midi import midi_bytes

    return [midi_bytes(stand, options, settings)]


def _musicxml(stand: Stand, options: ExportOptions, settings: Settings) -> list[bytes]:
    from companion.export.musicxml import musicxml_text

    return [musicxml_text(_score(stand, options)).encode()]


def _score(stand: Stand, options: ExportOptions) -> Score:
    """The song as it is arranged, or melody and shells where nothing is."""
    from companion.export.score import score_of
    from companion.export.whole_tune import is_arranged, whole_tune

    if is_arranged(stand):
        return whole_tune(stand, options.written_pattern, options.hands)
    return score_of(stand, options.written_pattern, hands=options.hands, fingers=_with_fingers(stand, options))


def _with_fingers(stand: Stand, options: ExportOptions) -> bool:
    """Whether the melody has fingers: where they are asked for, or the student plays it."""
    return options.fingers or (options.hands or stand.hands) != "left"


def _track(kind: str, stand: Stand, options: ExportOptions, settings: Settings) -> list[bytes]:
    from companion.export.audio_file import Tags, encoded
    from companion.export.performance import least_seconds, perform
    from companion.export.track import RATE, check_length, mix

    check_length(least_seconds(stand, options))
    performance = perform(stand, options)
    volumes = {voice: sound.volume for voice, sound in settings.sound.voices.items()}
    samples = mix(performance, volumes, spoken=_spoken(options.calls, RATE), sound=settings.sound)
    tags = Tags(shown(stand.song.title), stand.tempo_bpm, stand.key.name, track_words(stand, options, performance))
    return [encoded(samples, RATE, kind, tags)]


def _spoken(folder: Path | None, rate: int) -> Callable[[str], np.ndarray] | None:
    """What speaks the changes called; see ExportOptions.calls."""
    if folder is None:
        return None
    from companion.speech.speaker import Speaker

    speaker = Speaker(folder)
    return lambda words: speaker.samples(words, call_seconds(words), rate)


def track_words(stand: Stand, options: ExportOptions, performance: Timeline) -> str:
    """What is on the track, for its comment: "whole form in Bb, 3 choruses, 60 to 126 beats a minute; bass, click"."""
    heard = {event.part for event in performance.events}
    parts = ", ".join(name for part, name in TRACK_PARTS.items() if part in heard)
    choruses = 1 + max(bar.turn for bar in performance.bars)
    climb = f"{options.from_tempo_bpm:g} to " if options.from_tempo_bpm else ""
    return (
        f"{stand.loop_name} in {stand.key.name}, {plural(choruses, 'chorus', 'choruses')}, "
        f"{climb}{stand.tempo_bpm:g} beats a minute; {parts}"
    )


def _pages(stand: Stand, options: ExportOptions, settings: Settings) -> list[str]:
    """The sheet's pages as SVG; with a round of the drill its page, then the answers."""
    from companion.export.faded import cues_of, round_of, round_words
    from companion.export.score import score_of
    from companion.export.sheet import pages_of, sheet_of
    from companion.export.sizes import SIZES

    size = SIZES[options.size or settings.sheet_size]
    if options.round is None:
        return pages_of([sheet_of(_score(stand, options))], size)
    whole = score_of(stand, options.written_pattern, hands=options.hands, fingers=_with_fingers(stand, options))
    state = round_of(stand, options.round, drill_settings(settings))
    faded = score_of(stand, options.written_pattern, cues_of(state), options.hands)
    # Bar under bar with the answers, so without signs for repeats: what is hidden differs from one time to the next.
    return pages_of([sheet_of(faded, round_words(state), fold=False), sheet_of(whole, "The answers", fold=False)], size)


def _svg(stand: Stand, options: ExportOptions, settings: Settings) -> list[bytes]:
    from companion.export.outlines import outlined

    return [page.encode() for page in outlined(_pages(stand, options, settings))]


def _pdf(stand: Stand, options: ExportOptions, settings: Settings) -> list[bytes]:
    from companion.export.sheet import pdf_of

    return [pdf_of(_pages(stand, options, settings), shown(stand.song.title))]


def _plain_text(stand: Stand, options: ExportOptions, settings: Settings) -> list[bytes]:
    from companion.export.text import text_of

    return [text_of(stand, options.round, drill_settings(settings)).encode()]


FORMATS = (
    ExportFormat(".mid", "a MIDI file: a named track for each part", True, False, _midi),
    ExportFormat(".musicxml", "a score for notation programs, MusicXML 4.0", False, False, _musicxml, staves=True),
    ExportFormat(".wav", "a practice track", True, False, partial(_track, ".wav")),
    ExportFormat(".flac", "a practice track, smaller and as good", True, False, partial(_track, ".flac")),
    ExportFormat(".mp3", "a practice track for the phone", True, False, partial(_track, ".mp3")),
    ExportFormat(".svg", "a printed sheet, one file a page", False, True, _svg, staves=True),
    ExportFormat(".pdf", "a printed sheet", False, True, _pdf, staves=True),
    ExportFormat(".txt", "plain text, for a message to a friend", False, True, _plain_text),
)
