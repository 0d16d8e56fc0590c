"""The whole tune once through: the stand's own arrangement between its introduction and its ending; and as one row of bars, in which a take of it is
looked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from companion.arranging.model import ArrangedBar, ArrangedStroke
from companion.chart.loops import WHOLE_FORM
from companion.chart.model import FormBar
from companion.groove.model import Arrangement, GrooveBar, GrooveChord, Strike
from companion.session.arranged import ending_bars, intro_bars, ornaments_once
from companion.session.stand import Stand
from companion.theory.meter import Meter


def performance(stand: Stand, choruses: int | None = None) -> Arrangement:
    """What is played of it from the first bar to the last low note; where a loop is practised, that alone. choruses: how often the form is played, None for as often as was
    chosen; more than once, each leads back to the first bar but for the last, which leads on into the ending."""
    if stand.loop_name != WHOLE_FORM:
        return stand.arrangement()
    choruses = choruses or chosen_choruses(stand)
    after = ending_bars(stand)
    once = stand.arrangement(ornaments_once(stand, after))
    whole = once if choruses == 1 else replace(stand.arrangement(), last=once.bars)
    return replace(whole, lead_in=written_out(intro_bars(stand)), ending=written_out(after))


def asked_of(stand: Stand, choruses: int, turn: int) -> Arrangement:
    """What a pass of the loop asks of the hands: the last of so many choruses of the whole tune leads into its ending. choruses: 0 for none of it; turn: from 0."""
    loop = stand.arrangement()
    return replace(loop, bars=performance(stand, choruses=1).bars) if turn + 1 == choruses else loop


def chosen_choruses(stand: Stand) -> int:
    """How often the form is played in the whole tune; a loop is played once."""
    return stand.arranged.choruses if stand.loop_name == WHOLE_FORM else 1


@dataclass(frozen=True, slots=True)
class Row:
    """Bars in which a take is looked for. arrangement: its bars are all of them. bars: by their index, those of the chorus first, then those before and behind it; order: of
    indices, as they are played. opens: places in that order where a section begins."""

    arrangement: Arrangement
    bars: tuple[FormBar, ...]
    order: tuple[int, ...]

    @property
    def opens(self) -> list[int]:
        """Places in the order where a section begins."""
        return [place for place, index in enumerate(self.order) if self.bars[index].bar == 1]


def loop_row(stand: Stand) -> Row:
    """The loop on the stand, which comes again."""
    return Row(stand.arrangement(), stand.bars, stand.loop)


def whole_row(stand: Stand, choruses: int = 1) -> Row | None:
    """All that is played of the whole tune once through; None where that is the loop. choruses: as in `performance`."""
    whole, loop = performance(stand, choruses), stand.arrangement()
    if choruses == 1 and not whole.lead_in and not whole.ending and whole.bars == loop.bars:
        return None
    count = len(stand.bars)
    before, after = intro_bars(stand), ending_bars(stand)
    added = [
        FormBar(count + number, bar.section, bar.occurrence, bar.bar, number, bar.meter, bar.chords)
        for number, bar in enumerate((*before, *after))
    ]
    form = tuple(range(count)) * choruses
    order = (*range(count, count + len(before)), *form, *range(count + len(before), count + len(added)))
    played = (
        *_ending_with_pickup(whole.lead_in, whole.pickup),
        *whole.bars * (choruses - 1),
        *(whole.last or whole.bars),
        *whole.ending,
    )
    bars = tuple(replace(bar, index=index) for index, bar in zip(order, played, strict=True))
    return Row(replace(loop, bars=bars, pickup=(), pickup_ticks=0), (*stand.bars, *added), order)


def _ending_with_pickup(before: Sequence[GrooveBar], pickup: Sequence[Strike]) -> tuple[GrooveBar, ...]:
    """The bars with what the tune strikes before its first bar line, which comes after them."""
    bars, end = list(before), 0
    for number in range(len(bars) - 1, -1, -1):
        bar, start = bars[number], end - bars[number].meter.bar_ticks
        struck = [replace(each, tick=each.tick - start, chord=0) for each in pickup if start <= each.tick < end]
        bars[number] = replace(bar, written=tuple(sorted((*bar.written, *struck), key=lambda strike: strike.tick)))
        end = start
    return tuple(bars)


def written_out(bars: Sequence[ArrangedBar]) -> tuple[GrooveBar, ...]:
    """For whoever plays them: every strike of both hands as it stands there, whatever the pattern. The highest note may be held over bar lines, as in the form."""
    strikes: list[list[Strike]] = [[] for _ in bars]
    chords = [
        tuple(
            GrooveChord(bar.meter.ticks(placed.beat), bar.meter.ticks(placed.beats), placed.chord)
            for placed in bar.chords
        )
        for bar in bars
    ]
    for number, bar in enumerate(bars):
        for part, strokes in (("left", bar.left), ("right", bar.right)):
            for stroke in strokes:
                strikes[number].append(_strike(part, stroke, chords[number], bar.meter, is_last=bar is bars[-1]))
                left, at = stroke.tick + stroke.ticks - bar.meter.bar_ticks, number + 1
                while left > 0 and at < len(bars):
                    ticks = min(left, bars[at].meter.bar_ticks)
                    goes_on = left > ticks and at + 1 < len(bars)
                    strikes[at].append(Strike(part, 0, ticks, stroke.keys[-1:], held=True, goes_on=goes_on))
                    left, at = left - ticks, at + 1
    return tuple(
        GrooveBar(-1, bar.meter, chords[number], tuple(sorted(strikes[number], key=lambda each: each.tick)), bar.shares)
        for number, bar in enumerate(bars)
    )


def _strike(
    part: str, stroke: ArrangedStroke, chords: tuple[GrooveChord, ...], meter: Meter, *, is_last: bool
) -> Strike:
    """As much of it as lies in its own bar."""
    chord = max(number for number, chord in enumerate(chords) if chord.tick <= stroke.tick)
    ticks = min(stroke.ticks, meter.bar_ticks - stroke.tick)
    goes_on = stroke.ticks > ticks and not is_last
    return Strike(part, stroke.tick, ticks, stroke.keys, chord, goes_on=goes_on, inner_ticks=stroke.inner_ticks)
