"""The whole tune as text: bar by bar what both hands play, with the reasons. What `companion arrange` prints and the app shows."""

from __future__ import annotations

from fractions import Fraction

from companion.arranging.model import FORM, ArrangedBar, ArrangedStroke
from companion.groove.patterns import pattern_words
from companion.session.arranged import arranged
from companion.session.stand import Stand


def beat_of(bar: ArrangedBar, stroke: ArrangedStroke) -> Fraction:
    """Where a stroke begins, from 1 in the meter's unit; the pickup counts as in the bar before the first."""
    from_line = stroke.tick + (bar.meter.bar_ticks if bar.bar == 0 else 0)
    return 1 + Fraction(from_line, bar.meter.beat_ticks)


def arranged_text(stand: Stand, bars: tuple[ArrangedBar, ...]) -> str:
    """A head line, then for each bar its chords, its left hand and its right hand, a stroke a line where there is a reason."""
    song = stand.song
    pattern = pattern_words(stand.pattern, song.meter)
    lines = [f"{song.title}   {song.key}   {song.meter}   {' '.join(song.form)}   the left hand {pattern}"]
    for place, bar in enumerate(bars):
        if (bar.bar <= 1 or not place) and lines[-1] != bar.section:
            times = song.form.count(bar.section)
            lines += ["", f"{bar.section} ({bar.occurrence})" if times > 1 else bar.section]
        lines.append(f"{bar.bar:>3}  {bar.symbol}")
        for hand, strokes in (("left ", bar.left), ("right", bar.right)):
            for number, stroke in enumerate(strokes):
                if number and hand == "left " and stroke.keys == strokes[number - 1].keys:
                    continue  # the pattern strikes it again
                if (
                    number > 1
                    and stroke.ornament == "tremolo"
                    and not stroke.why
                    and stroke.keys == strokes[number - 2].keys
                ):
                    continue  # both chords of the tremolo stand there
                notes = " ".join(stroke.names)
                fingers = "-".join(map(str, stroke.fingers))
                beat = "slide" if stroke.ornament == "slide" else f"{float(beat_of(bar, stroke)):.4g}"
                lines.append(
                    f"     {hand if number == 0 else '     '} {beat:<5} {notes:<16} {fingers:<8} {stroke.why}".rstrip()
                )
    return "\n".join(lines)


def text_from(stand: Stand, index: int) -> str:
    """The same from a bar of the chorus on, and then what comes before it."""
    bars = arranged(stand)
    form = [place for place, bar in enumerate(bars) if bar.stretch == FORM and bar.bar > 0]
    first = form[index] if index else 0
    after, before = bars[first:], bars[:first]
    return arranged_text(stand, after) + ("\n\nFrom the beginning\n" + arranged_text(stand, before) if before else "")
