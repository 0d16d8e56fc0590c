"""Settings with every kind of damage: the app starts as shipped and says what is wrong, a command says it and ends, the file is left alone."""

from __future__ import annotations

import os
import time
import tomllib
from datetime import date

import pytest
from faults.disk_desk import companion, give_up_rights, is_one_sentence
from tui.conftest import RecordingLink, make_paths
from tui.patience import exact_pauses  # noqa: F401  a fixture

from companion.cli.app import settings_or_shipped
from companion.cli.main import main
from companion.errors import ExitCode, SettingsError
from companion.store.schema import FREE_TABLES, RULES
from companion.store.settings import MOST_FAULTS, load_settings, save_settings, shipped_settings
from companion.tui.app import CompanionApp


def flat(table: dict, prefix: str = "") -> dict[str, object]:
    found = {}
    for key, value in table.items():
        found |= flat(value, f"{prefix}{key}.") if isinstance(value, dict) else {f"{prefix}{key}": value}
    return found


def shipped(paths) -> dict[str, object]:
    return flat(tomllib.loads(paths.shipped_settings.read_text(encoding="utf-8")))


def put(paths, content: str | bytes) -> bytes:
    paths.settings.parent.mkdir(parents=True, exist_ok=True)
    data = content if isinstance(content, bytes) else content.encode()
    paths.settings.write_bytes(data)
    return data


def fault_of(paths) -> str:
    """What the app says; the settings are then as shipped."""
    settings, fault = settings_or_shipped(paths)
    if fault:
        assert settings == shipped_settings(paths)
        assert str(paths.settings) in fault and fault.endswith("Going on with the settings as shipped.")
        for line in fault.splitlines():
            assert line.isprintable(), "nothing of a file reaches the terminal as it is"
    return fault


# TOML 1.0.0: every type of value there is, and the ends of numbers.
VALUES = {
    "text": '"no such word"', "signs": '"\\u001b[31m\\n"', "whole": "12345678901234567890", "negative": "-99999", "hexadecimal": "0x" + "f" * 6000,
    "digits": "9" * 5000, "number": "1e300", "nan": "nan", "infinity": "-inf", "yes": "true", "day": "2026-11-25", "time": "07:32:00",
    "list": "[[1], [{a = 1}]]", "table": '{a = "b"}', "empty table": "{}", "empty list": "[1]",
}  # fmt: skip
# Settings of free text take any word.
TAKES_TEXT = {
    *(
        "sound.midi_out",
        "sound.soundfont",
        "folders.songs",
        "folders.exports",
        "screen.last_song",
        "screen.keys_to_learn",
    ),
    "listening.piano",
}
OF_OLDER_COMPANIONS = {"hand.sixth_shells"}  # yes or no, still read, but in no file of today


@pytest.mark.parametrize("kind", VALUES)
def test_every_setting_with_every_wrong_value(paths, kind, deep):
    """Each of them with every third setting, all with `--deep`: every setting meets five wrong values or more."""
    has = shipped(paths)
    for name in RULES if deep else list(RULES)[list(VALUES).index(kind) % 3 :: 3]:
        yes_no = isinstance(has.get(name), bool) or name in OF_OLDER_COMPANIONS
        if (kind == "text" and name in TAKES_TEXT) or (kind == "yes" and yes_no):
            continue
        table, _, key = name.rpartition(".")
        data = put(paths, f"[{table}]\n{key} = {VALUES[kind]}\n")
        fault = fault_of(paths)
        assert fault and len(fault) < 1500, name
        if kind != "digits":  # too long for the reader of TOML, which names no setting
            assert key in fault
        assert "expected" in fault, name
        assert paths.settings.read_bytes() == data


@pytest.mark.parametrize(
    "name", [f"{table}.{key}" for table, key in zip(FREE_TABLES, ("start-stop", "fifth"), strict=True)]
)
@pytest.mark.parametrize("kind", ["whole", "nan", "yes", "day", "list", "table", "signs"])
def test_free_tables_with_wrong_values(paths, name, kind):
    table, _, key = name.rpartition(".")
    put(paths, f'[{table}]\n"{key}" = {VALUES[kind]}\n')
    assert key in fault_of(paths)


def test_values_of_the_wrong_type_are_all_refused(paths):
    """The oracle is the shipped file: no setting takes a value of another type than it has there."""
    others = {str: "x", bool: True, int: 3, float: 0.5, list: ["x"], date: date(2026, 11, 25)}
    texts = {str: '"x"', bool: "true", int: "3", float: "0.5", list: '["x"]', date: "2026-11-25"}
    tried = 0
    for name, value in shipped(paths).items():
        if name not in RULES:
            continue
        table, _, key = name.rpartition(".")
        for other in others:
            if (
                other is type(value)
                or {other, type(value)} == {int, float}
                or (name == "playing.swing_ratio" and other in (int, float))
            ):
                continue
            put(paths, f"[{table}]\n{key} = {texts[other]}\n")
            assert f"{name} is " in fault_of(paths), (name, other)
            tried += 1
    assert tried > 4 * len(RULES)


GOOD = '[playing]\nbass = "walking"\n'
FILES = {
    "unknown key": ('[playing]\nbas = "roots"\n', "did you mean playing.bass?"),
    "unknown table": ('[plaing]\nbass = "roots"\n', "did you mean playing?"),
    "unknown empty table": ("[nothing]\n", "'nothing' is not a setting"),
    "a table for a value": ('[playing.bass]\nstyle = "roots"\n', "playing.bass is {'style': 'roots'}, expected a text"),
    "tables in a list": ('[[playing]]\nbass = "roots"\n', "'playing' is not a setting"),
    "duplicate key": (GOOD + 'bass = "roots"\n', "not well-formed"),
    "duplicate table": (GOOD + GOOD, "not well-formed"),
    "escape sequence in a name": ('[keys]\n"\\u001b]0;x\\u0007" = 3\n', "expected a list of keys"),
    "NUL": (GOOD.encode() + b"\0", "not well-formed"),
    "only NULs": (bytes(4096), "not well-formed"),
    "UTF-16": (GOOD.encode("utf-16"), "not a text file in UTF-8"),
    "UTF-16 without a mark": (GOOD.encode("utf-16-le"), "not well-formed"),
    "Latin-1": ('[sound]\nmidi_out = "Flügel"\n'.encode("latin-1"), "not a text file in UTF-8"),
    "deep names in a value's place": ("[playing.bass." + ".".join("a" * 3_000) + "]\n", "playing.bass is "),
    "deep": ("a = " + "[" * 100_000, "not well-formed"),
    "deep names": ("[" + ".".join("a" * 3_000) + "]\n", "is not a setting"),
    "long name": ('"' + "n" * 500_000 + '" = 1\n', "is not a setting"),
    "too long": ("#" * 1_000_001, "longer than 1 MB"),
    "somebody's folder": ('[folders]\nsongs = "~nobody-of-that-name/songs"\n', "expected the path of a folder"),
}


@pytest.mark.parametrize("kind", FILES)
def test_damaged_files(paths, kind, capsys):
    content, words = FILES[kind]
    data = put(paths, content)
    began_s = time.process_time()
    assert words in fault_of(paths)
    assert time.process_time() - began_s < 20
    for command in (["where"], ["songs"], ["play", "left-sock-blues"]):
        assert main(command) == ExitCode.FAULT
        said = capsys.readouterr()
        assert not said.out and is_one_sentence(said.err) and words in said.err
    with pytest.raises(SettingsError):
        save_settings(paths, {"sound.midi_out": "Piano"}) if kind in SAVING_FAILS else load_settings(paths)
    assert paths.settings.read_bytes() == data


SAVING_FAILS = ("duplicate key", "NUL", "only NULs", "UTF-16", "Latin-1", "too long")


def test_a_byte_order_mark_is_no_damage(paths):
    put(paths, b"\xef\xbb\xbf" + GOOD.encode())
    assert load_settings(paths).playing.bass == "walking"
    save_settings(paths, {"playing.bass": "roots"})
    assert load_settings(paths).playing.bass == "roots"


def test_thousands_of_faults_are_not_all_said(paths):
    put(paths, "".join(f"{'x' * 30}{number} = 1\n" for number in range(25_000)))
    began_s = time.process_time()
    assert len(fault_of(paths).splitlines()) == MOST_FAULTS + 2
    assert time.process_time() - began_s < 20


SHORT = """# mine
[hand]
lowest_root = "F2"  # small hands
[playing]
bass = "walking"
swing_ratio = 1.75
count_in_bars = 2
demonstrate = true
[sound]
midi_in = ["Stage piano", "Flügel"]
[sound.click]
volume = 0.5
[keys]
start-stop = ["space", "f9"]
"""


def test_cut_off_at_every_byte(paths, deep):
    """Every beginning of a file: it is read, or it is said what is wrong. None is changed. In the long run: of the shipped file."""
    whole = paths.shipped_settings.read_bytes() if deep else SHORT.encode()
    for cut in range(len(whole)):
        data = put(paths, whole[:cut])
        assert fault_of(paths) or is_toml(data)
        assert paths.settings.read_bytes() == data


def is_toml(data: bytes) -> bool:
    try:
        tomllib.loads(data.decode())
    except ValueError:
        return False
    return True


def in_the_way(paths, kind) -> str:
    """Something else where the settings should be; what is said of it."""
    paths.settings.parent.mkdir(parents=True, exist_ok=True)
    if kind == "folder":
        paths.settings.mkdir()
    elif kind == "loop":
        paths.settings.symlink_to(paths.settings)
        return "Too many levels of symbolic links"
    elif kind == "endless":
        paths.settings.symlink_to("/dev/zero")
    elif kind == "pipe":
        os.mkfifo(paths.settings)
    elif kind == "file for a folder":
        paths.settings.parent.rmdir()
        paths.settings.parent.write_text("x")
        return "Not a directory"
    return "it is not a file"


@pytest.mark.parametrize("kind", ["folder", "loop", "endless", "pipe", "file for a folder"])
def test_something_else_in_its_place(paths, kind, capsys):
    words = in_the_way(paths, kind)
    assert f"cannot be read ({words}); expected a text file that you may read" in fault_of(paths)
    assert main(["songs"]) == ExitCode.FAULT and words in capsys.readouterr().err
    with pytest.raises(SettingsError, match="was not saved"):
        save_settings(paths, {"playing.bass": "roots"})


def test_a_link_to_nothing_is_no_file(paths):
    paths.settings.parent.mkdir(parents=True)
    paths.settings.symlink_to("nowhere.toml")
    assert fault_of(paths) == ""


@pytest.mark.parametrize("what", ["file", "folder"])
def test_settings_that_may_not_be_read(paths, companion_home, what):
    put(paths, GOOD)
    closed = paths.settings if what == "file" else paths.settings.parent
    closed.chmod(0)
    try:
        for command in (["where"], ["shells", "--chords", "Dm7 | G7"]):
            done = companion(*command, home=companion_home, preexec_fn=give_up_rights)
            assert done.returncode == ExitCode.FAULT and not done.stdout
            assert is_one_sentence(done.stderr) and "Permission denied" in done.stderr
    finally:
        closed.chmod(0o755)
    assert paths.settings.read_text() == GOOD


@pytest.mark.parametrize("kind", ["duplicate key", "UTF-16", "unknown empty table", "loop"])
async def test_the_app_starts_plays_and_says_it(tmp_path, kind):
    paths = make_paths(tmp_path / "student")
    words = in_the_way(paths, kind) if kind == "loop" else FILES[kind][1]
    data = None if kind == "loop" else put(paths, FILES[kind][0])
    settings, fault = settings_or_shipped(paths)
    app = CompanionApp(paths, settings, RecordingLink(), fault=fault)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        screen = " ".join(
            "".join(segment.text for strip in app.screen._compositor.render_strips() for segment in strip).split()
        )
        assert words.split()[-1] in screen and "settings as shipped" in screen
        await pilot.press("escape", *"lant", "enter")
        await pilot.pause()
        await pilot.press("space")
        assert app.stand_screen.view.playing
        await pilot.press("space", "o", "v", "left", "escape")  # a volume, which would be kept in the settings
        await pilot.pause()
    assert data is None or paths.settings.read_bytes() == data or kind == "unknown empty table"
