"""Hypothesis strategies for charts: bars, melodies, songs, lessons."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

from hypothesis import strategies as st
from strategies import meters

from companion.theory.key import Key
from companion.theory.meter import TICKS_PER_QUARTER, Meter
from companion.theory.shell_kinds import Pin
from companion.theory.symbols import parse_chord

# Strategies that never change are made once, and what could be drawn piece by piece is drawn whole: most of such a test's time is drawing.

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
_CHORDS = st.sampled_from((*map(parse_chord, SYMBOLS * 5), *[None] * len(SYMBOLS)))  # one in six is N.C.
_KEYS = st.sampled_from([Key.parse(name) for name in CHART_KEYS])


@st.composite
def chart_bars(draw, meter: Meter):
    """A bar whose chords share it evenly or change on any half beat; sometimes N.C."""
    from companion.chart.model import Bar, PlacedChord

    if draw(st.booleans()):
        count = draw(st.integers(1, 5))
        edges = [Fraction(meter.beats * number, count) for number in range(count + 1)]
    else:
        cuts = draw(st.sets(st.integers(1, 2 * meter.beats - 1), max_size=4))
        edges = [Fraction(0), *(Fraction(cut, 2) for cut in sorted(cuts)), Fraction(meter.beats)]
    return Bar(tuple(PlacedChord(draw(_CHORDS), start, end - start) for start, end in itertools.pairwise(edges)))


_PLAIN = [sign + letter for sign in ("", "", "", "^", "_", "=") for letter in "CDEFGABcdefgab"]
_RARE = ("c'", "^d'", "B,", "_A,", "__B", "^^F")
_MELODY_PITCHES = st.sampled_from((*_PLAIN, *_RARE * (len(_PLAIN) // len(_RARE))))  # each kind half the time
_TIES = st.integers(0, 4)
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
            ties = not tied and text[-1] != "z" and pitches and "z" not in text and draw(_TIES) == 0
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
    from companion.theory.meter import Meter

    meter, key = draw(meters()), draw(_KEYS)
    sections = {}
    for name in draw(st.lists(st.sampled_from(SECTION_NAMES), min_size=1, max_size=4, unique=True)):
        own_meter = draw(st.one_of(st.just(meter), meters()))
        own_key = draw(st.one_of(st.just(key), _KEYS))
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
        cues=st.sampled_from((True, False, "symbols")),
        passes=st.integers(1, 100),
        note=st.one_of(st.just(""), texts),
    )
    heard = st.builds(
        Step,
        section=st.one_of(st.just(""), names),
        hands=st.just("left"),
        pattern=st.sampled_from(STEP_PATTERNS),
        tempo_bpm=st.integers(20, 400).map(float),
        note=st.one_of(st.just(""), texts),
        passes=st.just(1),
        listen=st.just(True),
    )
    swung = st.builds(
        Step,
        section=st.one_of(st.just(""), names),
        hands=st.sampled_from(("right", "both")),
        pattern=st.just("four"),
        tempo_bpm=st.integers(20, 400).map(float),
        note=st.one_of(st.just(""), texts),
        passes=st.just(1),
        swing=st.just(True),
    )
    sung = all(s.melody and s.meter.pulse_ticks == TICKS_PER_QUARTER for s in song.sections.values())
    kinds = st.one_of(steps, heard, *((swung,) if sung else ()))
    return Lesson(
        note=draw(st.one_of(st.just(""), texts)),
        section_notes=draw(st.dictionaries(names, texts, max_size=2)),
        bar_notes=draw(st.dictionaries(places, texts, max_size=3)),
        steps=tuple(draw(st.lists(kinds, max_size=4))),
    )
