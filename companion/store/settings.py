"""The settings: the file shipped with the program, and over it the student's own, which may say less.

Every fault of the student's file is found and named at once. Writing a setting keeps the student's comments (tomlkit).
"""

from __future__ import annotations

import difflib
import reprlib
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from companion.base.files import read_text, write_text
from companion.base.rules import Rule
from companion.base.text import plain
from companion.errors import CompanionError, SettingsError
from companion.groove.model import VOICES, Click
from companion.groove.names import BASS_STYLES, CLICK_MODES, PATTERN_NAMES, check_name
from companion.hands.hand import Hand
from companion.hands.limits import DEFAULT_LIMITS, Limit, edited_limits
from companion.practice.leading import LEADS, Switch
from companion.store.paths import Paths
from companion.store.schema import FORMER_TABLES, FREE_TABLES, RULES
from companion.store.toml_lines import put_line
from companion.theory.pitch import Pitch

MOST_FAULTS = 20  # named of one file
_TABLES = {name[:at] for name in RULES for at, sign in enumerate(name) if sign == "."}
_TABLES |= FREE_TABLES.keys() | FORMER_TABLES.keys()


@dataclass(frozen=True, slots=True)
class Playing:
    """How the stand is set when a song is put on it; see groove.model for the units."""

    pattern: str
    click: Click
    bass: str
    demonstrate: bool
    count_in_bars: int | None
    swing_ratio: float | None
    laid_back: bool
    calls: str
    seed: int


@dataclass(frozen=True, slots=True)
class PracticeSettings:
    """See practice.drills.fading and practice.climbing. minutes: that the student usually has. latency_ms: constant, taken off every press."""

    pass_share: float
    most_loss: float
    fade: str
    climb: str
    clean_share: float
    start_share: float
    stop_to_ask: bool
    rounds_alone: int
    aloud: bool
    stretch: bool
    minutes: int
    latency_ms: float


@dataclass(frozen=True, slots=True)
class VoiceSettings:
    """channel 1 to 16, program 0 to 128 (0 sends none), volume 0 to 1; notes for the click only."""

    channel: int
    program: int
    volume: float
    note: int
    accent_note: int


@dataclass(frozen=True, slots=True)
class SoundSettings:
    """mode, api, audio: as in `sound.messages.SoundConfig`. midi_out: a part of the name of a port, "" for any. midi_in: parts of the names
    of keyboards, none for all. soundfont: a path, "" for the built-in voices. voices: by the name of the voice."""

    mode: str
    midi_out: str
    midi_in: tuple[str, ...]
    api: str
    audio: str
    soundfont: str
    voices: dict[str, VoiceSettings]


@dataclass(frozen=True, slots=True)
class ListeningSettings:
    """microphone: whether it may listen, where no keyboard is heard. piano: the name of the one that was learned, "" for none. headphones: what sounds does not come
    back into the microphone. microphone_ms: how late strikes are heard through it, 0 where that is not known."""

    microphone: bool = False
    piano: str = ""
    headphones: bool = True
    microphone_ms: float = 0.0


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything the student may set. keys: action -> keys. leading: what leads the music, by practice.leading.LEADS. colours: the name of a theme of ours. song_order: of the list, one of
    library.SONG_ORDERS. last_song: the id of the one that was on the stand last, "" for none. keys_to_learn: names of the keys that a first song still teaches, with spaces between. large_beat: whether the beat goes across the stand. need: what the middle of the stand shows. songs_folder, exports_folder: None for the usual one. sheet_size: one of export.sizes.SIZES. sixth_shells: of older companions, only to know the shells of then."""

    hand: Hand
    playing: Playing
    practice: PracticeSettings
    sound: SoundSettings
    keys: dict[str, tuple[str, ...]]
    leading: dict[str, tuple[Switch, ...]]
    colours: str
    song_order: str
    large_beat: bool
    need: str
    last_song: str
    keys_to_learn: str
    songs_folder: Path | None
    exports_folder: Path | None
    sheet_size: str
    sixth_shells: bool = False
    listening: ListeningSettings = ListeningSettings()


def load_settings(paths: Paths) -> Settings:
    """The shipped settings with the student's own over them.

    Raises SettingsError naming every fault of the student's file; it is not changed.
    """
    return _build(_shipped_values(paths.shipped_settings) | _read_values(paths.settings), paths.settings)


def shipped_settings(paths: Paths) -> Settings:
    """The settings as shipped, for going on when the student's own cannot be read."""
    return _build(_shipped_values(paths.shipped_settings), paths.shipped_settings)


def save_settings(paths: Paths, values: Mapping[str, Any]) -> None:
    """Write settings by their names into the student's file, all or none; comments stay.

    Raises SettingsError where a name or value is not one of ours or the file cannot be written.
    """
    import tomlkit  # 60 ms, needed only here

    check_settings(paths, values)
    name = next(iter(values), "")
    try:
        document = tomlkit.parse(read_text(paths.settings) or "")
        for name, value in values.items():
            table: Any = document
            *tables, key = name.split(".")
            for part in tables:
                table = table.setdefault(part, tomlkit.table())
            put_line(table, key, value)
        write_text(paths.settings, tomlkit.dumps(document), follow=True)
    except (OSError, ValueError, tomlkit.exceptions.TOMLKitError, TypeError, AttributeError, RecursionError) as error:
        what = f"the setting {name}" if len(values) == 1 else "what you set"
        raise SettingsError(f"{paths.settings}: {what} was not saved: {plain(str(error))}") from error


def check_settings(paths: Paths, values: Mapping[str, Any]) -> None:
    """Raises SettingsError where a name or value is not one of ours, before anything is written."""
    faults: list[str] = []
    for name, value in values.items():
        _read_value(name, value, _rule_for(name), faults)
    if faults:
        raise SettingsError(f"{paths.settings}: {faults[0]}")


def _shipped_values(path: Path) -> dict[str, Any]:
    """Of the shipped file, which is read again only where it was changed."""
    return _values_as_of(path, path.stat().st_mtime_ns if path.exists() else 0)


@lru_cache(2)
def _values_as_of(path: Path, changed_ns: int) -> dict[str, Any]:
    return _read_values(path)


def _read_values(path: Path) -> dict[str, Any]:
    """Dotted name -> our value of every line of a settings file, none where there is no file. Raises SettingsError with its faults."""
    try:
        document = tomllib.loads(read_text(path) or "")
    except OSError as error:
        raise SettingsError(
            f"{path}: cannot be read ({error.strerror}); expected a text file that you may read"
        ) from error
    except UnicodeDecodeError as error:
        raise SettingsError(f"{path}: is not a text file in UTF-8") from error
    except (ValueError, RecursionError) as error:  # ValueError: TOMLDecodeError, and a number of thousands of digits
        raise SettingsError(f'{path}: is not well-formed: {error}; expected lines such as bass = "walking"') from error
    faults: list[str] = []
    values: dict[str, Any] = {}
    for name, value in _flatten(document, ""):
        table, _, key = name.rpartition(".")
        if table in FORMER_TABLES:  # the same setting under its present name wins
            present = f"{FORMER_TABLES[table]}.{key}"
            values.setdefault(present, _read_value(name, value, _rule_for(present), faults))
        else:
            values[name] = _read_value(name, value, _rule_for(name), faults)
        if len(faults) == MOST_FAULTS:
            faults.append(
                "has so many faults that the rest is not looked at; expected lines as in the shipped settings file"
            )
            break
    if faults:
        raise SettingsError("\n".join(f"{path}: {fault}" for fault in faults))
    return values


def _flatten(table: dict[str, Any], prefix: str) -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        name = f"{prefix}{key}"
        if isinstance(value, dict) and name in _TABLES:
            yield from _flatten(value, f"{name}.")
        else:
            yield name, value


def _rule_for(name: str) -> Rule | None:
    if name in RULES:
        return RULES[name]
    table, _, _ = name.rpartition(".")
    return FREE_TABLES.get(table)


def _read_value(name: str, value: Any, rule: Rule | None, faults: list[str]) -> Any:
    if rule is None:
        near = difflib.get_close_matches(name, [*RULES, *_TABLES], n=1)
        hint = f"; did you mean {near[0]}?" if near else "; the shipped settings file lists the names there are"
        faults.append(f"{reprlib.repr(name)} is not a setting{hint}")
        return None
    try:
        return rule.read(value)
    except (ValueError, TypeError, OverflowError):
        shown = name if name.isprintable() and len(name) < 60 else reprlib.repr(name)
        faults.append(f"{shown} is {_short(value)}, expected {rule.expected}")
        return None


def _short(value: Any) -> str:
    """A value as a fault shows it: on one line, and no longer than one can read."""
    try:
        words = repr(value)
    except (ValueError, RecursionError):  # a number of thousands of digits, tables in tables in tables
        return "more than can be shown"
    return words if len(words) <= 80 else f"{words[:77]}..."


def _build(values: dict[str, Any], path: Path) -> Settings:
    keys = {name.removeprefix("keys."): value for name, value in values.items() if name.startswith("keys.")}
    try:
        hand = Hand(
            lowest_root=values["hand.lowest_root"],
            highest_root=values["hand.highest_root"],
            highest_top=values["hand.highest_top"],
            reach=values["hand.reach"],
            rest_on_fifth=values["hand.rest_on_fifth"],
            little_finger=values["hand.little_finger"],
            limits=_limits(values),
        )
        playing = _build_playing(values)
    except CompanionError as error:
        raise SettingsError(f"{path}: {error}") from error
    folder = values["folders.songs"]
    return Settings(
        hand=hand,
        playing=playing,
        practice=_build_practice(values),
        sound=_build_sound(values, path.parent),
        keys=keys,
        leading=_build_leading(values, path),
        colours=values["screen.colours"],
        song_order=values["screen.song_order"],
        large_beat=values["screen.large_beat"],
        need=values["screen.need"],
        last_song=values["screen.last_song"],
        keys_to_learn=values["screen.keys_to_learn"],
        songs_folder=Path(folder) if folder else None,
        sheet_size=values["paper.size"],
        exports_folder=Path(exports) if (exports := values["folders.exports"]) else None,
        sixth_shells=values.get("hand.sixth_shells", False),
        listening=ListeningSettings(
            **{name: values[f"listening.{name}"] for name in ("microphone", "piano", "headphones", "microphone_ms")}
        ),
    )


def _build_leading(values: dict[str, Any], path: Path) -> dict[str, tuple[Switch, ...]]:
    leading: dict[str, tuple[Switch, ...]] = {lead: values[f"leading.{lead}"] for lead in LEADS}
    done: dict[Switch, str] = {}
    for lead, switches in leading.items():
        for switch in switches:
            if done.setdefault(switch, lead) != lead:
                raise SettingsError(
                    f'{path}: leading.{lead} is "{switch.text}", which is for leading.{done[switch]}; expected each for one thing'
                )
    return leading


def _limits(values: dict[str, Any]) -> tuple[Limit, ...]:
    """The table of limits with the rows that really differ changed, so that the others keep their source."""
    shipped = {row.name: row.lowest for row in DEFAULT_LIMITS}
    wanted = {name.removeprefix("hand.limits."): v for name, v in values.items() if name.startswith("hand.limits.")}
    return edited_limits(
        {name: text for name, text in wanted.items() if name not in shipped or Pitch.parse(text).midi != shipped[name]}
    )


def _build_playing(values: dict[str, Any]) -> Playing:
    check_name("pattern", values["playing.pattern"], PATTERN_NAMES)
    check_name("click", values["playing.click"], CLICK_MODES)
    check_name("bass", values["playing.bass"], BASS_STYLES)
    click = Click(values["playing.click"], values["playing.click_drop_bars"], values["playing.click_drop_every"])
    return Playing(
        pattern=values["playing.pattern"],
        click=click,
        bass=values["playing.bass"],
        demonstrate=values["playing.demonstrate"],
        count_in_bars=values["playing.count_in_bars"],
        swing_ratio=values["playing.swing_ratio"],
        laid_back=values["playing.laid_back"],
        calls=values["playing.calls"],
        seed=values["playing.seed"],
    )


def _build_practice(values: dict[str, Any]) -> PracticeSettings:
    names = (
        "pass_share",
        "most_loss",
        "fade",
        "climb",
        "clean_share",
        "start_share",
        "stop_to_ask",
        "rounds_alone",
        "aloud",
        "stretch",
        "minutes",
    )
    practice = {name: values[f"practice.{name}"] for name in names}
    return PracticeSettings(latency_ms=values["listening.latency_ms"], **practice)


def _build_sound(values: dict[str, Any], folder: Path) -> SoundSettings:
    """folder: of the settings file, from where a path in it goes on."""
    voices = {}
    for voice in VOICES:
        of_voice = {key: values.get(f"sound.{voice}.{key}", 0) for key in ("channel", "program", "note", "accent_note")}
        voices[voice] = VoiceSettings(volume=values[f"sound.{voice}.volume"], **of_voice)
    return SoundSettings(
        mode=values["sound.mode"],
        midi_out=values["sound.midi_out"],
        midi_in=values["sound.midi_in"],
        api=values["sound.api"],
        audio=values["sound.audio"],
        soundfont=str(folder / soundfont) if (soundfont := values["sound.soundfont"]) else "",
        voices=voices,
    )
