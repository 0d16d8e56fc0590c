"""The one place where an arrangement is checked; the rest of the room takes it as valid."""

from __future__ import annotations

from collections.abc import Iterable

from companion.chart.model import FEELS
from companion.errors import GrooveError
from companion.groove.model import HAND_PARTS, VOICES, Arrangement, GrooveBar, Stretch, Strike
from companion.groove.names import BASS_STYLES, CLICK_MODES, PATTERN_NAMES, check_name
from companion.groove.swing import MOST_UNEVEN, STRAIGHT

MOST_COUNT_IN_BARS = 2


def validate(arrangement: Arrangement) -> None:
    """Raise GrooveError, one sentence, for the first thing in the arrangement that cannot be played."""
    check_name("pattern", arrangement.pattern, PATTERN_NAMES)
    check_name("click", arrangement.click.mode, CLICK_MODES)
    check_name("bass", arrangement.bass, BASS_STYLES)
    check_name("feel", arrangement.feel, dict.fromkeys(FEELS, ""))
    click = arrangement.click
    if click.drop_bars < 0 or click.drop_every < 0 or (click.drop_every and click.drop_bars > click.drop_every):
        raise GrooveError(
            f"The click cannot drop out for {click.drop_bars} of every {click.drop_every} bars; "
            "expected no more bars than there are"
        )
    ratio = arrangement.swing_ratio
    if ratio is not None and not STRAIGHT <= ratio <= MOST_UNEVEN:
        raise GrooveError(f"The swing ratio is {ratio:g}; expected {STRAIGHT:g} (straight) to {MOST_UNEVEN:g}")
    if arrangement.count_in_bars is not None and not 0 <= arrangement.count_in_bars <= MOST_COUNT_IN_BARS:
        raise GrooveError(f"The count-in is {arrangement.count_in_bars} bars; expected 0 to {MOST_COUNT_IN_BARS}")
    if not arrangement.bars:
        raise GrooveError("The loop has no bars; expected at least one")
    if not 0 <= arrangement.pickup_ticks <= MOST_COUNT_IN_BARS * arrangement.bars[0].meter.bar_ticks:
        raise GrooveError(f"The pickup is longer than {MOST_COUNT_IN_BARS} bars; expected it to fit the count-in")
    unknown = [part for part in arrangement.parts if part not in VOICES]
    if unknown:
        raise GrooveError(f"There is no part {unknown[0]!r}; expected some of {', '.join(VOICES)}")
    lead_in_ticks = sum(bar.meter.bar_ticks for bar in arrangement.lead_in)
    if arrangement.lead_in and arrangement.pickup_ticks > lead_in_ticks:
        raise GrooveError("The pickup is longer than the lead-in; expected it to fit")
    _check_strikes("The pickup", arrangement.pickup, -arrangement.pickup_ticks, 0)
    for stretch, words in ((Stretch.LEAD_IN, "lead-in"), (Stretch.LOOP, "loop"), (Stretch.ENDING, "ending")):
        for position, bar in enumerate(arrangement.bars_of(stretch), 1):
            _check_bar(f"Bar {position} of the {words}", bar)
    for bars, words in ((arrangement.last, "last pass of the loop"), (arrangement.coming, "loop to come")):
        for position, bar in enumerate(bars, 1):
            _check_bar(f"Bar {position} of the {words}", bar)
    if arrangement.last and [bar.index for bar in arrangement.last] != [bar.index for bar in arrangement.bars]:
        raise GrooveError("The last pass of the loop has other bars than the loop; expected the same ones")


def _check_bar(where: str, bar: GrooveBar) -> None:
    at = 0
    for chord in bar.chords:
        if chord.tick != at or chord.ticks <= 0:
            break
        at += chord.ticks
    if bar.shares and (len(bar.shares) != bar.meter.pulses or not all(0.1 <= share <= 1.0 for share in bar.shares)):
        raise GrooveError(
            f"{where}: it slows down in {len(bar.shares)} pulses; expected a share from 0.1 to 1 for each of {bar.meter}"
        )
    if at != bar.meter.bar_ticks:
        raise GrooveError(f"{where}: its chords do not fill {bar.meter}; expected them end to end")
    _check_strikes(where, bar.written, 0, bar.meter.bar_ticks)


def _check_strikes(where: str, strikes: Iterable[Strike], start: int, end: int) -> None:
    for strike in strikes:
        if strike.part not in HAND_PARTS or not strike.notes:
            raise GrooveError(f"{where}: a strike without a hand or a note; expected both")
        if not start <= strike.tick < strike.end_tick <= end:
            raise GrooveError(
                f"{where}: a strike does not lie within it; expected it to end at the bar line, or be held over"
            )
