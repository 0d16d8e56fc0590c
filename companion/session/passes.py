"""One pass while it is played: when its bars began, what was pressed, what that comes to; and its line in the log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import uuid4

from companion.groove.model import Arrangement
from companion.practice.dues import BarStart, due_shells
from companion.practice.marking import mark_pass
from companion.practice.model import ChordMark, Due, PassMarks, PassRecord, Press
from companion.session.stand import Stand


class PassEar:
    """Collects one pass of an arrangement. Times are the sound process's seconds; presses are freed of `latency_s` here."""

    def __init__(self, stand: Stand, arrangement: Arrangement, latency_s: float, own_offset_ms: float | None = None) -> None:
        self.stand = stand
        self.arrangement = arrangement
        self.presses: list[Press] = []
        self._latency_s = latency_s
        self._own_offset_ms = own_offset_ms
        self._starts: list[BarStart] = []
        self._options = shell_options(stand)

    def bar_began(self, start_s: float, tempo_bpm: float) -> None:
        self._starts.append(BarStart(start_s, tempo_bpm))

    def press(self, time_s: float, note: int, velocity: int) -> None:
        self.presses.append(Press(time_s - self._latency_s, note, velocity))

    @property
    def bars_begun(self) -> int:
        return len(self._starts)

    @property
    def is_whole(self) -> bool:
        """Whether its last bar has begun."""
        return len(self._starts) == len(self.arrangement.bars)

    @property
    def start_s(self) -> float:
        return self._starts[0].start_s

    @property
    def end_s(self) -> float:
        """Where its last bar begun ends."""
        last = self._starts[-1]
        pulses = self.arrangement.bars[len(self._starts) - 1].meter.pulses
        return last.start_s + pulses * 60.0 / last.tempo_bpm

    @property
    def tempo_bpm(self) -> float:
        return self._starts[-1].tempo_bpm

    @property
    def beat_s(self) -> float:
        return 60.0 / self.tempo_bpm

    @property
    def closes_s(self) -> float | None:
        """When the last strike can no longer be played, and the pass may be marked as a whole; None before its last bar has begun."""
        if not self.is_whole:
            return None
        dues = self._dues()
        return dues[-1].due_s + dues[-1].window_s + self._latency_s if dues else self.end_s

    def marks(self, until_s: float | None = None) -> PassMarks:
        """The marks so far (`until_s`), or of the whole pass."""
        until_s = None if until_s is None else until_s - self._latency_s
        return mark_pass(self._dues(), self.presses, own_offset_ms=self._own_offset_ms, until_s=until_s)

    def _dues(self) -> tuple[Due, ...]:
        return due_shells(self.arrangement, self._starts, self._options)


def shell_options(stand: Stand) -> dict[tuple[int, int], tuple[tuple[int, int], ...]]:
    """(bar's index, chord from 0) -> the legal shells there as MIDI notes."""
    return {
        (index, number): tuple(option.midi for option in choice.options)
        for index in stand.loop
        for number, (_, choice) in enumerate(stand.choices_at(index))
    }


def loop_key(loop: Sequence[int]) -> str:
    """How the log names a loop: "0-31", or every bar where they do not follow each other."""
    first, last = loop[0], loop[-1]
    return f"{first}-{last}" if list(loop) == list(range(first, last + 1)) else ",".join(map(str, loop))


def sections_in(stand: Stand, loop: Sequence[int]) -> tuple[str, ...]:
    """The sections that lie in the loop from their first bar to their last, each once."""
    inside = set(loop)
    whole: dict[tuple[str, int], bool] = {}
    for bar in stand.bars:
        place = (bar.section, bar.occurrence)
        whole[place] = whole.get(place, True) and bar.index in inside
    return tuple(dict.fromkeys(section for (section, _), complete in whole.items() if complete))


@dataclass(frozen=True, slots=True)
class Told:
    """How the student says it went. One of four words for the whole pass, and the bars that slipped, by index.

    share: of right chords, taken where no bar was named. clean: whether it counts as passed.
    """

    key: str
    words: str
    share: float
    clean: bool


ANSWERS = (
    Told("1", "It ran by itself", 1.0, True),
    Told("2", "It held, with thought", 0.9, True),
    Told("3", "It stumbled", 0.7, False),
    Told("4", "It broke down", 0.3, False),
)


def make_record(
    stand: Stand,
    loop: Sequence[int],
    *,
    started_at: datetime,
    duration_s: float,
    tempo_bpm: float,
    kind: str,
    round_: int,
    cues: float,
    source: str,
    answer: str,
    share_right: float,
    clean: bool,
    slipped: frozenset[int],
    marks: PassMarks | None = None,
    chords: tuple[dict, ...] | None = None,
) -> PassRecord:
    """The pass as the log keeps it. started_at: aware of its zone."""
    figures = marks.figures if marks else None
    return PassRecord(
        id=uuid4().hex,
        started_at=started_at.isoformat(timespec="milliseconds"),
        duration_s=round(duration_s, 3),
        song_id=stand.song.id,
        title=stand.song.title,
        key=stand.key.name,
        loop_name=stand.loop_name,
        loop=tuple(loop),
        sections=sections_in(stand, loop),
        tempo_bpm=tempo_bpm,
        target_bpm=stand.song.tempo_bpm,
        pattern=stand.pattern,
        hands="left",
        kind=kind,
        round=round_,
        cues=cues,
        source=source,
        answer=answer,
        share_right=share_right,
        clean=clean,
        slipped=tuple(sorted(slipped)),
        offset_ms=figures.offset_ms if figures else None,
        spread_ms=figures.spread_ms if figures else None,
        evenness_ms=figures.evenness_ms if figures else None,
        extra=figures.extra if figures else 0,
        chords=chords if chords is not None else tuple(chord_row(stand, mark) for mark in marks.chords) if marks else (),
    )


def chord_row(stand: Stand, mark: ChordMark) -> dict:
    """A marked chord as the log and `companion mark` write it."""
    bar = stand.bars[mark.index]
    return {
        "index": mark.index,
        "section": bar.section,
        "bar": bar.bar,
        "chord": mark.chord,
        "symbol": symbol_at(stand, mark.index, mark.chord),
        "verdict": mark.verdict,
        "offset_ms": None if mark.offset_ms is None else round(mark.offset_ms, 1),
        "played": [note for strike in mark.strikes for note in strike.played],
    }


def symbol_at(stand: Stand, index: int, chord: int) -> str:
    placed = stand.bars[index].chords[chord]
    return placed.chord.symbol if placed.chord else "N.C."
