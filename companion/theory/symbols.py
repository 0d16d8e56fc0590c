"""Chord symbols as lead sheets write them -> spelled chords, and chords moved to another key.

A symbol is a root, a quality and perhaps a slash with a bass note. The quality is a triad word (m, dim, +, ...), a word for
the major seventh, a figure (6, 7, 9, ...) and then any number of alterations, additions, omissions and suspensions,
with or without parentheses. What each sign means stands in `qualities`.

Signs that follow the root's letter belong to the root: Cb5 is a fifth on C flat, C(b5) a C chord with a flat fifth.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
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
# The same before the signs are folded.
_WRITTEN_NOTE = r"[A-G](?:[#♯＃]{1,2}|[b♭]{1,2}|[x×𝄪𝄫])?"
_WRITTEN = re.compile(rf"({_WRITTEN_NOTE})(.*?)(?:/({_WRITTEN_NOTE}))?", re.DOTALL)
_NO_CHORD = re.compile(r"\(?(n\.? ?c\.?|no ?chord)\)?", re.IGNORECASE)
_TONES = {
    letter + sign: Tone(letter, alter)
    for letter in LETTERS
    for sign, alter in (("", 0), ("#", 1), ("b", -1), ("##", 2), ("x", 2), ("bb", -2))
}
# Number and height in semitones of every degree there is: asked thousands of times, so looked up.
_DEGREES = {
    sign + str(number): degree_interval(sign + str(number)) for number in range(1, 14) for sign in ("", "b", "#", "bb")
}
_NUMBER = {degree: number for degree, (number, _) in _DEGREES.items()}
_HEIGHT = {degree: (semitones, number) for degree, (number, semitones) in _DEGREES.items()}


def _any_of(words: Iterable[str]) -> str:
    return "|".join(re.escape(word) for word in sorted(words, key=len, reverse=True) if word)


_TRIAD_OF = {spelling: triad for triad in TRIADS for spelling in triad.spellings}
# "ma" is major, but in "madd9" the m is minor; "M" is major, but in "MIN" it is not; the o of "omit" is no circle.
# Right behind the root -5 and +5 alter the fifth: "C-5" is no minor chord.
_MAJOR = rf"(?:{_any_of(set(MAJOR_WORDS) - {'M'})}|M(?![Ii]))(?!dd)"
_FIGURE = r"13|11|9|7|69|6/9|6|5|2"
_HEAD = re.compile(
    rf"(?P<triad>(?!{_MAJOR})(?:{_any_of(set(_TRIAD_OF) - {'o', '+', '-'})}|o(?!mit)|[+-](?!5))|(?=))(?P<major>{_MAJOR}|)"
    rf"(?:(?P<figure>{_FIGURE})(?!\d)|(?=))(?P<latin>(?<=7)M(?!aj|AJ|[iI])|)"
)
_REST = re.compile(
    rf"(?P<alter>{_any_of(ALTERATIONS)})"
    rf"|add *(?P<add>{_any_of(ADDITIONS)})"
    rf"|(?:omit|no) *(?P<omit>{_any_of(map(str, OMISSIONS))})(?:rd|th)?"
    rf"|sus(?P<sus>24|42|2|4|)(?P<sus_figure>13|9|7|)"
    rf"|/?(?P<major>{_MAJOR})(?P<major_figure>13|11|9|7|)"
    rf"|(?<=[(, /])(?P<figure>13|11|9)"
    rf"|(?P<alt>alt)"
    rf"|(?P<open>\( *)|(?P<close> *\))|(?P<comma> *, *| +)|(?P<slash>/(?=[b#+-]?\d))"
)
_EXPECTED = "a quality such as m7, maj7, 7, 6, m7b5, dim7, sus4, 7b9 or (add9)"
_BASS_EXPECTED = "a bass note from A to G behind the slash"


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
        raise ChordError(
            f"{symbol[:20]!r}... is too long for a chord symbol; expected at most {LONGEST_SYMBOL} characters"
        )
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
    assert head is not None  # each of its parts may be empty
    triad = _TRIAD_OF[head["triad"]]
    major = head["major"] or head["latin"]
    figure = (head["figure"] or "").replace("/", "")
    if not figure:
        figure = "7" if head["major"] == "Δ" else triad.implied
    legal = triad.figures if not major else MAJOR_FIGURES if not head["triad"] else ("7", "9", "11", "13")
    if figure not in legal:
        named = " or ".join(", ".join(filter(None, legal)).rsplit(", ", 1))
        raise _NotUnderstood(head.end("major"), f"{named} behind {text[: head.end('major')] or 'the root'}")
    degrees = {"1", triad.third, triad.fifth, *FIGURES[figure]}
    if "7" in degrees and not major:
        degrees = degrees - {"7"} | {triad.seventh}
    if figure == "5":
        degrees.discard("3")
    if head.end() < len(text):
        plain_dominant = not head["triad"] and not major and figure in ("", "7")
        degrees = _apply_rest(text, head.end(), degrees, plain_dominant)
    ordered = tuple(sorted(degrees, key=_HEIGHT.__getitem__))
    return ordered, family_of(ordered)


def _words(text: str, at: int) -> Iterator[tuple[str, re.Match[str]]]:
    """(kind, match) of each word behind the figure; brackets and separators are checked and left out."""
    opened = None
    awaited = False  # a word must follow an open bracket and a comma
    while at < len(text):
        match = _REST.match(text, at)
        kind = match.lastgroup if match else None
        if (
            match is None
            or kind is None
            or (kind == "open" and opened is not None)
            or (kind in ("close", "comma") and opened is None)
        ):
            raise _NotUnderstood(at, _BASS_EXPECTED if text[at] == "/" else _EXPECTED)
        if awaited and kind in ("close", "comma"):
            raise _NotUnderstood(at, "an alteration or addition such as b9 before it")
        awaited = kind in ("open", "comma", "slash")
        if kind == "open":
            opened = at
        elif kind == "close":
            opened = None
        elif not awaited:
            yield kind, match
        at = match.end()
    if opened is not None:
        raise _NotUnderstood(opened, "a closing parenthesis")


def _apply_rest(text: str, at: int, degrees: set[str], plain_dominant: bool) -> set[str]:
    """The degrees after all that stands behind the figure. Suspensions and alterations take the place of a tone,
    additions come on top and omissions last, whatever the order they are written in."""
    suspended: set[str] = set()
    altered: set[str] = set()
    added: set[str] = set()
    omitted: set[int] = set()
    for kind, word in _words(text, at):
        if kind in ("alter", "add", "figure"):
            degree, named = (ALTERATIONS[word[kind]], altered) if kind == "alter" else (word[kind], added)
            if degree in named:
                raise _NotUnderstood(word.start(), f"{degree} only once")
            named.add(degree)
        elif kind == "omit":
            omitted.add(int(word["omit"]))
        elif kind == "sus_figure":
            if suspended:
                raise _NotUnderstood(word.start(), "only one suspension")
            suspended.update(word["sus"] or "4")
            degrees = degrees | _stacked(word, "sus", "b7", degrees)
        elif kind == "major_figure":
            degrees = degrees | _stacked(word, "major", "7", degrees)
        elif plain_dominant:
            degrees = degrees - {"5"} | set(ALTERED)
        else:
            raise _NotUnderstood(word.start(), "alt only behind a plain 7 or the root")
    if suspended:
        # The fourth is the eleventh and the second the ninth: neither is named twice.
        doubled = {"4": "11", "2": "9"}
        degrees = _without(degrees, {3}) - {doubled[step] for step in suspended} | suspended
    degrees = _without(degrees, {_NUMBER[degree] for degree in altered}) | altered | added
    return _without(degrees, omitted)


def _stacked(word: re.Match[str], kind: str, seventh: str, degrees: set[str]) -> set[str]:
    """What a figure behind sus (sus9) or behind a late word for the major seventh (m(maj9)) brings along."""
    figure = word[f"{kind}_figure"] or ("7" if word[kind] == "Δ" else "")
    if kind == "sus" and not figure:
        return set()
    if not figure or any(_NUMBER[degree] == 7 for degree in degrees):
        raise _NotUnderstood(word.start(), "one seventh, such as 7sus4 or m(maj7)")
    return set(FIGURES[figure]) - {"7"} | {seventh}


def _without(degrees: set[str], numbers: set[int]) -> set[str]:
    return {degree for degree in degrees if _NUMBER[degree] not in numbers}


def split_symbol(symbol: str) -> tuple[str, str, str]:
    """(root, quality, bass) of a symbol as they are written, bass "" without one. Raises ChordError where it has no root."""
    match = _WRITTEN.fullmatch(symbol)
    if match is None:
        raise ChordError(_root_fault(symbol))
    return match[1], match[2], match[3] or ""


def move_chord(chord: Chord, old: Tone, new: Tone, key: Key | None = None) -> Chord:
    """The chord that lies to `new` as `chord` lies to `old`, in a spelling one can read.

    key: the key moved to. A root never keeps a double sharp or flat, and B#, E#, Cb and Fb give way to C, F, B and E
    unless they belong to the key: Cb is right in G flat major. The bass follows the root's spelling and keeps a chord
    tone's own name (Abm/Cb). The quality stays as the student wrote it, and so does the kind of sign, b or ♭.
    """
    moved = move_tone(chord.root, old, new)
    root = readable(moved, scale_of(key) if key else frozenset())
    bass = None
    if chord.bass is not None:
        bass = move_tone(move_tone(chord.bass, old, new), moved, root)
        at_home = frozenset(root.degree(degree) for degree in chord.degrees)
        bass = readable(bass, at_home | scale_of(key) if key else at_home)
    quality = split_symbol(chord.symbol)[1]
    # A sign must not run into the root: C#b5 moved to C is C(b5), for Cb5 is another chord.
    quality = re.sub(r"^[b#♭♯]\d+", lambda sign: f"({sign[0]})", quality)
    written = _printed_name if "♭" in chord.symbol or "♯" in chord.symbol else str
    symbol = written(root) + quality + (f"/{written(bass)}" if bass else "")
    return Chord(symbol, root, chord.degrees, chord.family, bass)


def _printed_name(tone: Tone) -> str:
    return tone.letter + tone.name[1:].replace("b", "♭").replace("#", "♯")


@lru_cache(maxsize=128)
def scale_of(key: Key) -> frozenset[Tone]:
    """The tones of the key; in minor the raised seventh too, the root of the diminished chord that leads home."""
    major = ("1", "2", "3", "4", "5", "6", "7")
    minor = ("1", "2", "b3", "4", "5", "b6", "b7", "7")
    return frozenset(key.tonic.degree(degree) for degree in (minor if key.mode == "minor" else major))


def readable(tone: Tone, kept: frozenset[Tone]) -> Tone:
    """The tone, or its enharmonic twin where it carries a double sign or is B#, E#, Cb or Fb and not among `kept`."""
    if abs(tone.alter) < 2 and (tone.name not in ("B#", "E#", "Cb", "Fb") or tone in kept):
        return tone
    sharp = tone.alter > 0
    twins = [twin for twin in _TONES.values() if twin.pc == tone.pc and abs(twin.alter) < 2]
    # A natural where there is one; else a sharp for sharps and a flat for flats.
    return min(twins, key=lambda twin: (abs(twin.alter), (twin.alter > 0) != sharp))


def _root_fault(symbol: str) -> str:
    if not symbol:
        return "A chord symbol is missing; expected one such as Dm7"
    if is_no_chord(symbol):
        return f"{symbol} means that no chord is played; expected a chord symbol such as Dm7"
    fixed = symbol.lstrip("( ").translate(_FOLD)
    fixed = fixed[:1].upper().replace("H", "B") + fixed[1:]
    return f"{symbol!r}: {symbol[0]!r} is not understood; expected a root from A to G{_suggest(fixed)}"


def _quality_fault(symbol: str, root: str, quality: str, bass: str | None, fault: _NotUnderstood) -> str:
    """One sentence naming the characters as the student wrote them."""
    at = len(root) + fault.at
    start = next((i for i in range(len(symbol)) if len(symbol[:i].translate(_FOLD)) >= at), len(symbol))
    written = symbol[start:]
    if bass:
        written = written[: written.rindex("/")]
    what = f"{written!r} is not understood" if written else "something is missing at the end"
    return f"{symbol!r}: {what}; expected {fault}{_suggest(root + quality + (f'/{bass}' if bass else ''))}"


def _suggest(text: str) -> str:
    """The tail of a fault's sentence, "; did you mean ...?" with the nearest symbol, "" where nothing is near."""
    import difflib  # 4 ms, and only a fault needs it

    text = re.sub(r"/([a-hH])(?=[#b]?$)", lambda bass: "/" + bass[1].upper().replace("H", "B"), text.replace(" ", ""))
    match = _SYMBOL.fullmatch(text)
    if match is None:
        return ""
    root, quality, bass = match.groups()
    trimmed = quality.strip("/(), ")
    for candidate in (trimmed, trimmed.lower(), *difflib.get_close_matches(quality, COMMON_QUALITIES, cutoff=0.4)):
        try:
            _read_quality(candidate)
        except _NotUnderstood:
            continue
        return f"; did you mean {root}{candidate}{f'/{bass}' if bass else ''}?"
    return ""
