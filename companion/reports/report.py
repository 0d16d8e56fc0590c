"""What a teacher wants to know of a song between two lessons: what was practised, how, and where it stands."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import fmean

from companion.chart.model import Song
from companion.practice.marking.summary import offset_words
from companion.practice.model import PassRecord
from companion.practice.planning.lessons import HAND_WORDS, StepState, step_words
from companion.practice.planning.progress import SongProgress, tells
from companion.practice.planning.totals import BY_HEART, FROM_SYMBOLS, by_heart
from companion.reports.chart import chart_plot
from companion.reports.plots import minutes_plot, section_bars, tempo_plot
from companion.session.chords.memory import SHELL_KIND, known_of_song, known_sentences
from companion.session.overview import hands_known, lesson_of_song, progress_of, recent_passes
from companion.store.log.practice_log import PracticeLog

WIDTH = 78
_PLOT_HEIGHT = 12
_DAYS_SHOWN = 14
NAMES_HEAD = "Shells by name"
# kind of a pass -> words; "fade+climb" counts as both.
_KIND_WORDS = {
    "play": "played along",
    "free": "in free time",
    "symbols": "cues taken away down to the symbols",
    "fade": "cues taken away",
    "climb": "up to tempo",
    "swing": "straight, then swinging",
    "symbols-only": "from the symbols alone",
    "dark": "in the dark",
    "recall": "recalled",
}


@dataclass(frozen=True, slots=True)
class HandReport:
    """What is known of a song by one pair of hands. how: sentences on their latest passes."""

    progress: SongProgress
    how: tuple[str, ...]

    @property
    def words(self) -> str:
        """ "Left hand"."""
        return HAND_WORDS[self.progress.hands].capitalize()

    @property
    def standing(self) -> str:
        """Where the tempo stands, in a sentence."""
        progress = self.progress
        best, target = progress.best_bpm, progress.target_bpm
        if best is None:
            return f"No clean pass in time yet; the target is {target:g}."
        settled = progress.working_bpm
        working = f" The climb over the whole form has settled at {settled:.0f}." if settled else ""
        if progress.passed_on:
            return f"The fastest clean pass was at {best:.0f}: the target, {target:g}, is reached.{working}"
        return f"The fastest clean pass was at {best:.0f}; the target is {target:g}.{working}"


@dataclass(frozen=True, slots=True)
class Report:
    """hands: a report for each pair of hands that played the song, the left first. has_lesson: whether the steps are a teacher's, not
    the usual ones. chords: what is known of its chords in root position, names: of its shells when a name is seen, in sentences."""

    song: Song
    made_at: datetime
    hands: tuple[HandReport, ...]
    steps: tuple[StepState, ...]
    has_lesson: bool
    chords: tuple[str, ...] = ()
    names: tuple[str, ...] = ()

    @property
    def day_words(self) -> str:
        """The day it was made: "27 November 2026"."""
        return f"{self.made_at.day} {self.made_at:%B %Y}"

    @property
    def steps_done(self) -> int:
        """How many steps the log says are done."""
        return sum(state.done for state in self.steps)


def make_report(log: PracticeLog, song: Song, now: datetime) -> Report:
    """The report of a song by all hands that played it. now: aware."""
    hands = tuple(
        HandReport(progress_of(log, song, now, name), how_lines(recent_passes(log, song, name)))
        for name in hands_known(log, song)
    )
    chords = known_sentences(known_of_song(log, song))
    names = names_told(log, song)
    return Report(song, now, hands, lesson_of_song(log, song), bool(song.lesson and song.lesson.steps), chords, names)


def names_told(log: PracticeLog, song: Song) -> tuple[str, ...]:
    """The drill of names, in a sentence a hand. Raises LogError."""
    return known_sentences(known_of_song(log, song, SHELL_KIND), SHELL_KIND)


def how_lines(passes: Sequence[PassRecord]) -> tuple[str, ...]:
    """How the song was practised: by which ways, heard or told, and how the time was."""
    if not passes:
        return ("It was not played yet.",)
    kinds = Counter(kind for record in passes for kind in record.kind.split("+"))
    ways = ", ".join(f"{_KIND_WORDS.get(kind, kind)} {count}" for kind, count in kinds.most_common())
    heard = sum(record.source == "heard" for record in passes)
    told = sum(tells(record) for record in passes) - heard
    lines = [f"The latest {len(passes)} passes: {ways}." if len(passes) > 1 else f"One pass: {ways}."]
    lines.append(
        f"Heard from a keyboard: {heard}; the student's word: {told}; nothing said: {len(passes) - heard - told}."
    )
    levels = Counter(map(by_heart, passes))
    for level, words in ((FROM_SYMBOLS, "From the chord symbols alone"), (BY_HEART, "Without any cues")):
        if levels[level]:
            lines.append(f"{words}: {levels[level]}.")
    offsets = [record.offset_ms for record in passes if record.offset_ms is not None]
    spreads = [record.spread_ms for record in passes if record.spread_ms is not None]
    if offsets and spreads:
        lines.append(f"Time: {offset_words(fmean(offsets))}, spread {fmean(spreads):.0f} ms.")
    return tuple(lines)


def report_text(report: Report, width: int = WIDTH) -> str:
    """The report for a terminal."""
    song = report.song
    parts = [f"{song.title}   {song.key}   {song.meter}   {report.day_words}"]
    for hand in report.hands:
        parts += ([hand.words.upper()] if len(report.hands) > 1 else []) + _hand_parts(hand, width)
    parts.append(_headed("Chords in root position", _wrapped(report.chords, width)))
    parts.append(_headed(NAMES_HEAD, _wrapped(report.names, width)))
    parts.append(_headed(steps_head(report), "\n".join(_step_line(state, song, width) for state in report.steps)))
    return "\n\n".join(filter(None, parts)) + "\n"


def _hand_parts(hand: HandReport, width: int) -> list[str]:
    progress = hand.progress
    return [
        _wrapped([hand.standing, *progress.news], width),
        _headed("Bar by bar", chart_plot(progress, width)),
        tempo_plot(progress, width, _PLOT_HEIGHT),
        minutes_plot(progress, width),
        _headed("Sections", section_bars(progress.sections, width)),
        _headed("From symbols", "\n".join(f"  {words}" for words in progress.from_symbols)),
        _headed("Does the left hand run by itself", "\n".join(f"  {words}" for words in progress.by_itself)),
        _headed("From memory in other keys", "\n".join(f"  {words}" for words in progress.in_other_keys)),
        _headed("Costliest changes", "\n".join(f"  {change.words}" for change in progress.changes)),
        _headed("Bars that slipped", "\n".join(f"  {bar.words}" for bar in progress.weak_bars)),
        _headed("How it was practised", _wrapped(hand.how, width)),
        _headed("Days", "\n".join(_day_lines(progress))),
    ]


def steps_head(report: Report) -> str:
    """The line above the steps."""
    words = "Lesson" if report.has_lesson else "Steps (the song has no lesson; these are the usual ones)"
    return f"{words}: {report.steps_done} of {len(report.steps)} steps done"


def recent_days(progress: SongProgress) -> list[tuple[str, str, str, str, str]]:
    """Day, minutes, passes, clean ones and fastest clean pass of the last two weeks, the latest first."""
    first = (progress.today - timedelta(days=_DAYS_SHOWN - 1)).isoformat()
    return [
        (
            day.day,
            f"{day.seconds / 60:.0f}",
            str(day.passes),
            str(day.clean),
            "" if day.best_bpm is None else f"{day.best_bpm:.0f}",
        )
        for day in reversed(progress.days)
        if day.day >= first
    ]


def _day_lines(progress: SongProgress) -> list[str]:
    rows = recent_days(progress)
    head = ("day", "minutes", "passes", "clean", "fastest clean")
    return (
        [
            f"  {day:<11} {minutes:>7} {passes:>7} {clean:>6} {best:>14}"
            for day, minutes, passes, clean, best in [head, *rows]
        ]
        if rows
        else []
    )


def _step_line(state: StepState, song: Song, width: int) -> str:
    box = "[x]" if state.done else "[ ]"
    count = "" if state.done else f" ({state.clean} so far)" if state.clean else ""
    return textwrap.fill(
        f"{box} {state.number}. {step_words(state.step, song)}{count}",
        width,
        initial_indent="  ",
        subsequent_indent=" " * 9,
    )


def _headed(head: str, text: str) -> str:
    return f"{head}\n{text}" if text else ""


def _wrapped(sentences: Sequence[str], width: int) -> str:
    return textwrap.fill(" ".join(sentences), width)
