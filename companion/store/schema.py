"""What each line of the settings file may say: one row a setting, with the words of the error."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from companion.base.rules import TEXT, YES_NO, Rule, number, one_of, read_text, whole
from companion.chart.lesson import CLIMB_RULES, FORMER_RULES
from companion.groove.calls import CALLS_WHEN
from companion.groove.model import CALLS, PARTS
from companion.hands.hand import RESTS
from companion.practice.leading import EXPECTED, LEADS, Switch
from companion.theory.pitch import Pitch

FOLLOWS = "follow"  # the tempo


def _read_texts(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise TypeError
    return tuple(read_text(item) for item in value)


def _read_keys(value: Any) -> tuple[str, ...]:
    return _read_texts([value] if isinstance(value, str) else value)


def _read_pitch(value: Any) -> int:
    return Pitch.parse(read_text(value)).midi


def _read_pitch_text(value: Any) -> str:
    text = read_text(value)
    Pitch.parse(text)
    return text


def _read_switches(value: Any) -> tuple[Switch, ...]:
    return tuple(Switch.parse(text) for text in _read_keys(value))


def _read_folder(value: Any) -> str:
    if not read_text(value):
        return ""
    folder = os.path.expanduser(value)
    if folder.startswith("~"):  # of somebody who is not here
        raise ValueError
    return str(Path(folder))


def _read_swing(value: Any) -> float | None:
    return None if value == FOLLOWS else number(1, 3.5).read(value)


def _read_count_in(value: Any) -> int | None:
    return None if value == FOLLOWS else whole(0, 2).read(value)


def _read_climb(value: Any) -> str:
    name = FORMER_RULES.get(value, value)
    if name not in CLIMB_RULES:
        raise ValueError
    return str(name)


PITCH = Rule(_read_pitch, 'a pitch such as "E2" (C4 is middle C)')

# Pattern, click and bass names are checked by the groove room, which knows them.
RULES: dict[str, Rule] = {
    "hand.lowest_root": PITCH,
    "hand.highest_root": PITCH,
    "hand.highest_top": PITCH,
    "hand.reach": whole(3, 19),
    "hand.rest_on_fifth": one_of(*RESTS),
    "hand.little_finger": YES_NO,
    "hand.sixth_shells": YES_NO,  # of older companions: the default of today for every song not learnt then
    "playing.pattern": TEXT,
    "playing.click": TEXT,
    "playing.click_drop_bars": whole(0, 64),
    "playing.click_drop_every": whole(0, 64),
    "playing.bass": TEXT,
    "playing.demonstrate": YES_NO,
    "playing.count_in_bars": Rule(_read_count_in, f'{whole(0, 2).expected}, or "{FOLLOWS}"'),
    "playing.swing_ratio": Rule(_read_swing, 'a number from 1 to 3.5, or "follow"'),
    "playing.laid_back": YES_NO,
    "playing.calls": one_of(*CALLS_WHEN),
    "playing.seed": whole(0, 2**31),
    "practice.pass_share": number(0.5, 1),
    "practice.most_loss": number(0, 0.5),
    "practice.fade": one_of("bars", "cues", "sections"),
    "practice.climb": Rule(_read_climb, one_of(*CLIMB_RULES).expected),
    "practice.clean_share": number(0.5, 0.95),
    "practice.start_share": number(0.2, 1),
    "practice.stop_to_ask": YES_NO,
    "practice.rounds_alone": whole(0, 100),
    "practice.aloud": YES_NO,
    "practice.stretch": YES_NO,
    "practice.minutes": whole(5, 120),
    "listening.latency_ms": number(-500, 500),
    "listening.microphone": YES_NO,
    "listening.piano": TEXT,
    "listening.headphones": YES_NO,
    "listening.microphone_ms": number(-500, 500),
    "sound.mode": one_of("auto", "builtin", "midi", "silent"),
    "sound.midi_out": TEXT,
    "sound.midi_in": Rule(_read_texts, 'a list of texts such as ["Piano"]'),
    "sound.api": one_of("", "alsa", "jack"),
    "sound.audio": one_of("", "jack", "null"),
    "sound.soundfont": Rule(_read_folder, 'the path of a SoundFont in quotes, such as "~/piano.sf2"'),
    "sound.click.note": whole(0, 127),
    "sound.click.accent_note": whole(0, 127),
    f"sound.{CALLS}.volume": number(0, 1),
    "screen.colours": one_of("evening", "morning", "terminal"),
    "screen.large_beat": YES_NO,
    "screen.need": one_of("keyboard", "melody", "written", "chart"),
    "screen.last_song": TEXT,
    "screen.keys_to_learn": TEXT,
    "screen.song_order": one_of("difficulty", "title", "tempo"),
    "paper.size": one_of("stand", "desk"),  # the sizes that export knows
    "folders.songs": Rule(_read_folder, 'the path of a folder in quotes, such as "~/songs"'),
    "folders.exports": Rule(_read_folder, 'the path of a folder in quotes, such as "~/Music"'),
}
for _voice in PARTS:
    RULES[f"sound.{_voice}.channel"] = whole(1, 16)
    RULES[f"sound.{_voice}.program"] = whole(0, 128)
    RULES[f"sound.{_voice}.volume"] = number(0, 1)

for _lead in LEADS:
    RULES[f"leading.{_lead}"] = Rule(_read_switches, EXPECTED)

# Tables that had another name: a settings file that still says it means the new one.
FORMER_TABLES = {"sound.shell": "sound.left"}

# Tables whose keys are free: every value follows one rule.
FREE_TABLES: dict[str, Rule] = {
    "keys": Rule(_read_keys, 'a list of keys such as ["space"]'),
    "hand.limits": Rule(_read_pitch_text, PITCH.expected),
}
