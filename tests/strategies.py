"""Hypothesis strategies shared by the rooms' tests. Each room adds its own part."""

from __future__ import annotations

import itertools
from dataclasses import replace
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

METERS = tuple(
    Meter.parse(name)
    for name in (
        "4/4",
        "3/4",
        "5/4",
        "6/8",
        "12/8",
        "2/4",
        "9/8",
        "7/4",
        "6/4",
        "2/2",
        "7/8",
        "3/8",
        "8/4",
        "1/4",
    )
)
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
    "C",
    "C#",
    "Db",
    "D",
    "D#",
    "Eb",
    "E",
    "F",
    "F#",
    "Gb",
    "G",
    "G#",
    "Ab",
    "A",
    "A#",
    "Bb",
    "B",
    "Cb",
    "B#",
    "E#",
    "Fb",
)
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


# --- chart

SYMBOLS = (
    "C",
    "Dm",
    "Em7",
    "Fmaj7",
    "G7",
    "A7b9",
    "Bm7b5",
    "Bb6",
    "Eb6/9",
    "Abdim7",
    "F#m7",
    "Db7",
    "Gb7sus4",
    "C/E",
    "G7/B",
    "Am(maj7)",
    "C7(b9, #11)",
    "E♭7",
    "CΔ7",
    "Baug",
    "D7alt",
)
SECTION_NAMES = ("A", "B", "C", "Intro", "End1", "End2", "A'", "Turn-around", "Ré_prise")
CHART_KEYS = ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "G", "D", "A", "E", "B", "F#", "Cm", "F#m", "Ebm", "G#m")
PIN_KINDS = ("root-third", "root-fifth", "root-seventh", "bass-third")


@st.composite
def chart_bars(draw, meter: Meter):
    """A bar whose chords share it evenly or change on any half beat; sometimes N.C."""
    from companion.chart.model import Bar, PlacedChord

    chords = st.one_of(*[st.sampled_from(SYMBOLS).map(parse_chord)] * 5, st.none())
    if draw(st.booleans()):
        count = draw(st.integers(1, 5))
        edges = [Fraction(meter.beats * number, count) for number in range(count + 1)]
    else:
        cuts = draw(st.sets(st.integers(1, 2 * meter.beats - 1), max_size=4))
        edges = [Fraction(0), *(Fraction(cut, 2) for cut in sorted(cuts)), Fraction(meter.beats)]
    return Bar(tuple(PlacedChord(draw(chords), start, end - start) for start, end in itertools.pairwise(edges)))


_MELODY_PITCHES = st.builds(
    "{}{}{}".format,
    st.sampled_from(("", "", "", "^", "_", "=")),
    st.sampled_from("CDEFGABcdefgab"),
    st.just(""),
) | st.sampled_from(("c'", "^d'", "B,", "_A,", "__B", "^^F"))
# Figures of a melody: how it is written, with a place for each note, and how many eighths it lasts.
_MELODY_FIGURES = tuple(
    (text, Fraction(length))
    for text, length in (
        ("{}", 1),
        ("{}2", 2),
        ("{}3", 3),
        ("{}4", 4),
        ("{}6", 6),
        ("{}/2", "1/2"),
        ("{}/", "1/2"),
        ("{}//", "1/4"),
        ("{}3/2", "3/2"),
        ("z", 1),
        ("z2", 2),
        ("z/2", "1/2"),
        ("{}>{}", 2),
        ("{}<{}", 2),
        ("{}2>{}2", 4),
        ("{}>>{}", 2),
        ("(3{}{}{}", 2),
        ("(3{}2{}2{}2", 4),
        ("(3{}/{}/{}/", 1),
        ("(3:2:2{}2{}", 2),
        ("(5:4:5{}{}{}{}{}", 4),
        ("(3z{}{}", 2),
    )
)


@st.composite
def melody_texts(draw, meter: Meter, bar_count: int, pickup_eighths: Fraction = Fraction(0)) -> str:
    """A melody in ABC's notation that fills its bars; ties lead over barlines. It may open with the pickup."""
    bar_eighths = Fraction(8 * meter.beats, meter.unit)
    lengths = [bar_eighths] * bar_count
    has_pickup = pickup_eighths > 0 and draw(st.booleans())
    if has_pickup:
        lengths.insert(0, pickup_eighths)
    bars, tied = [], ""
    for number, left in enumerate(lengths, 1):
        words = []
        while left:
            fits = [figure for figure in _MELODY_FIGURES if figure[1] <= left and not (tied and figure[0][:2] == "z")]
            fits = [figure for figure in fits if not (tied and "z" in figure[0])]
            # What no figure fills is one note as long as need be: the end of a bar of 7/8, a thirty-second.
            text, length = draw(st.sampled_from(fits)) if fits else ("{}" + str(left), left)
            pitches = [draw(_MELODY_PITCHES) for _ in range(text.count("{}"))]
            if tied:
                pitches[0] = tied
            left -= length
            ties = not tied and text[-1] != "z" and pitches and "z" not in text and draw(st.integers(0, 4)) == 0
            tied = pitches[-1] if ties and (left or number < len(lengths)) else ""
            words.append(text.format(*pitches) + ("-" if tied else ""))
        bars.append(draw(st.sampled_from(("", " "))).join(words))
    ends = [draw(st.sampled_from((" | ", "|", " |\n", "\n", " || "))) for _ in bars[1:]]
    text = "".join(bar + end for bar, end in zip(bars, [*ends, draw(st.sampled_from(("", " |", "\n")))]))
    return ("| " if pickup_eighths and not has_pickup else "") + text


@st.composite
def songs(draw):
    """A song with up to four sections, some with a meter or key of their own, in any order, with pins and a pickup."""
    from companion.chart.model import PlacedChord, Section, Song
    from companion.theory.key import Key
    from companion.theory.meter import Meter

    keys = st.sampled_from(CHART_KEYS).map(Key.parse)
    meter, key = draw(meters()), draw(keys)
    sections = {}
    for name in draw(st.lists(st.sampled_from(SECTION_NAMES), min_size=1, max_size=4, unique=True)):
        own_meter = draw(st.one_of(st.just(meter), meters()))
        own_key = draw(st.one_of(st.just(key), keys))
        bars = tuple(draw(st.lists(chart_bars(own_meter), min_size=1, max_size=6)))
        sections[name] = Section(name, bars, own_meter, own_key)
    form = tuple(draw(st.lists(st.sampled_from(sorted(sections)), min_size=1, max_size=8)))
    places = [
        (name, number, index)
        for name, section in sections.items()
        for number, bar in enumerate(section.bars, 1)
        for index, placed in enumerate(bar.chords, 1)
        if placed.chord is not None
    ]
    pins = (
        draw(st.dictionaries(st.sampled_from(places), st.sampled_from(PIN_KINDS).map(Pin), max_size=3))
        if places
        else {}
    )
    pickup = Fraction(draw(st.integers(0, 2 * sections[form[0]].meter.beats - 1)), 2)
    for name, section in sections.items():
        own = Fraction(draw(st.integers(0, 2 * section.meter.beats - 1)), 2) if draw(st.booleans()) else Fraction(0)
        pickup = own if own and name == form[0] else pickup
        opens = pickup if name == form[0] else own
        chords = draw(chart_bars(Meter(1, 4))).chords if opens and draw(st.booleans()) else ()
        share = opens / max(1, len(chords))
        chords = tuple(PlacedChord(each.chord, number * share, share) for number, each in enumerate(chords))
        section = sections[name] = replace(section, pickup=own, pickup_chords=chords)
        if draw(st.booleans()):
            eighths = opens * section.meter.beat_ticks / 480
            melody = draw(melody_texts(section.meter, len(section.bars), eighths))
            sections[name] = replace(section, melody=melody)
    letters = st.characters(categories=("L", "M", "N", "P", "S", "Zs"))
    return Song(
        id="a-song",
        title=draw(st.text(letters, min_size=1, max_size=40).map(str.strip).filter(bool)),
        key=key,
        meter=meter,
        tempo_bpm=draw(st.one_of(st.integers(20, 400).map(float), st.floats(20, 400))),
        feel=draw(st.sampled_from(("swing", "straight"))),
        form=form,
        sections=sections,
        pins=pins,
        pickup=pickup,
    )


@st.composite
def lessons(draw, song):
    """A lesson for a song: notes anywhere, and steps of every kind."""
    from companion.chart.lesson import HANDS, STEP_PATTERNS, Lesson, Step

    texts = st.text("abcé ♭\"'\\\n\t#[=", min_size=1, max_size=40).map(str.strip).filter(bool)
    names = st.sampled_from(sorted(song.sections))
    places = names.flatmap(lambda name: st.tuples(st.just(name), st.integers(1, len(song.sections[name].bars))))
    tempi = st.one_of(st.none(), st.integers(20, 400).map(float), st.floats(20, 400))
    steps = st.builds(
        Step,
        section=st.one_of(st.just(""), names),
        hands=st.sampled_from(HANDS),
        pattern=st.sampled_from(STEP_PATTERNS),
        tempo_bpm=tempi,
        cues=st.booleans(),
        passes=st.integers(1, 100),
        note=st.one_of(st.just(""), texts),
    )
    return Lesson(
        note=draw(st.one_of(st.just(""), texts)),
        section_notes=draw(st.dictionaries(names, texts, max_size=2)),
        bar_notes=draw(st.dictionaries(places, texts, max_size=3)),
        steps=tuple(draw(st.lists(steps, max_size=4))),
    )


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
KINDS = ("play", "free", "fade", "climb", "fade+climb", "recall")


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
        "answer": "" if heard else "it went",
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
