"""Chord names as musicians say them (common practice; read against the tones that other names of the same symbol have)."""

import pytest

from companion.theory.qualities import ALTERATIONS, COMMON_QUALITIES, FIGURES, TRIADS
from companion.theory.spoken import NO_CHORD, spoken_forms, syllables
from companion.theory.symbols import parse_chord

# symbol -> its name, whole and then ever shorter.
NAMES = {
    "C": ("C",),
    "Cm7": ("C minor seven", "C minor"),
    "B♭7": ("B flat seven",),
    "F#m7b5": ("F sharp minor seven flat five", "F sharp half diminished", "F sharp half dim"),
    "F#ø": ("F sharp minor seven flat five", "F sharp half diminished", "F sharp half dim"),
    "Ebmaj7": ("E flat major seven", "E flat major"),
    "AbΔ9": ("A flat major nine", "A flat major"),
    "G13": ("G thirteen",),
    "G9": ("G nine",),
    "C6": ("C six",),
    "Am6/9": ("A minor six nine", "A minor"),
    "C6/9": ("C six nine", "C six"),
    "Bdim7": ("B diminished seven", "B dim"),
    "Co": ("C diminished", "C dim"),
    "Cdim(maj7)": ("C diminished major seven", "C dim"),
    "C+": ("C augmented", "C aug"),
    "C+7": ("C seven sharp five", "C seven"),
    "Dm(maj7)": ("D minor major seven", "D minor"),
    "G7sus4": ("G seven sus", "G sus"),
    "Gsus2": ("G sus two", "G sus"),
    "G7alt": ("G altered", "G alt"),
    "G13b9": ("G thirteen flat nine", "G thirteen"),
    "G7(b9,b13)": ("G seven flat nine flat thirteen", "G seven"),
    "Cmaj7#11": ("C major seven sharp eleven", "C major seven", "C major"),
    "C/E": ("C over E", "C"),
    "Abmaj7/Eb": ("A flat major seven over E flat", "A flat major seven", "A flat major"),
    "C(add9)": ("C add nine", "C"),
    "C5": ("C five",),
    "C7(no5)": ("C seven no five", "C seven"),
    "C7(no3)": ("C seven no three", "C seven"),
    "Fx": ("F double sharp",),
    "Bbb7": ("B double flat seven",),
}


@pytest.mark.parametrize(("symbol", "forms"), NAMES.items(), ids=list(NAMES))
def test_a_name_is_said_as_musicians_say_it(symbol, forms):
    assert spoken_forms(parse_chord(symbol)) == forms


def test_where_no_chord_is_played_that_is_said():
    assert spoken_forms(None) == (NO_CHORD,)


def all_qualities():
    for triad in TRIADS:
        for figure in triad.figures:
            yield from (spelling + ("6/9" if figure == "69" else figure) for spelling in triad.spellings)
    yield from (f"7{sign}" for sign in ALTERATIONS if sign not in ("b6", "#7", "+7"))
    yield from COMMON_QUALITIES


def test_every_quality_has_a_name_of_known_words_and_a_short_one_that_fits_into_a_beat():
    vocabulary = {word for forms in NAMES.values() for word in " ".join(forms).split()}
    vocabulary |= {"eleven", "two", "add"}
    for quality in all_qualities():
        forms = spoken_forms(parse_chord("Gb" + quality))
        assert set(" ".join(forms).split()) - {"G"} <= vocabulary, (quality, forms)
        assert syllables(forms[-1]) <= 4, (quality, forms)
        assert [*map(syllables, forms)] == sorted({*map(syllables, forms)}, reverse=True)


def test_chords_of_other_tones_have_other_names():
    """The figures of FIGURES over every triad: what sounds different is said differently."""
    names = {}
    for quality in all_qualities():
        chord = parse_chord("C" + quality)
        names.setdefault(spoken_forms(chord)[0], set()).add(chord.degrees)
    # an eleventh or a ninth below a thirteenth may be left out without being named
    divided = {name for name, degrees in names.items() if len(degrees) > 1}
    assert divided <= {"C thirteen sus", "C nine sus", "C sus two", "C thirteen sharp eleven"}, divided
    assert len(FIGURES) == 9
