"""Chord symbols: what is read, what is refused and in which words, and what any text may cost."""

from __future__ import annotations

import re
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import chord_symbols, printed

from companion.errors import ChordError
from companion.hands.left.options import ROOT_TIERS
from companion.theory.pitch import Tone
from companion.theory.qualities import COMMON_QUALITIES, MAJOR_WORDS, SIGNS, TRIADS, family_of
from companion.theory.symbols import LONGEST_SYMBOL, is_no_chord, parse_chord, split_symbol

# Spellings of the same chord (common practice): the first is the plain one.
SAME = [
    "C Cmaj CM Cma Cmajor",
    "Cm Cmin Cmi C- C− C– CMIN Cminor",
    "Cmaj7 Cma7 CM7 CMaj7 CMA7 CΔ C△ C∆ CΔ7 C7M Cmajor7 C(maj7)",
    "Cm7 Cmin7 Cmi7 C-7 C−7 C‐7 CMI7 C⁻⁷",
    "CmMaj7 CmM7 Cm(maj7) Cm(M7) CminMaj7 C-Δ C-Δ7 C−△7 C-(Δ) Cm/maj7 Cm#7 Cm(♯7) Cm7M",
    "Cm7b5 C-7b5 Cmin7(b5) Cm7(♭5) Cm7-5 Cø Cø7 CØ CØ7 C∅7 C−7♭5",
    "Cdim Co C° Cº CDIM",
    "Cdim7 Co7 C°7 Cº7 C˚7",
    "C+ Caug C(#5) C(♯5) C+5",
    "C+7 Caug7 C7+ C7#5 C7+5 C7(#5) C7♯5",
    "Cmaj7#5 C+M7 C+maj7 CaugM7 CM7+5 CΔ7♯5 C+Δ",
    "C6/9 C69 C6(9) C6add9 C6(add9) C⁶/⁹",
    "Cm6/9 Cm69 C-69 Cmin6/9",
    "C7sus4 C7sus C7(sus4) Csus7 C7sus4",
    "C9sus4 C9sus Csus9 C9(sus4)",
    "C13sus4 C13sus Csus13",
    "C7alt Calt C7(alt)",
    "C7b9 C7-9 C7♭9 C7(b9) C7( b9 ) C7/b9",
    "C7#9 C7+9 C7♯9 C7(#9)",
    "C7b9#11 C7(b9,#11) C7(b9, #11) C7(b9 #11) C7(b9)(#11) C7b9/#11 C7(♭9，♯11)",
    "C(add9) Cadd9 C(9) C/9 C(add 9)",
    "C9 C7/9 C7(9) C7add9",
    "C5 C(no3) Cno3 Comit3 C(omit 3) Cno3rd",
    "C13b9 C13-9 C13(b9)",
    "C7#11 C7+11 C7#4",
]
# Family by what the chord offers a shell.
FAMILY = {
    "seventh": "C7 Cmaj7 Cm7 Cm7b5 Cø CmMaj7 C9 C11 C13 Cm11 C+7 C7alt C7b9 C7(no3) Cm6(maj7) Cdim(maj7) C7no5",
    "sixth": "C6 Cm6 C6/9 Cm6/9 Cadd6 C6(no3)",
    "sus": "Csus Csus2 Csus4 C7sus4 C9sus C13sus C7susb9 C6sus4 Cmaj7sus2",
    "triad": "C Cm C+ Cadd9 Cm(add9) C2 Cadd11 C(b5) Cno5 C(#11)",
    "diminished": "Cdim Cdim7 C° C°7 Cm(b5) Cdim9",
    "power": "C5 C(no3) C5(add9)",
}


@pytest.mark.parametrize("line", SAME, ids=lambda line: line.split()[0])
def test_ways_to_write_one_chord(line):
    # Blanks part the symbols here, but those inside brackets belong to a symbol.
    symbols = re.findall(r"(?:\([^)]*\)|\S)+", line)
    plain = parse_chord(symbols[0])
    for symbol in symbols[1:]:
        chord = parse_chord(symbol)
        assert (chord.degrees, chord.family) == (plain.degrees, plain.family), symbol
        assert chord.symbol == symbol


@pytest.mark.parametrize("family", FAMILY)
def test_family(family):
    for symbol in FAMILY[family].split():
        assert parse_chord(symbol).family == family, symbol


@pytest.mark.parametrize(
    ("symbol", "tones"),
    [
        ("Gbm7", "Gb Bbb Db Fb"),  # worked out by hand: a minor seventh above G flat is F flat
        ("Cdim7", "C Eb Gb Bbb"),
        ("D#m7b5", "D# F# A C#"),
        ("G#7#9", "G# B# D# F# A##"),
        ("B♭𝄫", None),
        ("E𝄫7", "Ebb Gb Bbb Dbb"),
        ("F##m", "F## A# C##"),
        ("F𝄪m", "F## A# C##"),
        ("Fxm", "F## A# C##"),
        ("Cbmaj7", "Cb Eb Gb Bb"),
    ],
)
def test_double_signs_are_spelled(symbol, tones):
    if tones is None:
        with pytest.raises(ChordError):
            parse_chord(symbol)
    else:
        assert [tone.name for tone in parse_chord(symbol).tones] == tones.split()


def test_signs_behind_the_letter_belong_to_the_root():
    assert parse_chord("Cb5").root == Tone("C", -1)
    assert parse_chord("C(b5)").degrees == ("1", "3", "b5")
    assert parse_chord("C#9").degrees == ("1", "3", "5", "b7", "9")


def test_slash_bass():
    assert parse_chord("C/E").bass == Tone("E")
    assert parse_chord("C7/B♭").bass == Tone("B", -1)
    assert parse_chord("C6/9/E").bass == Tone("E")
    assert parse_chord("C6/9").bass is None
    assert parse_chord("F♯m7♭5/C").bass == Tone("C")
    assert parse_chord("D/F#").tone(3) == Tone("F", 1)


@pytest.mark.parametrize("text", ["N.C.", "NC", "N.C", "n.c.", "no chord", "No Chord", " N.C. ", "(N.C.)", "N. C."])
def test_no_chord(text):
    assert is_no_chord(text)
    with pytest.raises(ChordError, match="no chord is played"):
        parse_chord(text)


@pytest.mark.parametrize("text", ["", "C", "N", "Nc7", "no", "chord", "Cno3", "n" * 10_000])
def test_other_texts_are_not_the_sign_for_no_chord(text):
    assert not is_no_chord(text)


@pytest.mark.parametrize(
    ("symbol", "characters", "suggestion"),
    [
        ("c7", "'c'", "C7"),
        ("H7", "'H'", "B7"),
        ("C7x", "'x'", "C7"),
        ("Cmj7", "'j7'", "Cmaj7"),
        ("C4", "'4'", "Csus4"),
        ("C maj7", "' maj7'", "Cmaj7"),
        ("C7♭♭", "'♭♭'", "C7b9"),
        ("C7(b9", "'(b9'", "C7b9"),
        ("C7b9)", "')'", "C7b9"),
        ("C()", "')'", "C"),
        ("C7(,b9)", "',b9)'", "C7b9"),
        ("C7add9add9", "'add9'", "Cadd9"),
        ("C7/H", "'/H'", "C7/B"),
        ("C/e", "'/e'", "C/E"),
        ("C/", "'/'", "C"),
        ("Cm5", "'5'", "Cm7b5"),
        ("C7b9b9", "'b9'", "C7b9"),
        ("C7sussus", "'sus'", "C7sus4"),
        ("C7sus7", "'sus7'", "C7sus4"),
        ("Cm7maj7", "'maj7'", "Cmaj7"),
        ("Cmaj7alt", "'alt'", "Cmaj7"),
        ("B♭7𝄫5/D", "'𝄫5'", "Bb7b5/D"),
        ("F#h7", "'h7'", "F#7"),
        ("Cblah", "'lah'", None),
        ("D.C.", "'.C.'", None),  # words that stand above a staff like chord symbols do
        ("Fine", "'ine'", None),
        ("Animated", "'nimated'", None),
        ("%", "'%'", None),
    ],
)
def test_refusals_name_the_characters_and_the_nearest_symbol(symbol, characters, suggestion):
    with pytest.raises(ChordError) as refusal:
        parse_chord(symbol)
    message = str(refusal.value)
    assert "\n" not in message
    assert message.startswith(repr(symbol))
    assert f"{characters} is not understood; expected" in message
    if suggestion:
        assert message.endswith(f"did you mean {suggestion}?")
        assert parse_chord(suggestion)


def test_missing_and_endless_symbols_are_refused():
    for text in ("", "   ", "C" * (LONGEST_SYMBOL + 1)):
        with pytest.raises(ChordError, match="expected"):
            parse_chord(text)
    with pytest.raises(ChordError, match="something is missing at the end; expected 7, 9, 11 or 13"):
        parse_chord("CmM")


@settings(deadline=None)  # a busy machine is no fault
@given(chord_symbols())
def test_every_legal_symbol_is_read(symbol):
    chord = parse_chord(symbol)
    assert chord.symbol == symbol
    assert chord.degrees[0] == "1"
    assert len(set(chord.degrees)) == len(chord.degrees)
    assert list(chord.semitones) == sorted(chord.semitones)
    assert chord.family in ROOT_TIERS
    root, quality, bass = split_symbol(symbol)
    assert root + quality + ("/" + bass if bass else "") == symbol
    assert Tone.parse(root) == chord.root
    assert (Tone.parse(bass) if bass else None) == chord.bass


@settings(deadline=None)  # a busy machine is no fault
@given(chord_symbols())
def test_signs_of_print_and_keyboard_mean_the_same(symbol):
    chord, twin = parse_chord(symbol), parse_chord(printed(symbol))
    assert (chord.root, chord.degrees, chord.family, chord.bass) == (twin.root, twin.degrees, twin.family, twin.bass)
    assert split_symbol(printed(symbol)) == tuple(printed(part) for part in split_symbol(symbol))


@settings(deadline=None)  # a busy machine is no fault
@given(
    st.one_of(
        st.text(max_size=80),
        st.text("CDEFGABb#♭♯𝄫𝄪mMajinsudgoø°Δ+-−(), /5679113t4", max_size=LONGEST_SYMBOL),
        st.builds(
            lambda symbol, at, text: symbol[:at] + text + symbol[at:],
            chord_symbols(),
            st.integers(0, 20),
            st.text(max_size=3),
        ),
    )
)
def test_any_text_is_read_or_refused_in_a_sentence(text):
    start = time.process_time()
    try:
        chord = parse_chord(text)
    except ChordError as refusal:
        assert str(refusal).strip()
        assert "expected" in str(refusal)
        assert str(refusal).isprintable()
    else:
        assert chord.degrees
    assert time.process_time() - start < 0.5


@pytest.mark.parametrize("text", ["C" + "(" * 46, "C7" + "/" * 46, "C7" + "b9" * 23, "C" + "sus" * 15, "C" + " " * 46 + "7", "C6" + "/9" * 22,
                                  "\ud800", "C\x00", "C7" * 500_000, " " * 1_000_000, "Cma" + "majma" * 9, "C7(" + "no3," * 11])  # fmt: skip
def test_hostile_texts_are_refused_fast(text):
    start = time.process_time()
    with pytest.raises(ChordError):
        parse_chord(text)
    assert time.process_time() - start < 0.5


def test_tables_hold_no_twins():
    spellings = [spelling for triad in TRIADS for spelling in triad.spellings]
    assert len(spellings + list(MAJOR_WORDS)) == len({*spellings, *MAJOR_WORDS})
    assert len(set(COMMON_QUALITIES)) == len(COMMON_QUALITIES)
    assert all(family_of(parse_chord("C" + quality).degrees) in ROOT_TIERS for quality in COMMON_QUALITIES)


@pytest.mark.parametrize("sign", SIGNS)
def test_every_sign_is_folded_into_a_legal_symbol(sign):
    plain = SIGNS[sign]
    frames = {
        "b": "C7{}9", "#": "C7{}9", "bb": "C{}7", "##": "C{}7", "-": "C{}7", "+": "C{}7", "Δ": "C{}7", "ø": "C{}7",
        "o": "C{}7", "(": "C7{}b9)", ")": "C7(b9{}", ",": "C7(b9{}#11)", " ": "C7(b9,{}#11)",
    }  # fmt: skip
    digits = {"1": "C{}3", "2": "Csus{}", "3": "C1{}", "4": "Csus{}"}
    frame = frames.get(plain) or digits.get(plain, "C{}")
    written, folded = parse_chord(frame.format(sign)), parse_chord(frame.format(plain))
    assert (written.root, written.degrees) == (folded.root, folded.degrees)
