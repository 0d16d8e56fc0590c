"""Chord symbols as lead sheets write them -> spelled chords, and chords moved to another key.

A symbol is a root, a quality and perhaps a slash with a bass note. The quality is a triad word (m, dim, +, ...), a word for
the major seventh, a figure (6, 7, 9, ...) and then any number of alterations, additions, omissions and suspensions,
with or without parentheses. What each sign means stands in `qualities`.

Signs that follow the root's letter belong to the root: Cb5 is a fifth on C flat, C(b5) a C chord with a flat fifth.
"""

from __future__ import annotations

import re
from functools import lru_cache

from companion.errors import ChordError
from companion.theory.chord import Chord
from companion.theory.key import Key, move_tone
from companion.theory.pitch import LETTERS, Tone, degree_interval
from companion.theory.qualities import (
    ADDITIONS,
    ALTERATIONS,
    ALTERED,
    COMMON_QUALITIES,
    FIGURES,
    MAJOR_FIGURES,
    MAJOR_WORDS,
    OMISSIONS,
    SIGNS,
    TRIADS,
    family_of,
)

LONGEST_SYMBOL = 48  # characters; the longest symbol of a real sheet has about 25

_FOLD = str.maketrans(SIGNS)
_NOTE = r"[A-G](?:##|bb|#|b|x)?"
_SYMBOL = re.compile(rf"({_NOTE})(.*?)(?:/({_NOTE}))?", re.DOTALL)
_NO_CHORD = re.compile(r"\(?(n\.? ?c\.?|no ?chord)\)?", re.IGNORECASE)
_TONES = {
    letter + sign: Tone(letter, alter)
    for letter in LETTERS
    for sign, alter in (("", 0), ("#", 1), ("b", -1), ("##", 2), ("x", 2), ("bb", -2))
}


def _any_of(words) -> str:
    return "|".join(re.escape(word) for word in sorted(words, key=len, reverse=True) if word)


_TRIAD_OF = {spelling: triad for triad in TRIADS for spelling in triad.spellings}
# "ma" is major, but in "madd9" the m is minor; "M" is major, but in "MIN" it is not; the o of "omit" is no circle.
# Right behind the root -5 and +5 alter the fifth: "C-5" is no minor chord.
_MAJOR = rf"(?:{_any_of(set(MAJOR_WORDS) - {'M'})}|M(?![Ii]))(?!dd)"
_FIGURE = r"13|11|9|7|69|6/9|6|5|2"
_HEAD = re.compile(
    rf"(?P<triad>(?!{_MAJOR})(?:{_any_of(set(_TRIAD_OF) - {'o', '+', '-'})}|o(?!mit)|[+-](?!5))|(?=))(?P<major>{_MAJOR}|)"
    rf"(?:(?P<figure>{_FIGURE})(?!\d)|(?=))(?P<latin>(?<=7)M(?![Aai])|)"
)
_REST = re.compile(
    rf"(?P<alter>{_any_of(ALTERATIONS)})"
    rf"|add *(?P<add>{_any_of(ADDITIONS)})"
    rf"|(?:omit|no) *(?P<omit>{_any_of(map(str, OMISSIONS))})(?:rd|th)?"
    rf"|sus(?P<sus>24|42|2|4|)(?P<sus_figure>13|9|7|)"
    rf"|/?(?P<major>{_MAJOR})(?P<major_figure>13|11|9|7|)"
    rf"|(?P<alt>alt)"
    rf"|(?P<open>\()|(?P<close>\))|(?P<comma>, *)|(?P<blank> +)|(?P<slash>/(?=[b#+-]\d))"
    rf"|(?P<figure>13|11|9)"
)
_EXPECTED = "a quality such as m7, maj7, 7, 6, m7b5, dim7, sus4, 7b9 or (add9)"


class _NotUnderstood(Exception):
    """Raised while a quality is read. at: place in the folded quality; message: what was expected there."""

    def __init__(self, at: int, message: str) -> None:
        super().__init__(message)
        self.at = at


def is_no_chord(text: str) -> bool:
    """Whether the text is the sign for "no chord": N.C., NC, N.C or the words."""
    return len(text) <= LONGEST_SYMBOL and _NO_CHORD.fullmatch(text.strip()) is not None


@lru_cache(maxsize=8192)
def parse_chord(text: str) -> Chord:
    """The chord a symbol stands for, its tones spelled from the root; `symbol` keeps the student's writing.

    Raises ChordError, one sentence: which characters are not understood, what was expected, and the nearest symbol
    that is, where there is one. N.C. is not a chord: ask `is_no_chord` first.
    """
    symbol = text.strip()
    if len(symbol) > LONGEST_SYMBOL:
        raise ChordError(f"{symbol[:20]!r}... is too long for a chord symbol; expected at most {LONGEST_SYMBOL} characters")
    match = _SYMBOL.fullmatch(symbol if symbol.isascii() else symbol.translate(_FOLD))
    if match is None:
        raise ChordError(_root_fault(symbol))
    root, quality, bass = match.groups()
    try:
        degrees, family = _read_quality(quality)
    except _NotUnderstood as fault:
        raise ChordError(_quality_fault(symbol, root, quality, bass, fault)) from None
    return Chord(symbol, _TONES[root], degrees, family, _TONES[bass] if bass else None)


@lru_cache(maxsize=4096)
def _read_quality(text: str) -> tuple[tuple[str, ...], str]:
    """(degrees, family) of a folded quality. Raises _NotUnderstood."""
    head = _HEAD.match(text)
    triad = _TRIAD_OF[head["triad"]]
    major = head["major"] or head["latin"]
    figure = (head["figure"] or "").replace("/", "")
    if not figure:
        figure = "7" if head["major"] == "Δ" else triad.implied
    legal = triad.figures if not major else MAJOR_FIGURES if not head["triad"] else ("7", "9", "11", "13")
    if figure not in legal:
        named = ", ".join(figure for figure in legal if figure)
        raise _NotUnderstood(head.end(2), f"after {text[: head.end(2)] or 'the root'} one of {named}")
    degrees = {"1", triad.third, triad.fifth, *FIGURES[figure]}
    if "7" in degrees and not major:
        degrees = degrees - {"7"} | {triad.seventh}
    if figure == "5":
        degrees.discard("3")
    if head.end() < len(text):
        plain_dominant = not head["triad"] and not major and figure in ("", "7")
        degrees = _apply_rest(text, head.end(), degrees, plain_dominant)
    ordered = tuple(sorted(degrees, key=_height))
    return ordered, family_of(ordered)


def _height(degree: str) -> tuple[int, int]:
    number, semitones = degree_interval(degree)
    return semitones, number


def _numbered(degrees: set[str], number: int) -> set[str]:
    return {degree for degree in degrees if degree_interval(degree)[0] == number}


def _apply_rest(text: str, at: int, degrees: set[str], plain_dominant: bool) -> set[str]:
    """The degrees after all that stands behind the figure. Suspensions and alterations take the place of a tone,
    additions come on top and omissions last, whatever the order they are written in."""
    altered: dict[str, int] = {}
    added: set[str] = set()
    omitted: set[int] = set()
    suspended: set[str] = set()
    is_open = False
    end = len(text)
    while at < end:
        token = _REST.match(text, at)
        kind = token.lastgroup if token else None
        if kind == "sus_figure":
            if suspended:
                raise _NotUnderstood(at, "only one suspension")
            suspended = set(token["sus"] or "4")
            figure = token["sus_figure"]
            if figure and (_numbered(degrees, 7) or token["sus"]):
                raise _NotUnderstood(token.start("sus_figure"), "the figure before sus, such as 9sus4")
            degrees = degrees | set(FIGURES[figure]) - {"7"} | ({"b7"} if figure else set())
        elif kind == "alter":
            degree, number = ALTERATIONS[token["alter"]]
            if degree in altered:
                raise _NotUnderstood(at, f"{degree} only once")
            altered[degree] = number
        elif kind == "add" or (kind == "figure" and is_open):
            added.add(token[kind])
        elif kind == "omit":
            omitted.add(int(token["omit"]))
        elif kind == "major_figure":
            figure = token["major_figure"] or ("7" if token["major"] == "Δ" else "")
            if not figure or _numbered(degrees, 7):
                raise _NotUnderstood(at, "at most one seventh, such as m(maj7)")
            degrees = degrees | set(FIGURES[figure])
        elif kind == "alt" and plain_dominant:
            degrees = degrees - {"5"} | set(ALTERED)
        elif kind == "open" and not is_open:
            is_open = True
        elif kind == "close" and is_open:
            is_open = False
        elif kind not in ("comma", "blank") or not is_open:
            if kind != "slash":
                raise _NotUnderstood(at, _EXPECTED)
        at = token.end()
    if is_open:
        raise _NotUnderstood(text.rindex("("), "a closing parenthesis")
    if suspended:
        # The fourth is the eleventh and the second the ninth: neither is named twice.
        doubled = {"4": "11", "2": "9"}
        degrees = degrees - _numbered(degrees, 3) - {doubled[step] for step in suspended} | suspended
    for number in set(altered.values()):
        degrees = degrees - _numbered(degrees, number)
    degrees = degrees | set(altered) | added
    return {degree for degree in degrees if degree_interval(degree)[0] not in omitted}


def split_symbol(symbol: str) -> tuple[str, str, str]:
    """(root, quality, bass) of a symbol as they are written, bass "" without one. Raises ChordError where it has no root."""
    match = _WRITTEN.fullmatch(symbol)
    if match is None:
        raise ChordError(_root_fault(symbol))
    return match[1], match[2], match[3] or ""


_WRITTEN_NOTE = r"[A-G](?:##|bb|♯♯|♭♭|[#bx♯♭𝄪𝄫×＃])?"
_WRITTEN = re.compile(rf"({_WRITTEN_NOTE})(.*?)(?:/({_WRITTEN_NOTE}))?", re.DOTALL)


def move_chord(chord: Chord, old: Tone, new: Tone, key: Key | None = None) -> Chord:
    """The chord that lies to `new` as `chord` lies to `old`, in a spelling one can read.

    key: the key moved to. A root never keeps a double sharp or flat, and B#, E#, Cb and Fb give way to C, F, B and E
    unless they belong to the key: Cb is right in G flat major. The bass follows the root's spelling and keeps a chord
    tone's own name (Abm/Cb). The quality stays as the student wrote it, and so does the kind of sign, b or ♭.
    """
    moved = move_tone(chord.root, old, new)
    root = _readable(moved, _scale(key) if key else frozenset())
    bass = None
    if chord.bass is not None:
        bass = move_tone(move_tone(chord.bass, old, new), moved, root)
        at_home = frozenset(root.degree(degree) for degree in chord.degrees)
        bass = _readable(bass, at_home | _scale(key) if key else at_home)
    quality = split_symbol(chord.symbol)[1]
    # A sign must not run into the root: C#b5 moved to C is C(b5), for Cb5 is another chord.
    quality = re.sub(r"^[b#♭♯]\d+", lambda sign: f"({sign[0]})", quality)
    symbol = root.name + quality + (f"/{bass.name}" if bass else "")
    if "♭" in chord.symbol or "♯" in chord.symbol:
        symbol = _with_printed_signs(root) + quality + (f"/{_with_printed_signs(bass)}" if bass else "")
    return Chord(symbol, root, chord.degrees, chord.family, bass)


def _with_printed_signs(tone: Tone) -> str:
    return tone.letter + tone.name[1:].replace("b", "♭").replace("#", "♯")


@lru_cache(maxsize=128)
def _scale(key: Key) -> frozenset[Tone]:
    """The tones of the key; in minor the raised seventh too, the root of the diminished chord that leads home."""
    major = ("1", "2", "3", "4", "5", "6", "7")
    minor = ("1", "2", "b3", "4", "5", "b6", "b7", "7")
    return frozenset(key.tonic.degree(degree) for degree in (minor if key.mode == "minor" else major))


def _readable(tone: Tone, kept: frozenset[Tone]) -> Tone:
    """The tone, or its enharmonic twin where it carries a double sign or is B#, E#, Cb or Fb and not among `kept`."""
    if abs(tone.alter) < 2 and (tone.name not in ("B#", "E#", "Cb", "Fb") or tone in kept):
        return tone
    sharp = tone.alter > 0
    twins = [twin for twin in _TONES.values() if twin.pc == tone.pc and abs(twin.alter) < 2]
    # A natural where there is one; else a sharp for sharps and a flat for flats.
    return min(twins, key=lambda twin: (abs(twin.alter), (twin.alter > 0) != sharp))


def _root_fault(symbol: str) -> str:
    if is_no_chord(symbol):
        return f"{symbol} means that no chord is played; expected a chord symbol such as Dm7"
    shown = repr(symbol[:1]) if symbol else "An empty text"
    fault = f"{symbol!r}: {shown} is not understood" if symbol else "A chord symbol is missing"
    fixed = symbol.lstrip("(")
    fixed = fixed[:1].upper().replace("H", "B") + fixed[1:]
    return f"{fault}; expected a root from A to G{_suggest(fixed, '')}"


def _quality_fault(symbol: str, root: str, quality: str, bass: str | None, fault: _NotUnderstood) -> str:
    """One sentence naming the characters as the student wrote them."""
    at = len(root) + fault.at
    start = next((i for i in range(len(symbol)) if len(symbol[:i].translate(_FOLD)) >= at), len(symbol))
    written = symbol[start:]
    if bass:
        written = written[: written.rindex("/")]
    tail = f"/{bass}" if bass else ""
    what = f"{written!r} is not understood" if written else "something is missing at the end"
    return f"{symbol!r}: {what}; expected {fault}{_suggest(root + quality, tail)}"


def _suggest(text: str, tail: str) -> str:
    """", did you mean ...?" with the nearest symbol that can be read, "" where nothing is near."""
    import difflib  # 4 ms, and only a fault needs it

    match = re.match(_NOTE, text)
    if match is None:
        return ""
    quality = text[match.end() :].replace(" ", "")
    near = [quality, quality.lower(), *difflib.get_close_matches(quality, COMMON_QUALITIES, n=3, cutoff=0.5)]
    for candidate in near:
        try:
            _read_quality(candidate)
        except _NotUnderstood:
            continue
        return f"; did you mean {match[0]}{candidate}{tail}?"
    return ""
