"""What was typed, as a fault or a screen may show it."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from fractions import Fraction
from functools import lru_cache


def is_printable(sign: str) -> bool:
    """Whether a sign shows itself and nothing else: no control, no sign that turns the direction of writing."""
    # Controls, formats, halves of signs, private and unassigned ones, line and paragraph ends (Unicode categories).
    return unicodedata.category(sign) not in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def plain(text: str) -> str:
    """The text with every sign that could move the cursor or hide others spelled out, safe to print."""
    return "".join(sign if is_printable(sign) else sign.encode("unicode_escape").decode() for sign in text)


def shown(text: str) -> str:
    """A text of several lines made fit to show: line ends and tabs stay, all else as in `plain`.

    Whatever was not written by us goes through here before it is printed or drawn: names and paths of files, what a
    library or the system says, what was typed.
    """
    return text if text.isprintable() else "".join(sign if sign in "\n\t" else plain(sign) for sign in text)


def plural(number: int, noun: str, many: str = "") -> str:
    """A number with its noun: "1 bar", "2 bars". many: where more than one is not the noun with an s, such as "passes"."""
    return f"{number} {noun}" if number == 1 else f"{number} {many or noun + 's'}"


def quoted(text: str) -> str:
    """The text in quotes, cut where it is long, with signs that cannot be printed spelled out."""
    return repr(text if len(text) <= 40 else text[:37] + "...")


def nearest(word: str, names: Iterable[str]) -> str:
    """A hint: did you mean the nearest of the valid names, or which ones are expected where none is near."""
    return _nearest(word, tuple(names))


@lru_cache(64)  # a mistake is often made on every line of a file
def _nearest(word: str, names: tuple[str, ...]) -> str:
    import difflib  # 1 ms, needed only here

    by_folded = {name.casefold(): name for name in reversed(names)}
    near = difflib.get_close_matches(word[:40].casefold(), by_folded, n=1)
    if near:
        return f"did you mean {by_folded[near[0]]}?"
    shown = ", ".join(names[:12]) + (", ..." if len(names) > 12 else "")
    return f"expected {'one of ' if len(names) > 1 else ''}{shown}"


def figure(value: Fraction) -> str:
    """A count of beats as musicians write it: "2", "2½", "1⅓"."""
    signs = {Fraction(1, 2): "½", Fraction(1, 3): "⅓", Fraction(2, 3): "⅔", Fraction(1, 4): "¼", Fraction(3, 4): "¾"}
    whole, rest = divmod(value, 1)
    if rest in signs:
        return (str(whole) if whole else "") + signs[rest]
    return f"{float(value):.5g}"
