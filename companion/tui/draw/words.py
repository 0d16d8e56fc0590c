"""How names look on screen: musical signs in place of b and #, and words for the settings' short names."""

from __future__ import annotations

import re
from collections.abc import Collection
from functools import lru_cache
from textwrap import wrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from companion.groove.model import Click

_FLAT = re.compile(r"(?<=[A-G])b+|b(?=\d)")
_DEGREE_WORDS = {
    "third": "3rd",
    "fourth": "4th",
    "fifth": "5th",
    "sixth": "6th",
    "seventh": "7th",
    "root": "root",
    "bass": "bass",
}
VOICE_WORDS = {"click": "click ", "bass": "bass  ", "left": "shells", "right": "melody", "calls": "called"}
_VOLUME_STEP = 0.1
_CLICK_WORDS = {
    "every": "every beat",
    "offbeats": "2 and 4",
    "bar": "first beat",
    "ride": "ride unless marked",
    "ride-always": "ride always",
    "off": "off",
}


@lru_cache(maxsize=1024)
def signs(text: str) -> str:
    """A chord symbol or note name with real sharp and flat signs: "Bbm7b5" -> "B♭m7♭5"."""
    text = text.replace("#", "♯")
    return _FLAT.sub(lambda match: "♭" * len(match[0]), text)


def shell_degrees(kind: str) -> tuple[str, str]:
    """Short words for the lower and the upper note of a shell: "root-seventh" -> ("root", "7th")."""
    lower, _, upper = kind.partition("-")
    return _DEGREE_WORDS[lower], _DEGREE_WORDS[upper]


def click_words(click: Click, *, brief: bool = False) -> str:
    """ "every beat, silent 1 of 4 bars". brief: "silent 1 of 4", of a click that drops out, and fewer words for the ride."""
    words = _CLICK_WORDS.get(click.mode, click.mode)
    words = words.replace("unless marked", "unmarked") if brief else words
    if click.drop_every and click.mode != "off":
        drops = f"silent {click.drop_bars} of {click.drop_every}"
        words = drops if brief else f"{words}, {drops} bars"
    return words


def tempo_words(tempo_bpm: float) -> str:
    """The tempo without a needless decimal."""
    return f"{tempo_bpm:g}"


def volume_words(voice: str, volume: float) -> str:
    """The volume of a voice in a line; volume: 0 to 1."""
    filled = round(volume * 10)
    return f"{VOICE_WORDS.get(voice, voice)}  {'█' * filled}{'░' * (10 - filled)}  {round(volume * 100)} %"


def stepped_volume(volume: float, steps: int) -> float:
    """A volume so many steps louder, below 0 softer; 0 to 1."""
    return round(min(1.0, max(0.0, volume + steps * _VOLUME_STEP)), 2)


def heard_words(name: str, heard: Collection[str]) -> str:
    """A keyboard in a line, and whether it is listened to."""
    return f"{'✓ heard    ' if name in heard else '· not heard'} {name}"


def no_keyboard_words(fault: str) -> str:
    """That no keyboard is there, or why none can be heard."""
    if fault:
        return f"No keyboard can be heard: {fault}. Without one you say yourself how a pass went."
    return "No MIDI keyboard is there. Plug one in and it shows here; without one you say yourself how a pass went."


def notice_role(notice: str) -> str:
    """The colour of a warning for what went wrong, which begins with its sign; plain news has none."""
    return "notice" if notice.startswith("! ") else "strong"


def whole_clauses(sentence: str, width: int) -> str:
    """As many of a sentence's clauses as have room in `width` columns, its first one cut with a mark where not even that has."""
    while len(sentence) > width and ", " in sentence:
        sentence = sentence.rpartition(", ")[0]
    return shorten(sentence, width)


def whole_words(text: str, width: int) -> str:
    """As many of a text's words as have room in `width` columns, with a mark where some are left out."""
    if len(text) <= width:
        return text
    kept = text[: max(0, width - 1)].rpartition(" ")[0].rstrip(" ,;:")
    return f"{kept} …" if kept.strip() and len(kept) + 2 <= width else shorten(text, width)


_BETWEEN_SENTENCES = re.compile(r"(?<=[.!?]) +")


def whole_sentences(text: str, width: int, rows: int) -> list[str]:
    """As many of a text's sentences as have room in `rows` lines of `width` columns, with a mark where some are left out; of the first as much as
    has room."""
    sentences = _BETWEEN_SENTENCES.split(text)
    for count in range(len(sentences), 0, -1):
        more = " …" if count < len(sentences) else ""
        lines = wrap(" ".join(sentences[:count]) + more, max(8, width), subsequent_indent="  ", break_on_hyphens=False)
        if len(lines) <= rows:
            return lines
    return [*lines[: rows - 1], whole_words(f"{lines[rows - 1]} {lines[rows].strip()}", width)]


# What stands before the first word of a line: a number, a dot, or the name of a key and two blanks.
_MARK = re.compile(r"\s*(?:(?:\d+\.|[•·]) |\S+(?: or \S+| \S)? {2,})?")
_WHOLE = "\N{NO-BREAK SPACE}"


def hanging(text: str, width: int) -> str:
    """A text in lines of at most `width` columns, broken between words; what goes on stands below the first word of its line. What three
    blanks set apart stays together."""
    lines = []
    for line in text.split("\n"):
        mark = _MARK.match(line)
        indent = " " * len(mark[0]) if mark and len(mark[0]) < width // 2 else ""
        groups = [_together(group, width) for group in line.strip().split("   ")]
        whole = line[: len(line) - len(line.lstrip())] + "   ".join(groups)
        broken = wrap(whole, max(8, width), subsequent_indent=indent, break_on_hyphens=False)
        lines += [part.replace(_WHOLE, " ") for part in broken] if len(line) > width else [line]
    return "\n".join(lines)


def _together(words: str, width: int) -> str:
    return words.replace(" ", _WHOLE) if len(words) < width // 2 else words


def shorten(text: str, width: int) -> str:
    """The text in at most `width` columns, its end cut with a mark where it does not fit."""
    if len(text) <= width:
        return text
    return text[: width - 1] + "…" if width > 0 else ""
