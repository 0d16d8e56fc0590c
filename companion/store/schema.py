"""What each line of the settings file may say: one row a setting, with the words of the error."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from companion.groove.model import PARTS
from companion.theory.pitch import Pitch


@dataclass(frozen=True, slots=True)
class Rule:
    """read: turns the TOML value into ours or raises ValueError or TypeError. expected: ends the sentence "expected ..."."""

    read: Callable[[Any], Any]
    expected: str


def _whole(low: int, high: int) -> Rule:
    def read(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise ValueError
        return value

    return Rule(read, f"a whole number from {low} to {high}")


def _number(low: float, high: float) -> Rule:
    def read(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise ValueError
        return float(value)

    return Rule(read, f"a number from {low:g} to {high:g}")


def _one_of(*words: str) -> Rule:
    def read(value: Any) -> str:
        if not isinstance(value, str) or value not in words:
            raise ValueError
        return value

    return Rule(read, "one of " + ", ".join(f'"{word}"' for word in words))


def _read_yes_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise TypeError
    return value


def _read_text(value: Any) -> str:
    if not isinstance(value, str) or not value.isprintable():
        raise ValueError
    return value


def _read_texts(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise TypeError
    return tuple(_read_text(item) for item in value)


def _read_keys(value: Any) -> tuple[str, ...]:
    return _read_texts([value] if isinstance(value, str) else value)


def _read_pitch(value: Any) -> int:
    return Pitch.parse(_read_text(value)).midi


def _read_pitch_text(value: Any) -> str:
    text = _read_text(value)
    Pitch.parse(text)
    return text


def _read_folder(value: Any) -> str:
    if not _read_text(value):
        return ""
    folder = os.path.expanduser(value)
    if folder.startswith("~"):  # of somebody who is not here
        raise ValueError
    return str(Path(folder))


def _read_swing(value: Any) -> float | None:
    return None if value == "follow" else _number(1, 3.5).read(value)


TEXT = Rule(_read_text, "a text in quotes")
YES_NO = Rule(_read_yes_no, "true or false")
PITCH = Rule(_read_pitch, 'a pitch such as "E2" (C4 is middle C)')

# Pattern, click and bass names are checked by the groove room, which knows them.
RULES: dict[str, Rule] = {
    "hand.lowest_root": PITCH,
    "hand.highest_root": PITCH,
    "hand.highest_top": PITCH,
    "hand.reach": _whole(3, 19),
    "hand.sixth_shells": YES_NO,
    "playing.pattern": TEXT,
    "playing.click": TEXT,
    "playing.click_drop_bars": _whole(0, 64),
    "playing.click_drop_every": _whole(0, 64),
    "playing.bass": TEXT,
    "playing.demonstrate": YES_NO,
    "playing.count_in_bars": _whole(0, 2),
    "playing.swing_ratio": Rule(_read_swing, 'a number from 1 to 3.5, or "follow"'),
    "playing.seed": _whole(0, 2**31),
    "practice.pass_share": _number(0.5, 1),
    "practice.fade": _one_of("bars", "cues", "sections"),
    "practice.climb": _one_of("weighted", "transformed", "gliding"),
    "practice.clean_share": _number(0.5, 0.95),
    "practice.start_share": _number(0.2, 1),
    "practice.stretch": YES_NO,
    "practice.minutes": _whole(5, 120),
    "listening.latency_ms": _number(-500, 500),
    "sound.mode": _one_of("auto", "builtin", "midi", "silent"),
    "sound.midi_out": TEXT,
    "sound.midi_in": Rule(_read_texts, 'a list of texts such as ["Piano"]'),
    "sound.api": _one_of("", "alsa", "jack"),
    "sound.audio": _one_of("", "jack", "null"),
    "sound.click.note": _whole(0, 127),
    "sound.click.accent_note": _whole(0, 127),
    "screen.colours": _one_of("evening", "morning", "terminal"),
    "folders.songs": Rule(_read_folder, 'the path of a folder in quotes, such as "~/songs"'),
}
for _voice in PARTS:
    RULES[f"sound.{_voice}.channel"] = _whole(1, 16)
    RULES[f"sound.{_voice}.program"] = _whole(0, 128)
    RULES[f"sound.{_voice}.volume"] = _number(0, 1)

# Tables that had another name: a settings file that still says it means the new one.
FORMER_TABLES = {"sound.shell": "sound.left"}

# Tables whose keys are free: every value follows one rule.
FREE_TABLES: dict[str, Rule] = {
    "keys": Rule(_read_keys, 'a list of keys such as ["space"]'),
    "hand.limits": Rule(_read_pitch_text, PITCH.expected),
}
