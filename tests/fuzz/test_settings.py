"""Settings and pins: whatever their files hold, settings or a SettingsError, soon; and writing one setting into such a file."""

from __future__ import annotations

import pytest
from fuzz.fuzzing import DEEP, ODD, any_bytes, any_text, as_bytes, edited, fuzz, inputs, joined, one_of, table

from companion.errors import SettingsError
from companion.hands.hand import RESTS
from companion.store.paths import shipped_folder
from companion.store.pins import load_pins, load_rest
from companion.store.schema import FREE_TABLES, RULES
from companion.store.settings import Settings, load_settings, save_settings
from companion.theory.shell_kinds import Pin

SHIPPED = (shipped_folder() / "config" / "settings.toml").read_text(encoding="utf-8")
PINS = (
    '["two-spoons"]\n"A.1.2" = "root-third"\n"A.2.1" = "root-fifth"\n\n["left-sock-blues"]\n"A.1.1" = "root-seventh"\n'
)
NAMES = (
    *RULES, *(f"{table}.x" for table in FREE_TABLES), *FREE_TABLES, "hand", "sound", "keys.quit", "hand.limits.fifth", 'hand.limits."octave"', "x",
    "keys.start-stop", "sound.left.channel.x", "hand.limits.third.x", '"\\u001b[2J"', '"[red]"', "playing.pattern.x",
)  # fmt: skip
VALUES = (
    "1", "-1", "0", "12", "127", "1e400", "nan", "-inf", "9" * 300, "0x10", "true", "false", '""', '"four"', '"E2"', '"C-9"', '"Z9"', "[]", '["space"]',
    "[1]", "{}", "{ a = 1 }", "1979-05-27", "07:32:00", "0.5", "1.5", '"follow"', '"every"', '"off"', '"auto"', '"/nowhere"', '"~nobody/x"', '"\\u0000"',
    '"\\u001b]52;c;aGk=\\u0007"', '"\\u202e"', '["\\u001b"]', "[[1]]", '"' + "x" * 900 + '"', "'''\n'''",
)  # fmt: skip
LINES = (
    "[hand]\n",
    "[hand.limits]\n",
    "[keys]\n",
    "[sound]\n",
    "[sound.left]\n",
    "[[keys]]\n",
    "[playing]\n",
    "# comment\n",
    "[",
    "]",
    "=",
    "\n",
    '"""',
    "'''",
)
TEXTS = one_of(
    table(NAMES, VALUES, 6),
    edited((SHIPPED, SHIPPED, PINS), (*ODD, *VALUES, *LINES, *NAMES)),
    joined((*LINES, *(f"{name.rpartition('.')[2]} = " for name in NAMES), *(f"{value}\n" for value in VALUES)), 30),
    any_text(),
)
FILES = one_of(
    as_bytes(TEXTS), as_bytes(TEXTS), as_bytes(TEXTS), any_bytes(), edited([SHIPPED.encode(), PINS.encode()], [b"\xff", b"\0", b"\xc3", b"\x1b[2J"])
)  # fmt: skip
PIN_FILES = as_bytes(one_of(edited((PINS,), (*ODD, *VALUES, '"A.1"', '"A.1.x"', '"A.٣.1"', '"B.1.1.1"')), TEXTS))


def test_any_settings_file(paths, deep, tell):
    paths.settings.parent.mkdir(parents=True)

    def read(data: bytes) -> None:
        paths.settings.write_bytes(data)
        assert isinstance(load_settings(paths), Settings)

    tally = fuzz("settings", read, inputs(FILES), DEEP if deep else 120, fixed=deep)
    tell(tally)
    assert tally.good


def test_a_setting_written_into_any_file(paths, deep, tell):
    """It is there afterwards, or a SettingsError says why not and the file is as it was."""
    paths.settings.parent.mkdir(parents=True)

    def write(data: bytes) -> None:
        paths.settings.write_bytes(data)
        try:
            save_settings(paths, {"playing.bass": "walking"})
        except SettingsError:
            assert paths.settings.read_bytes() == data
            raise
        try:
            assert load_settings(paths).playing.bass == "walking"
        except SettingsError as error:
            assert "playing.bass" not in str(error)  # the file has other faults

    tell(fuzz("setting written", write, inputs(FILES), DEEP // 10 if deep else 50, fixed=deep))


def test_any_pins_file(paths, deep, tell):
    paths.pins.parent.mkdir(parents=True)

    def read(data: bytes) -> None:
        paths.pins.write_bytes(data)
        for (section, bar, chord), pin in load_pins(paths, "two-spoons").items():
            assert isinstance(section, str) and isinstance(pin, Pin) and bar >= 0 and chord >= 0
            assert Pin.parse(str(pin)) == pin
        assert load_rest(paths, "two-spoons") in (None, *RESTS)

    tell(fuzz("pins", read, inputs(PIN_FILES), DEEP // 10 if deep else 50, fixed=deep))


def test_a_place_in_the_pins_that_turns_the_writing_is_shown_as_text(paths):
    paths.pins.parent.mkdir(parents=True)
    paths.pins.write_text('["two-spoons"]\n"\u202e.1" = "root-fifth"\n', encoding="utf-8")
    with pytest.raises(SettingsError, match=r'"\\u202e.1" = \'root-fifth\': expected a line such as'):
        load_pins(paths, "two-spoons")


def test_why_a_setting_was_not_saved_is_shown_as_text(paths):
    paths.settings.parent.mkdir(parents=True)
    paths.settings.write_text("[h\tlimits]\n", encoding="utf-8")
    with pytest.raises(SettingsError, match=r"was not saved: .*h\\tlimits"):
        save_settings(paths, {"playing.bass": "walking"})
