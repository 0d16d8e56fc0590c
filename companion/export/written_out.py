"""The strokes of a hand as written notes: voices that do not overlap, cut at the bar lines, with graces and tremolos as the signs that stand for them.

Units: ticks from the start of the first bar. A grace has no time of its own on paper: what it took from the note before is given back to that. A tremolo is
written as its two halves with strokes between (MusicXML 4.0, "tremolo"; common practice).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from companion.arranging.model import ArrangedStroke
from companion.export.notation import Span, filled, quarters
from companion.theory.pitch import Pitch

SLIDE, TREMOLO = "slide", "tremolo"
BLANK = "blank"  # in a second voice: room without a sign


@dataclass(frozen=True, slots=True)
class Grace:
    """A small note before another. finger: 1 to 5."""

    pitches: tuple[Pitch, ...]
    fingers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Struck:
    """Notes of one hand that begin and end together, within one bar. pitches, fingers: from the lowest; fingers () where none are printed. from_before, goes_on: tied over
    the bar line at its start, at its end; top_alone: only the highest at its end. graces: before it. second: with what it takes turns in a tremolo, None for none."""

    pitches: tuple[Pitch, ...]
    fingers: tuple[int, ...] = ()
    from_before: bool = False
    goes_on: bool = False
    top_alone: bool = False
    graces: tuple[Grace, ...] = ()
    second: Struck | None = None


@dataclass(frozen=True, slots=True)
class _Sound:
    """What is held from one tick to another. is_tied: from what ends where it starts; what.top_alone: its highest note is held on in another."""

    start: int
    end: int
    what: Struck
    is_tied: bool = False


Voice = tuple[tuple[Span, ...], ...]  # the spans of each bar, () where it has nothing


def voices(strokes: Iterable[ArrangedStroke], lines: Sequence[int], *, fingers: bool) -> list[Voice]:
    """The voices of a hand, the first of them with rests in all bars. strokes: in order, their ticks from the start of the first bar. lines: the ticks of
    the bar lines, the one at the end too."""
    written = _with_signs(list(strokes))
    sounds = sorted(
        _sounds(written, fingers, frozenset(lines)), key=lambda sound: (sound.start, -sound.what.pitches[-1].midi)
    )
    free: list[int] = []
    parts: list[list[_Sound]] = []
    for sound in sounds:
        number = next((number for number, until in enumerate(free) if until <= sound.start), len(parts))
        if number == len(parts):
            parts.append([])
            free.append(0)
        parts[number].append(sound)
        free[number] = sound.end
    return [_in_bars(part, lines, is_first=not number) for number, part in enumerate(parts or [[]])]


@dataclass(frozen=True, slots=True)
class _Signed:
    """A stroke with what stands for others: graces before it, the other half of a tremolo."""

    stroke: ArrangedStroke
    graces: tuple[Grace, ...] = ()
    second: ArrangedStroke | None = None


def _with_signs(strokes: Sequence[ArrangedStroke]) -> list[_Signed]:
    found: list[_Signed] = []
    graces: list[Grace] = []
    for stroke in strokes:
        if stroke.ornament == SLIDE:
            graces.append(Grace(_pitches(stroke), stroke.fingers))
            found = [_given_back(signed, stroke) for signed in found]
        elif found and _goes_on_trembling(found[-1], stroke):
            last = found[-1]
            whole = replace(last.stroke, ticks=stroke.tick + stroke.ticks - last.stroke.tick, inner_ticks=None)
            found[-1] = replace(last, stroke=whole, second=last.second or stroke)
        else:
            found.append(_Signed(stroke, tuple(graces)))
            graces = []
    return found


def _given_back(signed: _Signed, grace: ArrangedStroke) -> _Signed:
    """A note that ended where the grace begins lasts to its end."""
    stroke = signed.stroke
    longer = replace(
        stroke,
        ticks=stroke.ticks + (grace.ticks if stroke.tick + stroke.ticks == grace.tick else 0),
        inner_ticks=None
        if stroke.inner_ticks is None
        else stroke.inner_ticks + (grace.ticks if stroke.tick + stroke.inner_ticks == grace.tick else 0),
    )
    return replace(signed, stroke=longer)


def _goes_on_trembling(last: _Signed, stroke: ArrangedStroke) -> bool:
    """Whether a stroke is the other half of the tremolo before it, or one of its halves again."""
    before = last.stroke
    if not (before.ornament == stroke.ornament == TREMOLO and before.tick + before.ticks == stroke.tick):
        return False
    halves = {before.keys, last.second.keys if last.second else stroke.keys}
    return stroke.keys in halves and (last.second is not None or stroke.keys != before.keys)


def _sounds(written: Sequence[_Signed], fingers: bool, lines: Collection[int]) -> Iterable[_Sound]:
    """Where the company ends at a bar line the melody note is tied over it; elsewhere it has a voice of its own."""
    for signed in written:
        stroke = signed.stroke
        start, end = stroke.tick, stroke.tick + stroke.ticks
        whole = _struck(stroke, fingers)
        second = None if signed.second is None else _struck(signed.second, fingers)
        top_alone = stroke.inner_ticks is not None and 0 < stroke.inner_ticks < stroke.ticks and len(stroke.keys) > 1
        if not top_alone:
            yield _Sound(start, end, replace(whole, graces=signed.graces, second=second))
            continue
        assert stroke.inner_ticks is not None
        inner_end = start + stroke.inner_ticks
        if inner_end in lines:
            yield _Sound(start, inner_end, replace(whole, graces=signed.graces, top_alone=True))
            yield _Sound(inner_end, end, Struck(whole.pitches[-1:], whole.fingers[-1:]), is_tied=True)
            continue
        yield _Sound(start, end, Struck(whole.pitches[-1:], whole.fingers[-1:], graces=signed.graces))
        yield _Sound(start, inner_end, Struck(whole.pitches[:-1], whole.fingers[:-1]))


def _struck(stroke: ArrangedStroke, fingers: bool) -> Struck:
    return Struck(_pitches(stroke), stroke.fingers if fingers else ())


def _pitches(stroke: ArrangedStroke) -> tuple[Pitch, ...]:
    return tuple(Pitch.parse(name) for name in stroke.names)


def _in_bars(sounds: Sequence[_Sound], lines: Sequence[int], *, is_first: bool) -> Voice:
    """Cut at the bar lines and filled up: the first voice with rests, others without a sign."""
    bars: list[list[Span]] = [[] for _ in lines[1:]]
    for sound in sounds:
        at = max(sound.start, lines[0])
        while at < min(sound.end, lines[-1]):
            bar = bisect_right(lines, at) - 1
            until = min(sound.end, lines[bar + 1])
            piece = replace(
                sound.what,
                from_before=sound.is_tied or at > sound.start,
                goes_on=sound.what.top_alone or until < sound.end,
                top_alone=sound.what.top_alone and until == sound.end,
                graces=sound.what.graces if at == sound.start else (),
            )
            start, end = quarters(at - lines[bar]), quarters(until - lines[bar])
            bars[bar].append(Span(start, end - start, piece))
            at = until
    written = []
    for number, spans in enumerate(bars):
        whole = filled(spans, quarters(lines[number + 1] - lines[number])) if spans or is_first else ()
        written.append(
            whole if is_first else tuple(replace(span, what=BLANK) if span.what is None else span for span in whole)
        )
    return tuple(written)
