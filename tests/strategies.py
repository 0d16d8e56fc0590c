"""Hypothesis strategies shared by the rooms' tests. Each room adds its own part."""

from __future__ import annotations

import itertools
from fractions import Fraction

from hypothesis import strategies as st

from companion.groove.model import BAND, PARTS, Arrangement, Click, GrooveBar, GrooveChord
from companion.theory.key import Key
from companion.theory.meter import Meter
from companion.theory.pitch import LETTERS, Tone
from companion.theory.qualities import (
    ADDITIONS,
    ALTERATIONS,
    COMMON_QUALITIES,
    MAJOR_FIGURES,
    MAJOR_WORDS,
    OMISSIONS,
    TRIADS,
)
from companion.theory.shell_kinds import Pin
from companion.theory.symbols import parse_chord

# --- groove

_METER_NAMES = (
    "4/4", "3/4", "5/4", "6/8", "12/8", "2/4", "9/8", "7/4", "6/4", "2/2", "7/8", "3/8", "8/4", "1/4",
)  # fmt: skip
METERS = tuple(map(Meter.parse, _METER_NAMES))
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B")
SLASH_BASSES = ("", "", "", "", "/C", "/E", "/Bb")
# What a hand has on a chord: nothing, a shell, a triad, four notes.
HAND_NOTES = ((), (41, 48), (48, 52), (46, 56), (48, 52, 55), (45, 48, 52, 55))


def meters() -> st.SearchStrategy[Meter]:
    return st.sampled_from(METERS)


@st.composite
def groove_chords(draw):
    parts = (ROOTS, COMMON_QUALITIES, SLASH_BASSES)
    return parse_chord("".join(draw(st.sampled_from(part)) for part in parts))


@st.composite
def groove_bars(draw, index: int, meter: Meter, palette: list) -> GrooveBar:
    """Chords end to end: sharing the bar evenly (so that lengths may be fractions), or changing on any half beat."""
    if draw(st.booleans()):
        count = draw(st.integers(1, 4))
        edges = [meter.ticks(Fraction(meter.beats * number, count)) for number in range(count + 1)]
    else:
        halves = st.integers(1, 2 * meter.beats - 1) if meter.beats > 1 else st.just(1)
        cuts = draw(st.sets(halves, max_size=3))
        edges = [0, *sorted(cut * meter.beat_ticks // 2 for cut in cuts), meter.bar_ticks]
    chords = []
    for start, end in itertools.pairwise(edges):
        chord = draw(st.sampled_from(palette))
        notes = () if chord is None else draw(st.sampled_from(HAND_NOTES))
        chords.append(GrooveChord(start, end - start, chord, notes))
    return GrooveBar(index, meter, tuple(chords))


@st.composite
def arrangements(draw, bass: str | None = None, **fixed) -> Arrangement:
    """A loop of up to 18 bars with changes of meter, held chords and N.C., and every setting of the groove.

    The palette is small, so that chords are often held over the bar line. fixed: fields that are given.
    """
    palette = draw(st.lists(st.one_of(groove_chords(), groove_chords(), st.none()), min_size=1, max_size=4))
    meter = draw(meters())
    bars = []
    for index in range(draw(st.integers(1, 18))):
        if draw(st.integers(0, 5)) == 0:
            meter = draw(meters())
        bars.append(draw(groove_bars(index, meter, palette)))
    drop_every = draw(st.integers(0, 6))
    mode = draw(st.sampled_from(("every", "offbeats", "bar", "off")))
    fields = {
        "pattern": draw(st.sampled_from(("four", "two", "whole", "charleston", "late-charleston"))),
        "click": Click(mode, draw(st.integers(0, drop_every)), drop_every),
        "bass": bass or draw(st.sampled_from(("roots", "two-feel", "walking", "off"))),
        "parts": draw(st.sampled_from((BAND, PARTS))),
        "feel": draw(st.sampled_from(("swing", "straight"))),
        "swing_ratio": draw(st.one_of(st.none(), st.floats(1.0, 3.5))),
        "count_in_bars": draw(st.integers(0, 2)),
        "pickup_ticks": draw(st.integers(0, bars[0].meter.bar_ticks)),
        "seed": draw(st.integers(0, 2**31)),
    }
    return Arrangement(tuple(bars), **{**fields, **fixed})


# --- theory

# The roots that lead sheets use, with the white keys' odd names (common practice).
ROOT_NAMES = (
    "C", "C#", "Db", "D", "D#", "Eb", "E", "F", "F#", "Gb", "G", "G#", "Ab", "A", "A#", "Bb", "B", "Cb", "B#", "E#", "Fb",
)  # fmt: skip
_PRINTED_SIGNS = str.maketrans({"b": "♭", "#": "♯", "-": "−"})


def tones(most_signs: int = 1) -> st.SearchStrategy[Tone]:
    return st.builds(Tone, st.sampled_from(LETTERS), st.integers(-most_signs, most_signs))


def keys() -> st.SearchStrategy[Key]:
    """Every key in its usual spelling."""
    return st.builds(Key.usual, st.integers(0, 11), st.sampled_from(("major", "minor")))


@st.composite
def chord_symbols(draw, most_extras: int = 3) -> str:
    """A legal chord symbol in keyboard signs: any root, quality, run of alterations, additions and omissions, any bass."""
    triad = draw(st.sampled_from(TRIADS))
    word = draw(st.sampled_from(triad.spellings))
    major = draw(st.sampled_from(("", *MAJOR_WORDS))) if word in ("", "m", "-", "+", "dim") else ""
    figures = triad.figures if not major else MAJOR_FIGURES if not word else ("7", "9", "11", "13")
    quality = word + major + draw(st.sampled_from(figures))
    if quality in ("7", "m7"):
        quality += draw(st.sampled_from(("", "M")))
    elif quality.endswith("69"):
        quality = draw(st.sampled_from((quality, quality[:-1] + "/9")))
    extras = draw(_extras(most_extras))
    if extras:
        # Right behind the root a sign would belong to the root, so there the brackets are needed.
        if quality and draw(st.booleans()):
            quality += "".join(extras)
        else:
            quality += "(" + draw(st.sampled_from((",", ", ", " ", ""))).join(extras) + ")"
    slash = draw(st.sampled_from(("", "/")))
    return draw(st.sampled_from(ROOT_NAMES)) + quality + slash + (draw(st.sampled_from(ROOT_NAMES)) if slash else "")


@st.composite
def _extras(draw, most: int) -> list[str]:
    signs = st.sampled_from([sign for sign in ALTERATIONS if sign != "+"])
    extras = draw(st.lists(signs, max_size=most, unique_by=ALTERATIONS.get))
    extras += [f"add{degree}" for degree in draw(st.lists(st.sampled_from(ADDITIONS), max_size=1))]
    extras += [f"omit{number}" for number in draw(st.lists(st.sampled_from(OMISSIONS), max_size=1))]
    return draw(st.sampled_from(("", "sus", "sus2", "sus4"))).split() + draw(st.permutations(extras))


def printed(symbol: str) -> str:
    """The symbol with the signs of print in place of those of the keyboard. No word of a symbol has a b in it."""
    return symbol.translate(_PRINTED_SIGNS)


# --- shells

# Qualities of every family that the solver tells apart.
SHELL_QUALITIES = (
    "",
    "m",
    "+",
    "dim",
    "7",
    "maj7",
    "m7",
    "m7b5",
    "dim7",
    "m(maj7)",
    "6",
    "m6",
    "6/9",
    "sus4",
    "7sus4",
    "9sus4",
    "sus2",
    "7alt",
    "maj7#5",
    "13",
    "m9",
    "5",
    "(add9)",
    "7(omit3)",
)


@st.composite
def slots(draw, most: int = 6, pins: bool = True) -> list:
    """A chart of up to `most` slots from a small palette: every family, slash basses, N.C., and pins that the default
    hand can keep."""
    from companion.errors import ShellError
    from companion.hands.hand import Hand
    from companion.hands.left.model import Slot
    from companion.hands.left.options import pinned_options
    from companion.theory.shell_kinds import SHELL_KINDS

    symbols = st.builds(
        "{}{}{}".format,
        st.sampled_from(ROOTS),
        st.sampled_from(SHELL_QUALITIES),
        st.sampled_from(("", "", "", "", "/E", "/Bb", "/G", "/F#")),
    )
    palette = [parse_chord(symbol) for symbol in draw(st.lists(symbols, min_size=1, max_size=most))]
    chart = []
    for _ in range(draw(st.integers(1, most))):
        chord = draw(st.sampled_from([*palette, None]))
        pin = None
        if chord is not None and pins and draw(st.integers(0, 3)) == 0:
            pin = draw(st.sampled_from(SHELL_KINDS))
            try:
                pinned_options(chord, Hand(), pin := Pin(pin))
            except ShellError:
                pin = None
        chart.append(Slot(chord, pin=pin))
    return chart


# --- practice and log

SONG_IDS = ("left-sock-blues", "two-spoons", "ferry-at-half-past-six")
KINDS = ("play", "free", "symbols", "fade", "climb", "fade+climb", "symbols-only", "dark")


@st.composite
def pass_records(draw, **fixed):
    """A pass of any kind as the log keeps it, within three weeks of one winter. fixed: fields that are given."""
    from datetime import UTC, datetime, timedelta

    from companion.practice.model import VERDICTS, PassRecord

    loop = draw(st.sampled_from((tuple(range(12)), (0, 1, 2, 3), (8, 9, 10, 11), (5,))))
    started = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(milliseconds=draw(st.integers(0, 21 * 86_400_000)))
    heard = draw(st.booleans())
    offsets = st.one_of(st.none(), st.floats(-250, 250))
    chords = tuple(
        {
            "index": index,
            "bar": index + 1,
            "section": "A",
            "chord": 0,
            "symbol": draw(st.sampled_from(("F7", "B♭7", "Dm7"))),
            "verdict": draw(st.sampled_from(VERDICTS)),
            "offset_ms": draw(offsets),
            "played": [draw(st.integers(36, 60))],
        }
        for index in (loop if heard else ())
    )
    fields = {
        "id": draw(st.uuids()).hex,
        "started_at": started.isoformat(timespec="milliseconds"),
        "duration_s": draw(st.floats(1, 600)),
        "song_id": draw(st.sampled_from(SONG_IDS)),
        "title": draw(st.sampled_from(('A "Tune", étude', "Left Sock Blues", "two\nlines"))),
        "key": "F",
        "loop_name": "whole form" if len(loop) == 12 else "bars",
        "loop": loop,
        "sections": ("A",) if len(loop) == 12 else (),
        "tempo_bpm": draw(st.floats(20, 400)),
        "target_bpm": 120.0,
        "pattern": draw(st.sampled_from(("four", "whole"))),
        "hands": draw(st.sampled_from(("left", "both"))),
        "kind": draw(st.sampled_from(KINDS)),
        "round": draw(st.integers(0, 9)),
        "cues": draw(st.sampled_from((0.0, 0.4, 1.0))),
        "source": "heard" if heard else "told",
        "fact": "ran",
        "share_right": draw(st.floats(0, 1)),
        "clean": draw(st.booleans()),
        "slipped": tuple(draw(st.lists(st.sampled_from(loop), unique=True, max_size=3))),
        "offset_ms": draw(offsets),
        "spread_ms": draw(offsets),
        "evenness_ms": draw(offsets),
        "extra": draw(st.integers(0, 5)),
        "chords": chords,
    }
    return PassRecord(**{**fields, **fixed})
