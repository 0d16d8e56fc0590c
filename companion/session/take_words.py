"""A marked take in words: pass by pass what slipped and what happened, the changes that cost most, what a teacher would say."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from companion.base.text import plural
from companion.chart.model import FormBar
from companion.practice.marking.playthrough import Pass
from companion.practice.marking.summary import (
    beats_words,
    heard_chords,
    pass_lines,
    weakest_changes,
)
from companion.practice.marking.teacher import why_not_clean
from companion.session.slip_line import slip_line
from companion.session.stand import Stand
from companion.session.take_marks import MarkedTake, words_of

CHANGES_SHOWN = 5
EXTRA_BARS_SHOWN = 6


def take_words(marked: MarkedTake) -> str:
    """A head; each pass in short, with what happened in it and the chords that were not right; the changes that cost most; and what
    a teacher would say."""
    stand, take, page = marked.stand, marked.take, words_of(marked.bars, marked.order)
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
            f"Pass {number}{of_take}{_bars_words(marked.bars, each)}",
            *pass_lines(each.marks, marked.beat_s, (), page.places),
            *([f"The {each.absent} hand is missing: nothing of it is to be heard."] if each.absent else []),
        ]
        lines += [f"  {words}" for words in _what_happened(marked.bars, each)]
        lines += [slip_line(stand, chord, marked.bars) for chord in each.marks.chords if not chord.is_right]
        lines += _not_sure(marked, number - 1)
    changes = weakest_changes(
        [heard_chords(each.marks.chords, page.symbols) for each in marked.passes], CHANGES_SHOWN, marked.beat_s
    )
    if changes:
        lines += ["", "Costliest changes:", *(f"  {change.words}" for change in changes)]
    if marked.ornaments:
        lines += ["", marked.ornaments]
    if marked.says:
        lines += ["", "What a teacher would say:", *(f"  {sentence}" for sentence in marked.says)]
    return "\n".join(lines)


def _not_sure(marked: MarkedTake, place: int) -> list[str]:
    """The chords of a pass that were not surely heard, by bar."""
    unsure = Counter(
        f"{marked.bars[chord.index].section} bar {marked.bars[chord.index].bar}"
        for number, chord in marked.not_sure
        if number == place
    )
    shown = [f"{words} ({count})" if count > 1 else words for words, count in list(unsure.items())[:EXTRA_BARS_SHOWN]]
    more = " ..." if len(unsure) > EXTRA_BARS_SHOWN else ""
    return (
        [f"  Not sure of {plural(unsure.total(), 'chord')}, not counted: {', '.join(shown)}{more}."] if unsure else []
    )


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


def _bars_words(bars: Sequence[FormBar], each: Pass) -> str:
    """ ", bars 5 to 12" where it is not the whole form."""
    chords = each.marks.chords
    if each.is_whole:
        return ""
    first, last = bars[chords[0].index], bars[chords[-1].index]
    places = [f"{bar.section} bar {bar.bar}" for bar in (first, last)]
    return f", {places[0]}" if first is last else f", {places[0]} to {places[1]}"


def _what_happened(bars: Sequence[FormBar], each: Pass) -> list[str]:
    lines = []
    for event in each.events:
        bar = bars[event.index]
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
        counts = Counter(key.index for key in each.marks.extra)
        named = [
            f"{bars[index].section} bar {bars[index].bar} ({count})"
            for index, count in counts.most_common(EXTRA_BARS_SHOWN)
        ]
        lines.append(f"Keys too many: {', '.join(named)}{' ...' if len(counts) > EXTRA_BARS_SHOWN else ''}.")
    return lines
